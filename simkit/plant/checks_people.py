"""Checks of people and rules: qualification, shifts, calendar, nights, masses to lift."""

from __future__ import annotations

import zoneinfo
from collections.abc import Iterable, Iterator, Mapping
from itertools import combinations
from typing import Any

from simkit.base.messages import Finding, note
from simkit.base.vocabulary import ALWAYS, ON_CALL, TASKS, WEEKDAYS
from simkit.plant.check_register import reads, row_error, row_note
from simkit.plant.plant import PlantInputs
from simkit.plant.settings import Shift
from simkit.plant.tables import Person
from simkit.plant.values import WALL_TIME, minutes_between, near

CAUTION = (
    "This is a planning limit of the plant, not a safety assessment: the plant's own rules for lifting by hand apply"
)


@reads("elements", "stops", "load_faults", "upkeep", "people")
def qualified_people(plant: PlantInputs) -> Iterator[Finding]:
    """Somebody is qualified for every task that takes time."""
    skills = {skill for person in plant.people if person.shift != ON_CALL for skill in person.skills}
    needs: list[tuple[Any, str, str, str]] = [
        *((row, "task_of", row.task_of, row.element) for row in plant.elements if row.typical > 0),
        *((row, "clears", row.clears, row.cause) for row in plant.stops if row.rate > 0),
        *((row, "clears", row.clears, row.fault) for row in plant.load_faults if row.rate > 0),
        *((row, "needs_person", "upkeep", row.task) for row in plant.upkeep if row.needs_person),
    ]
    lacking = [need for need in needs if need[2] not in skills and need[2] not in ("machine", "nobody")]
    for skill in dict.fromkeys(skill for _, _, skill, _ in lacking):
        row, column = next((row, column) for row, column, asked, _ in lacking if asked == skill)
        names = dict.fromkeys(name for _, _, asked, name in lacking if asked == skill)
        why = f"nobody in people.csv has this skill, which is needed for {', '.join(names)}"
        yield row_error(plant, row, column, why, "Add the skill to a person, or let another skill do the task", skill)


@reads("people", "settings")
def person_shifts(plant: PlantInputs) -> Iterator[Finding]:
    """Persons work in shifts that exist."""
    names = _shift_names(plant)
    for row in plant.people:
        if row.shift not in (*names, ALWAYS, ON_CALL):
            why = "is not a shift of the calendar in plant.toml"
            mend = f"Name a shift, or always, or on_call; {near(row.shift, [*names, ALWAYS, ON_CALL])}"
            yield row_error(plant, row, "shift", why, mend)


def _shift_names(plant: PlantInputs) -> list[str]:
    return [shift.name for shift in plant.settings.calendar.shifts]


def _strangers(column: str, names: Iterable[str], known: Iterable[str], what: str, mend: str) -> Iterator[Finding]:
    """Names in the settings that are not among the known ones."""
    known = list(known)
    for name in names:
        if name not in known:
            yield Finding("plant.toml", f"is not a {what}", f"{mend}; {near(name, known)}", column=column, value=name)


@reads("calendar", "settings")
def calendar_shifts(plant: PlantInputs) -> Iterator[Finding]:
    """Days that differ name a shift that exists."""
    names = _shift_names(plant)
    for row in plant.calendar:
        if row.shift and row.shift not in names:
            mend = f"Name a shift, or leave it empty for all; {near(row.shift, names)}"
            yield row_error(plant, row, "shift", "is not a shift of plant.toml", mend)


