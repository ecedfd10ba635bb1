"""Crossings of curves by hand, and the closed forms of picks."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from simkit.analysis.part_breaks import (
    at_share,
    break_even,
    closed_pick_s,
    failing_share,
    gained_per_sheet_s,
    rate_of_gain,
    stopped_share,
)
from simkit.analysis.part_clocks import book_clocks
from simkit.plant.scenarios import make_scenario
from simkit.plant.tables import Stop
from tests.must_lose.changed import demo, parts, slower_bench
from tests.small_plant import small_plant


def test_the_crossing_of_each_run_is_found_between_two_points() -> None:
    points = [(0.0, np.array([4.0, 3.0])), (10.0, np.array([-4.0, 1.0])), (20.0, np.array([-9.0, -1.0]))]
    found = break_even(list(reversed(points)), "s")
    assert found.estimate is not None
    assert found.estimate.mean == pytest.approx((5.0 + 15.0) / 2)
    assert (found.estimate.n, found.estimate.unit, found.below, found.above, found.runs) == (2, "s", 0, 0, 2)


def test_picks_that_fail_before_and_after_retries() -> None:
    """1 in 100 of one cause, of which each of two retries mends half, and 2 in 1,000 of another without a retry."""
    causes = (Stop(cause="grip", exposure="pick", rate=0.01, retries=2, retry_success=0.5, repair_min=1.0),
              Stop(cause="bent", exposure="pick", rate=0.002, repair_min=1.0),
              Stop(cause="jam", exposure="sheet", rate=0.1, repair_min=1.0))  # fmt: skip
    plant = dataclasses.replace(small_plant(), stops=causes)
    assert failing_share(plant) == pytest.approx(0.012)
    assert failing_share(plant, after_retries=True) == pytest.approx(0.0025 + 0.002)


def test_no_estimate_where_a_run_never_gains_or_always_does() -> None:
    never = break_even([(0.0, np.array([-1.0, 2.0])), (1.0, np.array([-2.0, -2.0]))])
    assert (never.estimate, never.below, never.above) == (None, 1, 0)
    always = break_even([(0.0, np.array([3.0, 2.0])), (1.0, np.array([1.0, -2.0]))])
    assert (always.estimate, always.below, always.above) == (None, 0, 1)


def test_a_gain_of_exactly_zero_is_a_break_even() -> None:
    found = break_even([(2.0, np.array([0.0])), (3.0, np.array([-1.0]))])
    assert found.estimate is not None
    assert found.estimate.mean == 2.0


def test_failing_picks_by_the_closed_form() -> None:
    """0.5 % failed picks and 20 parts stop 9.5 % of the sheets; 40 such sheets stop a night in 98 of 100."""
    share = float(stopped_share(0.005, 20))
    assert share == pytest.approx(0.095, abs=0.0005)
    assert 1 - (1 - share) ** 40 == pytest.approx(0.98, abs=0.005)
    assert stopped_share(0.0, 20) == 0.0
    assert stopped_share(1.0, 3) == 1.0


def test_the_rate_that_uses_up_a_gain() -> None:
    assert rate_of_gain(2.0, 1000.0, 72.0) == pytest.approx(0.1)
    assert rate_of_gain(-1.0, 1000.0, 72.0) is None
    assert rate_of_gain(1.0, 0.0, 72.0) is None


def test_the_closed_break_even_is_where_the_mean_sheet_takes_as_long() -> None:
    plant = slower_bench(parts(demo(), per_sheet=20), 6.0)
    today, with_it = book_clocks(plant), make_scenario(plant, ("A4",)).plant
    pick_s = closed_pick_s(today, with_it)
    assert pick_s is not None
    assert gained_per_sheet_s(today, at_share(with_it, pick_s / 9.0)) == pytest.approx(0.0, abs=0.05)
    earlier = closed_pick_s(today, with_it, 5.0)
    assert earlier is not None
    assert earlier < pick_s


def test_no_break_even_where_nothing_can_be_picked() -> None:
    plant = parts(demo(), per_sheet=6, form_height_mm=50.0)
    assert closed_pick_s(book_clocks(plant), make_scenario(plant, ("A4",)).plant) is None


def test_at_its_own_share_nothing_changes() -> None:
    plant = make_scenario(demo(), ("A4",)).plant
    assert (at_share(plant, 1.0).machine_s == book_clocks(plant).machine_s).all()
