"""After-tax, life-cycle, break-even, learning and financing cases against published and worked values.

Sources: "seen" values were read in print or in the named tests and recomputed; "from memory" marks a value or a
title that was not at hand; "worked" answers were computed apart from the kit. Where a source is wrong the row holds
the corrected value, and a test below shows that the printed one is not given.
"""

from __future__ import annotations

from collections.abc import Sequence
from operator import attrgetter

import numpy as np
import pytest

from simkit.finance import depreciation as dep
from simkit.finance import financing as fin
from simkit.finance import learning, ratios, tax
from simkit.finance import measures as m
from simkit.finance.cashflow import CashFlowTable
from simkit.plant.settings_money import Money
from tests.finance.hand import hand_plant, table, today, totals
from tests.finance.test_cashflow import priced
from tests.published.rows import Row

FULL, PRINTED, FACTORS = (
    "floating point; the source gives all digits",
    "digits of the print",
    "the source works with rounded factors",
)
LIBRARY = "a library's test of its cash-flow table; inputs and table seen"
NEWNAN = "Newnan, Engineering Economic Analysis"
WHITE = "White et al., Engineering Economics, Ex 11.3"
GUANO = "Brealey-Myers template of a project with working capital; table seen"
BUS = "Brealey-Myers bus lease; flows seen, value -700 from memory"
STUDY_PAGE = "accounting study page, lease or buy; exact value worked"
HANDBOOK = "inputs of a test named for the Handbook 135 heating example; answers worked"
ROSS = "Ross et al.; values seen, inputs from memory"
LEARNING = "accounting study page and homework answer"
PUB_946 = "United States, Publication 946, table A-1, as printed in secondary copies"

M, T, D, F, R, B, W = (
    f"simkit.finance.{n}." for n in ("measures", "tax", "depreciation", "financing", "ratios", "breakeven", "learning")
)


def after_tax(cash: Sequence[float], written: Sequence[float], rate: float, losses="used_at_once") -> np.ndarray:
    """Cash less tax on cash less depreciation, year 0 first."""
    return np.subtract(cash, tax.taxes(np.subtract(cash, written), rate, losses))


def sold(price: float, book_value: float, rate: float) -> float:
    """What a sale leaves after tax on the difference between price and book value."""
    return price - float(tax.taxes([price - book_value], rate)[0])


def gradient(first: float, step: float, count: int) -> list[float]:
    return [first + step * i for i in range(count)]


# ---- D16 to D20: costs, depreciation, tax, working capital ----
D16_KEEP = [0.0, *gradient(7000, 1000, 5)]
D16_KEEP[5] += 29_000
D16_KEEP += gradient(0, 1000, 5)
D16_KEEP[10] -= 15_000
D16_REPLACE = [27_000.0, *gradient(0, 1000, 10)]
D16_REPLACE[10] -= 3_000

D18_MACRS = [0, *(3000 * s for s in dep.table_shares("macrs_5")[:4]), 3000 * dep.table_shares("macrs_5")[4] / 2]
D18_SL = [0.0, *[450.0] * 5]


def d18(written: Sequence[float]) -> np.ndarray:
    """3000 for 800 a year over 5 years, sold for 750, tax 34 %."""
    flows = after_tax([0.0, *[800.0] * 5], written, 0.34)
    flows[0] -= 3000
    flows[5] += sold(750, 3000 - sum(written), 0.34)
    return flows


D20_SALES = np.array([0, 523, 12887, 32610, 48901, 35834, 19717, 0], float)
D20_COGS = np.array([0, 837, 7729, 19552, 29345, 21492, 11830, 0], float)
D20_OTHER = np.array([4000, 2200, 1210, 1331, 1464, 1611, 1772, 0], float)
D20_STOCK = np.array([0, 550, 1289, 3261, 4890, 3583, 2002, 0], float)


def d20(written: Sequence[float], book: float = 0.0) -> np.ndarray:
    """The project: 10 000 of plant, working capital by year, salvage 1949 in year 7, tax 35 %, losses used at once."""
    flows = after_tax(D20_SALES - D20_COGS - D20_OTHER, written, 0.35)
    flows -= np.diff(D20_STOCK, prepend=0.0)
    flows[0] -= 10_000
    flows[7] += sold(1949, book, 0.35)
    return flows


