"""Skeletons that would be too weak, and the stacks that a sheet grows."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

from simkit.plant.part_ways import (
    StackStep,
    benched_parts,
    part_flow,
    picked_parts,
    removed_share,
    why_not,
    why_not_eligible,
)
from simkit.plant.plant import PlantInputs
from simkit.plant.settings_parts import Removal
from tests.small_plant import small_parts, small_plant


def plant(**removal: Any) -> PlantInputs:
    """The first program with six parts of 500 x 310 mm on a sheet of 1250 x 1000 mm, and four strips too narrow."""
    strip = dataclasses.replace(small_parts()[0], part_id="strip", per_sheet=4, width_mm=40.0)
    base = small_plant(program_parts=(*small_parts(), strip), removal={"pickers": 1, **removal})
    return dataclasses.replace(base, programs=tuple(dataclasses.replace(p, handover="removal") for p in base.programs))


def test_the_share_that_is_out_counts_the_parts_that_would_be_picked() -> None:
    cell = plant()
    sheet = cell.programs[0]
    assert removed_share(sheet, picked_parts(cell, sheet)) == pytest.approx(6 * 500 * 310 / (1250 * 1000))  # 0.744
    assert removed_share(sheet, cell.parts_of["P-1"]) == pytest.approx(0.744 + 4 * 500 * 40 / 1.25e6)


@pytest.mark.parametrize(
    ("most", "picked", "why"),
    [(1.0, 6, ""), (0.75, 6, ""), (0.74, 0, "more than 74 % of the sheet would be out"),
     (0.0, 0, "more than 0 % of the sheet would be out")],
)  # fmt: skip
def test_a_skeleton_that_grows_too_weak_keeps_its_parts(most: float, picked: int, why: str) -> None:
    cell = plant(max_removed_share=most)
    sheet, (part, strip) = cell.programs[0], cell.parts_of["P-1"]
    assert (why_not(cell, sheet, part), why_not(cell, sheet, strip)) == (why, "a side below 100 mm")
    flow = part_flow(cell, sheet)
    assert (flow.picked, flow.benched) == (picked, 10 - picked)
    assert len(benched_parts(cell, sheet)) == (1 if picked else 2)


def test_a_full_sheet_is_no_limit_though_rectangles_overlap() -> None:
    cell = plant(max_removed_share=1.0)
    wide = dataclasses.replace(cell.programs[0], sheet_length_mm=900.0)
    assert removed_share(wide, picked_parts(cell, wide)) > 1.0
    assert part_flow(cell, wide).picked == 6


def test_stacks_by_kind_of_part_and_as_nested() -> None:
    two = plant(min_side_mm=0.0)
    by_kind = part_flow(two, two.programs[0]).stacks
    assert by_kind == (StackStep("LOCK-A", 6 * 1.5, 6 * 1.84), StackStep("strip", 4 * 1.5, 4 * 1.84))
    assert part_flow(plant(min_side_mm=0.0, stacking="kits"), two.programs[0]).stacks == by_kind
    (nested,) = part_flow(plant(min_side_mm=0.0, stacking="as_nested"), two.programs[0]).stacks
    assert (nested.kind, nested.height_mm) == ("P-1", 1.5)
    assert nested.mass_kg == pytest.approx(10 * 1.84)


def test_a_skeleton_is_left_where_nothing_stays_for_the_bench() -> None:
    cell = plant()
    rows = dict.fromkeys(("removal", "mixed", "bench", "chute"), False) | {"mixed": True}
    for handover, leaves in rows.items():
        assert part_flow(cell, dataclasses.replace(cell.programs[0], handover=handover)).leaves_skeleton is leaves
    assert part_flow(cell, cell.programs[1]).leaves_skeleton


@pytest.mark.parametrize(
    ("facts", "limits", "why"),
    [
        ({"clear_circle_mm": 30.0}, {}, ""), ({"clear_circle_mm": 30.0}, {"min_clear_circle_mm": 30.0}, ""),
        ({"clear_circle_mm": 29.0}, {"min_clear_circle_mm": 30.0}, "no circle of 30 mm free of holes at its centre"),
        ({"clear_circle_mm": 0.0}, {"min_clear_circle_mm": 1.0}, "no circle of 1 mm free of holes at its centre"),
        ({"clear_circle_mm": None}, {"min_clear_circle_mm": 30.0}, ""),
        ({"surface_sensitive": True}, {}, ""),
        ({"surface_sensitive": True}, {"takes_sensitive": False}, "a sensitive surface"),
        ({"surface_sensitive": False}, {"takes_sensitive": False}, ""),
        ({"surface_sensitive": True, "mass_kg": 21.0}, {"takes_sensitive": False}, "heavier than 20 kg"),
    ],
)  # fmt: skip
def test_holes_and_surface_decide_too(facts: dict[str, Any], limits: dict[str, Any], why: str) -> None:
    part = dataclasses.replace(small_parts()[0], **facts)
    assert why_not_eligible(part, Removal(**limits)) == why
