"""The page of parts: its tables are those of the desk, within its budget, on plants with and without removal."""

from __future__ import annotations

import pytest

import simkit as sk
from tests.desk.test_part_tables import write_picking_plant
from tests.notebooks.pages import page_of

SHORT = {"replications": 2, "weeks": 1.0, "demand": 1.0}
DESK = {**SHORT, "workers": 1, "progress": False}

pytestmark = pytest.mark.usefixtures("kept_kernel")


def test_the_page_says_what_the_desk_says_and_keeps_to_its_budget(tmp_path):
    plant = write_picking_plant(tmp_path / "plant")
    page = page_of("parts", tmp_path, plant=plant, package=["N1"], picks=[1.0, 4.0], **SHORT)
    cell = sk.read_plant(plant)
    study, picks, nights, inputs = (
        sk.simulate(made, **DESK).parts
        for made in (cell.parts.ways(["N1"]), cell.parts.picks([1.0, 4.0]), cell.parts.nights(["N1"]),
                     cell.parts.inputs())
    )  # fmt: skip
    told = [study.ways(), study.hands(), study.clocks(), study.not_picked(), study.lifting(), study.masses(),
            picks.picks(), nights.nights(), inputs.inputs()]  # fmt: skip
    assert page.lacks(table.attrs[key] for table in told for key in ("title", "note")) == []
    assert page.says(study.ways().attrs["picture"])
    assert page.lacks(study.answer(picks, nights, inputs).paragraphs) == []
    assert "sk." not in page.text
    assert page.over_budget == {}


def test_a_plant_of_ten_orders_without_removal_and_with_a_changed_input(tmp_path):
    folder = sk.example_plant(tmp_path / "plant")
    changes = {"elements[break_out].typical": 13.0}
    page = page_of("parts", tmp_path, plant=folder, changes=changes, **SHORT)
    cell = sk.read_plant(folder)
    heads = [sk.simulate(cell.parts.ways(changes=some), **DESK).parts.answer().head for some in ({}, changes)]
    assert heads[0] != heads[1]
    assert page.says(heads[1])
    assert page.says("No option of this plant brings part removal")
