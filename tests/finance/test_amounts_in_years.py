"""Where amounts fall: beyond the horizon, before the first payment, within the year, and the one sum of capital."""

from __future__ import annotations

import dataclasses

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.base.messages import BadInput
from simkit.finance.buying import offers_of, started_later
from simkit.finance.evaluate import evaluate, incremental_chain
from simkit.finance.guards import money_findings
from simkit.finance.measures import irr, mirr, npv
from simkit.finance.ratios import supplementary
from simkit.finance.riskmodel import RiskModel
from simkit.plant.options import CapitalLine, OnceLine, capital_of
from simkit.plant.settings_money import DemandYear, Financing
from tests.finance.hand import BOUGHT, CHEAP, amounts, hand_plant, table, today, totals, written
from tests.finance.test_cashflow import priced

SAVES = totals(overtime_h=1.0)  # 11 250 a year
small = settings(max_examples=30, deadline=None, derandomize=True)


def why(plant) -> str:
    return "; ".join(f"{f.column} {f.why}" for f in money_findings(plant))


# ---- beyond the horizon ----


def test_single_amounts_after_the_horizon_are_told_before_anything_is_simulated():
    """Lead 60 weeks: used from year 2 on, so that year of use 4 is year 5 of 4."""
    once = (OnceLine(line="old press sold", amount=2_000.0, year=4), OnceLine(line="survey", amount=-10.0, year=3))
    option = BOUGHT.model_copy(update={"once": once, "lead_weeks": 60.0})
    (finding,) = money_findings(hand_plant(option))
    assert (finding.value, finding.column) == ("old press sold", "option A1 once")
    assert "falls in year 5, the horizon is 4 years" in finding.why


def test_what_is_paid_after_the_horizon_counts_at_it_and_what_is_received_shows_without_counting():
    once = (OnceLine(line="sold", amount=2_000.0, year=9), OnceLine(line="dismantled", amount=-300.0, year=9))
    cash = table(hand_plant(BOUGHT.model_copy(update={"once": once})), today(), totals())
    assert amounts(cash, "one_time") == [0, 0, 0, 0, -300]
    (row,) = [row for row in cash.rows if row.line == "one_time" and row.benefit_class == "not_monetised"]
    assert (row.amount, row.year) == (0.0, 4)
    assert row.basis == "2000 once: sold x 0 counted; falls in year 9, after the horizon"


def test_an_option_that_starts_after_the_horizon_is_told_and_pays_all_the_same():
    """Lead of 5 years, horizon of 4: capital, last stage, training and stock fall at the horizon, nothing comes in."""
    option = priced(capital=10_000.0, lead_weeks=260.0, life_years=6.0, stop_days=1.0)
    option = option.model_copy(update={"working_capital": 700.0})
    plant = hand_plant(option, payments_at=(0.0, 0.9, 1.0), training=50.0, tax_rate=0.2)
    assert "in use after 5.0 years, the horizon is 4 years" in why(plant)
    cash = table(plant, today(), SAVES)
    assert amounts(cash, "capital") == [-6_000, 0, 0, 0, -4_000]
    assert amounts(cash, "training") == [0, 0, 0, 0, -50]
    assert amounts(cash, "installation_stop")[4] < 0
    assert amounts(cash, "working_capital") == [0, 0, 0, 0, 0]
    assert amounts(cash, "overtime") == [0] * 5
    assert evaluate(cash)["A1"].npv < -8_000


def test_a_stage_after_the_horizon_is_told():
    plant = hand_plant(priced(lead_weeks=104.0), payments_at=(0.0, 1.0, 2.5))
    assert "last stage is paid after 5.0 years, the horizon is 4 years" in why(plant)
    assert why(hand_plant(priced(lead_weeks=104.0), payments_at=(0.0, 1.0, 2.0))) == ""


def test_a_first_payment_at_the_horizon_is_refused():
    with pytest.raises(BadInput, match="first payment is 4 years away, the horizon 4 years"):
        table(hand_plant(BOUGHT, start_after_years=4), today(), SAVES)
    assert "first payment is 4 years away" in why(hand_plant(BOUGHT, start_after_years=4))


