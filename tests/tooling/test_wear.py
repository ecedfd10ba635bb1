from __future__ import annotations

import math

import pytest

from simkit.tooling.wear import after_regrind, due_for_regrind, first_failure, sheets_to_limit
from tests.tooling.rooms import room_of, tool

ROOM = room_of(3, [tool(0, copies=2), tool(1), tool(2)])


def test_copies_lie_one_after_the_other():
    assert ROOM.offsets == (0, 2, 3, 4)


def test_a_tracked_copy_is_due_when_the_sheets_take_it_past_its_limit():
    worn, limits = [90.0, 50.0, 99.0, 99.0], [100.0, 100.0, None]
    uses = [(0, 1, 0, 5.5), (0, 2, 1, 5.5), (1, 1, 2, 0.5), (2, 1, 3, 1e6)]
    assert due_for_regrind(worn, limits, uses, 2) == ((0, 1),)  # 90 + 11 pass 100, 99 + 1 reach it
    assert due_for_regrind(worn, limits, uses, 10) == ((0, 1), (0, 2), (1, 1))
    assert sheets_to_limit(worn, limits, uses) == 10 / 5.5
    assert sheets_to_limit(worn, limits, uses[1:2]) == 50 / 5.5
    assert sheets_to_limit(worn, limits, uses[3:]) == math.inf


def test_a_fresh_copy_is_never_due():
    assert due_for_regrind([0.0], [100.0], [(0, 1, 0, 500.0)], 1) == ()
    assert due_for_regrind([1.0], [100.0], [(0, 1, 0, 500.0)], 1) == ((0, 1),)


@pytest.mark.parametrize(
    ("worn", "life", "hits", "sheets"),
    [(0, 100, 40, 2.5), (60, 100, 40, 1.0), (90, 100, 40, 0.25), (99, 100, 4, 0.25), (97, 100, 1, 3.0),
     (100, 100, 40, 0.0), (130, 100, 40, 0.0),
     (0, 100, 0, math.inf), (100, 100, 0, math.inf)],
)  # fmt: skip
def test_sheets_until_the_life_is_reached(worn: float, life: float, hits: float, sheets: float):
    assert first_failure([worn], [life], [(0, 1, 0, hits)]) == (sheets, -1 if math.isinf(sheets) else 0)


def test_of_several_copies_the_first_to_fail_counts_and_of_equals_the_first_named():
    worn, lives, uses = [0.0, 50.0, 0.0], [100.0, 100.0, math.inf], [(5, 1, 2, 9.0), (3, 1, 0, 20.0), (4, 1, 1, 10.0)]
    assert first_failure(worn, lives, uses) == (5.0, 1)
    assert first_failure(worn, [101.0, *lives[1:]], uses) == (5.0, 2)
    assert first_failure(worn, lives, uses[:1]) == (math.inf, -1)


def test_grinds_are_counted_until_the_tool_is_replaced():
    assert after_regrind(0, 12) == (1, False)
    assert after_regrind(11, 12) == (12, False)
    assert after_regrind(12, 12) == (0, True)
    assert after_regrind(0, 0) == (0, True)