# ---- D31: machine A leaves 10 000 after 3 years and makes a piece for 0.19, B nothing after 6 and for 0.10 ----
D31_A = {"value": 50_000 - 10_000 / 1.25**3, "rate": 0.25, "years": 3}
D31_B = {"value": 75_000.0, "rate": 0.25, "years": 6}


def volume_of_b(yearly_b: float) -> float:
    """Pieces a year from which B costs less."""
    yearly_a = m.equivalent_annual_value(**D31_A)
    return (yearly_b + 2640 - yearly_a - 2400) / (18 / 3600 * 38 - 12 / 3600 * 30)


# ---- D21: loan, working capital, losses carried forward; the source deducts whole payments of the loan ----
D21_LOAN = fin.loan_of(0.6 * 3.36, 0.08, 10)


def d21(losses="carried_forward") -> np.ndarray:
    """Equity flows: 40 % of the capital, working capital, and the interest of the year of building paid at first."""
    service = np.array([0.0, *D21_LOAN.payments, *[0.0] * 5])
    written = np.array([*dep.charged(3.36, 0, dep.table_shares("macrs_7"), 15)])
    cash = np.array([0.0, *[2.5 - 1.68] * 15]) - service
    flows = cash - np.array(tax.taxes(cash - written, 0.31, losses))
    flows[0] -= 0.4 * 3.36 + 0.05 * 3.36 + D21_LOAN.interest[0]
    flows[15] += 0.05 * 3.36
    return flows


# ---- D24, D25: lease or buy ----
D24 = {
    "price": 100.0, "rents": [16.9] * 8, "tax_rate": 0.35,
    "write_off": [0.0, *(100 * s for s in dep.table_shares("macrs_5"))],
}  # fmt: skip
D25 = {
    "price": 28_000.0, "rents": [3_800.0] * 10, "tax_rate": 0.35, "residual": 3_000.0, "residual_year": 10,
    "rent_relief_after": 2,
}  # fmt: skip


# ---- D32: 100 boats a year of 20 000 each, as subcontracted hours that are saved; 3.5 million and 500 000 a year ----
def boats(tax_rate: float = 0.0) -> CashFlowTable:
    """The case as a cash-flow table of the kit: 5 hours a week over 50 weeks at 8 000 are 2 million a year."""
    option = priced(capital=3.5e6, yearly_cost=500_000.0)
    plant = hand_plant(option, money=Money(subcontract_per_h=8_000.0), discount_rate=0.2, horizon_years=5,
                       depreciation_years=5, tax_rate=tax_rate)  # fmt: skip
    return table(plant, today(), totals(subcontract_h=3.0))


# ---- D35: life-cycle form of public buyers ----
D35_INVESTED = [27_000.0, *[0.0] * 11, 500.0, *[0.0] * 7, -200.0]
D35_SAVED = [0.0, *[50_000 * 0.12 - 1_000.0] * 20]


def life_cycle(base: float, fan: float, kwh: float, care: float, residual: float) -> list[float]:
    flows = [base, *[kwh * 0.12 + care] * 20]
    flows[12] += fan
    flows[20] -= residual
    return flows


def _npv(name, rate, flows, value, near, why, source):
    inputs = {"rate": rate, "flows": list(flows)}
    return Row(name, M + "npv", inputs, value, "money", near, why, source)


def _annual(name, rate, costs, value, near, why, source):
    inputs = {"value": m.npv(rate, costs), "rate": rate, "years": len(costs) - 1}
    return Row(name, M + "equivalent_annual_value", inputs, value, "money/year", near, why, source)


def _irr(name, flows, value, near, why, source, **more):
    inputs = {"flows": list(flows), **more}
    return Row(name, M + "irr", inputs, (value,), "1/year", near, why, source, attrgetter("roots"))


def _table(name, percent):
    return Row(f"D22 {name}", D + "table_shares", {"name": name}, tuple(p / 100 for p in percent), "share", 1e-4,
               "0.01 points of the print", PUB_946)  # fmt: skip