def test_sets_that_would_start_after_the_horizon_can_still_be_offered():
    """Bought in year 3 with a lead of 18 months: 20 000 are paid within the horizon and bring nothing."""
    found = offers_of(hand_plant(priced(capital=20_000.0, lead_weeks=78.0)), today(), [SAVES], ["A1"], 4)
    assert found.value["A1"][3] == pytest.approx(-20_000 / 1.1**3)


def test_an_amount_before_the_first_payment_falls_with_it():
    """Nothing of an option comes before it is paid; the payback counts it."""
    grant = OnceLine(line="paid by the supplier", amount=5_000.0, year=0)
    cash = table(hand_plant(priced(capital=20_000.0, once=(grant,)), start_after_years=1), today(), SAVES)
    assert amounts(cash, "one_time") == [0, 5_000, 0, 0, 0]
    assert evaluate(cash)["A1"].payback.years == pytest.approx(15_000 / 11_250)


@small
@given(st.integers(1, 6), st.floats(0, 400), st.floats(0.25, 9), st.integers(0, 3), st.integers(0, 12))
def test_nothing_that_is_paid_vanishes_and_nothing_crashes(horizon, lead, life, wait, year):
    """Whatever the years: capital, training, single costs and stock all stand in the table, and measures are told."""
    once = (OnceLine(line="paid", amount=-40.0, year=year), OnceLine(line="got", amount=30.0, year=year))
    option = priced(capital=1_000.0, lead_weeks=lead, life_years=life)
    option = option.model_copy(update={"once": once, "working_capital": 9.0})
    plant = hand_plant(option, horizon_years=horizon, start_after_years=min(wait, horizon - 1), training=7.0,
                       payments_at=(0.0, 0.9, 2.0), tax_rate=0.2, timing="mid_year")  # fmt: skip
    cash = table(plant, today(), SAVES)
    assert sum(amounts(cash, "capital")) == pytest.approx(-1_000)
    assert sum(amounts(cash, "training")) == pytest.approx(-7)
    assert sum(amounts(cash, "one_time", kind="cost")) == pytest.approx(-40)
    assert sum(amounts(cash, "working_capital")) == pytest.approx(0)
    assert any("30 once: got" in row.basis for row in cash.rows)
    assert sum(written(cash)) == pytest.approx(1_000 - sum(amounts(cash, "replacement")))
    result = evaluate(cash)["A1"]
    assert result.npv == pytest.approx(sum(result.npv_by_class[k] for k in ("cash_releasing", "one_time", "cost")))
    supplementary(cash, "A1")


def test_a_horizon_of_one_year_by_hand():
    """1 000 paid, half a year of use at 11 250, all written off in year 1, a tenth left and taxed."""
    option = priced(capital=1_000.0, lead_weeks=26.0, life_years=5.0)
    cash = table(hand_plant(option, horizon_years=1, tax_rate=0.2, residual_share=0.1), today(), SAVES)
    assert cash.flows("A1") == pytest.approx([-1_000, 0.8 * 5_625 + 0.2 * 1_000 + 0.8 * 100])


def test_a_life_shorter_than_a_year_is_bought_again_in_every_part():
    """Life of half a year in 2 years: again at 0.5, 1.0 and 1.5; one full year has passed at 1.0 and 1.5."""
    cash = table(hand_plant(priced(capital=100.0, life_years=0.5), horizon_years=2, price_growth=0.1), today(), SAVES)
    assert amounts(cash, "replacement") == [0, pytest.approx(-210), pytest.approx(-110)]


def test_negative_growth_and_a_negative_rate_are_numbers_like_others():
    plant = hand_plant(priced(capital=20_000.0), discount_rate=-0.02, wage_growth=-0.1)
    flows = [-20_000, 11_250, 11_250 * 0.9, 11_250 * 0.81, 11_250 * 0.729]
    found = evaluate(table(plant, today(), SAVES))["A1"]
    assert found.npv == pytest.approx(sum(f / 0.98**t for t, f in enumerate(flows)))
    assert found.mirr is not None
    free = evaluate(table(hand_plant(priced(capital=20_000.0), discount_rate=0.0), today(), SAVES))["A1"]
    assert (free.npv, free.equivalent_annual_value) == (pytest.approx(25_000), pytest.approx(6_250))