@reads("settings")
def weekly_pattern(plant: PlantInputs) -> Iterator[Finding]:
    """Times of day, weekdays, breaks and names of the calendar."""
    calendar = plant.settings.calendar
    runs: list[tuple[str, Any]] = [(f"calendar.shifts[{s.name}]", s) for s in calendar.shifts]
    runs += [(f"calendar.overtime[{i}]", w) for i, w in enumerate(calendar.overtime, 1)]
    runs += [(f"calendar.night.windows[{i}]", w) for i, w in enumerate(calendar.night.windows, 1)]
    for where, run in runs:
        for day in run.days:
            if day not in WEEKDAYS:
                mend = f"Write {', '.join(WEEKDAYS)}"
                yield Finding("plant.toml", "is not a weekday", mend, column=f"{where}.days", value=day)
        times = [("start", run.start), ("end", run.end)]
        times += [("breaks", text) for pair in getattr(run, "breaks", ()) for text in pair]
        bad = [(key, text) for key, text in times if not WALL_TIME.fullmatch(text)]
        for key, text in bad:
            mend = "Write HH:MM, 00:00 to 23:59"
            yield Finding("plant.toml", "is not a time of day", mend, column=f"{where}.{key}", value=text)
        if not bad:
            yield from _breaks_inside(where, run)
    if not any(shift.days for shift in calendar.shifts):
        yield Finding("plant.toml", "no shift has a day, so nobody ever works", "Write days", column="calendar.shifts")
    names = _shift_names(plant)
    for name in dict.fromkeys(n for n in names if names.count(n) > 1):
        yield Finding("plant.toml", "is the name of two shifts", "Rename one", column="calendar.shifts", value=name)
    named = filter(None, [calendar.overtime_shift])
    yield from _strangers("calendar.overtime_shift", named, names, "shift", "Name a shift")


@reads("people", "settings")
def overtime_crew(plant: PlantInputs) -> Iterator[Finding]:
    """Who comes to overtime is in people.csv."""
    known, named = [row.person_id for row in plant.people], plant.settings.calendar.overtime_people
    yield from _strangers("calendar.overtime_people", named, known, "person", "Name a person of people.csv")


def _breaks_inside(where: str, run: Any) -> Iterator[Finding]:
    """Breaks lie inside their shift and end after they start."""
    span = minutes_between(run.start, run.end) or 24 * 60
    for start, end in getattr(run, "breaks", ()):
        if minutes_between(run.start, start) + minutes_between(start, end) > span or start == end:
            why = f"does not lie inside the shift, {run.start} to {run.end}"
            value = f"{start}-{end}"
            yield Finding("plant.toml", why, "Correct the break", column=f"{where}.breaks", value=value)


@reads("settings")
def night_rule(plant: PlantInputs) -> Iterator[Finding]:
    """Unattended running has been assessed by somebody, on a day."""
    night = plant.settings.calendar.night
    if night.rule == "not_allowed":
        return
    for key in ("assessed_by", "assessed_on"):
        if not getattr(night, key):
            why = f"must be filled in when the night rule is {night.rule}"
            mend = (
                "Name who assessed unattended running and on which day, or set the rule to not_allowed; "
                "this kit plans and never declares unattended running safe"
            )
            yield Finding("plant.toml", why, mend, column=f"calendar.night.{key}")
    if not night.windows:
        mend = 'Add windows, as { days = ["Mon"], start = "22:00", end = "06:00" }'
        yield note("plant.toml", "allows nights but names no windows", mend, column="calendar.night.windows")


@reads("settings")
def rules_of_people(plant: PlantInputs) -> Iterator[Finding]:
    """Break rules and priorities name tasks; zone, first day, payments and demand path are whole."""
    settings = plant.settings
    yield from _strangers("people.break_rules", settings.people.break_rules, TASKS, "task", "Write a task")
    yield from _strangers("people.priorities", settings.people.priorities, TASKS, "task", "Write a task")
    try:
        zoneinfo.ZoneInfo(settings.time_zone)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        mend = f"Write an IANA name, as in Europe/Berlin; {near(settings.time_zone, zoneinfo.available_timezones())}"
        yield Finding("plant.toml", "is not a time zone", mend, column="time_zone", value=settings.time_zone)
    if settings.run.start_monday.weekday() != 0:
        value = str(settings.run.start_monday)
        yield Finding("plant.toml", "is not a Monday", "Write a Monday", column="run.start_monday", value=value)
    total = sum(share for _, share in settings.finance.payments)
    if abs(total - 1) > 1e-6:
        mend = "Make the shares of the stages sum to 1"
        yield Finding("plant.toml", "the shares do not sum to 1", mend, column="finance.payments", value=f"{total:g}")
    years = [step.from_year for step in settings.finance.demand]
    if years != sorted(set(years)) or years[:1] != [1]:
        mend = "Start with from_year = 1 and let the years rise"
        yield Finding("plant.toml", "the years do not rise from 1", mend, column="finance.demand", value=str(years))


