"""One simulated week as the ribbon's table: who and what was in which state from when to when."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import pandas as pd

from simkit.base.units import SECONDS_PER_HOUR
from simkit.base.vocabulary import CLOSED, CUTTING, FORMING, PASSIVE_STATES, PUNCHING, SKILLS, STATES, UNLOADING
from simkit.cell.people import WALKING
from simkit.cell.run import simulate
from simkit.cell.trace import RUN, MachineLog, Trace
from simkit.experiment.task import draw_luck
from simkit.plant.plant import Scenario
from simkit.process.shifts import Span, merged, without
from simkit.process.workload import Workload, make_workload
from simkit.report.studydata import CALENDAR, RIBBON_COLUMNS

DAYS = 7
AT_MACHINE = frozenset(("load", "unload", "changeover"))
Piece = tuple[str, str, float, float]
"""Resource, state, start and end in seconds."""


def simulated_week(
    today: Scenario,
    scenario: Scenario,
    *,
    seed: int,
    replication: int = 0,
    week: int = 0,
    weeks: float,
    demand_factor: float,
) -> pd.DataFrame:
    """Simulate one replication and return one of its weeks (0 is the first) as rows of the ribbon."""
    draws, tables = draw_luck(today, seed, replication, weeks, demand_factor)
    workload = make_workload(scenario, draws, tables)
    return week_of(simulate(workload), workload, week)


def week_of(trace: Trace, workload: Workload, week: int = 0) -> pd.DataFrame:
    """Rows of the ribbon for one week of a trace: machines, people with tasks, calendar; hours from its Monday."""
    days = workload.plan.day_start
    last = len(days) - 1
    span = (days[min(week * DAYS, last)], days[min((week + 1) * DAYS, last)])
    pieces = [*_machines(trace, workload), *_people(trace, workload), *_calendar(trace, workload)]
    rows = [
        (workload.scenario.name, resource, state, (max(start, span[0]) - span[0]) / SECONDS_PER_HOUR,
         (min(end, span[1]) - span[0]) / SECONDS_PER_HOUR)
        for resource, state, start, end in pieces if start < span[1] and end > span[0] and end > start
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=list(RIBBON_COLUMNS))


def _machines(trace: Trace, workload: Workload) -> Iterator[Piece]:
    for row, log in zip(workload.plant.machines, trace.machines, strict=True):
        for state, start, end in _states(log, workload, trace.open_spans):
            yield row.machine_id, state, start, end


def _states(log: MachineLog, workload: Workload, open_spans: tuple[Span, ...]) -> Iterator[tuple[str, float, float]]:
    """States of a machine in time order; passive ones outside open hours are closed, a run is split by its sheet."""
    for place, code in enumerate(log.state):
        start, end = log.start_s[place], log.end_s[place]
        if code == RUN:
            yield from _run(workload, log.sheet[place], log.offset_s[place], start, end)
        elif STATES[code] in PASSIVE_STATES:
            for low, high in without([(start, end)], open_spans):
                yield CLOSED, low, high
            for low, high in without([(start, end)], without([(start, end)], open_spans)):
                yield STATES[code], low, high
        else:
            yield STATES[code], start, end


def _run(workload: Workload, sheet: int, offset: float, start: float, end: float) -> Iterator[tuple[str, float, float]]:
    times = workload.sheets
    edge = start - offset
    stages = ((PUNCHING, times.punch_s), (FORMING, times.form_s), (CUTTING, times.cut_s), (UNLOADING, times.tail_s))
    for state, seconds in stages:
        upper = edge + float(seconds[sheet])
        if min(upper, end) > max(edge, start):
            yield state, max(edge, start), min(upper, end)
        edge = upper


def _people(trace: Trace, workload: Workload) -> Iterator[Piece]:
    """Tasks of every person who did any, in the order of the people's file."""
    tasks = trace.tasks
    for row, person in enumerate(workload.plant.people):
        own = [i for i, who in enumerate(tasks.person) if who == row and tasks.task[i] != WALKING]
        for i in own:
            yield person.person_id, SKILLS[tasks.task[i]], tasks.start_s[i], tasks.end_s[i]


def _calendar(trace: Trace, workload: Workload) -> Iterator[Piece]:
    """Shifts, overtime worked, nights with unattended running, and stretches of a shift with nobody at the machine."""
    plan = workload.plan
    at_machine = _windows(workload)
    kinds: dict[str, Iterable[Span]] = {
        "shift": plan.attended,
        "overtime": trace.overtime_spans,
        "night": without(plan.nights, trace.overtime_spans),
        "break": without(plan.attended, at_machine) if at_machine else (),
    }
    for state, spans in kinds.items():
        for start, end in spans:
            yield CALENDAR, state, start, end


def _windows(workload: Workload) -> tuple[Span, ...]:
    people = zip(workload.plant.people, workload.plan.person, strict=True)
    return merged(window for person, spans in people if AT_MACHINE & set(person.skills) for window in spans)