def test_a_stop_and_a_training_in_a_later_year_are_paid_at_its_prices():
    """Used from 1.25 years on: the stop falls in year 2 and costs a tenth more; bought two years later, so does all."""
    option = priced(capital=1_000.0, lead_weeks=65.0, stop_days=1.0)
    plain, grown = (
        table(hand_plant(option, price_growth=rate), today(), SAVES) for rate in (0.0, 0.1)
    )  # fmt: skip
    assert amounts(grown, "installation_stop")[2] == pytest.approx(1.1 * amounts(plain, "installation_stop")[2])
    later = table(hand_plant(option, price_growth=0.1, training=100.0, start_after_years=2), today(), SAVES)
    assert amounts(later, "training")[4] == pytest.approx(-121)


def test_a_grant_comes_with_the_stages_that_it_is_for():
    option = priced(capital=10_000.0, lead_weeks=78.0, grant_share=0.3)
    cash = table(hand_plant(option, payments_at=(0.0, 0.8, 1.0), tax_rate=0.2), today(), totals())
    assert amounts(cash, "capital") == [-6_000, 0, -4_000, 0, 0]
    assert amounts(cash, "grant") == [1_800, 0, 1_200, 0, 0]
    assert sum(written(cash)) == pytest.approx(7_000)


# ---- within the year ----


def test_waiting_a_year_costs_the_discount_at_every_timing():
    """The purchase stays at its moment, a year later too: worth 1/1.1 of now, whatever the timing."""
    for timing in ("end_year", "mid_year", "monthly"):
        plant = hand_plant(priced(capital=20_000.0), timing=timing)
        now = evaluate(table(plant, today(), SAVES))["A1"].npv
        assert started_later(plant, today(), [SAVES], ["A1"])["A1"] == pytest.approx(now / 1.1)


def test_rates_and_ratios_follow_the_timing():
    """20 000 for 11 250 in the middle of each of 4 years, at 10 %; a value of zero has the rate itself."""
    result = evaluate(table(hand_plant(priced(capital=20_000.0), timing="mid_year"), today(), SAVES))["A1"]
    received = sum(11_250 * 1.1 ** (4 - t + 0.5) for t in (1, 2, 3, 4))
    assert result.mirr == pytest.approx((received / 20_000) ** 0.25 - 1)
    found = supplementary(table(hand_plant(priced(capital=20_000.0), timing="mid_year"), today(), SAVES), "A1")
    assert found.savings_to_investment == pytest.approx((result.npv + 20_000) / 20_000)
    assert found.adjusted_rate == pytest.approx(result.mirr)


@small
@given(st.sampled_from(["end_year", "mid_year", "monthly"]), st.floats(5e3, 6e4), st.integers(0, 2), st.floats(0, 0.4))
def test_ratio_rates_and_value_agree_whether_it_pays(timing, capital, wait, tax):
    """Savings ratio above 1, index above 0, modified rate above the rate: each says what the value says."""
    plant = hand_plant(priced(capital=capital), timing=timing, start_after_years=wait, tax_rate=tax, residual_share=0.1)
    cash = table(plant, today(), SAVES)
    result, beside = evaluate(cash)["A1"], supplementary(cash, "A1")
    pays = result.npv > 0
    assert (beside.savings_to_investment > 1) == pays
    assert (beside.adjusted_rate > 0.1) == pays
    assert (result.profitability_index > 0) == pays
    assert (result.mirr > 0.1) == pays
    assert (result.irr.roots[0] > 0.1) == pays
    assert incremental_chain([result])[0].incremental_npv == pytest.approx(result.npv)
    assert RiskModel(plant, {"today": today(), "A1": SAVES}, ()).base("A1") == pytest.approx(result.npv)


@pytest.mark.parametrize("timing", ["end_year", "mid_year", "monthly"])
def test_at_its_own_rate_a_case_has_that_modified_rate(timing):
    flows = [-1_000, 300, 400, 500]
    (own,) = irr(flows, timing).roots
    assert mirr(flows, own, own, timing) == pytest.approx(own)


# ---- rates that lie close ----


def with_rates(*rates: float) -> list[float]:
    """Flows whose net present value is zero at these rates alone."""
    flows = [1.0]
    for rate in rates:
        flows = [a - (1 + rate) * b for a, b in zip([*flows, 0.0], [0.0, *flows], strict=True)]
    return [100 * x for x in flows]


