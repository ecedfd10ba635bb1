"""Findings about nights, people on call, early life and isolation."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

import pytest

from simkit.plant.reading import check_plant
from simkit.plant.tables import Person
from tests.small_plant import small_people, small_stops, small_upkeep, write_small_plant

NIGHT = {"rule": "allowed", "windows": ({"days": ("Mon",), "start": "22:00", "end": "06:00"},),
         "assessed_by": "a test", "assessed_on": "2026-01-01"}  # fmt: skip
ON_CALL = Person(person_id="CALL", skills=("clear",), shift="on_call")
SHARED = Person(person_id="SET", skills=("clear",), shift="early", elsewhere_per_h=3.0)
EARLY = tuple(dataclasses.replace(stop, early_factor=3.0, settle_weeks=6.0) for stop in small_stops())
BARE = tuple(dataclasses.replace(task, isolation_min=0.0) for task in small_upkeep())

CASES: dict[str, tuple[dict[str, Any], str, str]] = {
    "on call without a response time": (
        {"people": (*small_people(), ON_CALL), "calendar": {"night": NIGHT}}, "error", "nobody is ever called"),
    "on call for nights that are not allowed": (
        {"people": (*small_people(), ON_CALL), "calendar": {"night": {"on_call_response_min": 30.0}}}, "note",
        "nights that are not allowed"),
    "a response time without anybody": (
        {"calendar": {"night": {**NIGHT, "on_call_response_min": 30.0}}}, "note", "nobody is on call"),
    "whole sheets that nobody takes away": (
        {"stack": {"places": 9}, "rules": {"before_leaving": ["output"], "before_leaving_min": 60.0}}, "note",
        "none is taken away"),
    "calendar hours of attended hours": (
        {"stops": (dataclasses.replace(small_stops()[0], exposure="calendar_hour", acts="attended"),)}, "error",
        "calendar hours pass"),
    "a cause of all hours and of some": (
        {"stops": (*small_stops(), dataclasses.replace(small_stops()[0], acts="unattended"))}, "error",
        "counted twice"),
    "early life and a ramp": ({"stops": EARLY}, "error", "the start is counted twice"),
    "calls to other cells without a length": (
        {"people": (*small_people(), SHARED), }, "note", "calls without a length"),
    "calls that never end": (
        {"people": (*small_people(), dataclasses.replace(SHARED, elsewhere_min=20.0))}, "error", "fill more than"),
    "on call and elsewhere": (
        {"people": (*small_people(), dataclasses.replace(ON_CALL, elsewhere_min=5.0)),
         "calendar": {"night": {**NIGHT, "on_call_response_min": 30.0}}}, "note", "never works elsewhere"),
    "no isolation": ({"upkeep": BARE}, "note", "no time to isolate"),
    "no isolation in a guarded cell": ({"upkeep": BARE, "removal": {"pickers": 1}}, "error", "enters the guarded cell"),
}  # fmt: skip


def test_listed_intervals_of_nothing_would_stop_a_machine_for_ever(tmp_path: Path) -> None:
    listed = dataclasses.replace(small_stops()[1], file="gaps.csv")
    folder = write_small_plant(tmp_path / "p", stops=(listed,), sequences={"gaps.csv": (0.0,), "gaps.csv:repair": (1,)})
    (folder / "gaps.csv").write_text("interval_h,repair_min\n0,1\n0,2\n", encoding="utf-8")
    assert any("every interval between two stops is 0" in finding.why for finding in check_plant(folder)[1])
    (folder / "gaps.csv").write_text("interval_h,repair_min\n0,1\n2,2\n", encoding="utf-8")
    assert not any("interval" in finding.why for finding in check_plant(folder)[1])


def told(folder: Path, **changes: Any) -> list[tuple[str, str]]:
    _, findings = check_plant(write_small_plant(folder, **changes))
    return [(finding.severity, finding.why) for finding in findings]


@pytest.mark.parametrize("case", CASES)
def test_what_is_wrong_is_told(case: str, tmp_path: Path) -> None:
    changes, severity, why = CASES[case]
    assert any(how == severity and why in text for how, text in told(tmp_path / "plant", **changes))


def test_a_whole_on_call_rule_and_settled_stops_are_clean(tmp_path: Path) -> None:
    night = {**NIGHT, "on_call_response_min": 30.0}
    people = (*small_people(), ON_CALL)
    found = told(tmp_path / "plant", people=people, calendar={"night": night}, finance={"ramp_months": 0.0},
                 stops=EARLY)  # fmt: skip
    words = ("called", "on call", "counted twice", "isolate")
    assert [text for _, text in found if any(word in text for word in words)] == []


def test_only_somebody_on_call_is_nobody_by_day(tmp_path: Path) -> None:
    """Who comes only at night does not qualify the cell for a task of the day."""
    people = tuple(dataclasses.replace(person, skills=tuple(s for s in person.skills if s != "technician"))
                   for person in small_people())  # fmt: skip
    call = dataclasses.replace(ON_CALL, skills=("technician",))
    night = {**NIGHT, "on_call_response_min": 30.0}
    found = told(tmp_path / "plant", people=(*people, call), calendar={"night": night})
    assert any(how == "error" and "nobody in people.csv has this skill" in text for how, text in found)
