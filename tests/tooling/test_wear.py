from __future__ import annotations

import math

import pytest

from simkit.base.messages import BadInput
from simkit.tooling.wear import (
    FailurePoint,
    after_regrind,
    copy_offsets,
    due_for_regrind,
    failure_points,
    sheets_to_failure,
)
from tests.tooling.rooms import room_of, tool

ROOM = room_of(3, [tool(0, copies=2), tool(1), tool(2)])


def test_copies_lie_one_after_the_other():
    assert copy_offsets(ROOM) == (0, 2, 3, 4)


def test_a_tracked_copy_is_due_when_the_order_takes_it_past_its_limit():
    wear = [90.0, 50.0, 99.0, 99.0]
    hits = [(0, 1, 11.0), (0, 2, 11.0), (1, 1, 1.0), (2, 1, 1e6)]
    assert due_for_regrind(ROOM, wear, hits, [100.0, 100.0, None]) == ((0, 1),)


def test_a_fresh_copy_is_never_due():
    assert due_for_regrind(ROOM, [0.0] * 4, [(0, 1, 500.0)], [100.0, None, None]) == ()


def test_failures_fall_where_the_life_ends():
    points, wear = failure_points(90.0, 20.0, 10, 100.0)
    assert points == (FailurePoint(0, 0.5), FailurePoint(5, 0.5))
    assert wear == 90.0


def test_lives_are_taken_one_after_the_other():
    lives = iter([100.0, 30.0, 1000.0, 7.0])
    points, wear = failure_points(0.0, 50.0, 4, lives)
    assert [point.sheet for point in points] == [2, 2]
    assert [point.fraction for point in points] == pytest.approx([0.0, 0.6])
    assert wear == 70.0
    assert next(lives) == 7.0


def test_a_life_already_passed_fails_at_once():
    points, wear = failure_points(120.0, 10.0, 2, [100.0, 1000.0])
    assert points == (FailurePoint(0, 0.0),)
    assert wear == 20.0


def test_no_hits_no_failure():
    assert failure_points(99.0, 0.0, 5, 100.0) == ((), 99.0)
    assert failure_points(10.0, 5.0, 3, 100.0) == ((), 25.0)


def test_a_life_of_nothing_is_refused():
    with pytest.raises(BadInput, match="above 0"):
        failure_points(0.0, 1.0, 1, 0.0)


@pytest.mark.parametrize(
    ("worn", "life", "hits", "sheets"),
    [(0, 100, 40, 2.5), (60, 100, 40, 1.0), (90, 100, 40, 0.25), (100, 100, 40, 0.0), (130, 100, 40, 0.0),
     (0, 100, 0, math.inf), (100, 100, 0, math.inf)],
)  # fmt: skip
def test_sheets_until_the_life_is_reached(worn: float, life: float, hits: float, sheets: float):
    assert sheets_to_failure(worn, life, hits) == sheets


def test_sheets_to_failure_refuse_a_life_of_nothing():
    with pytest.raises(BadInput, match="above 0"):
        sheets_to_failure(0.0, 0.0, 1.0)


def test_grinds_are_counted_until_the_tool_is_replaced():
    assert after_regrind(0, 12) == (1, False)
    assert after_regrind(11, 12) == (12, False)
    assert after_regrind(12, 12) == (0, True)
    assert after_regrind(0, 0) == (0, True)
