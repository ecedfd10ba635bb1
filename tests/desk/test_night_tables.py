"""Unattended nights: hours, ends and mornings as the records say; nothing is shown that nobody assessed."""

from __future__ import annotations

from itertools import pairwise

import pytest

import simkit as sk
from simkit.base.vocabulary import NIGHT_WANTS
from simkit.report.sentences_nights import WANTS, assessed
from tests.report.option_plant import write_option_plant

HOW = {"replications": 2, "workers": 1, "progress": False, "weeks": 1.0, "demand": 8.0}
BY_MACHINE = {"elements[load].task_of": "machine", "programs[*].cut_length_mm*": 20.0}
"""Changes with which the machine has work for the night, and loads itself."""


@pytest.fixture(scope="module")
def plant(tmp_path_factory):
    return sk.read_plant(write_option_plant(tmp_path_factory.mktemp("nights") / "plant"))


@pytest.fixture(scope="module")
def study(plant):
    night = plant.night_options()
    cases = plant.scenarios({"Today": [], "With the night": night}, BY_MACHINE)
    steps = plant.night_fixes(night)
    return sk.simulate([*cases, *(plant.scenario(n, night, {**BY_MACHINE, **c}) for n, c in steps.items())], **HOW)


def test_options_that_allow_the_night_come_with_what_they_need(plant):
    assert plant.night_options() == ["A4", "C1"]


def test_fixes_are_steps_one_on_top_of_the_other(plant):
    ladder = list(plant.night_fixes("A4+C1").values())
    assert len(ladder) > 3
    for before, after in pairwise(ladder):
        assert before.items() <= after.items()
        assert len(after) > len(before)
    assert plant.night_fixes() == {}


def test_hours_a_night_are_means_of_the_records(study):
    table = study.night_hours().set_index("scenario")
    nights = study.nights("With the night", 2)
    worked = nights.groupby("replication")["running_h"].mean().mean()
    assert table.loc["With the night", "worked_h"] == pytest.approx(worked)
    assert "Today" not in table.index
    last = table.iloc[-1]
    assert last["worked_h"] >= table.iloc[0]["worked_h"]
    steps = table["worked_h"].diff().iloc[1:]
    assert table["more_than_above_h"].iloc[1:].tolist() == pytest.approx(steps.tolist())


def test_ends_hold_every_night_and_every_hour_lost(study):
    table, nights = study.night_ends("With the night"), study.nights("With the night", 2)
    assert table["nights_per_week"].sum() == pytest.approx(len(nights) / 2)
    assert table["lost_h_per_week"].sum() == pytest.approx(nights["lost_h"].sum() / 2)
    assert table["of_the_nights_share"].sum() == pytest.approx(1.0)


def test_every_want_has_words_and_what_can_be_done_before_leaving():
    assert set(WANTS) == set(NIGHT_WANTS)


def test_the_morning_finds_what_the_records_hold(study):
    table = study.mornings("With the night").set_index("the_morning_finds")
    nights = study.nights("With the night", 2)
    mean = nights.groupby("replication")["sheets"].mean().mean()
    assert table.loc["sheets made at night", "after_a_night"] == pytest.approx(mean)


def test_demands_say_what_runs_unattended(study):
    table = study.demands("With the night").set_index("scenario")
    assert table.loc["Today", "unattended_h_per_week"] == 0
    assert table.loc["With the night", "unattended_h_per_week"] > 0
    assert study.demands("With the night").attrs["title"].startswith("With the night")


def test_the_answer_says_who_assessed_and_ends_with_the_caution(study):
    said = sk.answer(study, about="nights")
    assert said.head == "Unattended running was assessed by safety group, on 2026-01-02."
    assert said.sentences[-1].subject == "caution"
    assert "no night is declared safe" in said.text
    assert assessed("nobody: invented", "2026-01-01") == "Nobody has assessed unattended running"


def test_nothing_is_shown_without_an_assessment_or_without_nights(plant):
    silent = plant.scenario("Silent", "A4+C1", {"plant.calendar.night.assessed_by": "nobody"})
    study = sk.simulate([plant.scenario("Today"), silent], **HOW)
    assert sk.answer(study, about="nights").head == "Nobody has assessed unattended running."
    none = sk.simulate(plant.scenario("Today"), **HOW)
    assert none.night_hours().empty
    assert "allows unattended running" in none.night_hours().attrs["title"]
    assert none.night_ends("Today").empty
    assert "allows unattended running" in sk.answer(none, about="nights").text
