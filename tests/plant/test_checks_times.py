"""No time is missing: what occurs in the book, here or in an option's plant, has a row or an explicit zero."""

from __future__ import annotations

import dataclasses
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from simkit.base.messages import BadInput, Finding
from simkit.base.vocabulary import DRIVERS
from simkit.plant.book_counts import BookCounts
from simkit.plant.checks import run_checks
from simkit.plant.checks_times import missing_times
from simkit.plant.drivers import NEEDS
from simkit.plant.options import Edit, Option
from simkit.plant.plant import DraftTable, PlantInputs
from simkit.plant.reading import check_plant, read_plant
from simkit.plant.scenarios import make_scenario
from simkit.plant.tables import MachineRow
from tests.process.test_motiontimes import moving
from tests.small_plant import small_elements, small_plant, with_element, write_small_plant

DEMO = Path(__file__).parents[2] / "data" / "tarnholt"
BY_OTHER_TABLES = {"m_cut", "process"}
"""Drivers whose time has a place without a row: cutting speeds of materials.csv, and a ratio of 1."""


def units(findings: Iterator[Finding] | list[Finding]) -> list[str]:
    return [finding.value.partition("/")[2] for finding in findings]


def missing(plant: PlantInputs) -> list[str]:
    return units(missing_times(plant))


def without(plant: PlantInputs, *elements: str) -> PlantInputs:
    return dataclasses.replace(plant, elements=tuple(row for row in plant.elements if row.element not in elements))


def demo_of_one_row(folder: Path) -> Path:
    """The demo plant with the first of its element rows alone, and without options; its motion gives hits and moves."""
    shutil.copytree(DEMO, folder)
    (folder / "options.toml").unlink()
    path = folder / "elements.csv"
    path.write_text("".join(path.read_text(encoding="utf-8").splitlines(keepends=True)[:2]), encoding="utf-8")
    return folder


def test_a_plant_of_one_element_row_is_refused_with_the_list(tmp_path: Path) -> None:
    with pytest.raises(BadInput) as refused:
        read_plant(demo_of_one_row(tmp_path / "plant"))
    found = [finding for finding in refused.value.findings if finding.column == "unit"]
    assert sorted(units(found)) == sorted([
        "order", "new_program", "tool_load", "die_change", "angle_change", "material_change", "nozzle_change",
        "sheet", "sheet", "mode_change", "part", "tab", "regrind", "chute_part", "remnant",
    ])  # fmt: skip
    (load,) = (finding for finding in found if finding.value == "min/tool_load")
    assert "up to 1,409 times, in 223 of the 223 orders" in load.why
    assert "LOCK-004" in load.why


def test_the_rows_that_are_named_can_be_pasted(tmp_path: Path) -> None:
    """All of them together make the plant whole; they stand under the heads of the plant's own file."""
    folder = demo_of_one_row(tmp_path / "plant")
    rows = [row for finding in check_plant(folder)[1] for row in re.findall(r"`([^`]*)`", finding.mend)]
    with (folder / "elements.csv").open("a", encoding="utf-8") as file:
        file.write("\n".join(rows) + "\n")
    plant, findings = check_plant(folder)
    nobody = [str(finding) for finding in findings if finding.severity == "error"]
    assert nobody == [], nobody
    assert plant is not None
    assert {row.source for row in plant.elements[1:]} == {"common practice, no source"}


def test_an_explicit_zero_is_an_answer() -> None:
    plant = small_plant()
    assert missing(plant) == []
    assert missing(without(plant, "pull_out")) == ["sheet"]
    assert missing(with_element(plant, "pull_out", typical=0.0)) == []


def test_a_row_for_some_sheets_leaves_the_others_without_a_time() -> None:
    """A sheet of P-1 weighs 14.7 kg, one of P-2 5.0 kg."""
    rows = (row for row in small_elements() if row.element != "load" or row.applies_to)
    heavy = [dataclasses.replace(row, applies_to="mass_kg>10") if row.element == "load" else row for row in rows]
    (finding,) = missing_times(small_plant(elements=tuple(heavy)))
    assert finding.value == "min/sheet"
    assert "10 times, in 3 of the 6 orders of the book (programs P-2)" in finding.why
    bent = [dataclasses.replace(row, applies_to="kind=forming") if row.element.startswith("tool_") else row
            for row in small_elements()]  # fmt: skip
    assert missing(small_plant(elements=tuple(bent))) == ["tool_load"]


ADDED: list[tuple[str, dict[str, Any], list[str]]] = [
    ("magazine", {"magazine": {"places": {"16": 9}}}, ["magazine_exchange", "magazine_die_change"]),
    ("magazine loaded ahead", {"magazine": {"places": {"16": 9}, "loading": "ahead"}},
     ["magazine_exchange", "magazine_die_change", "magazine_load"]),
    ("store", {"store": {"shelves": 4}}, ["stored_sheet", "store_exchange"]),
    ("part removal", {"removal": {"pickers": 1, "skeleton_places": 9}},
     ["pick", "pick_blocking", "skeleton", "cell_entry", "stack_exchange", "skeleton_exchange"]),
    ("remnants", {"store": {"remnants_kept": 0.5}}, ["remnant"]),
    ("retracting dies", {"machine": {"stations": [
        {"size_mm": 16, "count": 6}, {"size_mm": 30, "count": 3, "retracting": True},
        {"size_mm": 55, "turning": True}]}}, ["engagement"]),
]  # fmt: skip


