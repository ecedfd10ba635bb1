"""Checks of times, people and rules: elements, stops, upkeep, calendar, qualification, masses to lift."""

from __future__ import annotations

import statistics
import zoneinfo
from collections.abc import Iterator, Mapping
from itertools import combinations
from typing import Any

from simkit.base.messages import Finding
from simkit.base.vocabulary import (
    ALWAYS,
    BENCH,
    CHANGEOVER,
    DRIVERS,
    EXCHANGES,
    FIRST_PIECE,
    HANDLING_STATES,
    ON_CALL,
    OUTSIDE,
    PROCESS_STATES,
    PUNCHING,
    TASKS,
    WEEKDAYS,
)  # fmt: skip
from simkit.plant.checking import reads
from simkit.plant.checks_work import sheet_kg
from simkit.plant.drafts import Draft, note
from simkit.plant.settings import Shift
from simkit.plant.tables import Person
from simkit.plant.values import WALL_TIME, minutes_between, near

CAUTION = (
    "This is a planning limit of the plant, not a safety assessment: the plant's own rules for lifting by hand apply"
)
MEAN_TOLERANCE = 0.01
"""A value file's mean may differ from ``typical`` by this share before it is worth a note."""


@reads("elements")
def element_ranges(draft: Draft) -> Iterator[Finding]:
    """low <= typical <= high, and value files have the mean that is stated."""
    for row, line in draft.sheets["elements"]:
        where = {"row": line, "column": "typical", "value": f"{row.typical:g}"}
        if row.low is not None and row.low > row.typical:
            why = f"{row.element} is below its low end, {row.low:g}"
            yield Finding("elements.csv", why, "Make low <= typical <= high, all in the same unit", **where)
        if row.high is not None and row.high < row.typical:
            why = f"{row.element} is above its high end, {row.high:g}"
            yield Finding("elements.csv", why, "Make low <= typical <= high, all in the same unit", **where)
        values = draft.sequences.get(row.file, ()) if row.file else ()
        mean = statistics.fmean(values) if values else row.typical
        if abs(mean - row.typical) > MEAN_TOLERANCE * row.typical:
            why = f"{row.element}: {row.file} has a mean of {mean:g}, not the typical value"
            mend = "Make typical the mean of the file; the run scales the file to typical"
            yield note("elements.csv", why, mend, **where)


@reads("elements")
def element_rows_used(draft: Draft) -> Iterator[Finding]:
    """A general row does not follow the special rows that it would hide; bench and outside work is somebody's."""
    hidden: dict[str, list[int]] = {}
    for row, line in draft.sheets["elements"]:
        if not row.applies_to and row.element in hidden:
            why = f"this row is for all and stands below rows {hidden[row.element]} for some, which it hides"
            mend = "Put the general row first; of the rows that match, the last one holds"
            yield note("elements.csv", why, mend, row=line, column="element", value=row.element)
        hidden.setdefault(row.element, []).append(line)
        if row.state in (BENCH, OUTSIDE) and row.task_of == "machine" and row.typical > 0:
            why = f"{row.element} is work at the bench or outside the machine's time, but nobody does it"
            mend = "Name the skill of who does it, so that moved work is not free"
            yield note("elements.csv", why, mend, row=line, column="task_of", value=row.task_of)


ONCE = ("order", "new_program")
AT_TOOLS = (*EXCHANGES, "regrind")
CHANGES = ("material_change", "nozzle_change", "clamp_change", "gas_change", "pack_change")
OTHERS = ("process", "store_exchange", "stack_exchange", "skeleton_exchange", "cell_entry")


@reads("elements")
def element_stages(draft: Draft) -> Iterator[Finding]:
    """Every element belongs to a stage: what is counted per order is not time of a sheet, and the reverse."""
    for row, line in draft.sheets["elements"]:
        driver = row.unit.partition("/")[2]
        states = _states_of(driver) if driver in DRIVERS else ()
        if states and row.state not in states:
            why = f"{row.element} is counted per {driver}, which takes no time in this state, so that it would be lost"
            yield Finding("elements.csv", why, f"Write one of {', '.join(states)}", line, "state", row.state)


def _states_of(driver: str) -> tuple[str, ...]:
    """States in which what is counted by this driver takes its time; empty: any."""
    if driver in OTHERS:
        return ()
    if driver in ("store_load", "stored_sheet", "magazine_load"):
        return (OUTSIDE,)
    if driver == "engagement":
        return (PUNCHING,)
    if driver in ONCE:
        return (CHANGEOVER, FIRST_PIECE, OUTSIDE)
    if driver in (*AT_TOOLS, *CHANGES):
        return (CHANGEOVER, OUTSIDE) if driver in AT_TOOLS or driver == "material_change" else (CHANGEOVER,)
    return (*PROCESS_STATES, *HANDLING_STATES, BENCH, OUTSIDE)


