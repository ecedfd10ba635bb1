"""Wall time to elapsed seconds: shifts, breaks, overtime windows, nights and duties.

Elapsed seconds count from local midnight of the first simulated day. A day of a clock change has 23 or
25 hours; a shift given in wall time is shorter or longer on that day, as it is in the plant. A wall time that does not
exist, in the hour that a clock change skips, is the moment an hour later on the clock; one that comes twice is the
first. A break keeps its length. What would end before it starts, because it lies in the skipped hour, does not happen.
"""

from __future__ import annotations

import datetime as dt
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate
from zoneinfo import ZoneInfo

from simkit.base.keeping import kept
from simkit.base.units import SECONDS_PER_DAY, SECONDS_PER_MINUTE
from simkit.base.vocabulary import ALWAYS, WEEKDAYS
from simkit.plant.conditions import parse_duties
from simkit.plant.plant import PlantInputs
from simkit.plant.settings import Calendar, Shift, WeeklyWindow
from simkit.plant.tables import Person
from simkit.plant.values import minutes_between

AT_MACHINE = frozenset(("load", "unload", "changeover"))
"""Skills of who works at a machine."""

Span = tuple[float, float]
"""A stretch of elapsed time: from (included) to (excluded), s."""


@dataclass(frozen=True)
class ShiftPlan:
    """The simulated calendar in elapsed seconds. Every list is sorted and free of overlaps.

    ``attended``: any shift, breaks included. ``nights``: where unattended running is allowed. ``visits``: shifts, or
    parts of them, inside a window in which it is allowed: somebody visits the night.
    ``overtime``: windows worked only when asked. ``person``: per person, windows of work without breaks.
    ``person_overtime``: per person, whether the person works overtime windows; ``person_absent``: per person, the days
    on which he or she is absent (empty: nobody ever is). ``shift_spans``, ``break_spans``:
    each shift of each day, and each break in it, with the shift's name.
    """

    day_start: tuple[float, ...]
    attended: tuple[Span, ...]
    nights: tuple[Span, ...]
    visits: tuple[Span, ...]
    overtime: tuple[Span, ...]
    person: tuple[tuple[Span, ...], ...]
    person_overtime: tuple[bool, ...]
    shift_spans: tuple[tuple[str, float, float], ...]
    break_spans: tuple[tuple[str, float, float], ...]
    person_absent: tuple[frozenset[int], ...] = ()

    def works_overtime(self, person: int, window: Span) -> bool:
        """Whether a person works an overtime window: not on a day on which he or she is absent."""
        absent = self.person_absent[person] if self.person_absent else frozenset()
        return self.person_overtime[person] and self.day_of(window[0]) not in absent

    def is_manned(self, people: Sequence[Person], window: Span) -> bool:
        """Whether an overtime window is worked: not if all who would come to it for the machines are absent."""
        rows = [row for row, person in enumerate(people) if self.person_overtime[row]
                and not AT_MACHINE.isdisjoint(person.skills)]  # fmt: skip
        return not rows or any(self.works_overtime(row, window) for row in rows)

    @property
    def open_days(self) -> tuple[int, ...]:
        """Days on which a shift starts."""
        days = {self.day_of(start) for start, _ in self.attended}
        return tuple(sorted(days))

    def day_of(self, elapsed_s: float) -> int:
        """Number of the day in which this moment lies."""
        day = int(elapsed_s // SECONDS_PER_DAY)
        while day + 1 < len(self.day_start) and self.day_start[day + 1] <= elapsed_s:
            day += 1
        while self.day_start[day] > elapsed_s:
            day -= 1
        return day


class CoveredTime:
    """How much of some spans (sorted, disjoint) lies between two moments, by sums made once."""

    def __init__(self, spans: Sequence[Span]) -> None:
        self._spans, self._starts = spans, [start for start, _ in spans]
        self._before = list(accumulate((end - start for start, end in spans), initial=0.0))

    def between_s(self, from_s: float, until_s: float) -> float:
        """Seconds from one moment to another."""
        return self.until_s(until_s) - self.until_s(from_s)

    def until_s(self, moment_s: float) -> float:
        """Seconds before a moment."""
        at = bisect_right(self._starts, moment_s)
        if not at:
            return 0.0
        start, end = self._spans[at - 1]
        return self._before[at - 1] + min(moment_s, end) - start


class _Wall:
    """Converts wall time of the simulated days to elapsed seconds."""

    def __init__(self, first_day: dt.date, zone: str) -> None:
        self.first_day, self.zone = first_day, ZoneInfo(zone)
        self.origin = self._utc(first_day, dt.time(0, 0))

    def _utc(self, day: dt.date, clock: dt.time) -> dt.datetime:
        return dt.datetime.combine(day, clock, tzinfo=self.zone).astimezone(dt.UTC)

    def elapsed(self, day: int, clock: str) -> float:
        hour, minute = clock.split(":")
        date = self.first_day + dt.timedelta(days=day)
        return (self._utc(date, dt.time(int(hour), int(minute))) - self.origin).total_seconds()

    def span(self, day: int, start: str, end: str) -> Span:
        """From start to end; an end that is not after the start lies on the next day."""
        return self.elapsed(day, start), self.elapsed(day + (end <= start), end)

    def inside(self, day: int, shift_start: str, start: str, end: str) -> Span:
        """A break of a shift that started on ``day``; clock times before the shift start are next day's."""
        begins = self.elapsed(day + (start < shift_start), start)
        return begins, begins + minutes_between(start, end) * SECONDS_PER_MINUTE


@kept
def plan_shifts(plant: PlantInputs, days: int) -> ShiftPlan:
    """Lay the plant's calendar out over ``days`` days from ``run.start_monday``."""
    settings = plant.settings
    wall = _Wall(settings.run.start_monday, settings.time_zone)
    calendar = settings.calendar
    worked = {shift.name: _shift_days(plant, shift, wall, days) for shift in calendar.shifts}
    shift_spans = sorted((a, b, name) for name, spans in worked.items() for a, b, _ in spans)
    breaks = sorted((x, y, name) for name, spans in worked.items() for *_, pauses in spans for x, y in pauses)
    closed = _closed_days(plant)
    overtime = _windows(calendar.overtime, wall, days, closed)
    allowed = _windows(calendar.night.windows, wall, days, closed) if calendar.night.rule != "not_allowed" else ()
    attended = merged((a, b) for a, b, _ in shift_spans)
    return ShiftPlan(
        day_start=tuple(wall.elapsed(day, "00:00") for day in range(days + 1)),
        attended=attended,
        nights=without(allowed, attended),
        visits=without(attended, without(attended, allowed)),
        overtime=without(overtime, attended),
        person=tuple(_person_windows(person, worked, wall, days, calendar.handover_min) for person in plant.people),
        person_overtime=tuple(_comes_to_overtime(person, calendar) for person in plant.people),
        shift_spans=tuple((name, a, b) for a, b, name in shift_spans),
        break_spans=tuple((name, a, b) for a, b, name in breaks),
    )


def plan_from(plant: PlantInputs, first_day: dt.date, days: int) -> ShiftPlan:
    """The plant's calendar laid out from another day."""
    run = plant.settings.run.model_copy(update={"start_monday": first_day})
    return plan_shifts(replace(plant, settings=plant.settings.model_copy(update={"run": run})), days)


def _comes_to_overtime(person: Person, calendar: Calendar) -> bool:
    if calendar.overtime_people:
        return person.person_id in calendar.overtime_people
    return person.shift in (calendar.overtime_shift or calendar.shifts[0].name, ALWAYS) if calendar.shifts else False


def _shift_days(
    plant: PlantInputs, shift: Shift, wall: _Wall, days: int
) -> list[tuple[float, float, tuple[Span, ...]]]:
    """Each day's (start, end, breaks) of one shift."""
    closed = set(plant.settings.calendar.closed_days)
    changes = {(row.date, row.shift or shift.name): row for row in plant.calendar if row.shift in ("", shift.name)}
    found = []
    for day in range(days):
        date = wall.first_day + dt.timedelta(days=day)
        change = changes.get((date, shift.name))
        regular = WEEKDAYS[date.weekday()] in shift.days and date not in closed
        works = regular if change is None else change.change != "closed" and (regular or change.change == "added")
        if not works:
            continue
        start = change.start if change and change.start else shift.start
        end = change.end if change and change.end else shift.end
        a, b = wall.span(day, start, end)
        if b <= a:
            continue
        breaks = (wall.inside(day, start, *pause) for pause in shift.breaks)
        found.append((a, b, tuple((x, y) for x, y in breaks if a <= x and y <= b)))
    return found


def _closed_days(plant: PlantInputs) -> frozenset[dt.date]:
    """Days on which nothing starts: closed for all, unless a row of calendar.csv adds a shift."""
    rows = plant.calendar
    for_all = {row.date for row in rows if row.change == "closed" and not row.shift}
    added = {row.date for row in rows if row.change == "added"}
    return frozenset({*plant.settings.calendar.closed_days, *for_all} - added)


def _windows(
    windows: Iterable[WeeklyWindow], wall: _Wall, days: int, closed: frozenset[dt.date] = frozenset()
) -> tuple[Span, ...]:
    """Windows of wall time; none starts on a closed day, and one that began the day before runs on."""
    spans = []
    for day in range(days):
        date = wall.first_day + dt.timedelta(days=day)
        if date not in closed:
            name = WEEKDAYS[date.weekday()]
            spans += [wall.span(day, window.start, window.end) for window in windows if name in window.days]
    return merged((a, b) for a, b in spans if a < b)


def _person_windows(
    person: Person, worked: dict[str, list[tuple[float, float, tuple[Span, ...]]]], wall: _Wall, days: int,
    handover_min: float,
) -> tuple[Span, ...]:  # fmt: skip
    if person.shift == ALWAYS:
        return ((0.0, wall.elapsed(days, "00:00")),)
    spans: list[Span] = []
    for a, b, breaks in worked.get(person.shift, []):
        spans += without([(a, b)], breaks)
    away = (*_windows(parse_duties(person.duties), wall, days), *_handovers(person.shift, worked, handover_min))
    return without(merged(spans), away)


def _handovers(
    shift: str, worked: dict[str, list[tuple[float, float, tuple[Span, ...]]]], handover_min: float
) -> list[Span]:
    """When a shift's crew talks with another: the first minutes of a shift that starts as the other ends, or in it."""
    if handover_min <= 0:
        return []
    spans = [(name, a, b) for name, found in worked.items() for a, b, _ in found]
    length_s = handover_min * SECONDS_PER_MINUTE
    return [
        (start, start + length_s)
        for name, start, _ in spans
        for other, a, b in spans
        if shift in (name, other) and name != other and a < start <= b
    ]


def crew_spans(
    people: Iterable[Person], windows: Iterable[Sequence[Span]], attended: Sequence[Span]
) -> tuple[Span, ...]:
    """The attended hours in which somebody who works at a machine is there: breaks only while covered.

    All attended hours where nobody works at a machine.
    """
    rows = zip(people, windows, strict=True)
    there = [window for person, spans in rows if not AT_MACHINE.isdisjoint(person.skills) for window in spans]
    return without(attended, without(attended, there)) if there else tuple(attended)


def merged(spans: Iterable[Span]) -> tuple[Span, ...]:
    """Sorted union of spans; touching ones become one."""
    result: list[Span] = []
    for start, end in sorted(spans):
        if result and start <= result[-1][1]:
            result[-1] = (result[-1][0], max(end, result[-1][1]))
        else:
            result.append((start, end))
    return tuple(result)


def without(spans: Iterable[Span], holes: Iterable[Span]) -> tuple[Span, ...]:
    """The spans (sorted, disjoint) with the holes cut out."""
    cuts = merged(holes)
    pieces: list[Span] = []
    first = 0
    for start, end in spans:
        while first < len(cuts) and cuts[first][1] <= start:
            first += 1
        at = first
        while at < len(cuts) and cuts[at][0] < end:
            if start < cuts[at][0]:
                pieces.append((start, cuts[at][0]))
            start = max(start, cuts[at][1])
            at += 1
        if start < end:
            pieces.append((start, end))
    return tuple(pieces)


def longest_common_s(calendars: Iterable[Iterable[Span]]) -> float:
    """Seconds of the longest stretch that lies in all of these calendars; 0 when there is none."""
    common: list[Span] = [(0.0, float("inf"))]
    for spans in calendars:
        inside = merged(spans)
        common = [(max(a, x), min(b, y)) for a, b in common for x, y in inside if max(a, x) < min(b, y)]
    return max((b - a for a, b in common), default=0.0)
