"""Lifts and kilograms of a shift by hand, and what a change takes away of them."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.process.handling import KINDS, Handling, mean_tool_kg, removed, shifts_per_week
from simkit.process.lifting import ShiftLoad
from tests.small_plant import small_plant

FEW = settings(max_examples=40, deadline=None, derandomize=True)
loads = st.builds(ShiftLoad, st.floats(0.0, 1e5), st.floats(0.0, 1e6))
handlings = st.builds(Handling, loads, loads, loads, loads)


def test_a_shift_by_hand() -> None:
    """40 shifts: 600 sheets of 20 kg, 8000 parts of 2 kg, 600 skeletons of 5 kg, 400 tools of 1.5 kg."""
    whole = Handling(ShiftLoad(600, 12000), ShiftLoad(8000, 16000), ShiftLoad(600, 3000), ShiftLoad(400, 600))
    found = whole.times(1 / 40)
    assert [(load.lifts, load.kg) for load in (found.sheets, found.parts, found.skeletons, found.tools)] == [
        (15, 300), (200, 400), (15, 75), (10, 15),
    ]  # fmt: skip
    assert (found.total.lifts, found.total.kg) == (240, 790)


def test_what_a_removal_device_takes_away() -> None:
    """66 lifts of 1.84 kg and 11 skeletons of 3 kg less, nothing else."""
    today = Handling(ShiftLoad(21, 200), ShiftLoad(166, 159.44), ShiftLoad(21, 63), ShiftLoad(5, 10))
    option = Handling(ShiftLoad(21, 200), ShiftLoad(100, 38), ShiftLoad(10, 30), ShiftLoad(5, 10))
    rows = {row.kind: row for row in removed(today, option)}
    assert tuple(rows) == (*KINDS, "total")
    assert (rows["parts"].lifts, rows["parts"].kg) == (66, pytest.approx(66 * 1.84))
    assert (rows["skeletons"].lifts, rows["skeletons"].kg) == (11, 33)
    assert (rows["sheets"].lifts, rows["tools"].lifts) == (0, 0)
    assert rows["total"].lifts == 77


def test_shifts_and_tools_of_a_plant() -> None:
    """Two shifts on five days; a plant without tool needs lifts none."""
    assert shifts_per_week(small_plant()) == 10
    assert mean_tool_kg(small_plant(program_tools=())) == 0.0
    assert mean_tool_kg(small_plant()) > 0


@FEW
@given(handlings, st.floats(0.0, 1000.0))
def test_kinds_sum_to_the_total_and_nothing_is_taken_away_from_the_same(found: Handling, factor: float) -> None:
    assert found.total.lifts == pytest.approx(sum(getattr(found, kind).lifts for kind in KINDS))
    assert found.times(factor).total.kg == pytest.approx(found.total.kg * factor)
    assert all((row.lifts, row.kg) == (0, 0) for row in removed(found, found))