PUBLISHED = [
    _annual("D16 keep, then buy", 0.15, D16_KEEP, 8532.34, 0.10, FACTORS, f"{WHITE}, published 8532.30"),
    _annual("D16 replace now", 0.15, D16_REPLACE, 8615.25, 0.10, FACTORS, f"{WHITE}, published 8615.20"),
    _irr("D18 by table", d18(D18_MACRS), 0.1124, 1e-4, PRINTED, f"{NEWNAN} Ex 12-6/12-7"),
    _irr("D18 straight line", d18(D18_SL), 0.1055, 1e-4, PRINTED, f"{NEWNAN} Ex 12-6/12-7, published 10.6"),
    Row("D18 sale above book value", T + "taxes", {"base": [750.0 - 345.6], "rate": 0.34}, 612.504, "money", 1e-6, FULL,
        f"{NEWNAN} Ex 12-6: 750 - 0.34 x 404.40", lambda paid: 750.0 - paid[0]),
    _npv("D20 by table", 0.20, d20([0, *(10_000 * s for s in dep.table_shares("macrs_5")), 0]), 3802.1, 1.0, PRINTED,
         f"{GUANO}, published 3,802"),
    _npv("D20 straight line to 500", 0.20, d20([0, *[9500 / 6] * 6, 0], 500.0), 3519.9, 1.0, PRINTED,
         f"{GUANO}; book 3,520 from memory"),
    _npv("D21 equity with losses carried forward", 0.10, d21(), 2.1270492, 1e-6, FULL, LIBRARY),
    Row("D21 payments of the loan", F + "loan_of", {"principal": 2.016, "rate": 0.08, "years": 10},
        (0.30044345,) * 10, "money", 1e-6, FULL, LIBRARY, attrgetter("payments")),
    Row("losses carried forward", T + "taxes", {"base": [-100.0, 60.0, 60.0], "rate": 0.3, "losses": "carried_forward"},
        (0.0, 0.0, 6.0), "money", 1e-9, FULL, "worked by hand"),
    _table("macrs_3", (33.33, 44.45, 14.81, 7.41)),
    _table("macrs_5", (20, 32, 19.20, 11.52, 11.52, 5.76)),
    _table("macrs_7", (14.29, 24.49, 17.49, 12.49, 8.93, 8.92, 8.93, 4.46)),
    _table("macrs_10", (10, 18, 14.40, 11.52, 9.22, 7.37, 6.55, 6.55, 6.56, 6.55, 3.28)),
    Row("D23 straight line shares", D + "straight_line_shares", {"life_years": 5}, (0.2,) * 5, "share", 1e-9, FULL,
        LIBRARY),
    Row("D23 double declining, no switch", D + "declining_balance_shares", {"life_years": 5, "switch": False},
        (0.4, 0.24, 0.144, 0.0864, 0.0518), "share", 1e-4, PRINTED, LIBRARY),
    Row("double declining with switch", D + "declining_balance_shares", {"life_years": 5},
        (0.4, 0.24, 0.144, 0.108, 0.108), "share", 1e-9, FULL, "worked by hand: 0.216 left after year 3, halved"),
    Row("D23 sum of the years", D + "sum_of_years_shares", {"life_years": 5}, (0.3333, 0.2667, 0.2, 0.1333, 0.0667),
        "share", 1e-4, PRINTED, LIBRARY),
    Row("what no year takes falls at the horizon", D + "charged", {"capital": 100.0, "bought_in": 1, "shares": (0.5,
        0.3, 0.2), "horizon": 3}, (0.0, 0.0, 50.0, 50.0), "money", 1e-9, FULL, "worked by hand"),
    Row("D24 flows of the lease", F + "lease_flows", D24, (89.02, -17.99, -22.19, -17.71, -15.02, -15.02, -13.00,
        -10.98), "money", 0.02, PRINTED, BUS),
    _npv("D24 value of the lease", 0.065, fin.lease_flows(**D24), -0.702, 0.02, PRINTED, BUS),
    _npv("D25 tax a year late", 0.10, fin.lease_flows(**D25), 8588.4, 2.0, FACTORS, f"{STUDY_PAGE}, published 8587"),
    Row("a loan after tax", F + "loan_flows", {"loan": fin.Loan(100.0, (8.0, 4.0), (50.0, 50.0)), "tax_rate": 0.25},
        (100.0, -56.0, -53.0), "money", 1e-9, FULL, "worked by hand: interest less a quarter"),
    Row("D29 level payment", F + "level_payment", {"principal": 15_000.0, "rate": 0.08 / 12, "periods": 60}, 304.145914,
        "money", 1e-6, FULL, "numpy-financial test"),
    _irr("D29 monthly flows as a year's rate", [-300_000.0, *[78_000.0] * 5], 0.114039, 1e-6, PRINTED,
         "pyxirr test; year's rate worked", timing="monthly"),
    Row("D29 twelve parts at the ends of months", M + "npv", {"rate": 0.12, "flows": [0.0, 1.12], "timing": "monthly"},
        0.12 / (12 * (1.12 ** (1 / 12) - 1)), "", 1e-12, FULL, "worked by hand: value of a level series"),
    Row("D30 value of waiting a year", M + "value_of_waiting", {"now": -100 + 120 / 1.1, "later": -100 + 130 / 1.1,
        "years": 1.0, "rate": 0.1}, 7.438, "money", 0.01, PRINTED, ROSS),
    Row("D31 yearly cost of machine A", M + "equivalent_annual_value", D31_A, 25391.8, "money/year", 0.1, PRINTED,
        "engineering economy handout", lambda yearly: yearly + 2400),
    Row("D31 yearly cost of machine B", M + "equivalent_annual_value", D31_B, 28051.5, "money/year", 0.1, PRINTED,
        "engineering economy handout", lambda yearly: yearly + 2640),
    Row("D31 volume at which two machines cost the same", M + "equivalent_annual_value", D31_B, 29551.8, "pieces/year",
        0.05, FULL, "engineering economy handout, published 29,544 by rounded steps", volume_of_b),
    Row("D32 accounting break-even", D + "straight_line_shares", {"life_years": 5}, 60.0, "boats/year", 0.05, PRINTED,
        ROSS, lambda shares: (500_000 + 3.5e6 * shares[0]) / 20_000),
    Row("D32 financial break-even of the boats, as a share of 100 of them", B + "break_even_benefit",
        {"cashflow": boats(), "scenario": "A1"}, 0.8352, "share", 5e-4, PRINTED, ROSS),
    Row("D32 after tax, by the table", B + "break_even_benefit", {"cashflow": boats(0.34), "scenario": "A1"}, 0.95631,
        "share", 5e-5, FULL, "worked by hand: (1 170 329 - 0.34 x 700 000) / 0.66 = 1 412 620, and 500 000, over "
        "20 000"),
    Row("D33 Wright, last doubling", W + "wright_average", {"first": 100.0, "share": 0.8, "count": 16}, 40.96, "h",
        0.02, PRINTED, LEARNING),
    Row("D33 Wright, four pieces", W + "wright_average", {"first": 100.0, "share": 0.8, "count": 4}, 64.0, "h", 0.02,
        PRINTED, LEARNING),
    Row("D33 Crawford, piece 3", W + "crawford_unit", {"first": 25.0, "share": 0.8, "piece": 3}, 17.553, "h", 0.02,
        PRINTED, LEARNING),
    Row("D33 Crawford, piece 20", W + "crawford_unit", {"first": 25.0, "share": 0.8, "piece": 20}, 9.530, "h", 0.02,
        PRINTED, LEARNING),
    Row("D33 Crawford, first 20", W + "crawford_total", {"first": 25.0, "share": 0.8, "count": 20}, 262.12, "h", 0.02,
        PRINTED, f"{LEARNING}, published 262.13"),
    Row("D33 Crawford, next 20", W + "crawford_total", {"first": 25.0, "share": 0.8, "count": 20, "after": 20}, 167.71,
        "h", 0.02, PRINTED, f"{LEARNING}, published 167.70"),
    Row("D34 conventional", R + "benefit_cost_ratio", {"benefits": 175_000.0, "disbenefits": 25_000.0, "capital_cost":
        m.equivalent_annual_value(1.4e6, 0.06, 10), "running_cost": 40_000.0}, 0.652, "", 5e-4, PRINTED,
        "lecture slides, published 0.65"),
    Row("D34 modified", R + "benefit_cost_ratio", {"benefits": 175_000.0, "disbenefits": 25_000.0, "capital_cost":
        m.equivalent_annual_value(1.4e6, 0.06, 10), "running_cost": 40_000.0, "modified": True}, 0.578, "", 5e-4,
        PRINTED, "lecture slides; modified ratio worked"),
    _npv("D34 life-cycle cost, 25 years", 0.025, [50_000, *[1_500] * 25], 77_637, 5.0, FACTORS,
         "federal engineering economy report, published 77,636"),
    _npv("D34 life-cycle cost, 20 years", 0.03, [48_000, *[2_000] * 20], 77_755, 5.0, FACTORS,
         "federal engineering economy report"),
    _npv("D35 life-cycle cost, base", 0.03, life_cycle(103_000, 12_000, 250_000, 7_000, 3_500), 659_945.26, 0.5, FULL,
         HANDBOOK),
    _npv("D35 life-cycle cost, alternative", 0.03, life_cycle(130_000, 12_500, 200_000, 8_000, 3_700), 612_797.84, 0.5,
         FULL, HANDBOOK),
    Row("D35 savings to investment", R + "savings_to_investment", {"rate": 0.03, "investment": D35_INVESTED,
        "savings": D35_SAVED}, 2.7308, "", 5e-5, FULL, HANDBOOK),
    Row("D35 adjusted rate", R + "adjusted_rate", {"rate": 0.03, "ratio": 2.7308, "years": 20}, 0.08306, "1/year", 5e-6,
        FULL, HANDBOOK),
    Row("D35 simple payback", M + "payback", {"flows": [-27_000.0, *[5_000.0] * 20]}, 5.40, "years", 5e-3, FULL,
        HANDBOOK, attrgetter("years")),
    Row("imputed interest", R + "imputed_interest", {"capital": 100_000.0, "residual": 20_000.0, "rate": 0.05}, 3_000.0,
        "money/year", 1e-9, FULL, "worked by hand: 60 000 bound on average"),
    Row("yearly write-off", R + "yearly_write_off", {"capital": 100_000.0, "residual": 20_000.0, "years": 8.0},
        10_000.0, "money/year", 1e-9, FULL, "worked by hand"),
    Row("static comparison", R + "static_measures", {"capital": 100_000.0, "residual": 20_000.0, "years": 8.0,
        "yearly_surplus": 25_000.0, "rate": 0.05}, (12_000.0, 0.25, 4.0), "money/year, 1/year, years", 1e-9, FULL,
        "worked by hand: 25 000 - 10 000 - 3 000; 15 000 / 60 000; 100 000 / 25 000",
        lambda s: (s.profit, s.return_on_mean_capital, s.payback_years)),
]  # fmt: skip


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row: Row) -> None:
    row.check()


