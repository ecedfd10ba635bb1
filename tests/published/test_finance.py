"""Measures of money against published and worked values, one row each.

Sources: "seen" values were read in print or in the named tests and recomputed; "from memory" marks a
value or a title that was not at hand; "worked" answers were computed apart from the kit.
"""

from __future__ import annotations

from collections.abc import Callable
from operator import attrgetter
from typing import Any

import numpy as np
import pytest

from simkit.finance import measures as m
from tests.published.rows import Row

MEASURES = "simkit.finance.measures."
FULL = "floating point; the source gives all digits"
PRINTED = "digits of the print"
ROUNDED = "the source interpolates or rounds"
BY_TABLE = "the source works with rounded factors"

LIBS = "numpy-financial docstring and pyxirr tests"
NP_TEST = "numpy-financial test"
SHEET = "apache/poi PR 256, spreadsheet values"
STRIP_MINE = "homework thread, strip mine"
BMA = "Brealey-Myers slides; flows seen, values from memory"
BMM = "Brealey-Myers-Marcus ch. 8 solutions"
NEWNAN = "Newnan, Engineering Economic Analysis"
PARK = "course notes after Park ch. 5; interpolation worked"
ROBOTS = "Blank-Tarquin style test bank, two robots"
NOTES = "course notes, inflation; worked"
NEWSGROUP = "spreadsheet newsgroup, mid-year example"
WORKED = "worked: all roots of the polynomial"

D01 = [-40000.0, 5000, 8000, 12000, 30000]
D06 = {"A": [-2000.0, 500, 500, 5000], "B": [-2000.0, 500, 1800, 0], "C": [-2000.0, 1800, 500, 0]}
D07_SMT = [-500000.0] + [92500.0] * 10
D07_WY = [-55000.0] + [13000.0] * 8
D08 = [-12000.0, 3000, 4000, 6000, 5000]
D11_A = [-10000.0] + [3000.0] * 5
D11_B = [-13500.0, 3000, 3500, 4000, 4500, 5000]
D12_X = [-84.0, 65, 65, 65 + 40]
D12_Y = [-146.0, 91, 91, 91 + 47]
D13 = {"A": (150.0, 45.0), "B": (220.0, 60.0), "C": (300.0, 100.0), "D": (340.0, 105.0)}
D14_A = [-200.0, 80, 80, 80, 80]
D14_B = [-200.0, 100, 100, 100, 0]
D28 = [-985.0, 75, 120, 100, 1200]


def _minus(larger: list[float], smaller: list[float]) -> list[float]:
    return list(np.subtract(larger, smaller))


def _npv(
    name: str, rate: float, flows: list[float], value: float, near: float, why: str, source: str, **more: Any
) -> Row:
    return Row(name, MEASURES + "npv", {"rate": rate, "flows": flows, **more}, value, "money", near, why, source)


def _irr(name: str, flows: list[float], roots: Any, near: float, why: str, source: str, **more: Any) -> Row:
    """All rates: a single number is expected to be the only one."""
    expected = roots if isinstance(roots, tuple) else (roots,)
    return Row(
        name, MEASURES + "irr", {"flows": flows, **more}, expected, "1/year", near, why, source, attrgetter("roots")
    )


def _payback(name: str, flows: list[float], rate: float, years: float, near: float, why: str, source: str) -> Row:
    inputs = {"flows": flows, "rate": rate}
    return Row(name, MEASURES + "payback", inputs, years, "years", near, why, source, attrgetter("years"))


def _annual(name: str, rate: float, costs: list[float], value: float, near: float, why: str, source: str) -> Row:
    """Equivalent annual cost of costs from year 0 on, through their present value."""
    inputs = {"value": m.npv(rate, costs), "rate": rate, "years": len(costs) - 1}
    return Row(name, MEASURES + "equivalent_annual_value", inputs, value, "money/year", near, why, source)


def _mirr(name: str, flows: list[float], finance: float, reinvest: float, value: float, source: str) -> Row:
    inputs = {"flows": flows, "finance_rate": finance, "reinvest_rate": reinvest}
    return Row(name, MEASURES + "mirr", inputs, value, "1/year", 1e-6, PRINTED, source)


def _index(name: str, flows: list[float], value: float) -> Row:
    inputs = {"rate": 0.11, "flows": flows, "capital": 200.0}
    return Row(name, MEASURES + "profitability_index", inputs, value, "", 5e-4, PRINTED, BMM + ", NPV / I")


def _machine_life(years: int) -> list[float]:
    """D17: 7500 first cost, maintenance 0 then +900 a year, operating 500 then +400 a year."""
    return [7500.0] + [900.0 * (t - 1) + 500.0 + 400.0 * (t - 1) for t in range(1, years + 1)]


