"""Tables of single runs: a week, the orders and the nights of a scenario, from replications run for them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import pandas as pd

from simkit.base.messages import BadInput, Finding
from simkit.base.units import SECONDS_PER_DAY, SECONDS_PER_HOUR
from simkit.base.vocabulary import STATES
from simkit.cell.orders import REFUSED, SUBCONTRACT
from simkit.cell.run import simulate
from simkit.cell.trace import Trace
from simkit.desk.runs import Numbers
from simkit.experiment.measures import state_table
from simkit.experiment.nights import NightRecord, night_records
from simkit.experiment.results import Results
from simkit.experiment.ribbon import ribbon_rows
from simkit.experiment.task import draw_luck
from simkit.plant.plant import Scenario
from simkit.process.workload import Workload, make_workload

NIGHT_COLUMNS = (
    "replication", "machine", "start_h", "allowed_h", *(n for n in NightRecord.__dataclass_fields__ if n not in
    ("machine", "start_h", "end_h")),
)  # fmt: skip
OF_MACHINES = {**{f"state_{state}_h": "h" for state in STATES}, "sheets_in_span": "sheets"}
"""Measures that a single machine has, and their units."""
WEEK_COLUMNS = ("resource", "state", "start_h", "end_h")


class OrderRow(NamedTuple):
    """One order of one replication; hours count from the start of the run, empty where it did not happen."""

    replication: int
    order_id: str
    program_id: str
    sheets: int
    rush: bool
    released_h: float
    due_h: float
    started_h: float | None
    there_h: float | None
    fate: str
    late: bool


def week_table(scenario: Scenario, today: Scenario, numbers: Numbers, week: int) -> pd.DataFrame:
    """Stretches of one week (1 is the first) of the first replication."""
    trace, workload = _run(scenario, today, numbers, 0)
    rows = [row[1:] for row in ribbon_rows(trace, workload, scenario.name, week - 1)]
    if not rows:
        mend = f"Choose one of the {numbers.weeks:g} weeks simulated, from 1"
        raise BadInput([Finding("study.week", "nothing was simulated in this week", mend, value=str(week))])
    return pd.DataFrame(rows, columns=list(WEEK_COLUMNS))


def order_table(scenario: Scenario, today: Scenario, numbers: Numbers, replications: int) -> pd.DataFrame:
    """Orders of the first replications, merged ones one by one."""
    rows = [
        row
        for number in _numbers(numbers, replications)
        for row in _orders(number, *_run(scenario, today, numbers, number))
    ]
    return pd.DataFrame(rows, columns=list(OrderRow._fields))


def night_table(scenario: Scenario, today: Scenario, numbers: Numbers, replications: int) -> pd.DataFrame:
    """Nights of the first replications: the columns of :class:`simkit.experiment.nights.NightRecord`, hours allowed."""
    rows = [
        {"replication": number, **vars(record), "allowed_h": record.end_h - record.start_h}
        for number in _numbers(numbers, replications)
        for record in night_records(*_run(scenario, today, numbers, number))
    ]
    return pd.DataFrame(rows, columns=list(NIGHT_COLUMNS))


def machine_table(scenario: Scenario, today: Scenario, numbers: Numbers, results: Results) -> pd.DataFrame:
    """States and sheets of each machine in the span; of a single machine they are the measures of the cell."""
    names = [row.machine_id for row in scenario.plant.machines]
    if len(names) == 1:
        rows = [
            (names[0], number, measure, value, unit)
            for measure, unit in OF_MACHINES.items()
            for number, value in enumerate(results.raw(scenario.name, measure, numbers.level))
        ]
    else:
        rows = [row for number in range(numbers.replications)
                for row in _machines(number, *_run(scenario, today, numbers, number))]  # fmt: skip
    return pd.DataFrame(rows, columns=["machine", "replication", "measure", "value", "unit"])


def _machines(number: int, trace: Trace, workload: Workload) -> Iterator[tuple[str, int, str, float, str]]:
    span = (workload.plant.settings.run.warmup_s, min(workload.span_s, trace.end_s))
    machines = zip(workload.plant.machines, trace.machines, workload.by_machine, strict=True)
    for row, log, own in machines:
        hours = state_table(log, own, trace.open_spans, span) / SECONDS_PER_HOUR
        made = sum(span[0] <= moment < span[1] for moment in log.made_at_s)
        for (measure, unit), value in zip(OF_MACHINES.items(), (*hours.tolist(), float(made)), strict=True):
            yield row.machine_id, number, measure, value, unit


def _numbers(numbers: Numbers, replications: int) -> range:
    if not 1 <= replications <= numbers.replications:
        mend = f"Choose 1 to {numbers.replications}, or simulate more"
        raise BadInput([Finding("replications", "so many were not simulated", mend, value=str(replications))])
    return range(replications)


def _run(scenario: Scenario, today: Scenario, numbers: Numbers, number: int) -> tuple[Trace, Workload]:
    workload = make_workload(scenario, *draw_luck(today, numbers.seed, number, numbers.weeks, numbers.level))
    return simulate(workload), workload


def _orders(number: int, trace: Trace, workload: Workload) -> Iterator[OrderRow]:
    book, plant = workload.draws.book, workload.plant
    lead_s = plant.settings.overflow.subcontract_lead_days * SECONDS_PER_DAY
    for job in trace.jobs:
        if job.released_s > trace.end_s:
            continue
        there_s = job.gone_s + lead_s if job.fate == SUBCONTRACT else job.finished_s
        late_from_s = there_s if there_s >= 0 else trace.end_s
        for member in job.members:
            order, due = plant.orders[int(book.row[member])], float(book.due_s[member])
            yield OrderRow(
                number, order.order_id, order.program_id, int(book.sheets[member]), bool(book.rush[member]),
                float(book.released_s[member]) / SECONDS_PER_HOUR, due / SECONDS_PER_HOUR, _hours(job.started_s),
                _hours(there_s), job.fate, job.fate != REFUSED and late_from_s > due,
            )  # fmt: skip


def _hours(moment_s: float) -> float | None:
    return moment_s / SECONDS_PER_HOUR if moment_s >= 0 else None
