"""The page of times: its tables are those of the desk, within its budget, on other plants and with other parameters."""

from __future__ import annotations

import pytest

import simkit as sk
from tests.notebooks.pages import page_of
from tests.report.option_plant import write_option_plant

SHORT = {"replications": 2, "weeks": 1.0}

pytestmark = pytest.mark.usefixtures("kept_kernel")


def test_the_page_says_what_the_desk_says_and_keeps_to_its_budget(tmp_path):
    folder = sk.example_plant(tmp_path / "plant")
    page = page_of("times", tmp_path, plant=folder, most=2, **SHORT)
    cell = sk.read_plant(folder)
    today = cell.scenario("Today")
    told = [today.program(), today.families(), today.elements(), today.elements(by_hand=True), today.limits()]
    assert page.lacks(table.attrs["title"] for table in told) == []
    how = {"workers": 1, "progress": False, "demand": 1.0, **SHORT}
    inputs = sk.simulate(today, **how).inputs(2)
    ends = {row[end]: {row["path"]: row[end[3:]]} for row in inputs.to_dict("records") for end in ("at_low", "at_high")}
    study = sk.simulate([today, *(cell.scenario(name, changes=change) for name, change in ends.items())], **how)
    assert page.says(study.effects(inputs).attrs["title"])
    assert page.lacks(sk.answer(study, about="times").paragraphs) == []
    assert "sk." not in page.text
    assert page.over_budget == {}


def test_a_named_program_is_followed_and_an_unknown_one_is_answered(tmp_path):
    folder = write_option_plant(tmp_path / "plant")
    page = page_of("times", tmp_path, plant=folder, program="P-2", most=1, **SHORT)
    assert page.says(sk.read_plant(folder).scenario().program("P-2").attrs["title"])
    with pytest.raises(sk.ScenarioFailed, match="did you mean 'P-2'"):
        page_of("times", tmp_path, plant=folder, program="P-22", most=1, **SHORT)


def test_a_changed_time_moves_the_sheet_that_is_followed(tmp_path):
    folder = write_option_plant(tmp_path / "plant")
    changes = {"elements[load].typical*": 2.0}
    page = page_of("times", tmp_path, plant=folder, changes=changes, most=1, **SHORT)
    before, after = (sk.read_plant(folder).scenario("Today", changes=some).program() for some in ({}, changes))
    assert before.attrs["title"] != after.attrs["title"]
    assert page.says(after.attrs["title"])