def _chain(name: str, rate: float, options: list[m.Alternative], expected: Any, near: float, why: str, source: str,
           read: Callable[[Any], Any]) -> Row:  # fmt: skip
    inputs = {"alternatives": options, "rate": rate}
    return Row(name, MEASURES + "incremental_analysis", inputs, expected, "1/year", near, why, source, read)


def _later_rates(steps: tuple[m.IncrementalStep, ...]) -> list[float]:
    return [step.incremental_irr.roots[0] for step in steps[1:]]


def _designs() -> list[m.Alternative]:
    return [m.Alternative(name, cost, (-cost, *(net,) * 10)) for name, (cost, net) in D13.items()]


PUBLISHED = [
    _npv("D01 t0 first", 0.08, D01, 3065.22267, 1e-5, FULL, LIBS),
    _npv("D01 whole row a period later", 0.08, [0.0, *D01], 2838.169137203, 1e-5, FULL, LIBS),
    _irr("D01 rate", D01, 0.10582259840, 1e-8, FULL, LIBS),
    _npv("D01 second series", 0.08, [-1000, 500, 300, 800], 355.2304018696, 1e-5, FULL, SHEET),
    _irr("D02 a", [-150000, 15000, 25000, 35000, 45000, 60000], 0.05243288885, 1e-8, FULL, LIBS),
    _irr("D02 b", [-100, 0, 0, 74], -0.09549583034, 1e-8, FULL, LIBS),
    _irr("D02 c", [-100, 39, 59, 55, 20], 0.28094842116, 1e-8, FULL, LIBS),
    _irr("D02 d", [-100, 100, 0, 7], 0.06205848562, 1e-8, FULL, LIBS),
    _irr("D02 e", [-250000, 100000, 150000, 200000, 250000, 300000], 0.5672303344, 1e-8, FULL, LIBS),
    _irr("D02 two roots", [-100, 100, 0, -7], (-0.67889437, -0.08329966618), 1e-8, PRINTED,
         f"{LIBS} (one root); {WORKED}"),
    _irr("D02 three roots", [-5, 10.5, 1, -8, 1], (-0.87020125, 0.08859834, 0.70955953), 1e-8, PRINTED,
         f"{LIBS} (the middle root); {WORKED}"),
    _irr("D03 both roots", [-14, 42, -29], (0.0774229, 0.9225771), 1e-6, PRINTED, STRIP_MINE),
    _npv("D03 at 3 %", 0.03, [-14, 42, -29], -0.559, 1e-3, PRINTED, STRIP_MINE),
    _npv("D03 at 13 %", 0.13, [-14, 42, -29], 0.457, 1e-3, PRINTED, STRIP_MINE),
    _npv("D03 at 80 %", 0.80, [-14, 42, -29], 0.383, 1e-3, PRINTED, STRIP_MINE),
    _npv("D03 at 120 %", 1.20, [-14, 42, -29], -0.901, 1e-3, PRINTED, STRIP_MINE),
    _npv("D04 value without a rate", 0.10, [1000, -3000, 2500], 338.84, 0.01, PRINTED,
         "Brealey-Myers pitfall example, from memory (book 339)"),
    _irr("rate near the upper end", [-1, 10.99], 9.99, 1e-8, FULL, "worked by hand: 10.99 / (1 + 9.99) = 1"),
    _irr("D04 no rate", [1000, -3000, 2500], (), 0.0, "none is none", "Brealey-Myers pitfall example, from memory"),
    _mirr("D05 a", [-120000, 39000, 30000, 21000, 37000, 46000], 0.10, 0.12, 0.126094, NP_TEST),
    _mirr("D05 b", [-1000, 100, 250, 500, 500], 0.1, 0.1, 0.10401626745, "pyxirr test"),
    _payback("D06 A", D06["A"], 0.0, 2.2, 0.01, PRINTED, BMA),
    _payback("D06 B", D06["B"], 0.0, 1.8333, 0.01, PRINTED, BMA),
    _payback("D06 C", D06["C"], 0.0, 1.4, 0.01, PRINTED, BMA),
    _npv("D06 A value", 0.1, D06["A"], 2624.34, 0.01, PRINTED, BMA),
    _npv("D06 B value", 0.1, D06["B"], -57.85, 0.01, PRINTED, BMA),
    _npv("D06 C value", 0.1, D06["C"], 49.59, 0.01, PRINTED, BMA),
    _payback("D06 A discounted", D06["A"], 0.1, 2.3014, 0.01, PRINTED, BMA),
    _payback("D06 C discounted", D06["C"], 0.1, 1.8800, 0.01, PRINTED, BMA),
    _payback("D07 discounted, linear", D07_SMT, 0.10, 8.1662, 1e-3, PRINTED, "surface-mount problem, published 8.17"),
    _payback("D07 simple", D07_SMT, 0.0, 5.4054, 1e-3, PRINTED, "surface-mount problem; worked"),
    _payback("D07 second", D07_WY, 0.07, 5.1960, 1e-3, PRINTED, "tutoring answer, published 5.1959"),
    _payback("D08 interpolated", D08, 0.0, 2.8333, 1e-3, PRINTED, PARK),
    _payback("D08 discounted", D08, 0.10, 3.4272, 1e-3, PRINTED, PARK),
    Row("D08 discounted flows", MEASURES + "discounted", {"rate": 0.10, "flows": D08},
        (-12000.0, 2727.2727, 3305.7851, 4507.8888, 3415.0673), "money", 1e-4, PRINTED, "worked by hand"),
    _chain("D10 scale", 0.10,
           [m.Alternative("F", 20000, (-20000, 35000)), m.Alternative("E", 10000, (-10000, 20000))],
           [0.5], 1e-9, "exact", "Brealey-Myers slide", _later_rates),
    _npv("D11 A at 7 %", 0.07, D11_A, 2300.59, 0.01, PRINTED, f"{NEWNAN} Ex 7-13"),
    _npv("D11 B at 7 %", 0.07, D11_B, 2623.92, 0.01, PRINTED, f"{NEWNAN} Ex 7-13"),
    _irr("D11 A rate", D11_A, 0.1524, 5e-4, ROUNDED, f"{NEWNAN} Ex 7-13"),
    _irr("D11 B rate", D11_B, 0.1339, 5e-4, ROUNDED, f"{NEWNAN} Ex 7-13"),
    _irr("D11 increment", _minus(D11_B, D11_A), 0.0944, 5e-4, ROUNDED, f"{NEWNAN} Ex 7-13 (9.45 % by interpolation)"),
    _irr("D12 X rate", D12_X, 0.6785, 5e-4, ROUNDED, ROBOTS),
    _irr("D12 Y rate", D12_Y, 0.4778, 5e-4, ROUNDED, ROBOTS),
    _npv("D12 X at 15 %", 0.15, D12_X, 90.710, 5e-4, PRINTED, ROBOTS),
    _npv("D12 Y at 15 %", 0.15, D12_Y, 92.677, 5e-4, PRINTED, ROBOTS),
    _irr("D12 increment", _minus(D12_Y, D12_X), 0.16828, 5e-4, ROUNDED, f"{ROBOTS}, published 16.83 %"),
    _chain("D13 four designs, increments", 0.15, _designs(), [0.1695, 0.4908, 0.0428], 5e-4, ROUNDED,
           "ISE460 slides; increments worked", _later_rates),
    _npv("D14 A at 11 %", 0.11, D14_A, 48.196, 5e-3, PRINTED, BMM),
    _npv("D14 B at 11 %", 0.11, D14_B, 44.371, 5e-3, PRINTED, BMM),
    _npv("D14 A at 16 %", 0.16, D14_A, 23.854, 5e-3, PRINTED, BMM),
    _npv("D14 B at 16 %", 0.16, D14_B, 24.589, 5e-3, PRINTED, BMM),
    _irr("D14 A rate", D14_A, 0.21862, 5e-5, PRINTED, BMM),
    _irr("D14 B rate", D14_B, 0.23375, 5e-5, PRINTED, BMM),
    _index("D14 A index", D14_A, 0.2410),
    _index("D14 B index", D14_B, 0.2219),
    _irr("D14 crossover", _minus(D14_B, D14_A), 0.15091, 5e-5, PRINTED, f"{BMM}; crossover worked"),
    _payback("D14 A", D14_A, 0.0, 2.5, 1e-9, "exact", BMM),
    _payback("D14 B", D14_B, 0.0, 2.0, 1e-9, "exact", BMM),
    _annual("D15 D", 0.06, [15, 4, 4, 4], 9.612, 5e-3, PRINTED, BMA),
    _annual("D15 E", 0.06, [10, 6, 6], 11.454, 5e-3, PRINTED, BMA),
    _annual("D15 A, 12th edition", 0.06, [15, 5, 5, 5], 10.612, 5e-3, PRINTED, BMA),
    *(
        _annual(f"D17 life of {n} years", 0.08, _machine_life(n), value, 1.0, BY_TABLE, f"{NEWNAN} Ex 13-1")
        for n, value in enumerate((8600, 5330.8, 4643.6, 4589.6, 4778.8, 5081.6, 5442.3, 5833.2), 1)
    ),
    Row("wages of year 3 at 3 %", "simkit.finance.timeline.growth", {"rate": 0.03, "year": 3}, 1.0609, "", 1e-9,
        FULL, "worked by hand"),
    Row("life of 3 years in a horizon of 8", "simkit.finance.timeline.replacement_times",
        {"start": 0.5, "life_years": 3.0, "horizon_years": 8}, (3.5, 6.5), "years", 1e-9, FULL, "worked by hand"),
    Row("28 h given out today and 3 with it, budget 8", "simkit.finance.benefits.released_share",
        {"today": 28.0, "option": 3.0, "budget": 8.0}, 0.2, "", 1e-9, FULL, "worked by hand"),
    Row("2 h given out today and 11 with it, budget 8", "simkit.finance.benefits.released_share",
        {"today": 2.0, "option": 11.0, "budget": 8.0}, 6 / 9, "", 1e-9, FULL, "worked by hand"),
    _irr("D27 real rate of 20 % at 10 % inflation", [-1.0, 1.2 / 1.1], 0.090909, 1e-6, PRINTED,
         "course notes, published 9.1 %"),
    _npv("D27 nominal", 0.20, [-15000, 9000, 8000, 7000], 2106.48, 0.01, PRINTED, NOTES),
    _npv("D27 real", 1.2 / 1.1 - 1, [-15000, 9000 / 1.1, 8000 / 1.1**2, 7000 / 1.1**3], 2106.48, 0.01,
         PRINTED, NOTES),
    _npv("D28 end of year", 0.10, D28, 77.10, 0.01, PRINTED, NEWSGROUP),
    _irr("D28 end of year rate", D28, 0.1237, 1e-4, PRINTED, NEWSGROUP),
    _npv("D28 mid-year", 0.10, D28, 128.94, 0.01, PRINTED, NEWSGROUP, timing="mid_year"),
    _irr("D28 mid-year rate", D28, 0.1455, 1e-4, PRINTED, NEWSGROUP, timing="mid_year"),
]  # fmt: skip


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row: Row) -> None:
    row.check()


