"""Years, ramps, replacement and demand, by hand."""

from __future__ import annotations

import pytest

from simkit.finance.timeline import Schedule, demand_path, growth, replacement_times, year_of
from simkit.plant.settings_money import DemandYear, Finance

SIGNED = DemandYear(from_year=1, factor=1.0)
GROWN = DemandYear(from_year=2, factor=1.25)
HOPED = DemandYear(from_year=3, factor=1.6, signed=False)


def test_each_demand_holds_until_the_next():
    finance = Finance(horizon_years=4, demand=(HOPED, SIGNED, GROWN))
    assert demand_path(finance) == (1.0, 1.25, 1.25, 1.25)


def test_a_ramp_from_60_percent_over_half_a_year_costs_a_tenth_of_the_first_year():
    use = Schedule(0.0, 0.6, 0.5)
    assert [use.ramped(y) for y in (1, 2)] == pytest.approx([0.9, 1.0])
    assert [use.settled(y) for y in (1, 2)] == [0.5, 1.0]


def test_a_ramp_that_crosses_the_turn_of_the_year():
    """Start at 0.75: a quarter of year 1 at 0.6 to 0.8, the next quarter at 0.8 to 1."""
    use = Schedule(0.75, 0.6, 0.5)
    assert [use.ramped(y) for y in (1, 2, 3)] == pytest.approx([0.25 * 0.7, 0.25 * 0.9 + 0.75, 1.0])
    assert [use.after_first_year(y) for y in (1, 2, 3)] == [0.0, 0.25, 1.0]


def test_the_mean_share_of_a_stretch_of_the_ramp():
    """From 0.5 to 1 in two years: 0.75 a year after the start, 1 from two years on; the mean of year 2 is between."""
    assert Schedule(0.0, 0.5, 2.0).mean_share(1.0, 2.0) == pytest.approx(0.875)
    assert Schedule(0.0, 0.5, 2.0).mean_share(1.0, 3.0) == pytest.approx((0.875 + 1.0) / 2)


def test_lead_of_more_than_a_year():
    assert [Schedule(1.5).in_use(y) for y in (1, 2, 3)] == [0.0, 0.5, 1.0]


@pytest.mark.parametrize(
    ("start", "life", "times"),
    [
        (0.0, 4.0, ()),
        (0.0, 2.0, (2.0,)),
        (0.5, 2.0, (2.5,)),
        (0.5, 1.0, (1.5, 2.5, 3.5)),
        (0.0, None, ()),
        (0.0, 9, ()),
    ],
)
def test_replacement_at_the_end_of_each_life_before_the_horizon(start, life, times):
    assert replacement_times(start, life, 4) == times


def test_a_moment_belongs_to_the_year_that_ends_with_it():
    assert [year_of(t) for t in (0.0, 0.4, 1.0, 1.1, 2.0)] == [1, 1, 1, 2, 2]


def test_prices_of_today_hold_in_year_1():
    assert [growth(0.03, y) for y in (0, 1, 2, 3)] == pytest.approx([1.0, 1.0, 1.03, 1.0609])