def test_d18_flows_after_tax():
    assert d18(D18_MACRS) == pytest.approx((-3000, 732, 854.4, 723.8, 645.5, 1199.3), abs=0.06)


def test_d20_flows_after_tax():
    flows = d20([0, *(10_000 * s for s in dep.table_shares("macrs_5")), 0])
    assert flows == pytest.approx((-12600, -1484, 2947, 6323, 10534, 9985, 5757, 3269), abs=1.0)
    assert np.diff(D20_STOCK, prepend=0.0).sum() == 0.0


def test_d21_flows_and_what_other_loss_rules_would_give():
    assert d21()[:5] == pytest.approx((-1.67328, 0.50734, 0.51956, 0.51956, 0.51956), abs=1e-5)
    by_rule = [m.npv(0.10, d21(rule)) for rule in ("lost", "carried_forward", "used_at_once")]
    assert by_rule == sorted(by_rule)
    assert by_rule[0] < by_rule[1] - 1e-3


def test_d22_the_tables_sum_to_the_cost_and_the_rule_is_near_but_not_equal():
    for name, known in dep.TABLES.items():
        assert sum(known.percent) == pytest.approx(100.0), name
    half, left, computed = 0.5, 1.0, []
    for year in range(8):
        years_left = 7 - max(year - 0.5, 0) if year else 7
        share = max(left * 2 / 7, left / years_left) * (half if year == 0 else 1.0)
        computed.append(min(share, left))
        left -= computed[-1]
    gap = np.abs(np.multiply(computed, 100) - dep.TABLES["macrs_7"].percent).max()
    assert 0.0005 < gap < 0.01


