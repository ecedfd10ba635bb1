"""Each way of counting an amount twice is refused: one case that trips the guard, one beside it that does not."""

from __future__ import annotations

import dataclasses

import pytest
from pydantic import ValidationError

from simkit.base.messages import BadInput
from simkit.finance.evaluate import evaluate
from simkit.finance.guards import money_findings
from simkit.finance.inputs import DoubleCount
from simkit.finance.lines import LINES
from simkit.plant.checks_faults import ramp_counted_once
from simkit.plant.options import CapitalLine, Edit, OnceLine, YearlyLine
from simkit.plant.settings_money import DemandYear, Finance
from tests.finance.hand import BOUGHT, amounts, hand_plant, table, today, totals, written
from tests.finance.test_cashflow import priced


def refused(option, **finance) -> str:
    """What the table says to a plant with this option; it must refuse it."""
    with pytest.raises(BadInput) as caught:
        table(hand_plant(option, **finance), today(), totals())
    return str(caught.value)


def accepted(option, **finance) -> None:
    table(hand_plant(option, **finance), today(), totals())


def changed(**update):
    return BOUGHT.model_copy(update=update)


def test_the_same_hour_as_labour_saved_and_as_hours_sold():
    with pytest.raises(DoubleCount, match="an hour would count twice"):
        table(hand_plant(BOUGHT), today(inhouse_h=101.0), totals())
    with pytest.raises(DoubleCount, match="subcontracted and unmet are 104 h"):
        table(hand_plant(BOUGHT), today(), totals(subcontract_h=60.0, unmet_h=44.0))


def test_scrap_as_material_and_as_more_than_the_scrap_itself():
    kg = {"material_kg_MS-1.5": 1000.0, "scrap_kg_MS": 250.0}
    with pytest.raises(DoubleCount, match="lost_kg_MS"):
        table(hand_plant(BOUGHT), today(**kg, lost_kg_MS=260.0), totals(**kg))
    table(hand_plant(BOUGHT), today(**kg, lost_kg_MS=250.0), totals(**kg, lost_kg_MS=10.0))


def test_scrapped_parts_that_are_no_parts():
    with pytest.raises(DoubleCount, match="parts_scrapped"):
        table(hand_plant(BOUGHT), today(parts=10.0, parts_scrapped=11.0), totals())


def test_availability_in_the_simulated_hours_and_as_a_factor_of_finance():
    """The money has no such factor: a key for it is refused."""
    with pytest.raises(ValidationError, match="availability"):
        Finance.model_validate({"availability": 0.9})


def test_ramp_in_the_simulated_stops_and_in_finance():
    plant = hand_plant(BOUGHT, ramp_start=0.5, ramp_months=6.0)
    stops = (dataclasses.replace(plant.stops[0], settle_weeks=4.0, early_factor=3.0),)
    (finding,) = ramp_counted_once(dataclasses.replace(plant, stops=stops))
    assert "counted twice" in finding.why
    assert list(ramp_counted_once(plant)) == []


def test_installation_stop_in_the_calendar_and_as_hours_lost():
    closed = Edit(path="plant.calendar.closed_days", op="add", value=["2026-05-04"])
    assert "again as closed days" in refused(changed(stop_days=3.0, edits=(closed,)))
    accepted(changed(stop_days=3.0))
    accepted(changed(edits=(closed,)))


def test_loading_and_unloading_are_simulated_together_and_not_summed():
    """Each alone takes back the 8 h given out; both together cannot take back 16."""
    a, b = BOUGHT, changed(id="A4")
    alone = [totals(name, (name,), subcontract_h=0.0, hours_needed=92.0) for name in ("A1", "A4")]
    both = totals("A1+A4", ("A1", "A4"), subcontract_h=0.0, hours_needed=92.0)
    results = evaluate(table(hand_plant(a, b), today(), *alone, both))
    assert results["A1+A4"].npv == pytest.approx(results["A1"].npv)
    assert results["A1"].npv + results["A4"].npv == pytest.approx(2 * results["A1+A4"].npv)


def test_stock_released_and_its_carrying_cost_saved():
    carrying = (YearlyLine(line="carrying cost of stock", quoted=300.0),)
    assert "stock is counted" in refused(changed(working_capital=5000.0, yearly_lines=carrying))
    once = (OnceLine(line="stock counted in May", amount=5000.0, what="stock"),)
    assert "stock is counted" in refused(changed(once=once, yearly_lines=carrying))
    assert "working_capital and again in once" in refused(changed(once=once, working_capital=-5000.0))
    accepted(changed(working_capital=5000.0))
    accepted(changed(yearly_lines=carrying))


