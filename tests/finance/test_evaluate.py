"""Measures of scenarios: three figures, states in words, break-even capital, increments, intervals."""

from __future__ import annotations

import pandas as pd
import pytest

from simkit.experiment.intervals import pseudo_values, t_interval
from simkit.experiment.results import Results
from simkit.finance.evaluate import evaluate, incremental_chain
from simkit.finance.inputs import totals_from
from simkit.finance.measures import npv
from simkit.finance.riskmodel import RiskModel
from simkit.plant.options import Range
from simkit.plant.plant import ScenarioInputs
from simkit.plant.settings_money import DemandYear
from tests.finance.hand import BOUGHT, CHEAP, CREW, TODAY_H, hand_plant, table, today, totals
from tests.finance.test_cashflow import DEMAND, FADING, levels, priced


def test_a_losing_option_is_shown_losing_in_words():
    """100 000 against 5 h x 50 weeks x 45 = 11 250 a year for 4 years."""
    result = evaluate(table(hand_plant(priced()), today(), totals(overtime_h=1.0)))["A1"]
    assert result.flows == (-100_000, 11_250, 11_250, 11_250, 11_250)
    assert result.npv == pytest.approx(-100_000 + 11_250 * 3.169865446)
    assert result.payback.text == result.discounted_payback.text == "does not pay back within 4 years"
    assert result.payback_from_acceptance is None
    assert result.cumulative[-1] == -55_000
    assert result.break_even_capital == pytest.approx(11_250 * 3.169865446)


def test_an_option_that_only_costs_is_worth_nothing():
    option = priced(yearly_cost=100.0)
    result = evaluate(table(hand_plant(option), today(), totals()))["A1"]
    assert result.break_even_capital is None
    assert result.irr.status == "none"
    assert result.mirr is None


def test_no_capital_has_nothing_to_pay_back_and_no_rate():
    result = evaluate(table(hand_plant(BOUGHT), today(), totals(overtime_h=1.0)))["A1"]
    assert (result.payback.text, result.irr.status) == ("nothing to pay back", "none")
    assert result.profitability_index is None
    assert result.break_even_capital == pytest.approx(11_250 * 3.169865446)


def test_three_figures_add_a_class_each():
    before = levels("today", (), {1.0: {}, 2.0: {"subcontract_h": 28.0, "unmet_h": 24.0, "hours_needed": 200.0}})
    after = levels("A1", ("A1",), {1.0: {"subcontract_h": 0.0, "unmet_h": 0.0, "hours_needed": 80.0},
                                   2.0: {"subcontract_h": 0.0, "unmet_h": 0.0, "hours_needed": 140.0}})  # fmt: skip
    result = evaluate(table(hand_plant(BOUGHT, demand=DEMAND), before, after))["A1"]
    assert result.npv == pytest.approx(npv(0.1, [0, *[8 * 5500] * 4]))
    assert result.npv_with_avoided - result.npv == pytest.approx(npv(0.1, [0, 0, *[10 * 5500] * 3]))
    sales = npv(0.1, [0, 4 * 4500, *[14 * 4500] * 3])
    assert result.npv_with_signed_sales - result.npv_with_avoided == pytest.approx(sales)
    released, avoided = result.npv_by_class["cash_releasing"], result.npv_by_class["cost_avoided"]
    assert result.avoided_share == pytest.approx(avoided / (released + avoided))


def test_hoped_sales_are_in_no_figure():
    before = levels("today", (), {1.0: {}, 2.0: {"unmet_h": 24.0, "hours_needed": 200.0}})
    after = levels("A1", ("A1",), {1.0: {}, 2.0: {"unmet_h": 4.0, "hours_needed": 180.0}})
    demand = (DemandYear(from_year=1, factor=1.0), DemandYear(from_year=2, factor=2.0, signed=False))
    cash = table(hand_plant(BOUGHT, demand=demand, tax_rate=0.3), before, after)
    assert evaluate(cash)["A1"].npv_with_signed_sales == pytest.approx(0.0, abs=1e-6)


def test_payback_from_acceptance_is_shorter_by_the_lead_time():
    option = priced(capital=10_000.0, lead_weeks=26.0)
    result = evaluate(table(hand_plant(option), today(), totals(overtime_h=1.0)))["A1"]
    assert result.payback.years == pytest.approx(1 + (10_000 - 5_625) / 11_250)
    assert result.payback_from_acceptance == pytest.approx(result.payback.years - 0.5)


def test_at_the_break_even_capital_the_value_is_zero():
    def built(capital):
        option = priced(capital=capital, life_years=2.0, yearly_cost=300.0, lead_weeks=10.0)
        plant = hand_plant(option, tax_rate=0.22, residual_share=0.1, price_growth=0.02, depreciation_years=3)
        return evaluate(table(plant, today(), totals(overtime_h=1.0)))["A1"]

    most = built(40_000.0).break_even_capital
    assert most is not None
    assert built(most).npv == pytest.approx(0.0, abs=1e-6)
    assert built(most).break_even_capital == pytest.approx(most)


@pytest.mark.parametrize("losses", ["used_at_once", "carried_forward", "lost"])
def test_at_the_break_even_benefit_the_value_after_tax_is_zero(losses):
    """What the option saves is cut to the share that the break-even names, and the table built anew."""
    option = priced(capital=20_000.0, life_years=2.0, yearly_cost=300.0, lead_weeks=10.0)

    def built(saved_h):
        plant = hand_plant(option, tax_rate=0.3, residual_share=0.1, depreciation_years=3, losses=losses)
        return evaluate(table(plant, today(), totals(overtime_h=6.0 - saved_h)))["A1"]

    share = built(5.0).break_even_benefit
    assert share is not None
    assert built(5.0 * share).npv == pytest.approx(0.0, abs=1e-3)