@reads("elements", "stops", "load_faults", "upkeep", "people")
def qualified_people(draft: Draft) -> Iterator[Finding]:
    """Somebody is qualified for every task that takes time."""
    skills = {skill for person in draft.sheets["people"].rows if person.shift != ON_CALL for skill in person.skills}
    needs = [
        ("elements.csv", line, "task_of", row.task_of, row.element)
        for row, line in draft.sheets["elements"]
        if row.task_of != "machine" and row.typical > 0
    ]
    needs += [
        ("stops.csv", line, "clears", row.clears, row.cause)
        for row, line in draft.sheets["stops"]
        if row.clears != "nobody" and row.rate > 0
    ]
    needs += [
        ("load_faults.csv", line, "clears", row.clears, row.fault)
        for row, line in draft.sheets["load_faults"]
        if row.rate > 0
    ]
    needs += [
        ("upkeep.csv", line, "needs_person", "upkeep", r.task) for r, line in draft.sheets["upkeep"] if r.needs_person
    ]
    told: dict[str, list[str]] = {}
    first: dict[str, tuple[str, int, str]] = {}
    for place, line, column, skill, name in needs:
        if skill not in skills:
            told.setdefault(skill, []).append(name)
            first.setdefault(skill, (place, line, column))
    for skill, names in told.items():
        place, line, column = first[skill]
        why = f"nobody in people.csv has this skill, which is needed for {', '.join(dict.fromkeys(names))}"
        mend = "Add the skill to a person, or let another skill do the task"
        yield Finding(place, why, mend, row=line, column=column, value=skill)


@reads("people", settings=True)
def person_shifts(draft: Draft) -> Iterator[Finding]:
    """Persons work in shifts that exist."""
    names = _shift_names(draft)
    for row, line in draft.sheets["people"]:
        if row.shift not in (*names, ALWAYS, ON_CALL):
            why = "is not a shift of the calendar in plant.toml"
            mend = f"Name a shift, or always, or on_call; {near(row.shift, [*names, ALWAYS, ON_CALL])}"
            yield Finding("people.csv", why, mend, row=line, column="shift", value=row.shift)


@reads("people")
def work_elsewhere(draft: Draft) -> Iterator[Finding]:
    """Calls to other cells have a length, and are not more than a person's time."""
    for row, line in draft.sheets["people"]:
        calls = row.elsewhere_per_h or 0.0
        value = f"{calls:g}"
        if calls and not row.elsewhere_min:
            why, mend = "calls without a length take no time", "Write elsewhere_min, the mean length of such work"
            yield note("people.csv", why, mend, row=line, column="elsewhere_per_h", value=value)
        elif row.share_called >= 1:
            why = f"calls of {row.elsewhere_min:g} min each fill more than the person's time at work"
            mend = "Write fewer or shorter calls, or leave the person out"
            yield Finding("people.csv", why, mend, line, "elsewhere_per_h", value)
        elif row.elsewhere_min and row.shift == ON_CALL:
            why, mend = "a person on call is not at work, so never works elsewhere", "Leave it out"
            yield note("people.csv", why, mend, row=line, column="elsewhere_min", value=f"{row.elsewhere_min:g}")


def _shift_names(draft: Draft) -> list[str]:
    return [shift.name for shift in draft.settings.calendar.shifts]


@reads("calendar", settings=True)
def calendar_shifts(draft: Draft) -> Iterator[Finding]:
    """Days that differ name a shift that exists."""
    names = _shift_names(draft)
    for row, line in draft.sheets["calendar"]:
        if row.shift and row.shift not in names:
            mend = f"Name a shift, or leave it empty for all; {near(row.shift, names)}"
            yield Finding("calendar.csv", "is not a shift of plant.toml", mend, line, "shift", row.shift)


@reads(settings=True)
def weekly_pattern(draft: Draft) -> Iterator[Finding]:
    """Times of day, weekdays, breaks and names of the calendar."""
    calendar = draft.settings.calendar
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
    names = _shift_names(draft)
    for name in dict.fromkeys(n for n in names if names.count(n) > 1):
        yield Finding("plant.toml", "is the name of two shifts", "Rename one", column="calendar.shifts", value=name)
    if calendar.overtime_shift and calendar.overtime_shift not in names:
        mend = f"Name a shift; {near(calendar.overtime_shift, names)}"
        value = calendar.overtime_shift
        yield Finding("plant.toml", "is not a shift", mend, column="calendar.overtime_shift", value=value)


