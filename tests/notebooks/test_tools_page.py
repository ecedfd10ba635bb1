"""The page of tools: its tables are those of the desk, within its budget, on plants with and without a magazine."""

from __future__ import annotations

import pytest

import simkit as sk
from tests.notebooks.pages import page_of
from tests.report.option_plant import write_option_plant

SHORT = {"replications": 2, "weeks": 1.0, "demand": 1.0}
DESK = {**SHORT, "workers": 1, "progress": False}

pytestmark = pytest.mark.usefixtures("kept_kernel")


def test_the_page_says_what_the_desk_says_and_keeps_to_its_budget(tmp_path):
    plant = write_option_plant(tmp_path / "plant")
    given = {"plant": plant, "package": ["N1", "N2"], "sizes": [0.5, 1.0], **SHORT}
    page = page_of("tools", tmp_path, **given)
    cell = sk.read_plant(plant)
    study = sk.simulate(cell.tools.fixes(["N1", "N2"]), **DESK)
    sizes = sk.simulate(cell.tools.sizes([0.5, 1.0]), **DESK)
    told = [study.tools.fixes(), study.tools.exchanges(), study.tools.clearances(), study.tools.care(),
            study.tools.set_up(), sizes.tools.sizes(), sizes.tools.contents()]  # fmt: skip
    said = study.tools.answer(sizes.tools)
    assert page.lacks(table.attrs[key] for table in told for key in ("title", "note")) == []
    assert page.lacks(said.paragraphs) == []
    assert page.text.index(said.head.split(":")[1]) < page.text.index("Which fix is worth what, in hours")
    assert "sk." not in page.text
    assert page.over_budget == {}


def test_a_plant_of_ten_orders_without_a_magazine_and_with_a_changed_input(tmp_path):
    folder = sk.example_plant(tmp_path / "plant")
    changes = {"elements[tool_fit].typical": 0.1}
    page = page_of("tools", tmp_path, plant=folder, changes=changes, **SHORT)
    assert page.says("No option of this plant brings a tool magazine")
    cell = sk.read_plant(folder)
    heads = [sk.simulate(cell.tools.fixes(changes=some), **DESK).tools.answer().head for some in ({}, changes)]
    assert heads[0] != heads[1]
    assert page.says(heads[1])
