"""Bins by mass, stacks, mixed scrap, marks by hand-over: what is noted, and what is not."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

from simkit.plant.checks import run_checks
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Element, LoadFault, Quality, Upkeep
from tests.plant.test_checks import only, said
from tests.small_plant import small_elements, small_plant


def bin_by_mass(**changes: Any) -> PlantInputs:
    return small_plant(
        upkeep=(Upkeep(task="bin", exposure="slug_kg", interval=200, duration_min=5, isolation_min=1),), **changes
    )


def test_a_bin_by_mass_needs_hits_of_cutting_tools() -> None:
    assert said(bin_by_mass()) == []
    forming = tuple(dataclasses.replace(tool, kind="forming") for tool in small_plant().tools)
    findings = run_checks(bin_by_mass(tools=forming))
    assert any("no program punches with a tool that cuts" in finding.why for finding in findings)


def test_a_stack_has_its_programs_and_programs_their_stack() -> None:
    whole = tuple(dataclasses.replace(row, handover="stack") for row in small_plant().programs)
    assert "so they go to the bench" in only(small_plant(programs=whole), "note")
    alone = {"places": 9, "use": "by_program"}
    assert said(small_plant(programs=whole, stack=alone)) == []
    assert "no program hands its sheets" in only(small_plant(stack=alone), "note")
    assert said(small_plant(stack={"places": 9})) == []


def test_remnants_that_are_kept_exist() -> None:
    assert "no program leaves a remnant" in only(small_plant(store={"remnants_kept": 0.5}), "note")


def test_mixed_scrap_has_a_credit_below_that_of_the_cheapest_metal() -> None:
    """Scrap of the small plant: steel 0.18, aluminium 1.10."""
    free, dear = "scrap is sold mixed and earns nothing", "mixed scrap earns more than the scrap of the cheapest metal"
    assert free in only(small_plant(scrap={"slugs": "mixed"}), "note")
    assert dear in only(small_plant(scrap={"skeletons": "mixed", "mixed_per_kg": 0.2}), "note")
    assert said(small_plant(scrap={"slugs": "mixed", "mixed_per_kg": 0.15})) == []
    assert said(small_plant(scrap={"mixed_per_kg": 9.0})) == []


@pytest.mark.parametrize(
    ("condition", "noted"),
    [("handover=bench", False), ("handover=removal and surface_sensitive=true", False), ("table=slat", False),
     ("", False), ("handover=mixed", True), ("handover=bench and handover=stack", True)],
)  # fmt: skip
def test_a_mark_asks_how_a_part_can_leave(condition: str, noted: bool) -> None:
    found = said(small_plant(quality=(Quality(cause="marks", applies_to=condition, rate=0.1),)), "note")
    assert any("marks is for no part" in text for text in found) is noted
    assert bool(found) is noted


def asking(condition: str, unit: str, severity: str = "error") -> list[str]:
    """What is said of an element that asks so, beside a general row of it per part."""
    first = dataclasses.replace(small_elements()[0], element="wipe", task_of="bench", state="bench", unit="s/part")
    rows = (first, dataclasses.replace(first, applies_to=condition, unit=unit))
    return said(small_plant(elements=(*small_elements(), *rows)), severity)


def test_a_row_that_asks_about_a_part_is_counted_by_parts() -> None:
    assert asking("part_kg>1", "s/part") == []
    assert asking("part=LOCK-A and thickness_mm>1", "s/tab") == []
    assert any("is counted per sheet" in text for text in asking("part_kg>1", "s/sheet"))
    assert any("is for no part of program_parts.csv" in text for text in asking("part_kg>99", "s/part", "note"))


def test_all_rows_of_an_element_that_asks_about_parts_are_counted_by_parts() -> None:
    first = dataclasses.replace(small_elements()[0], element="wipe", task_of="bench", state="bench", unit="s/sheet")
    second = dataclasses.replace(first, applies_to="part_kg>1", unit="s/part")
    found = said(small_plant(elements=(*small_elements(), first, second)))
    assert any("asks about the part in another row" in text for text in found)


def test_a_wrong_load_knows_no_part() -> None:
    fault = LoadFault(fault="turned", applies_to="part_kg>1", exchanges=("tool_load",), rate=0.1, repair_min=1.0)
    assert any("asks about a part" in text for text in said(small_plant(load_faults=(fault,))))


def skeletons(device_min: float, *hand_min: float) -> PlantInputs:
    """The small plant with a device's time for a skeleton, and times by hand."""
    device = Element(element="out", unit="min/skeleton", state="unloading", typical=device_min)
    by_hand = tuple(
        Element(element=f"hand{number}", task_of="bench", unit="min/sheet", state="bench", typical=minutes)
        for number, minutes in enumerate(hand_min)
    )
    return small_plant(elements=(*small_elements(), device, *by_hand))


def test_a_device_s_skeleton_never_stands_against_no_time_by_hand() -> None:
    """No row by hand is refused, a row of zero noted; nothing is said where people take time, or the device none."""
    (refused,) = said(skeletons(0.6), "error")
    assert "a skeleton carried off, cut, folded and binned by hand" in refused
    assert "people at the bench take none" in only(skeletons(0.6, 0.0), "note")
    for plant in (skeletons(0.6, 0.4), skeletons(0.6, 0.0, 0.4), skeletons(0.0), skeletons(0.0, 0.0)):
        assert said(plant) == []