@reads("people", settings=True)
def overtime_crew(draft: Draft) -> Iterator[Finding]:
    """Who comes to overtime is in people.csv."""
    known = [row.person_id for row, _ in draft.sheets["people"]]
    for name in draft.settings.calendar.overtime_people:
        if name not in known:
            mend = f"Name a person of people.csv; {near(name, known)}"
            yield Finding("plant.toml", "is not a person", mend, column="calendar.overtime_people", value=name)


def _breaks_inside(where: str, run: Any) -> Iterator[Finding]:
    """Breaks lie inside their shift and end after they start."""
    span = minutes_between(run.start, run.end) or 24 * 60
    for start, end in getattr(run, "breaks", ()):
        if minutes_between(run.start, start) + minutes_between(start, end) > span or start == end:
            why = f"does not lie inside the shift, {run.start} to {run.end}"
            value = f"{start}-{end}"
            yield Finding("plant.toml", why, "Correct the break", column=f"{where}.breaks", value=value)


@reads(settings=True)
def night_rule(draft: Draft) -> Iterator[Finding]:
    """Unattended running has been assessed by somebody, on a day."""
    night = draft.settings.calendar.night
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


@reads(settings=True)
def rules_of_people(draft: Draft) -> Iterator[Finding]:
    """Break rules and priorities name tasks; zone, first day, payments and demand path are whole."""
    settings = draft.settings
    for key, names in (("break_rules", list(settings.people.break_rules)), ("priorities", settings.people.priorities)):
        for name in names:
            if name not in TASKS:
                mend = f"Write a task; {near(name, TASKS)}"
                yield Finding("plant.toml", "is not a task", mend, column=f"people.{key}", value=name)
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


@reads("programs", "materials", "people", settings=True)
def heavy_sheets(draft: Draft) -> Iterator[Finding]:
    """Sheets that one person may not handle have a lifter or a second person."""
    machine = draft.settings.machine
    people = draft.sheets["people"].rows
    able = [person for person in people if "second_person" in person.abilities and person.shift != ON_CALL]
    shifts = {shift.name: shift for shift in draft.settings.calendar.shifts}
    named = any("second_person" in person.skills for person in people)
    if machine.lifter or named or any(_meet(a, b, shifts) for a, b in combinations(able, 2)):
        return
    masses = [(sheet_kg(draft, row), line) for row, line in draft.sheets["programs"]]
    heavy = [(mass, line) for mass, line in masses if mass is not None and mass > machine.one_person_kg]
    if heavy:
        heaviest, line = max(heavy)
        why = (
            f"sheets of {len(heavy)} programs are above the plant's limit for one person, {machine.one_person_kg:g} kg "
            f"(heaviest {heaviest:.1f} kg), but there is no lifter and nobody who can help whoever handles them"
        )
        mend = f"Set machine.lifter = true if there is one, or give somebody else the skill second_person. {CAUTION}"
        yield Finding("programs.csv", why, mend, row=line)


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


@reads("upkeep", settings=True)
def isolation_times(draft: Draft) -> Iterator[Finding]:
    """Upkeep by a person has a time to isolate the machine; in a guarded cell, which is entered for it, always."""
    guarded = draft.settings.removal.pickers > 0
    bare = [(row, line) for row, line in draft.sheets["upkeep"] if row.needs_person and row.isolation_min == 0]
    for row, line in bare:
        why = f"{row.task}: no time to isolate the machine and release it again"
        mend = "Write the plant's own time; never zero where there is a hazard. The kit does not judge what is safe"
        where = {"row": line, "column": "isolation_min", "value": "0"}
        if guarded:
            yield Finding("upkeep.csv", f"{why}, though a person enters the guarded cell for it", mend, **where)
        else:
            yield note("upkeep.csv", why, mend, **where)


@reads("stops", settings=True)
def losses_counted_once(draft: Draft) -> Iterator[Finding]:
    """The general loss factor does not contain what the stops already tell."""
    share, stops = draft.settings.rules.other_losses, draft.sheets["stops"].rows
    if share > 0 and stops:
        why = f"is used beside the {len(stops)} causes in stops.csv ({', '.join(row.cause for row in stops)})"
        mend = "Keep in it only what no element, stop or upkeep row covers, so that no loss is counted twice"
        yield note("plant.toml", why, mend, column="rules.other_losses", value=f"{share:g}")
