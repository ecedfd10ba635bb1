"""The calendar before anything is run: days, sums and sentences, by hand."""

from __future__ import annotations

import dataclasses
import datetime as dt
from typing import Any

import pytest

from simkit.base.messages import BadInput
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import CalendarDay, Person
from simkit.process.preview import AWAY, BREAK, NIGHT, ON_CALL_STATE, OVERTIME, WORK, calendar_preview, first_day
from tests.small_plant import MONDAY, WORKDAYS, changed_settings, small_plant

EVERY_NIGHT = {"rule": "allowed", "assessed_by": "a test", "assessed_on": "2026-01-01", "windows": (
    {"days": (*WORKDAYS, "Sat", "Sun"), "start": "22:00", "end": "06:00"},)}  # fmt: skip


def berlin(**changes: Any) -> PlantInputs:
    plant = small_plant(**changes)
    return dataclasses.replace(plant, settings=plant.settings.model_copy(update={"time_zone": "Europe/Berlin"}))


def test_a_day_splits_into_attended_unattended_and_closed() -> None:
    preview = calendar_preview(berlin(calendar={"night": EVERY_NIGHT}), MONDAY, 7)
    assert [(day.attended_h, day.unattended_h, day.closed_h) for day in preview.days] == [(16, 8, 0)] * 5 + [
        (0, 8, 16)
    ] * 2
    assert preview.zone == "Europe/Berlin"


def test_what_began_on_the_day_before_is_seen() -> None:
    sunday = {**EVERY_NIGHT, "windows": ({"days": ("Sun",), "start": "22:00", "end": "06:00"},)}
    preview = calendar_preview(berlin(calendar={"night": sunday}), MONDAY, 1)
    assert preview.days[0].rows[2].pieces == ((NIGHT, 0.0, 6.0),)


def test_a_persons_row_shows_work_breaks_duties_and_overtime() -> None:
    people = (Person(person_id="A", skills=("load",), shift="early", duties="Mon-Fri 08:00-09:05"),
              Person(person_id="B", skills=("clear",), shift="on_call"))  # fmt: skip
    overtime = ({"days": ("Sat",), "start": "06:00", "end": "12:00"},)
    preview = calendar_preview(berlin(people=people, calendar={"night": EVERY_NIGHT, "overtime": overtime}), MONDAY, 6)
    rows = {row.name: row for row in preview.days[0].rows}
    assert rows["A"].pieces == (
        (WORK, 6, 8),
        (AWAY, 8, 9),
        (BREAK, 9, 9.25),
        (WORK, 9.25, 11.5),
        (BREAK, 11.5, 12),
        (WORK, 12, 14),
    )
    assert rows["A"].hours == 6.25
    assert rows["B"].pieces == ((ON_CALL_STATE, 0, 6), (ON_CALL_STATE, 22, 24))
    saturday = {row.name: row for row in preview.days[5].rows}
    assert saturday["A"].pieces == saturday["overtime"].pieces == ((OVERTIME, 6, 12),)
    assert (saturday["A"].hours, preview.days[5].overtime_h) == (6, 6)


@pytest.mark.parametrize(("monday", "length_h", "word", "night_h"), [
    (dt.date(2026, 3, 23), 23, "skipped", 7), (dt.date(2026, 10, 19), 25, "comes twice", 9),
])  # fmt: skip
def test_a_clock_change_is_told_with_its_hours(monday: dt.date, length_h: int, word: str, night_h: int) -> None:
    preview = calendar_preview(berlin(calendar={"night": EVERY_NIGHT}), monday, 7)
    sunday = preview.days[6]
    assert (sunday.length_h, sunday.unattended_h, len(sunday.clock)) == (length_h, night_h, length_h)
    (told,) = [sentence for sentence in preview.sentences if "clock change" in sentence]
    assert told.startswith(f"Sunday {sunday.date.day} ")
    assert f"has {length_h} hours in Europe/Berlin, since an hour" in told
    assert word in told
    assert f"0 h of it are attended and {night_h} h open unattended" in told


def test_the_clock_skips_two_and_says_two_twice() -> None:
    spring, autumn = (calendar_preview(berlin(), monday, 7).days[6].clock
                      for monday in (dt.date(2026, 3, 23), dt.date(2026, 10, 19)))  # fmt: skip
    assert spring[:4] == (0, 1, 3, 4)
    assert autumn[:5] == (0, 1, 2, 2, 3)


def test_closed_moved_and_added_days_are_named() -> None:
    plant = berlin(calendar={"closed_days": (MONDAY,)})
    rows = (CalendarDay(date=MONDAY + dt.timedelta(1), note="stocktaking"),
            CalendarDay(date=MONDAY + dt.timedelta(2), shift="late", change="moved", end="20:00"))  # fmt: skip
    preview = calendar_preview(dataclasses.replace(plant, calendar=rows), MONDAY, 7)
    assert preview.sentences[:3] == (
        "Monday 5 January 2026 is closed (plant.toml calendar.closed_days).",
        "Tuesday 6 January 2026: every shift is closed (calendar.csv): stocktaking.",
        "Wednesday 7 January 2026: shift late is moved (as usual to 20:00) (calendar.csv).",
    )
    assert [day.attended_h for day in preview.days] == [0, 0, 14, 16, 16, 0, 0]


def test_hours_that_nobody_covers_are_told() -> None:
    people = (Person(person_id="A", skills=("load", "clear"), shift="early"),
              Person(person_id="B", skills=("load",), shift="late"))  # fmt: skip
    told = calendar_preview(berlin(people=people), MONDAY, 1).sentences
    assert told == (
        "In 1.5 attended hours (breaks included) nobody is at work for: load.",
        "In 8.75 attended hours (breaks included) nobody is at work for: clear.",
    )


def test_hours_of_a_year_add_up() -> None:
    plant = berlin(calendar={"night": EVERY_NIGHT})
    days = calendar_preview(plant, dt.date(2026, 1, 1), 365).days
    assert sum(day.length_h for day in days) == 365 * 24
    assert all(day.attended_h + day.unattended_h + day.closed_h == day.length_h for day in days)
    assert sum(day.attended_h for day in days) == 261 * 16


def test_the_run_starts_the_preview_unless_a_date_is_given() -> None:
    plant = small_plant()
    assert first_day("", plant) == MONDAY
    assert first_day("2026-03-30", plant) == dt.date(2026, 3, 30)
    with pytest.raises(BadInput, match=r'--from "30.3.": is not a date'):
        first_day("30.3.", plant)


def test_the_preview_is_the_calendar_of_the_run() -> None:
    """The same attended hours as the plan that is simulated."""
    from simkit.process.shifts import plan_shifts

    plant = changed = berlin()
    settings = changed_settings(plant.settings, {"calendar": {"handover_min": 10.0}})
    changed = dataclasses.replace(plant, settings=settings)
    plan = plan_shifts(changed, 7)
    days = calendar_preview(changed, MONDAY, 7).days
    for number, person in enumerate(changed.people):
        shown = sum(row.hours for day in days for row in day.rows if row.name == person.person_id)
        assert shown == pytest.approx(sum(b - a for a, b in plan.person[number]) / 3600)
