"""What always holds, for any legal series and any table."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.finance.depreciation import charged, straight_line_shares
from simkit.finance.evaluate import evaluate
from simkit.finance.lines import CLASSES
from simkit.finance.measures import Alternative as Alt
from simkit.finance.measures import discounted, incremental_analysis, irr, mirr, npv, payback
from simkit.finance.timeline import Schedule
from tests.finance.hand import hand_plant, table, today, totals
from tests.finance.test_cashflow import GOOD, priced

MONEY = st.floats(-1e6, 1e6, allow_nan=False).map(lambda x: round(x, 2))
SERIES = st.lists(MONEY, min_size=2, max_size=12)
RATES = st.floats(-0.5, 1.0)
small = settings(max_examples=60, deadline=None, derandomize=True)


@small
@given(SERIES)
def test_undiscounted_sum_is_npv_at_zero_and_the_end_of_the_cumulative(flows):
    assert npv(0.0, flows) == pytest.approx(sum(flows), abs=1e-6)
    assert np.cumsum(flows)[-1] == pytest.approx(npv(0.0, flows), abs=1e-6)


@small
@given(SERIES, RATES, st.sampled_from(["end_year", "mid_year", "monthly"]))
def test_npv_is_linear_and_the_sum_of_discounted_flows(flows, rate, timing):
    other = [3.0 * x - 7.0 for x in flows]
    both = np.add(flows, other)
    size = 1e-9 * (1 + float(np.abs(discounted(rate, np.abs(both) + np.abs(flows) + np.abs(other))).sum()))
    assert npv(rate, both, timing) == pytest.approx(npv(rate, flows, timing) + npv(rate, other, timing), abs=size)
    assert discounted(rate, flows, timing).sum() == pytest.approx(npv(rate, flows, timing), abs=size)


@small
@given(SERIES, st.sampled_from(["end_year", "mid_year", "monthly"]))
def test_every_root_has_value_zero_and_one_change_of_sign_has_at_most_one(flows, timing):
    found = irr(flows, timing)
    for root in found.roots:
        size = float(np.abs(discounted(root, flows, timing)).sum())
        assert abs(npv(root, flows, timing)) <= 1e-7 * size
    signs = [np.sign(x) for x in flows if x]
    changes = sum(a != b for a, b in pairwise(signs))
    assert len(found.roots) <= max(changes, 0)
    assert found.status == ("none", "one", "several")[min(len(found.roots), 2)]


@small
@given(SERIES, st.sampled_from([0.0, 0.1]))
def test_payback_is_said_in_words_or_lies_within_the_horizon(flows, rate):
    result = payback(flows, rate)
    ends = float(discounted(rate, flows).sum())
    if result.years is None:
        assert result.text == f"does not pay back within {len(flows) - 1} years"
        assert ends < 0
    else:
        assert 0 <= result.years <= len(flows) - 1
        assert ends >= -1e-6


def test_a_double_root_is_found():
    """(1 - 1.1 v)^2 touches zero at 10 % without crossing it."""
    assert irr([1.0, -2.2, 1.21]).roots == pytest.approx((0.1,), abs=1e-5)


def test_a_modified_rate_is_told_in_percent():
    assert mirr([-100.0, 0.0, 121.0], 0.05, 0.05) == pytest.approx(0.1)


def test_a_series_that_falls_below_zero_again_says_so():
    assert payback([-10, 20, -15, 10]).text == "0.5 years (later below zero again, then above)"
    assert payback([-10, 20, -15]).text == "does not pay back within 2 years"


def test_different_horizons_are_not_compared():
    with pytest.raises(ValueError, match="different horizons"):
        incremental_analysis([Alt("a", 1, (-1, 2)), Alt("b", 1, (-1, 2, 3))], 0.1)


@small
@given(st.floats(0, 3), st.floats(0, 1), st.floats(0, 2, allow_subnormal=False))
def test_shares_of_years_add_up_to_the_time_in_use(start, ramp_start, ramp_years):
    use = Schedule(start, ramp_start, ramp_years)
    years = range(1, 11)
    assert sum(use.in_use(y) for y in years) == pytest.approx(10 - start)
    assert sum(use.ramped(y) for y in years) == pytest.approx(10 - start - (1 - ramp_start) * ramp_years / 2)
    assert all(-1e-12 <= use.ramped(y) <= use.in_use(y) + 1e-12 for y in years)


@small
@given(st.floats(0, 1e6), st.integers(0, 5), st.integers(1, 12), st.integers(5, 10))
def test_depreciation_sums_to_the_capital(capital, bought_in, life, horizon):
    assert sum(charged(capital, bought_in, straight_line_shares(life), horizon)) == pytest.approx(capital)


HOURS = st.floats(0, 8)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(HOURS, HOURS, st.floats(0, 4), st.floats(0, 60), st.floats(0, 0.5))
def test_classes_sum_to_the_total_and_flows_to_the_cumulative(overtime, outside, unmet, lead, tax):
    option = priced(capital=20_000.0, life_years=2.0, lead_weeks=lead, yearly_cost=100.0, stop_days=1.0)
    after = totals(**{**GOOD, "overtime_h": overtime, "subcontract_h": outside, "unmet_h": unmet, "hours_needed": 90.0})
    plant = hand_plant(option, tax_rate=tax, residual_share=0.1, ramp_start=0.5, ramp_months=9, price_growth=0.02)
    cash = table(plant, today(**GOOD), after)
    total = cash.flows("A1", CLASSES)
    assert np.sum([cash.flows("A1", [kind]) for kind in CLASSES], axis=0) == pytest.approx(total)
    assert cash.frame["amount"].sum() == pytest.approx(total.sum(), abs=1e-6)
    assert np.isfinite(cash.frame["amount"]).all()
    result = evaluate(cash)["A1"]
    assert result.cumulative[-1] == pytest.approx(sum(result.flows), abs=1e-6)
    assert sum(result.npv_by_class.values()) == pytest.approx(result.npv_with_signed_sales, abs=1e-6)
