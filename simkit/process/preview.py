"""The calendar as it will be simulated, day by day in wall time, before anything is run."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from simkit.base.messages import BadInput, Finding
from simkit.base.units import SECONDS_PER_HOUR
from simkit.base.vocabulary import ALWAYS, ON_CALL
from simkit.plant.plant import PlantInputs
from simkit.process.shifts import ShiftPlan, Span, merged, plan_from, without

WORK, BREAK, AWAY, NIGHT, ON_CALL_STATE, OVERTIME = "work", "break", "elsewhere", "night", "on call", "overtime"
"""States of a row: ``elsewhere`` are duties, and talks at a shift change; ``overtime`` is worked only when asked."""

Piece = tuple[str, float, float]
"""State, and start and end in hours elapsed since the day's midnight."""


@dataclass(frozen=True)
class PreviewRow:
    """A shift, the overtime or night windows, or a person on one day."""

    name: str
    pieces: tuple[Piece, ...]
    person: bool = False

    @property
    def hours(self) -> float:
        """Hours of work; where there is none, of the windows (night, overtime, on call)."""
        kinds = (WORK,) if any(state == WORK for state, *_ in self.pieces) else (NIGHT, OVERTIME, ON_CALL_STATE)
        return sum(b - a for state, a, b in self.pieces if state in kinds)


@dataclass(frozen=True)
class PreviewDay:
    """A day: its length, and its hours attended (shifts, breaks included), open unattended, and of overtime windows."""

    date: dt.date
    length_h: float
    attended_h: float
    unattended_h: float
    overtime_h: float
    clock: tuple[int, ...]
    rows: tuple[PreviewRow, ...]

    @property
    def closed_h(self) -> float:
        """Hours in which nothing may run, overtime windows included unless they are worked."""
        return self.length_h - self.attended_h - self.unattended_h

    @property
    def pattern(self) -> tuple[object, ...]:
        """What two days have in common that look alike."""
        return self.length_h, self.clock, self.rows


@dataclass(frozen=True)
class Preview:
    """Days in time order; ``sentences`` name closed and changed days, clock changes, and hours nobody covers."""

    zone: str
    days: tuple[PreviewDay, ...]
    sentences: tuple[str, ...]


def first_day(text: str, plant: PlantInputs) -> dt.date:
    """The day that a user asks for, YYYY-MM-DD; empty: the first of the plant's run. Raises BadInput otherwise."""
    if not text:
        return plant.settings.run.start_monday
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        why, mend = "is not a date", "Write the first day of the calendar as in 2026-03-30"
        raise BadInput([Finding("--from", why, mend, value=text)]) from None


def calendar_preview(plant: PlantInputs, first_day: dt.date, days: int) -> Preview:
    """The plant's calendar over so many days; what began on the day before is seen too. Absence is luck, not shown."""
    before = first_day - dt.timedelta(1)
    plan = plan_from(plant, before, days + 2)
    zone = plant.settings.time_zone
    rows = tuple(_resources(plant, plan))
    found = tuple(_day(plan, number, before, zone, rows) for number in range(1, days + 1))
    covered = (plan.day_start[1], plan.day_start[days + 1])
    changes = (*_changed_days(plant, found), *_clock_changes(found, zone))
    sentences = (*changes, *_uncovered(plant, plan, covered), *_night_rule(plant, found))
    return Preview(zone, found, tuple(sentences))


Resource = tuple[str, list[tuple[str, float, float]], bool]
"""A row over all days: its name, its pieces in elapsed seconds, and whether it is a person's."""


def _resources(plant: PlantInputs, plan: ShiftPlan) -> Iterator[Resource]:
    for shift in plant.settings.calendar.shifts:
        spans = [(a, b) for name, a, b in plan.shift_spans if name == shift.name]
        breaks = [(a, b) for name, a, b in plan.break_spans if name == shift.name]
        yield f"shift {shift.name}", [*_as(WORK, without(merged(spans), breaks)), *_as(BREAK, breaks)], False
    if plan.overtime:
        yield "overtime", _as(OVERTIME, plan.overtime), False
    if plan.nights:
        yield "night", _as(NIGHT, plan.nights), False
    for row, person in enumerate(plant.people):
        windows = plan.person[row]
        if person.shift == ON_CALL:
            yield person.person_id, _as(ON_CALL_STATE, plan.nights), True
            continue
        own_shift = merged((a, b) for name, a, b in plan.shift_spans if name == person.shift)
        pauses = merged((a, b) for name, a, b in plan.break_spans if name == person.shift)
        away = without(without(own_shift, windows), pauses)
        extra = plan.overtime if plan.person_overtime[row] and person.shift != ALWAYS else ()
        rest = [*_as(BREAK, pauses), *_as(AWAY, away), *_as(OVERTIME, extra)]
        yield person.person_id, [*_as(WORK, windows), *rest], True