def test_d23_without_switch_a_part_is_never_written_off():
    assert 1 - sum(dep.declining_balance_shares(5, switch=False)) == pytest.approx(0.0778, abs=1e-4)
    assert sum(dep.declining_balance_shares(5)) == pytest.approx(1.0)


def test_d29_value_at_the_end_of_monthly_payments():
    """100 at once and at the end of each of 120 months at 5 %/12: 15692.9288943357 (numpy-financial test)."""
    rate = 0.05 / 12
    assert m.npv(rate, [100.0] * 121) * (1 + rate) ** 120 == pytest.approx(15692.9288943357, abs=1e-6)
    monthly = m.irr([-300_000.0, *[6_500.0] * 60]).roots
    assert monthly == pytest.approx((0.0090399507,), abs=1e-9)
    assert 12 * monthly[0] == pytest.approx(0.108479, abs=1e-6)  # the nominal rate, which is not the year's rate


# ---- errors of sources: the kit gives the corrected value, and the printed one would fail ----


def test_a_shifted_purchase_is_not_the_mid_year_value():
    """D28: a variant that moves the purchase too gives 73.51 in place of 128.94."""
    flows = [-985.0, 75, 120, 100, 1200]
    assert m.npv(0.10, flows, "mid_year") == pytest.approx(128.94, abs=0.01)
    assert abs(m.npv(0.10, flows, "mid_year") - 73.51) > 50
    assert m.npv(0.10, flows) / 1.1**0.5 == pytest.approx(73.51, abs=0.01)


