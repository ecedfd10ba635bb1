"""The page of today: its tables are those of the desk, within its budget, on other plants and with other parameters."""

from __future__ import annotations

import pytest

import simkit as sk
from tests.notebooks.pages import page_of
from tests.report.option_plant import write_option_plant

SHORT = {"replications": 2, "weeks": 1.0}

pytestmark = pytest.mark.usefixtures("kept_kernel")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return write_option_plant(tmp_path_factory.mktemp("today") / "plant")


def test_the_page_says_what_the_desk_says_and_keeps_to_its_budget(folder, tmp_path):
    given = {"plant": folder, "package": ["N1", "N2"], "levels": [0.5], **SHORT}
    page = page_of("today", tmp_path, **given)
    cases = sk.read_plant(folder).scenarios({"Today": [], "With the package": ["N1", "N2"]})
    study = sk.simulate(cases, levels=[0.5], workers=1, progress=False, **SHORT)
    told = [study.load(), study.demands(), study.given_out(), study.waits(), study.set_up(), study.stops()]
    for table in told:
        assert page.says(table.attrs["title"]), table.attrs["title"]
        assert table.empty or page.says(table.attrs["note"]), table.attrs["note"]
    assert page.lacks(sk.answer(study, about="book").paragraphs) == []
    assert page.text.index("makes the book") < page.text.index("Is it the same work?")
    assert "sk." not in page.text
    assert page.over_budget == {}


def test_a_plant_of_ten_orders_short_of_time_at_another_demand(tmp_path):
    plant = sk.example_plant(tmp_path / "plant")
    given = {"plant": plant, "demand": 5.0, "levels": [], "weekday": "Mon", "hours": [6, 12], **SHORT}
    page = page_of("today", tmp_path, **given)
    study = sk.simulate(sk.read_plant(plant).scenario("Today"), demand=5.0, workers=1, progress=False, **SHORT)
    assert page.says(study.demands().attrs["title"])
    assert "does not make the book" in study.demands().attrs["title"]
    assert page.says("A simulated Monday, 6:")


def test_a_changed_input_moves_the_page(folder, tmp_path):
    changes = {"elements[load].typical*": 3.0}
    page = page_of("today", tmp_path, plant=folder, changes=changes, levels=[], **SHORT)
    cell = sk.read_plant(folder)
    heads = [
        sk.simulate(cell.scenario("Today", changes=some), workers=1, progress=False, **SHORT).load().attrs["title"]
        for some in ({}, changes)
    ]
    assert heads[0] != heads[1]
    assert page.says(heads[1])
    assert not page.says(heads[0])
