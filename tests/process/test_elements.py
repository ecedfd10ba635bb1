"""Element rows: which is for whom, and in which unit."""

from __future__ import annotations

import dataclasses

import pytest

from simkit.plant.conditions import facts_of, holds, split_unit
from simkit.plant.part_ways import part_flow, why_not_eligible
from simkit.plant.tables import ProgramPart
from simkit.process.elements import chosen_rows, timed
from tests.small_plant import small_elements, small_parts, small_plant

FACTS = {"family": "LOCK", "mass_kg": 25.0, "thickness_mm": 2.0, "surface_sensitive": "true"}


@pytest.mark.parametrize(
    ("text", "expected"),
    [("", True), ("family=LOCK", True), ("family=BOOK", False), ("mass_kg>25", False), ("mass_kg>24.9", True),
     ("mass_kg<25", False), ("thickness_mm=2", True), ("surface_sensitive=true", True), ("gas=nitrogen", False),
     ("family=LOCK and mass_kg>24", True), ("family=LOCK and mass_kg>25", False)],
)  # fmt: skip
def test_conditions(text: str, expected: bool) -> None:
    assert holds(text, FACTS) is expected


def test_the_last_row_that_applies_wins() -> None:
    plant = small_plant()
    for mass, minutes in ((14.7, 1.9), (25.1, 2.6)):
        rows = chosen_rows(plant.elements, facts_of(plant, plant.programs[0], mass))
        assert rows["load"].typical == minutes


@pytest.mark.parametrize(
    ("unit", "seconds", "driver"),
    [("s/hit", 1.0, "hit"), ("min/order", 60.0, "order"), ("h/regrind", 3600.0, "regrind"),
     ("ratio/process", 1.0, "process")],
)  # fmt: skip
def test_units(unit: str, seconds: float, driver: str) -> None:
    row = dataclasses.replace(small_elements()[0], unit=unit, typical=3.0)
    use = timed(row, {})
    assert split_unit(unit) == (seconds, driver)
    assert (use.law.mean, use.driver) == (3.0 * seconds, driver)


def test_a_file_of_values_is_in_the_unit_of_its_row() -> None:
    row = dataclasses.replace(small_elements()[0], law="empirical", file="f", typical=2.0)
    assert timed(row, {"f": (1.0, 3.0)}).law.values == (60.0, 180.0)


LIMITS = {"pickers": 1, "max_mass_kg": 10, "min_side_mm": 100, "max_side_mm": 1000, "max_form_height_mm": 5,
          "min_flat_area_mm2": 2000}  # fmt: skip


@pytest.mark.parametrize(
    ("change", "why"),
    [({}, ""), ({"mass_kg": 10.0}, ""), ({"mass_kg": 10.1}, "heavier than 10 kg"),
     ({"width_mm": 99.0}, "a side below 100 mm"),
     ({"length_mm": 1001.0}, "a side above 1000 mm"), ({"form_height_mm": 5.0}, "a form of 5 mm or more"),
     ({"form_height_mm": 4.9}, ""), ({"flat_area_mm2": 1999.0}, "less than 2000 mm2 flat area")],
)  # fmt: skip
def test_which_parts_can_be_picked(change: dict[str, float], why: str) -> None:
    part = ProgramPart(
        program_id="P", part_id="x", per_sheet=1, length_mm=300, width_mm=200, mass_kg=1, flat_area_mm2=5000
    )
    limits = small_plant(removal=LIMITS).settings.removal
    assert why_not_eligible(dataclasses.replace(part, **change), limits) == why


@pytest.mark.parametrize(
    ("handover", "picked", "chute", "benched"),
    [("bench", 0, 0, 8), ("removal", 6, 0, 2), ("mixed", 6, 2, 0), ("chute", 0, 8, 0), ("stack", 0, 0, 8)],
)
def test_how_parts_leave_the_sheet(handover: str, picked: int, chute: int, benched: int) -> None:
    small = dataclasses.replace(small_parts()[0], part_id="small", per_sheet=2, width_mm=40, tabs=3)
    plant = small_plant(program_parts=(*small_parts(), small), removal=LIMITS)
    flow = part_flow(plant, dataclasses.replace(plant.programs[0], handover=handover))
    assert (flow.picked, flow.chute, flow.benched, flow.parts) == (picked, chute, benched, 8)
    assert flow.picked + flow.chute + flow.benched == flow.parts