def test_a_second_answer_to_the_strip_mine_typed_43_for_42():
    """D03: it claims a value above zero at 3 %."""
    assert m.npv(0.03, [-14, 42, -29]) < 0 < m.npv(0.03, [-14, 43, -29])


def test_rounded_factors_of_the_lease_are_not_given():
    """D25: 8587 by factors of three digits; exact 8588.4."""
    assert m.npv(0.10, fin.lease_flows(**D25)) == pytest.approx(8588.4, abs=0.05)


def test_the_misprint_of_the_learning_page_is_not_given():
    """D33: the last 8 of 16 units take 655.36 - 409.60 = 245.76 h; the page prints 254.76."""
    totals = [n * learning.wright_average(100.0, 0.8, n) for n in (8, 16)]
    assert totals[1] == pytest.approx(655.36, abs=0.01)
    assert totals[1] - totals[0] == pytest.approx(245.76, abs=0.01)
    assert [learning.wright_average(100.0, 0.8, n) for n in (1, 2, 8)] == pytest.approx([100, 80, 51.2], abs=0.02)


def test_inflows_lower_an_equivalent_annual_cost():
    """A published answer added inflows as costs: 16.05 in place of 4.05, twice the inflow of 6 too much."""
    cost, inflow = 10.05, 6.0
    assert m.equivalent_annual_value(m.npv(0.1, [0, *[cost - inflow] * 5]), 0.1, 5) == pytest.approx(4.05)


def test_d34_lives_and_rates_that_differ_are_compared_by_year():
    """The report ranks present costs at 2.5 % over 25 and 3 % over 20 years; like for like is the cost a year."""
    yearly = [
        m.equivalent_annual_value(m.npv(rate, [first, *[run] * n]), rate, n)
        for first, run, n, rate in ((50_000, 1_500, 25, 0.025), (48_000, 2_000, 20, 0.03))
    ]
    assert yearly == pytest.approx((4213.8, 5226.4), abs=0.1)


def test_d35_net_savings_are_the_difference_of_the_life_cycle_costs():
    costs = [life_cycle(103_000, 12_000, 250_000, 7_000, 3_500), life_cycle(130_000, 12_500, 200_000, 8_000, 3_700)]
    net = m.npv(0.03, costs[0]) - m.npv(0.03, costs[1])
    assert net == pytest.approx(47_147.42, abs=0.5)
    assert net == pytest.approx(m.npv(0.03, D35_SAVED) - m.npv(0.03, D35_INVESTED), abs=1e-6)
    assert ratios.adjusted_rate(0.03, None, 20) is None
