"""Who or what was in which state from when to when in one run: machines, people, calendar."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from simkit.base.units import SECONDS_PER_HOUR, SECONDS_PER_WEEK
from simkit.base.vocabulary import (
    BLOCKED,
    CLOSED,
    CUTTING,
    FORMING,
    NO_WORK,
    PASSIVE_STATES,
    PUNCHING,
    SKILLS,
    STATES,
    UNLOADING,
    WAITING_MATERIAL,
)
from simkit.cell.trace import CHUNK, RUN, STRETCH, MachineStates, Trace, rows_of
from simkit.process.shifts import Span, merged, without
from simkit.process.workload import Workload

NOBODY = -1
AN_ORDER, THE_STORE = "order", "store"
"""What a machine waits for without work, and while the sheet store brings its material."""


class Stretch(NamedTuple):
    """A resource in a state from ``start_s`` to ``end_s``; job and sheet as numbers of the run, -1 where none."""

    resource: str
    state: str
    start_s: float
    end_s: float
    job: int = NOBODY
    sheet: int = NOBODY
    waiting: str = ""


def stretches(trace: Trace, workload: Workload) -> list[Stretch]:
    """Stretches of machines, people and calendar, in time order per resource."""
    found = machine_stretches(trace, workload)
    tasks = trace.tasks
    for number, person in enumerate(workload.plant.people):
        for row, task, start, end, _ in rows_of(tasks.chunks, CHUNK):
            if row == number and task >= 0:  # not on the way, and not in another cell
                found.append(Stretch(person.person_id, SKILLS[task], start, end))
    return [*found, *calendar_stretches(trace, workload)]


def machine_stretches(
    trace: Trace, workload: Workload, waits: Sequence[Mapping[float, str]] | None = None
) -> list[Stretch]:
    """Stretches of machines; ``waits`` give, by machine and moment at which it begins, who is waited for."""
    found: list[Stretch] = []
    rows = zip(workload.plant.machines, trace.machines, workload.by_machine, strict=True)
    for number, (machine, log, own) in enumerate(rows):
        parts = _machine(machine.machine_id, log, own, trace.open_spans, waits[number] if waits else {})
        found += sorted(parts, key=lambda each: each.start_s)
    return found


def _machine(
    name: str, log: MachineStates, workload: Workload, open_spans: tuple[Span, ...], people: Mapping[float, str]
) -> Iterator[Stretch]:
    """A machine's stretches by state name; passive ones are closed outside open hours."""
    wants = dict(zip(log.wait_s, log.wait_want, strict=True))
    for code, start, end, job, sheet, offset_s in rows_of(log.stretches, STRETCH):
        if code == RUN:
            for state, a, b in _run(workload, sheet, offset_s, start, end):
                yield Stretch(name, state, a, b, job, sheet)
        elif STATES[code] == CLOSED:
            yield Stretch(name, CLOSED, start, end)
        elif (state := STATES[code]) in PASSIVE_STATES:
            about = (NOBODY, NOBODY, AN_ORDER) if state == NO_WORK else (job, sheet, people.get(start, ""))
            if state in (BLOCKED, WAITING_MATERIAL):
                about = (job, sheet, people.get(start) or wants.get(start, THE_STORE))
            closed = without([(start, end)], open_spans)
            yield from (Stretch(name, state, a, b, *about) for a, b in without([(start, end)], closed))
            yield from (Stretch(name, CLOSED, a, b) for a, b in closed)
        else:
            yield Stretch(name, state, start, end, job, sheet)


def _run(
    workload: Workload, sheet: int, offset_s: float, start_s: float, end_s: float
) -> Iterator[tuple[str, float, float]]:
    """A stretch of a sheet's run, split into punching, forming, cutting and waiting for picks."""
    times, edge = workload.sheets, 0.0
    for state, seconds in (
        (PUNCHING, times.punch_s), (FORMING, times.form_s), (CUTTING, times.cut_s), (UNLOADING, times.tail_s),
    ):  # fmt: skip
        upper = edge + float(seconds[sheet])
        first, last = max(offset_s, edge), min(offset_s + end_s - start_s, upper)
        if last > first:
            yield state, start_s + first - offset_s, start_s + last - offset_s
        edge = upper


def calendar_stretches(trace: Trace, workload: Workload) -> Iterator[Stretch]:
    """Shifts, the breaks in them, worked overtime and allowed nights."""
    plan = workload.plan
    worked = merged(window for person in plan.person for window in person)
    for state, spans in (
        ("shift", plan.attended), ("break", without(plan.attended, worked)), ("overtime", trace.overtime_spans),
        ("night", plan.nights),
    ):  # fmt: skip
        yield from (Stretch("calendar", state, a, b) for a, b in spans)


Row = tuple[str, str, str, float, float]
"""Scenario, resource, state, start and end in hours from Monday 00:00."""


def gantt_rows(trace: Trace, workload: Workload, scenario: str, week: int = 1) -> list[Row]:
    """Intervals of one week (0 is the first) of machines, people and calendar, in time order per resource."""
    span = (week * SECONDS_PER_WEEK, (week + 1) * SECONDS_PER_WEEK)
    return [
        (scenario, stretch.resource, stretch.state, (max(stretch.start_s, span[0]) - span[0]) / SECONDS_PER_HOUR,
         (min(stretch.end_s, span[1]) - span[0]) / SECONDS_PER_HOUR)
        for stretch in stretches(trace, workload)
        if stretch.start_s < span[1] and stretch.end_s > span[0]
    ]  # fmt: skip