def _years(result: m.Payback) -> float:
    assert result.years is not None
    return result.years


def test_d04_no_real_rate_is_said_in_words() -> None:
    assert m.irr([1000, -3000, 2500]) == m.Irr("none", (), "no internal rate between -99 % and 1000 % a year")


def test_d05_all_positive_has_no_modified_rate() -> None:
    assert m.mirr([39000, 30000, 21000], 0.1, 0.12) is None


def test_d06_b_never_pays_back_when_discounted() -> None:
    assert m.payback(D06["B"], 0.1) == m.Payback(None, "does not pay back within 3 years")


def test_d09_never_pays_back() -> None:
    """1,000,000 against 9,000 a year at 3.46 %: worth 260,116 for ever (question in a German forum)."""
    flows = [-1_000_000.0] + [9_000.0] * 200
    assert m.payback(flows, 0.0346).text == "does not pay back within 200 years"
    assert _years(m.payback(flows)) == pytest.approx(111.1, abs=0.05)


def test_d10_scale_incremental_irr_prefers_the_larger() -> None:
    options = [m.Alternative("F", 20000, (-20000, 35000)), m.Alternative("E", 10000, (-10000, 20000))]
    first, second = m.incremental_analysis(options, 0.10)
    assert (first.name, first.incremental_irr.roots[0]) == ("E", pytest.approx(1.0))
    assert second.incremental_irr.roots[0] == pytest.approx(0.5)
    assert (second.against, second.accepted) == ("E", True)
    assert second.incremental_npv == pytest.approx(11818.18 - 8181.82, abs=0.01)


def test_d11_chain_chooses_the_lower_own_rate() -> None:
    options = [m.Alternative("A", 10000, tuple(D11_A)), m.Alternative("B", 13500, tuple(D11_B))]
    steps = m.incremental_analysis(options, 0.07)
    assert [s.accepted for s in steps] == [True, True]
    assert steps[1].incremental_irr.roots[0] == pytest.approx(0.0944, abs=5e-4)


def test_d13_four_designs_stop_at_c() -> None:
    """ISE460 slides: costs 150/220/300/340, net 45/60/100/105 for 10 years, 15 %; increments computed."""
    options = _designs()
    assert [m.npv(0.15, o.flows) for o in options] == pytest.approx([75.84, 81.13, 201.88, 186.97], abs=0.01)
    assert [m.irr(o.flows).roots[0] for o in options] == pytest.approx([0.2732, 0.2413, 0.3111, 0.2833], abs=5e-4)
    steps = m.incremental_analysis(options, 0.15)
    assert [s.incremental_irr.roots[0] for s in steps[1:]] == pytest.approx([0.1695, 0.4908, 0.0428], abs=5e-4)
    assert [(s.against, s.accepted) for s in steps] == [("today", True), ("A", True), ("B", True), ("C", False)]