@reads("programs", "materials", "people", "settings")
def heavy_sheets(plant: PlantInputs) -> Iterator[Finding]:
    """Sheets that one person may not handle have a lifter or a second person."""
    machine = plant.settings.machine
    people = plant.people
    able = [person for person in people if "second_person" in person.abilities and person.shift != ON_CALL]
    shifts = {shift.name: shift for shift in plant.settings.calendar.shifts}
    named = any("second_person" in person.skills for person in people)
    if machine.lifter or named or any(_meet(a, b, shifts) for a, b in combinations(able, 2)):
        return
    masses = [(plant.sheet_kg(row), row) for row in plant.programs if row.material_id in plant.material_by_id]
    heavy = [(mass, row) for mass, row in masses if mass > machine.one_person_kg]
    if heavy:
        heaviest, row = max(heavy, key=lambda pair: (pair[0], plant.line(pair[1])))
        why = (
            f"sheets of {len(heavy)} programs are above the plant's limit for one person, {machine.one_person_kg:g} kg "
            f"(heaviest {heaviest:.1f} kg), but there is no lifter and nobody who can help whoever handles them"
        )
        mend = f"Set machine.lifter = true if there is one, or give somebody else the skill second_person. {CAUTION}"
        yield row_error(plant, row, "", why, mend, "")


def _meet(one: Person, other: Person, shifts: Mapping[str, Shift]) -> bool:
    """Whether two people are ever at work at the same time, by their shifts."""
    if one.shift == other.shift or ALWAYS in (one.shift, other.shift):
        return True
    a, b = shifts.get(one.shift), shifts.get(other.shift)
    if a is None or b is None or not set(a.days) & set(b.days):
        return False
    if not all(WALL_TIME.fullmatch(text) for text in (a.start, a.end, b.start, b.end)):
        return True  # told elsewhere
    later, sooner = minutes_between(a.start, b.start), minutes_between(b.start, a.start)
    return later < minutes_between(a.start, a.end) or sooner < minutes_between(b.start, b.end)


@reads("upkeep", "settings")
def isolation_times(plant: PlantInputs) -> Iterator[Finding]:
    """Upkeep by a person has a time to isolate the machine; in a guarded cell, which is entered for it, always."""
    guarded = plant.settings.removal.pickers > 0
    for row in plant.upkeep:
        if row.needs_person and row.isolation_min == 0:
            why = f"{row.task}: no time to isolate the machine and release it again"
            mend = "Write the plant's own time; never zero where there is a hazard. The kit does not judge what is safe"
            if guarded:
                why += ", though a person enters the guarded cell for it"
            yield (row_error if guarded else row_note)(plant, row, "isolation_min", why, mend)


# ---- nights ----


@reads("people", "settings")
def on_call(plant: PlantInputs) -> Iterator[Finding]:
    """People on call can be called: nights are allowed, and it is known after how long they come."""
    night = plant.settings.calendar.night
    first = next((person for person in plant.people if person.shift == ON_CALL), None)
    if first and night.on_call_response_min is None:
        mend = "Write calendar.night.on_call_response_min, the minutes from the call to the arrival"
        yield row_error(plant, first, "shift", "is on call, but nobody is ever called", mend)
    elif first and night.rule == "not_allowed":
        why = "is on call for nights that are not allowed, so that nobody is called"
        yield row_note(plant, first, "", why, "Allow nights (with who assessed them), or remove the row", "")
    if night.on_call_response_min is not None and not first:
        mend = "Give somebody in people.csv the shift on_call"
        value = f"{night.on_call_response_min:g}"
        yield note("plant.toml", "nobody is on call", mend, column="calendar.night.on_call_response_min", value=value)


@reads("elements", "settings")
def stack_taken_away(plant: PlantInputs) -> Iterator[Finding]:
    """Whole sheets are taken off their stack before a night only where it is known how long that takes."""
    settings = plant.settings
    timed = any(row.driver == "stack_exchange" and row.typical > 0 for row in plant.elements)
    if settings.stack.places > 0 and "output" in settings.rules.before_leaving and not timed:
        why = "outputs are emptied before a night, but no row says how long a stack takes, so that none is taken away"
        mend = "Add a row counted per stack_exchange to elements.csv"
        yield note("plant.toml", why, mend, column="rules.before_leaving", value="output")
