"""Lifts and kilograms of a shift by hand, from plain numbers, from the tables and from measures of a run."""

from __future__ import annotations

import dataclasses

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.plant.plant import Plant
from simkit.process.handling import (
    KINDS,
    Handling,
    book_handling,
    book_weeks,
    mean_tool_kg,
    per_shift,
    removed,
    run_handling,
    shifts_per_week,
)
from simkit.process.lifting import ShiftLoad
from tests.process.test_findings import quiet
from tests.small_plant import small_plant

FEW = settings(max_examples=40, deadline=None, derandomize=True)
amounts = st.floats(0.0, 1e5)
# The book of the small plant: 11 sheets of P-1 (14.719 kg, 6 parts of 1.84 kg), 10 of P-2 (5.025 kg, 10 of 0.38 kg).
STEEL_KG, ALUMINIUM_KG = 1.25 * 1.0 * 0.0015 * 7850, 1.25 * 1.0 * 0.0015 * 2680


def about(load: ShiftLoad) -> tuple[object, object]:
    return pytest.approx(load.lifts), pytest.approx(load.kg)


def test_a_shift_by_hand() -> None:
    """40 shifts: 600 sheets of 20 kg, 8000 parts of 2 kg, 600 skeletons of 5 kg, 400 tools of 1.5 kg."""
    found = per_shift(40, 600, 20, 8000, 2, 600, 5, 400, 1.5)
    assert [(load.lifts, load.kg) for load in (found.sheets, found.parts, found.skeletons, found.tools)] == [
        (15, 300), (200, 400), (15, 75), (10, 15),
    ]  # fmt: skip
    assert (found.total.lifts, found.total.kg) == (240, 790)
    with pytest.raises(ValueError, match="shifts must be above zero"):
        per_shift(0, 1, 1, 1, 1, 1, 1, 1, 1)
    with pytest.raises(ValueError, match="mass_kg must be zero or more"):
        per_shift(1, 1, -1, 1, 1, 1, 1, 1, 1)


def test_a_book_by_hand() -> None:
    found = book_handling(small_plant())
    assert (found.sheets.lifts, found.sheets.kg) == (21, pytest.approx(11 * STEEL_KG + 10 * ALUMINIUM_KG))
    assert (found.parts.lifts, found.parts.kg) == (66 + 100, pytest.approx(66 * 1.84 + 100 * 0.38))
    assert found.skeletons.lifts == 21
    assert found.skeletons.kg == pytest.approx(found.sheets.kg - found.parts.kg)
    # six orders of three tools, three in ten of them loaded
    assert found.tools.lifts == pytest.approx(18 * 0.3)
    assert (book_weeks(small_plant()), shifts_per_week(small_plant())) == (1, 10)
    assert book_weeks(small_plant(orders=())) == 0


def test_heavy_sheets_are_shared_by_two_and_vanish_with_a_lifter() -> None:
    alone = book_handling(small_plant())
    two = book_handling(small_plant(machine={"one_person_kg": 10.0}))
    lifter = book_handling(small_plant(machine={"one_person_kg": 10.0, "lifter": True}))
    assert (two.sheets.lifts, two.sheets.kg) == (11 * 2 + 10, pytest.approx(alone.sheets.kg))
    assert (lifter.sheets.lifts, lifter.sheets.kg) == (10, pytest.approx(10 * ALUMINIUM_KG))
    assert book_handling(quiet()).sheets.lifts == 0


def test_a_magazine_takes_the_tools_that_the_planner_expects() -> None:
    assert book_handling(small_plant(magazine={"places": {"16": 9}})).tools.lifts == 0


def removal_plant() -> Plant:
    plant = small_plant(removal={"pickers": 1})
    return dataclasses.replace(plant, programs=(dataclasses.replace(plant.programs[0], handover="removal"),
                                                plant.programs[1]))  # fmt: skip


def test_what_a_removal_device_takes_away() -> None:
    """P-1's parts are all taken: 66 lifts of 1.84 kg and 11 skeletons less, nothing else."""
    rows = {row.kind: row for row in removed(book_handling(small_plant()), book_handling(removal_plant()))}
    assert tuple(rows) == (*KINDS, "total")
    assert (rows["parts"].lifts, rows["parts"].kg) == (66, pytest.approx(66 * 1.84))
    assert rows["skeletons"].lifts == 11
    assert (rows["sheets"].lifts, rows["tools"].lifts) == (0, 0)
    assert rows["total"].lifts == 77


def test_a_run_is_the_book_times_its_sheets_with_the_tools_really_loaded() -> None:
    plant = small_plant()
    book, found = book_handling(plant), run_handling(plant, {"sheets": 42.0, "tool_loads": 30.0})
    assert found.parts.lifts == 2 * book.parts.lifts
    assert found.sheets.kg == pytest.approx(2 * book.sheets.kg)
    assert (found.tools.lifts, found.tools.kg) == (30.0, pytest.approx(30 * mean_tool_kg(plant)))
    lost = run_handling(plant, {"sheets": 42.0, "sheets_scrapped": 21.0, "tool_loads": 30.0, "magazine_loads": 5.0})
    assert lost.sheets.lifts == found.sheets.lifts + 21
    assert lost.parts == found.parts
    assert lost.tools.lifts == 35
    assert run_handling(small_plant(orders=()), {"sheets": 4.0}) == Handling()


def test_a_plant_without_tools_lifts_none() -> None:
    assert book_handling(small_plant(program_tools=())).tools == ShiftLoad(0.0, 0.0)


@FEW
@given(st.floats(0.5, 1000.0), amounts, amounts, amounts, st.floats(0.0, 500.0))
def test_kinds_sum_to_the_total_and_more_shifts_share_it(
    shifts: float, sheets: float, parts: float, tools: float, kg: float
) -> None:
    one, found = (per_shift(n, sheets, kg, parts, kg, sheets, kg, tools, kg) for n in (1.0, shifts))
    assert found.total.lifts == pytest.approx((2 * sheets + parts + tools) / shifts)
    assert about(one.times(1 / shifts).total) == (found.total.lifts, found.total.kg)
    assert all(row.lifts == 0 for row in removed(found, found))
