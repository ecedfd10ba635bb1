"""T13: freed hours are worth nothing if nobody waits for them; and the case in which they must pay."""

from __future__ import annotations

import pytest

from simkit.finance.evaluate import evaluate
from simkit.finance.measures import npv
from tests.finance.hand import BOUGHT, amounts, hand_plant, hours_of, table, today, totals
from tests.finance.test_cashflow import priced

FAR_BELOW = {"hours_needed": 40.0, "overtime_h": 0.0, "subcontract_h": 0.0, "unmet_h": 0.0}
OPTION = priced(capital=50_000.0, yearly_cost=1_000.0, life_years=8.0)
COSTS = [-50_000.0, -1_000.0, -1_000.0, -1_000.0, -1_000.0]


def test_t13_demand_far_below_capacity_sells_nothing_and_the_value_is_minus_the_costs():
    """A quarter of the hours needed is freed, but nothing is unmet: nothing to sell."""
    cash = table(hand_plant(OPTION, value_rules=("sales",)), today(**FAR_BELOW), totals(**{**FAR_BELOW,
                 "hours_needed": 30.0}))  # fmt: skip
    assert amounts(cash, "sales") == [0.0] * 5
    result = evaluate(cash)["A1"]
    assert result.npv == result.npv_with_avoided == result.npv_with_signed_sales == pytest.approx(npv(0.1, COSTS))
    assert result.payback.text == "does not pay back within 4 years"
    assert hours_of(cash, "not_money")[0] == 10 * 50


def test_all_rules_together_earn_nothing_far_below_capacity_either():
    cash = table(hand_plant(OPTION), today(**FAR_BELOW), totals(**{**FAR_BELOW, "hours_needed": 30.0}))
    assert evaluate(cash)["A1"].npv_with_signed_sales == pytest.approx(npv(0.1, COSTS))


def test_the_same_hours_must_pay_where_signed_demand_is_unmet():
    """10 h freed and 10 h unmet: 10 x 50 weeks x 90 = 45 000 a year, in the third figure only."""
    unmet = {**FAR_BELOW, "unmet_h": 10.0}
    cash = table(hand_plant(OPTION, value_rules=("sales",)), today(**unmet), totals(**{**FAR_BELOW,
                 "hours_needed": 30.0}))  # fmt: skip
    result = evaluate(cash)["A1"]
    assert result.npv == pytest.approx(npv(0.1, COSTS))
    assert result.npv_with_signed_sales == pytest.approx(npv(0.1, COSTS) + npv(0.1, [0, *[45_000] * 4]))


def test_freed_hours_without_any_price_never_become_money():
    cash = table(hand_plant(BOUGHT, value_rules=("hours_only",)), today(), totals(hours_needed=50.0, unmet_h=0.0))
    assert evaluate(cash)["A1"].npv_with_signed_sales == 0.0
