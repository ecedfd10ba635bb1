"""Crossings of curves by hand, and the closed forms of picks."""

from __future__ import annotations

import numpy as np
import pytest

from simkit.analysis.part_clocks import book_clocks, break_even, gained_per_sheet_s, pick_elements
from simkit.plant.scenarios import make_scenario
from tests.must_lose.changed import demo, parts, slower_bench


def test_the_crossing_of_each_run_is_found_between_two_points() -> None:
    points = [(0.0, np.array([4.0, 3.0])), (10.0, np.array([-4.0, 1.0])), (20.0, np.array([-9.0, -1.0]))]
    found = break_even(list(reversed(points)), "s")
    assert found.estimate is not None
    assert found.estimate.mean == pytest.approx((5.0 + 15.0) / 2)
    assert (found.estimate.n, found.estimate.unit, found.below, found.above, found.runs) == (2, "s", 0, 0, 2)


def test_no_estimate_where_a_run_never_gains_or_always_does() -> None:
    never = break_even([(0.0, np.array([-1.0, 2.0])), (1.0, np.array([-2.0, -2.0]))])
    assert (never.estimate, never.below, never.above) == (None, 1, 0)
    always = break_even([(0.0, np.array([3.0, 2.0])), (1.0, np.array([1.0, -2.0]))])
    assert (always.estimate, always.below, always.above) == (None, 0, 1)


def test_a_gain_of_exactly_zero_is_a_break_even() -> None:
    found = break_even([(2.0, np.array([0.0])), (3.0, np.array([-1.0]))])
    assert found.estimate is not None
    assert found.estimate.mean == 2.0


def test_the_closed_form_gains_less_with_slower_picks_and_nothing_at_its_own_time() -> None:
    """Twenty parts a sheet and a slow bench: 9 s a pick of two pickers gain, twelve minutes do not."""
    plant = slower_bench(parts(demo(), per_sheet=20), 6.0)
    names = pick_elements(make_scenario(plant, ("A4",)).plant)
    assert names == ("pick", "pick_blocking")
    texts = tuple(f"elements[{name}].typical*=80.0" for name in names)
    quick, slow = (book_clocks(make_scenario(plant, ("A4",), more).plant) for more in ((), texts))
    assert gained_per_sheet_s(book_clocks(plant), quick) > 0 > gained_per_sheet_s(book_clocks(plant), slow)
    assert gained_per_sheet_s(quick, quick) == 0.0