@pytest.mark.parametrize(
    "rates", [(0.10, 0.102), (0.05, 0.0501), (0.10, 0.101, 0.102), (-0.2080, -0.2060, -0.2055), (0.1, 0.1005, 0.3)]
)
def test_rates_that_lie_close_are_each_reported(rates):
    for sign in (1, -1):
        found = irr([sign * x for x in with_rates(*rates)])
        assert found.status == "several"
        assert found.roots == pytest.approx(rates, abs=1e-6)


def test_a_double_rate_is_one_and_close_ones_are_said_in_words():
    assert irr(with_rates(0.1, 0.1)).text == "10.00 % a year"
    assert irr(with_rates(0.1, 0.102)).text == "several rates (10.00 %, 10.20 %): use the net present value"


# ---- one sum of capital ----

LINES = (CapitalLine(line="floor", quoted=7_000.0), CapitalLine(line="compressor", quoted=4_000.0, per="bundle"))


def test_the_capital_of_a_set_is_one_sum_everywhere():
    """20 000 and 7 000 and a bundle line of 4 000; 30 000 and the same line at 5 000; 1 000 for combining."""
    one = priced(capital=20_000.0, capital_lines=LINES).model_copy(update={"bundle_adjustment": 1_000.0})
    dear = (CapitalLine(line="compressor", quoted=5_000.0, per="bundle"),)
    two = priced(capital=30_000.0, capital_lines=dear).model_copy(update={"id": "A4"})
    plant = hand_plant(one, two)
    sets = [totals(name, tuple(name.split("+"))) for name in ("A1", "A4", "A1+A4")]
    expected = [31_000, 35_000, 63_000]
    chosen = [[plant.option_by_id[o] for o in one.option_ids] for one in sets]
    assert [capital_of(options) for options in chosen] == expected
    results = evaluate(table(plant, today(), *sets))
    assert [results[one.name].capital for one in sets] == expected
    offers = offers_of(plant, today(), sets, [one.name for one in sets], 1)
    assert [offers.capital[one.name][0] for one in sets] == expected


def test_sets_are_ordered_by_all_that_is_paid_for_them():
    """20 000 with a floor for 15 000 is dearer than 30 000 without."""
    floor = (CapitalLine(line="floor", quoted=15_000.0),)
    plant = hand_plant(priced(capital=20_000.0, capital_lines=floor), priced(CHEAP, capital=30_000.0))
    assert [capital_of([plant.option_by_id[name]]) for name in ("A1", "N2")] == [35_000.0, 30_000.0]


def test_an_end_that_a_line_does_not_name_is_its_quoted_price():
    """The floor has no low end: it is not free in the low case."""
    option = priced(capital=20_000.0, capital_lines=(CapitalLine(line="floor", quoted=7_000.0, high=9_000.0),))
    assert [capital_of([option], case) for case in ("low", "quoted", "high")] == [23_000, 27_000, 33_000]


def test_a_grant_does_not_lower_the_capital_but_its_value():
    option = priced(capital=20_000.0, grant_share=0.5)
    result = evaluate(table(hand_plant(option), today(), SAVES))["A1"]
    assert result.capital == capital_of([option]) == 20_000
    assert result.npv == pytest.approx(npv(0.1, [-10_000, *[11_250] * 4]))


# ---- further findings ----


def test_two_entries_of_demand_for_one_year_are_told():
    twice = (DemandYear(from_year=1, factor=1.0), DemandYear(from_year=1, factor=1.3))
    assert "two entries of signed demand begin in the same year" in why(hand_plant(BOUGHT, demand=twice))


def test_budgets_after_the_horizon_are_told():
    assert "holds 5 years, the horizon 4" in why(hand_plant(BOUGHT, capital_budgets=(1.0,) * 5))


def test_a_lease_that_brings_back_less_than_the_price_is_told():
    plant = hand_plant(BOUGHT)
    cheap = Financing(lease_rent_share=0.0225, lease_years=5, lease_end_share=0.05)
    offered = dataclasses.replace(plant, settings=plant.settings.model_copy(update={"financing": cheap}))
    assert "sum to 16.2 % of the price" in why(offered)
    back = cheap.model_copy(update={"lease_then": "returned"})
    returned = dataclasses.replace(plant, settings=plant.settings.model_copy(update={"financing": back}))
    assert why(returned) == ""