def test_break_even_benefit_where_there_is_none_and_where_none_is_needed():
    def said(saved_h, **changes):
        return evaluate(table(hand_plant(priced(**changes)), today(), totals(overtime_h=6.0 - saved_h)))["A1"]

    assert said(5.0, capital=11_250 * 3.169865446 / 2).break_even_benefit == pytest.approx(0.5)
    assert said(0.0, capital=1_000.0).break_even_benefit is None
    assert said(5.0, capital=0.0).break_even_benefit == 0.0


def test_without_capital_the_break_even_counts_tax_relief():
    plant = hand_plant(CHEAP, tax_rate=0.2)
    result = evaluate(table(plant, today(), totals("N2", ("N2",), overtime_h=1.0)))["N2"]
    most = result.break_even_capital
    paid = hand_plant(CHEAP.model_copy(update={"capital": Range(low=0, quoted=most, high=most)}), tax_rate=0.2)
    assert evaluate(table(paid, today(), totals("N2", ("N2",), overtime_h=1.0)))["N2"].npv == pytest.approx(0, abs=1e-6)


def test_increments_against_today_and_against_the_cheap_package():
    """The cart brings 4 h for 1 000, the magazine 5 h for 20 000: 1 h more (2 250 a year) is not worth 19 000."""
    plant = hand_plant(priced(capital=20_000.0), priced(CHEAP, capital=1_000.0))
    cash = table(plant, today(), totals(overtime_h=1.0), totals("N2", ("N2",), overtime_h=2.0))
    results = evaluate(cash)
    from_today = incremental_chain(list(results.values()))
    assert [(s.name, s.against, s.accepted) for s in from_today] == [("N2", "today", True), ("A1", "N2", False)]
    (only,) = incremental_chain(list(results.values()), against=results["N2"])
    assert (only.against, only.accepted) == ("N2", False)
    assert only.incremental_npv == pytest.approx(results["A1"].npv - results["N2"].npv)
    assert only.incremental_payback.text == "does not pay back within 4 years"


def test_results_of_different_terms_are_not_compared():
    one = evaluate(table(hand_plant(BOUGHT), today(), totals()))["A1"]
    other = evaluate(table(hand_plant(BOUGHT, discount_rate=0.2), today(), totals()))["A1"]
    with pytest.raises(ValueError, match="different rates, timing, first payments or horizons"):
        incremental_chain([one], against=other)


def test_mid_year_moves_years_but_not_the_payment():
    end = evaluate(table(hand_plant(priced()), today(), totals(overtime_h=1.0)))["A1"]
    mid = evaluate(table(hand_plant(priced(), timing="mid_year"), today(), totals(overtime_h=1.0)))["A1"]
    assert mid.npv + 100_000 == pytest.approx((end.npv + 100_000) * 1.1**0.5)


# ---- replications ----

SCENARIOS = [ScenarioInputs("today", hand_plant(BOUGHT)), ScenarioInputs("A1", hand_plant(BOUGHT), ("A1",))]


def simulated(saved=(4.0, 5.0, 6.0)):
    rows = []
    for replication, hours in enumerate(saved):
        both = {"today": TODAY_H, "A1": {**TODAY_H, "overtime_h": 6.0 - hours}}
        rows += [(s, 1.0, replication, m, v, "h") for s, found in both.items() for m, v in found.items()]
    columns = ["scenario", "demand_factor", "replication", "measure", "value", "unit"]
    return Results(pd.DataFrame(rows, columns=columns))


def build(found):
    return table(hand_plant(BOUGHT), found["today"], found["A1"])


def test_means_and_rosters_come_from_results():
    found = totals_from(simulated(), SCENARIOS)
    assert found["A1"].levels[1.0]["overtime_h"] == pytest.approx(1.0)
    assert found["A1"].option_ids == ("A1",)
    assert found["A1"].roster.crew_rate_per_h == 55


def test_interval_of_the_value_over_replications():
    """4, 5 and 6 h saved at 55 x 1.5 x 50 a year: the mean is 5 h, t(2) = 4.3027, sd 1 h; a line is not bent."""
    found = totals_from(simulated(), SCENARIOS)
    whole, model = evaluate(build(found))["A1"], RiskModel(SCENARIOS[0].plant, found, (), replications=simulated())
    left = model.without_each(["A1"]).npv["A1"]
    estimate = t_interval(pseudo_values(whole.npv, left), whole.currency)
    frame = simulated().frame
    one_by_one = [
        evaluate(build(totals_from(Results(frame[frame["replication"] != k]), SCENARIOS)))["A1"].npv for k in range(3)
    ]
    assert left == pytest.approx(one_by_one)
    hour = npv(0.1, [0, *[55 * 1.5 * 50] * 4])
    assert estimate.mean == pytest.approx(5 * hour)
    assert estimate.half_width == pytest.approx(4.302653 * hour / 3**0.5, rel=1e-6)
    assert (estimate.n, estimate.unit) == (3, "CU")


def test_fading_reads_the_same_share_everywhere():
    cash = table(hand_plant(CHEAP.model_copy(update=FADING)), today(), totals("N2", ("N2",), CREW, overtime_h=1.0))
    assert evaluate(cash)["N2"].flows[1:] == pytest.approx((11_250, 9_000, 9_000, 9_000))