def _as(state: str, spans: Iterable[Span]) -> list[tuple[str, float, float]]:
    return [(state, a, b) for a, b in spans]


def _day(plan: ShiftPlan, number: int, before: dt.date, zone: str, rows: Iterable[Resource]) -> PreviewDay:
    span = (plan.day_start[number], plan.day_start[number + 1])
    date = before + dt.timedelta(number)
    length_h = (span[1] - span[0]) / SECONDS_PER_HOUR
    return PreviewDay(
        date=date,
        length_h=length_h,
        attended_h=_hours(plan.attended, span),
        unattended_h=_hours(plan.nights, span),
        overtime_h=_hours(plan.overtime, span),
        clock=_wall_hours(date, zone, int(length_h)),
        rows=tuple(
            PreviewRow(name, pieces, person)
            for name, spans, person in rows
            if (pieces := tuple(sorted(_cut(spans, span), key=lambda piece: piece[1])))
        ),
    )


def _cut(pieces: Iterable[tuple[str, float, float]], day: Span) -> Iterator[Piece]:
    """Pieces inside a day, in hours from its midnight."""
    for state, a, b in pieces:
        start, end = max(a, day[0]), min(b, day[1])
        if start < end:
            yield state, (start - day[0]) / SECONDS_PER_HOUR, (end - day[0]) / SECONDS_PER_HOUR


def _hours(spans: Iterable[Span], day: Span) -> float:
    return sum(max(min(b, day[1]) - max(a, day[0]), 0.0) for a, b in spans) / SECONDS_PER_HOUR


def _wall_hours(date: dt.date, zone: str, hours: int) -> tuple[int, ...]:
    """What the clock says at each full hour that has elapsed since midnight."""
    midnight = dt.datetime.combine(date, dt.time(0), tzinfo=ZoneInfo(zone)).astimezone(dt.UTC)
    return tuple((midnight + dt.timedelta(hours=hour)).astimezone(ZoneInfo(zone)).hour for hour in range(hours))


def _changed_days(plant: PlantInputs, days: Iterable[PreviewDay]) -> Iterator[str]:
    closed = set(plant.settings.calendar.closed_days)
    for day in days:
        rows = [row for row in plant.calendar if row.date == day.date]
        if day.date in closed and not any(row.change == "added" for row in rows):
            yield f"{long_date(day.date)} is closed (plant.toml calendar.closed_days)."
        for row in rows:
            who = f"shift {row.shift}" if row.shift else "every shift"
            times = f" ({row.start or 'as usual'} to {row.end or 'as usual'})" if row.start or row.end else ""
            note = f": {row.note}" if row.note else ""
            yield f"{long_date(day.date)}: {who} is {row.change}{times} (calendar.csv){note}."


def _clock_changes(days: Iterable[PreviewDay], zone: str) -> Iterator[str]:
    for day in days:
        if day.length_h != 24:
            more = "an hour comes twice" if day.length_h > 24 else "an hour is skipped"
            yield (
                f"{long_date(day.date)} has {day.length_h:g} hours in {zone}, since {more} at the clock change; "
                f"{day.attended_h:g} h of it are attended and {day.unattended_h:g} h open unattended."
            )


def _night_rule(plant: PlantInputs, days: Iterable[PreviewDay]) -> Iterator[str]:
    """Who assessed unattended running, and when somebody on call comes; nothing where no night is open."""
    if not any(day.unattended_h for day in days):
        return
    night = plant.settings.calendar.night
    yield f"Unattended running, assessed by: {night.assessment}."
    called = [person.person_id for person in plant.people if person.shift == ON_CALL]
    if called and night.on_call_response_min is not None:
        yield (
            f"On call in these hours: {', '.join(called)}, there {night.on_call_response_min:g} min after a call; "
            f"calls a night at most: {night.on_call_calls_per_night}."
        )


def _uncovered(plant: PlantInputs, plan: ShiftPlan, span: Span) -> Iterator[str]:
    """Attended hours in which nobody with a skill that somebody has is there."""
    skills = dict.fromkeys(skill for person in plant.people for skill in person.skills if person.shift != ON_CALL)
    gaps: dict[float, list[str]] = {}
    for skill in skills:
        people = zip(plant.people, plan.person, strict=True)
        there = merged(w for person, windows in people if skill in person.skills for w in windows)
        gaps.setdefault(_hours(without(plan.attended, there), span), []).append(skill)
    for hours, names in sorted(gaps.items()):
        if hours > 0:
            spoken = ", ".join(name.replace("_", " ") for name in names)
            yield f"In {hours:g} attended hours (breaks included) nobody is at work for: {spoken}."


def long_date(date: dt.date) -> str:
    """A date as people say it, as in Tuesday 6 January 2026."""
    return f"{date:%A} {date.day} {date:%B %Y}"
