"""Classes hold gains and losses alike: budgets, sales lost and won, ramp and fading, by hand."""

from __future__ import annotations

import numpy as np
import pytest

from simkit.finance.benefits import Spending, today_at
from simkit.finance.evaluate import evaluate
from simkit.finance.inputs import ScenarioTotals, prices_of
from simkit.finance.lines import COST
from simkit.finance.measures import npv
from simkit.plant.options import ShareRange
from simkit.plant.settings_money import DemandYear
from tests.finance.hand import BOUGHT, CHEAP, CREW, TODAY_H, amounts, figures, hand_plant, table, today, totals
from tests.finance.test_cashflow import priced

GROWING = (DemandYear(from_year=1, factor=1.0), DemandYear(from_year=2, factor=2.0))


def at_two_demands(name, given_out, options=("A1",)):
    """Subcontracted hours at demand 1 and 2."""
    levels = {
        f: {**TODAY_H, "hours_needed": 200.0, "subcontract_h": h} for f, h in zip((1.0, 2.0), given_out, strict=True)
    }
    return ScenarioTotals(name, levels, options if name != "today" else (), CREW)


@pytest.mark.parametrize(
    ("option_h", "released_h", "avoided_h"),
    [(28, 0, 0), (18, 0, 10), (8, 0, 20), (3, 5, 20), (0, 8, 20), (31, 0, -3)],
)
def test_what_lies_within_the_budget_is_released_and_the_rest_avoided(option_h, released_h, avoided_h):
    """Today 8 h at the book and 28 h in year 2; a budget of 8 h: released min(28, 8) - min(option, 8)."""
    cash = table(
        hand_plant(BOUGHT, demand=GROWING), at_two_demands("today", (8, 28)), at_two_demands("A1", (8, option_h))
    )
    assert amounts(cash, "subcontract", kind="cash_releasing")[2] == released_h * 5500
    assert amounts(cash, "subcontract", kind="cost_avoided")[2] == avoided_h * 5500


def test_giving_out_more_than_today_below_the_budget_is_a_loss_of_released_cash():
    """At demand 2 today gives out 2 h of a budget of 8, the option 11: 6 released less, 3 avoided less."""
    cash = table(hand_plant(BOUGHT, demand=GROWING), at_two_demands("today", (8, 2)), at_two_demands("A1", (8, 11)))
    assert amounts(cash, "subcontract", kind="cash_releasing")[2] == -6 * 5500
    assert amounts(cash, "subcontract", kind="cost_avoided")[2] == -3 * 5500


def test_classes_add_up_over_scenarios():
    """From 28 to 14 and from 14 to 3 hours is from 28 to 3, class by class, at the one budget of today."""
    one = today_at(today(), prices_of(hand_plant(BOUGHT)), 50.0, 1.0, 1.0)
    budget = Spending(8.0, 110.0)

    def split(before, after):
        gain = one.less_spent("subcontract", Spending(before, 110.0), Spending(after, 110.0), "", "", budget=budget)
        return np.array([gain.full * gain.released, gain.full * (1 - gain.released)])

    assert split(28, 14) + split(14, 3) == pytest.approx(split(28, 3))
    assert split(28, 3) == pytest.approx(-split(3, 28))
    assert split(5, 5) == pytest.approx([0, 0])


def test_many_cases_at_once_split_as_each_alone():
    """Of today 28 h: options of 3, 20, 28 and 31 h in one building."""
    plant, hours = hand_plant(BOUGHT, demand=GROWING, ramp_start=0.5, ramp_months=12), (3.0, 20.0, 28.0, 31.0)
    before = at_two_demands("today", (8, 28))
    together = table(plant, before, at_two_demands("A1", (8, np.array(hours))))
    alone = [table(plant, before, at_two_demands("A1", (8, h))) for h in hours]
    for kind in ("cash_releasing", "cost_avoided"):
        own = together.amounts("A1", (kind,), lines=("subcontract",))
        wanted = [one.flows("A1", (kind,), lines=("subcontract",)) for one in alone]
        assert own == pytest.approx(np.transpose(wanted))


def test_sales_lost_reduce_every_figure_once_and_after_tax():
    """2 h more refused: 2 x 50 x 90 = 9000 lost, 6750 after a tax of 25 %."""
    cash = table(hand_plant(BOUGHT, tax_rate=0.25), today(), totals(unmet_h=6.0))
    for flows in figures(cash):
        assert flows == pytest.approx([0, *[-6750] * 4])


def test_sales_won_stand_beside_the_headline():
    result = evaluate(table(hand_plant(BOUGHT), today(), totals(unmet_h=1.0)))["A1"]
    assert (result.npv, result.npv_with_avoided) == (0.0, 0.0)
    assert result.npv_with_signed_sales == pytest.approx(npv(0.1, [0, *[3 * 50 * 90] * 4]))


def test_a_year_that_loses_sales_reduces_the_headline_and_a_year_that_wins_them_does_not():
    """Year 1 wins 1 h, from year 2 on 2 h are lost."""
    levels = {1.0: {**TODAY_H, "unmet_h": 3.0}, 2.0: {**TODAY_H, "unmet_h": 6.0}}
    before = ScenarioTotals("today", {1.0: TODAY_H, 2.0: TODAY_H}, (), CREW)
    cash = table(hand_plant(BOUGHT, demand=GROWING), before, ScenarioTotals("A1", levels, ("A1",), CREW))
    headline, _, with_sales = figures(cash)
    assert headline == pytest.approx([0, 0, -9000, -9000, -9000])
    assert with_sales == pytest.approx([0, 4500, -9000, -9000, -9000])


def test_losses_run_in_full_from_the_start_of_use_while_gains_ramp_and_fade():
    """Ramp from 50 % over a year, 80 % kept: 5 h less overtime gain 0.75 and then 0.8; 1 h more overrun loses 1.0."""
    option = CHEAP.model_copy(update={"persistence": ShareRange(low=0.5, quoted=0.8, high=1.0), "lead_weeks": 26.0})
    plant = hand_plant(option, ramp_start=0.5, ramp_months=12)
    cash = table(plant, today(person_overrun_h=2.0), totals("N2", ("N2",), overtime_h=1.0, person_overrun_h=3.0))
    assert amounts(cash, "overtime", "N2")[3:] == [0.8 * 5 * 50 * 45] * 2
    ramped = 0.5 * (0.5 + 0.75) / 2
    assert amounts(cash, "overtime", "N2")[1] == pytest.approx(ramped * 5 * 50 * 45)
    assert amounts(cash, "overrun", "N2") == [0, *(-share * 50 * 45 for share in (0.5, 1, 1, 1))]


def test_the_class_of_cost_holds_what_is_paid_for_the_option_and_nothing_else():
    worse = {"overtime_h": 9.0, "subcontract_h": 12.0, "unmet_h": 6.0, "person_overrun_h": 4.0, "energy_kwh": 900.0,
             "on_call_h": 2.0, "hours_needed": 120.0}  # fmt: skip
    option = priced(yearly_cost=500.0, stop_days=2.0, yearly_labour_h=10.0, life_years=2.0)
    before = today(person_overrun_h=1.0, energy_kwh=700.0, on_call_h=0.0)
    cash = table(hand_plant(option, training=100.0), before, totals(**worse))
    paid = {row.line for row in cash.rows if row.benefit_class == COST and row.amount}
    assert paid == {"capital", "yearly_cost", "installation_stop", "named_labour", "replacement", "training"}
    lost = {row.line for row in cash.rows if row.benefit_class != COST and row.amount < 0}
    assert lost == {"overtime", "subcontract", "sales", "overrun", "energy", "labour_by_others"}