def able() -> PlantInputs:
    """The small plant without rows of any device, its parts fit for removal, with remnants."""
    devices = {"magazine_exchange", "magazine_die_change", "store_exchange"}
    return small_plant(
        elements=tuple(row for row in small_elements() if row.element not in devices),
        programs=tuple(
            dataclasses.replace(row, handover="removal", remnant_share=0.1) for row in small_plant().programs
        ),
    )


@pytest.mark.parametrize(("sections", "wanted"), [row[1:] for row in ADDED], ids=[row[0] for row in ADDED])
def test_what_a_device_brings_needs_its_times(sections: dict[str, Any], wanted: list[str]) -> None:
    assert missing(able()) == []
    edits = [Edit(path=f"plant.{section}.{key}", value=value) for section, keys in sections.items()
             for key, value in keys.items()]  # fmt: skip
    plant = dataclasses.replace(able(), options=(Option(id="X1", name="device", kind="bought", edits=tuple(edits)),))
    with pytest.raises(BadInput) as refused:
        make_scenario(plant, ["X1"])
    assert units(list(refused.value.findings)) == wanted
    assert {finding.place for finding in refused.value.findings} == {"X1: elements.csv"}


def test_an_option_without_its_times_is_refused_when_the_folder_is_read(tmp_path: Path) -> None:
    option = Option(id="X1", name="store", kind="bought", edits=(Edit(path="plant.store.shelves", value=4),))
    folder = write_small_plant(tmp_path / "plant", elements=able().elements, options=(option,))
    found = [finding for finding in check_plant(folder)[1] if finding.severity == "error"]
    assert [(finding.place, finding.column) for finding in found] == [("options.toml", "X1: elements.csv unit")] * 2
    assert "store_fill,,material,s/stored_sheet,outside" in found[0].mend
    assert "store_exchange,,machine,min/store_exchange" in found[1].mend


@pytest.mark.parametrize(("packs", "per_pack", "wanted"), [
    (0, None, ["stored_sheet"]), (0, 50, ["pack_change", "store_load"]), (3, 50, ["pack_change", "store_load"]),
])  # fmt: skip
def test_a_store_that_nobody_fills_is_told(packs: int, per_pack: int | None, wanted: list[str]) -> None:
    """Whether it ever runs out or not: by the sheet, or by the pack where the material is counted so."""
    rows = tuple(dataclasses.replace(row, sheets_per_pack=per_pack) for row in small_plant().materials)
    assert missing(small_plant(materials=rows, store={"shelves": 2, "packs": packs})) == wanted
    assert missing(small_plant(materials=rows)) == (["pack_change"] if per_pack else [])


def test_what_one_machine_alone_has_needs_its_times(tmp_path: Path) -> None:
    machines = (MachineRow(machine_id="M1"), MachineRow(machine_id="M2", overrides='plant.magazine.places={"16"=9}'))
    folder = write_small_plant(tmp_path / "plant", elements=able().elements, machines=machines)
    found = [finding for finding in check_plant(folder)[1] if finding.severity == "error"]
    assert [(f.place, f.row, f.column) for f in found] == [("machines.csv", 3, "overrides")] * 2
    assert "M2" in found[0].why


def test_the_motion_of_the_machine_is_an_answer_where_nothing_is_missing() -> None:
    plant = without(moving(), "hit")
    assert missing(plant) == []
    assert missing(without(small_plant(), "hit")) == ["hit"]
    first, *rest = plant.programs
    lacking = dataclasses.replace(plant, programs=(dataclasses.replace(first, mean_pitch_mm=None), *rest))
    (finding,) = missing_times(lacking)
    assert "(programs P-1)" in finding.why
    timed = dataclasses.replace(first, mean_pitch_mm=None, measured_run_s=300.0)
    assert missing(dataclasses.replace(plant, programs=(timed, *rest))) == []


def test_changes_are_counted_in_the_order_of_release() -> None:
    """Programs by day: P-1 P-2, P-1, P-2 P-1, P-2; in the order of the file where a day has two."""
    book = BookCounts(small_plant())
    changes = book.changes("material", lambda program: {"material": program.material_id})
    assert changes == {"P-1": 2, "P-2": 3}


def test_every_driver_is_in_the_table_once_by_its_states() -> None:
    assert {need.driver for need in NEEDS} == set(DRIVERS) - BY_OTHER_TABLES
    assert all(row.unit.endswith(f"/{need.driver}") for need in NEEDS for row in need.usual)
    assert all(not need.states or row.state in need.states for need in NEEDS for row in need.usual)
    names = [row.element for need in NEEDS for row in need.usual]
    assert len(set(names)) == len(names)


def test_a_table_that_cannot_be_read_does_not_start_an_avalanche() -> None:
    plant = without(small_plant(), "hit")
    assert units([f for f in run_checks(plant) if f.severity == "error"]) == ["hit"]
    unread = dataclasses.replace(plant, files={"orders": DraftTable(spoiled=True)})
    assert not any(f.column == "unit" for f in run_checks(unread))
