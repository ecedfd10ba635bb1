"""Lifts of a plant: who lifts what, from where, how often; the equation itself is tested with its published values."""

from __future__ import annotations

import dataclasses
import math

import pytest

from simkit.plant.plant import PlantInputs
from simkit.process.liftnotes import part_lifts, reach_cm, sheet_lifts
from tests.process.test_findings import quiet, with_rows
from tests.small_plant import small_plant


def removal_plant() -> PlantInputs:
    """The small plant whose first program hands its parts to a removal device."""
    plant = small_plant(removal={"pickers": 1})
    return dataclasses.replace(plant, programs=(dataclasses.replace(plant.programs[0], handover="removal"),
                                                plant.programs[1]))  # fmt: skip


def test_reach_by_hand() -> None:
    assert (reach_cm(310.0, 90.0), reach_cm(310.0, 20.0)) == (35.5, 40.5)


def test_parts_of_the_small_plant() -> None:
    """P-1: 11 sheets of 6 parts, 13.5 s of bench work each; the part is 310 mm wide, P-2's 230 mm."""
    first, second = part_lifts(small_plant())
    assert (first.piece, first.program_id, first.mass_kg, first.per_book) == ("LOCK-A", "P-1", 1.84, 66)
    assert (first.reach_cm, second.reach_cm) == (35.5, 31.5)
    assert first.lifts_per_min == pytest.approx(60 / 13.5)
    assert first.index == pytest.approx(1.84 / first.limit_kg)


def test_parts_that_a_device_takes_and_heavy_ones_are_no_lifts_of_one_person() -> None:
    assert [lift.program_id for lift in part_lifts(removal_plant())] == ["P-2"]
    heavy = with_rows(small_plant(), "program_parts", mass_kg=26.0)
    assert [lift.program_id for lift in part_lifts(heavy)] == ["P-2"]


def test_sheets_are_lifted_by_one_person_up_to_the_limit_unless_a_loader_does() -> None:
    first, second = sheet_lifts(small_plant())
    assert (first.piece, first.per_book, first.reach_cm) == ("sheet", 11, 70.0)
    assert (first.limit_kg, first.index, second.index) == (0.0, math.inf, math.inf)
    assert [lift.program_id for lift in sheet_lifts(small_plant(machine={"one_person_kg": 10.0}))] == ["P-2"]
    assert sheet_lifts(quiet()) == ()


def test_a_small_sheet_has_an_index() -> None:
    """500 mm wide: 20 + 25 = 45 cm; hands from 50 to 95 cm: the limit at the stack, VM 0.925, DM 0.82 + 4.5 / 45."""
    plant = with_rows(small_plant(), "programs", sheet_width_mm=500.0)
    lift = sheet_lifts(plant)[0]
    limit_kg = 23 * (25 / 45) * 0.925 * 0.92 * (1 - 0.0032 * 45) * 0.85 * 0.9
    assert lift.limit_kg == pytest.approx(limit_kg)
    assert lift.index == pytest.approx(1.25 * 0.5 * 0.0015 * 7850 / limit_kg)


def test_better_heights_and_less_turning_raise_the_limit() -> None:
    better = small_plant(handling={"twist_deg": 0.0, "stack_height_mm": 750.0, "grip": "good"})
    assert part_lifts(better)[0].limit_kg > part_lifts(small_plant())[0].limit_kg
