"""The page of nights: its tables are those of the desk, within its budget, on other plants, with other parameters."""

from __future__ import annotations

import pytest

import simkit as sk
from tests.notebooks.pages import page_of
from tests.report.option_plant import write_option_plant

SHORT = {"replications": 2, "weeks": 1.0}

pytestmark = pytest.mark.usefixtures("kept_kernel")


def test_the_page_says_what_the_desk_says_and_keeps_to_its_budget(tmp_path):
    folder = write_option_plant(tmp_path / "plant")
    changes = {"elements[load].task_of": "machine"}
    given = {"plant": folder, "changes": changes, "demand": 6.0, **SHORT}
    page = page_of("nights", tmp_path, **given)
    cell = sk.read_plant(folder)
    night = cell.night_options()
    steps = [cell.scenario(name, night, {**changes, **step}) for name, step in cell.night_fixes(night).items()]
    cases = [*cell.scenarios({"Today": [], "With the night": night}, changes), *steps]
    study = sk.simulate(cases, demand=6.0, workers=1, progress=False, **SHORT)
    name = "With the night"
    told = [study.demands(name), study.night_ends(name), study.stops(name), study.mornings(name), study.night_hours()]
    assert page.lacks(table.attrs["title"] for table in told) == []
    assert page.lacks(sk.answer(study, about="nights").paragraphs) == []
    assert page.text.index("assessed by safety group") < page.text.index("How long a night runs")
    assert page.text.count("no night is declared safe") <= 2
    assert "sk." not in page.text
    assert page.over_budget == {}


def test_a_plant_without_nights_says_so(tmp_path):
    page = page_of("nights", tmp_path, plant=sk.example_plant(tmp_path / "plant"), **SHORT)
    assert page.says("allows unattended running")


def test_named_options_and_a_package_are_the_night_that_is_shown(tmp_path):
    folder = write_option_plant(tmp_path / "plant")
    given = {"plant": folder, "options": ["A1", "A4", "C1"], "package": ["N2"], **SHORT}
    page = page_of("nights", tmp_path, **given)
    for words in ("Setup cart", "Tool magazine", "Part removal", "Unattended evening"):
        assert page.says(words)
    assert page.says("Every tool in the magazine")
