"""One week of a run as intervals, for the ribbon: who or what was in which state from when to when."""

from __future__ import annotations

from collections.abc import Iterator

from simkit.base.units import SECONDS_PER_HOUR, SECONDS_PER_WEEK
from simkit.base.vocabulary import CLOSED, CUTTING, FORMING, PASSIVE_STATES, PUNCHING, SKILLS, STATES, UNLOADING
from simkit.cell.people import WALKING
from simkit.cell.trace import RUN, MachineLog, Trace
from simkit.process.shifts import Span, merged, without
from simkit.process.workload import Workload

Row = tuple[str, str, str, float, float]
"""Scenario, resource, state, start and end in hours from Monday 00:00."""


def ribbon_rows(trace: Trace, workload: Workload, scenario: str, week: int = 1) -> list[Row]:
    """Intervals of one week (0 is the first) of machines, people and calendar, in time order per resource."""
    span = (week * SECONDS_PER_WEEK, (week + 1) * SECONDS_PER_WEEK)
    rows: list[tuple[str, str, float, float]] = []
    for machine, log, own in zip(workload.plant.machines, trace.machines, workload.by_machine, strict=True):
        rows += [(machine.machine_id, *piece) for piece in _machine(log, own, trace.open_spans)]
    tasks = trace.tasks
    for number, person in enumerate(workload.plant.people):
        for row, task, start, end in zip(tasks.person, tasks.task, tasks.start_s, tasks.end_s, strict=True):
            if row == number and task != WALKING:
                rows.append((person.person_id, SKILLS[task], start, end))
    rows += _calendar(trace, workload)
    return [
        (scenario, resource, state, (max(start, span[0]) - span[0]) / SECONDS_PER_HOUR,
         (min(end, span[1]) - span[0]) / SECONDS_PER_HOUR)
        for resource, state, start, end in rows
        if start < span[1] and end > span[0]
    ]  # fmt: skip


def _machine(log: MachineLog, workload: Workload, open_spans: tuple[Span, ...]) -> Iterator[tuple[str, float, float]]:
    """A machine's stretches by state name; passive ones are closed outside open hours."""
    for number, code in enumerate(log.state):
        start, end = log.start_s[number], log.end_s[number]
        if code == RUN:
            yield from _run(workload, log.sheet[number], log.offset_s[number], start, end)
        elif STATES[code] in PASSIVE_STATES:
            closed = without([(start, end)], open_spans)
            yield from ((STATES[code], a, b) for a, b in without([(start, end)], closed))
            yield from ((CLOSED, a, b) for a, b in closed)
        else:
            yield STATES[code], start, end


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


def _calendar(trace: Trace, workload: Workload) -> Iterator[tuple[str, str, float, float]]:
    """Shifts, the breaks in them, worked overtime and allowed nights."""
    plan = workload.plan
    for a, b in plan.attended:
        yield "calendar", "shift", a, b
    worked = merged(window for person in plan.person for window in person)
    for a, b in without(plan.attended, worked):
        yield "calendar", "break", a, b
    for a, b in trace.overtime_spans:
        yield "calendar", "overtime", a, b
    for a, b in plan.nights:
        yield "calendar", "night", a, b
