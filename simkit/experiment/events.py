"""Everything that one run did, stretch by stretch: who or what was in which state, on which order and sheet.

Written on request only. The hours of a machine's state in it, up to the end of the span, add up to the measure of that
state in the results, so that an amount of money can be followed from the table of cash to hours, and from hours to what
happened. The planner's rows are what was decided about work short of time.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import NamedTuple

from simkit.base.messages import refuse_to_replace
from simkit.base.units import SECONDS_PER_DAY, SECONDS_PER_HOUR
from simkit.base.vocabulary import CLOSED, CUTTING, FORMING, PASSIVE_STATES, PUNCHING, SKILLS, STATES, UNLOADING
from simkit.cell.orders import SUBCONTRACT
from simkit.cell.planning import Decision
from simkit.cell.run import simulate
from simkit.cell.trace import RUN, MachineLog, Trace
from simkit.experiment.task import draw_luck
from simkit.plant.plant import Scenario
from simkit.process.shifts import Span, merged, without
from simkit.process.workload import Workload, make_workload

NOBODY = -1


class Stretch(NamedTuple):
    """A resource in a state from ``start_s`` to ``end_s``; job and sheet as numbers of the run, -1 where none."""

    resource: str
    state: str
    start_s: float
    end_s: float
    job: int = NOBODY
    sheet: int = NOBODY


class Event(NamedTuple):
    """A stretch as it is written: hours from the start of the run, names of the plant's tables, empty where none.

    Of the planner: an order given out, until it is delivered; one refused; overtime, with the order for which it is
    worked. ``decided_h``, and ``slack_days`` by which the order for which it was done would end before its due date.
    """

    scenario: str
    resource: str
    state: str
    start_h: float
    end_h: float
    order_id: str
    program_id: str
    sheet: str
    decided_h: float | None = None
    slack_days: float | None = None


def events_of(today: Scenario, scenario: Scenario, replication: int = 0) -> list[Event]:
    """Every stretch of one replication of a scenario, by the run settings of today's plant: machines, people, calendar.

    ``sheet`` counts the sheets of the run in the order of the book. Merged orders stand under the first of them.
    """
    run = today.plant.settings.run
    workload = make_workload(scenario, *draw_luck(today, run.seed, replication, run.weeks, run.demand_factor))
    trace = simulate(workload)
    rows = [_event(stretch, trace, workload, scenario.name) for stretch in stretches(trace, workload)]
    return rows + [_decided(decision, trace, workload, scenario.name) for decision in trace.decisions]


def write_events(path: Path, today: Scenario, scenarios: Iterable[Scenario]) -> int:
    """Write the first replication of scenarios as a table with a row per stretch; return how many rows."""
    refuse_to_replace(path)
    rows = [event for scenario in scenarios for event in events_of(today, scenario)]
    with path.open("x", encoding="utf-8", newline="") as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(Event._fields)
        table.writerows(event._replace(start_h=round(event.start_h, 6), end_h=round(event.end_h, 6)) for event in rows)
    return len(rows)


def _event(stretch: Stretch, trace: Trace, workload: Workload, scenario: str) -> Event:
    order, program = "", ""
    if stretch.job != NOBODY:
        row = int(workload.draws.book.row[trace.jobs[stretch.job].members[0]])
        order, program = workload.plant.orders[row].order_id, workload.plant.orders[row].program_id
    return Event(
        scenario, stretch.resource, stretch.state, stretch.start_s / SECONDS_PER_HOUR,
        stretch.end_s / SECONDS_PER_HOUR, order, program, str(stretch.sheet) if stretch.sheet != NOBODY else "",
    )  # fmt: skip


def _decided(decision: Decision, trace: Trace, workload: Workload, scenario: str) -> Event:
    lead_s = workload.plant.settings.overflow.subcontract_lead_days * SECONDS_PER_DAY
    at_s = decision.moment_s
    span = decision.window or (at_s, at_s + (lead_s if decision.what == SUBCONTRACT else 0.0))
    job = decision.job if decision.job != NOBODY else decision.short_job
    event = _event(Stretch("planner", decision.what, *span, job), trace, workload, scenario)
    return event._replace(decided_h=at_s / SECONDS_PER_HOUR, slack_days=round(decision.slack_days, 3))


def stretches(trace: Trace, workload: Workload) -> list[Stretch]:
    """Stretches of machines, people and calendar, in time order per resource."""
    found: list[Stretch] = []
    for machine, log, own in zip(workload.plant.machines, trace.machines, workload.by_machine, strict=True):
        found += sorted(_machine(machine.machine_id, log, own, trace.open_spans), key=lambda each: each.start_s)
    tasks = trace.tasks
    for number, person in enumerate(workload.plant.people):
        for row, task, start, end in zip(tasks.person, tasks.task, tasks.start_s, tasks.end_s, strict=True):
            if row == number and task >= 0:  # not on the way, and not in another cell
                found.append(Stretch(person.person_id, SKILLS[task], start, end))
    return [*found, *_calendar(trace, workload)]


def _machine(name: str, log: MachineLog, workload: Workload, open_spans: tuple[Span, ...]) -> Iterator[Stretch]:
    """A machine's stretches by state name; passive ones are closed outside open hours."""
    for number, code in enumerate(log.state):
        start, end, job, sheet = log.start_s[number], log.end_s[number], log.job[number], log.sheet[number]
        if code == RUN:
            for state, a, b in _run(workload, sheet, log.offset_s[number], start, end):
                yield Stretch(name, state, a, b, job, sheet)
        elif STATES[code] in PASSIVE_STATES:
            closed = without([(start, end)], open_spans)
            yield from (Stretch(name, STATES[code], a, b, job) for a, b in without([(start, end)], closed))
            yield from (Stretch(name, CLOSED, a, b) for a, b in closed)
        else:
            yield Stretch(name, STATES[code], start, end, job)


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


def _calendar(trace: Trace, workload: Workload) -> Iterator[Stretch]:
    """Shifts, the breaks in them, worked overtime and allowed nights."""
    plan = workload.plan
    worked = merged(window for person in plan.person for window in person)
    for state, spans in (
        ("shift", plan.attended), ("break", without(plan.attended, worked)), ("overtime", trace.overtime_spans),
        ("night", plan.nights),
    ):  # fmt: skip
        yield from (Stretch("calendar", state, a, b) for a, b in spans)
