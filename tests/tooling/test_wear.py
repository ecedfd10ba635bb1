from __future__ import annotations

import math

import pytest

from simkit.base.messages import BadInput
from simkit.tooling.wear import after_regrind, due_for_regrind, sheets_to_failure
from tests.tooling.rooms import room_of, tool

ROOM = room_of(3, [tool(0, copies=2), tool(1), tool(2)])


def test_copies_lie_one_after_the_other():
    assert ROOM.offsets == (0, 2, 3, 4)


def test_a_tracked_copy_is_due_when_the_order_takes_it_past_its_limit():
    wear = [90.0, 50.0, 99.0, 99.0]
    hits = [(0, 1, 11.0), (0, 2, 11.0), (1, 1, 1.0), (2, 1, 1e6)]
    assert due_for_regrind(ROOM, wear, hits, [100.0, 100.0, None]) == ((0, 1),)


def test_a_fresh_copy_is_never_due():
    assert due_for_regrind(ROOM, [0.0] * 4, [(0, 1, 500.0)], [100.0, None, None]) == ()


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