def test_a_service_contract_in_the_capital_and_in_the_yearly_cost():
    lines = (CapitalLine(line="service contract of five years", quoted=9000.0),)
    assert "capital and in the yearly cost" in refused(changed(capital_lines=lines, yearly_cost=1000.0))
    own = (YearlyLine(line="by contract", budget="service", quoted=1000.0),)
    assert "capital and in the yearly cost" in refused(changed(capital_lines=lines, yearly_lines=own))
    accepted(changed(capital_lines=lines))


def test_training_in_a_capital_line_and_in_the_settings():
    lines = (CapitalLine(line="training of two crews", quoted=4000.0),)
    assert "training stands in" in refused(changed(capital_lines=lines), training=8000.0)
    accepted(changed(capital_lines=lines))


def test_residual_value_and_a_life_without_end():
    """What is kept up for ever is not sold at the horizon as well."""
    assert amounts(table(hand_plant(priced(), residual_share=0.5), today(), totals()), "residual") == [0] * 5
    with_end = table(hand_plant(priced(life_years=8.0), residual_share=0.5), today(), totals())
    assert amounts(with_end, "residual")[4] == 50_000


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("depreciation of the magazine", "depreciation is not cash"),
        ("imputed interest", "the discount rate bears the cost of money already"),
        ("lease rent", "the discount rate bears the cost of money already"),
        ("allocated overhead of the hall", "paid with and without the option"),
        ("this study", "paid already, whatever is decided"),
    ],
)
def test_what_is_no_cash_of_the_decision(line, why):
    assert why in refused(changed(yearly_lines=(YearlyLine(line=line, quoted=100.0),)))
    assert why in refused(changed(capital_lines=(CapitalLine(line=line, quoted=100.0),)))
    accepted(changed(yearly_lines=(YearlyLine(line=line, quoted=0.0),)))


def test_depreciation_and_interest_are_no_lines_of_cash():
    assert not {"depreciation", "interest", "loan", "lease"} & set(LINES)


@pytest.mark.parametrize(("rate", "growth"), [("real", "nominal"), ("nominal", "real")])
def test_inflation_in_the_flows_with_a_real_rate(rate, growth):
    message = refused(BOUGHT, rate_basis=rate, growth_basis=growth)
    assert f"the rate is {rate} and growth is {growth}" in message


def test_a_grant_lowers_what_is_written_off_too():
    """100 000 with 20 % granted: 80 000 written off, and no tax on the grant itself."""
    plant = hand_plant(priced(grant_share=0.2), tax_rate=0.25)
    cash = table(plant, today(), totals())
    assert amounts(cash, "grant") == [20_000, 0, 0, 0, 0]
    assert sum(written(cash)) == pytest.approx(80_000)
    assert amounts(cash, "tax_relief_depreciation") == [0, *[5_000.0] * 4]
    assert amounts(cash, "tax") == [0] * 5


def test_an_explicit_zero_beside_an_amount_is_refused():
    lines = (CapitalLine(line="foundation", quoted=900.0),)
    assert "costs nothing, and a line gives it an amount" in refused(
        changed(capital_lines=lines, nothing_for=("floor",))
    )
    accepted(changed(capital_lines=(CapitalLine(line="foundation", quoted=0.0),), nothing_for=("floor",)))


def test_unknown_lines_are_named_with_the_nearest():
    assert "did you mean 'energy'?" in refused(BOUGHT, growth_of_lines={"enrgy": 0.05})
    assert "does not grow, so that this does nothing" in refused(BOUGHT, growth_of_lines={"grant": 0.05})
    assert "did you mean 'overtime'?" in refused(BOUGHT, budget_lines=({"line": "overtme", "account": "x"},))


def test_all_findings_of_a_plant_come_at_once_before_anything_is_simulated():
    lines = (CapitalLine(line="imputed interest", quoted=1.0),)
    plant = hand_plant(changed(capital_lines=lines), rate_basis="real", season=((10.0, 1.0),), payments_at=(0.0,))
    whys = [finding.why for finding in money_findings(plant)]
    assert len(whys) == 4
    assert money_findings(hand_plant(BOUGHT)) == ()


def test_demand_without_a_signed_first_year_and_an_unknown_table_are_told_before_the_runs():
    late = Finance(demand=(DemandYear(from_year=2, factor=1.0),))
    unknown = Finance(depreciation="table", depreciation_table="nowhere")
    for finance, why in ((late, "no signed demand in year 1"), (unknown, "table")):
        plant = hand_plant()
        changed = dataclasses.replace(plant, settings=plant.settings.model_copy(update={"finance": finance}))
        assert any(why in f"{f.place} {f.why}" for f in money_findings(changed)), why
    assert money_findings(hand_plant()) == ()
