"""Tables of single runs: orders and nights as kept with them; a week and single machines from runs made for them."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from simkit.base.messages import BadInput, Finding
from simkit.base.units import SECONDS_PER_HOUR
from simkit.base.vocabulary import STATES
from simkit.cell.run import simulate
from simkit.cell.trace import Trace
from simkit.desk.runs import Numbers
from simkit.experiment.measures import state_table
from simkit.experiment.results import Results
from simkit.experiment.ribbon import ribbon_rows
from simkit.experiment.spans import measured_span
from simkit.experiment.task import draw_luck
from simkit.plant.plant import Scenario
from simkit.process.workload import Workload, make_workload

OF_MACHINES = {**{f"state_{state}_h": "h" for state in STATES}, "sheets_in_span": "sheets"}
"""Measures that a single machine has, and their units."""
WEEK_COLUMNS = ("resource", "state", "start_h", "end_h")


def week_table(scenario: Scenario, today: Scenario, numbers: Numbers, week: int) -> pd.DataFrame:
    """Stretches of one week (1 is the first) of the first replication."""
    trace, workload = _run(scenario, today, numbers, 0)
    rows = [row[1:] for row in ribbon_rows(trace, workload, scenario.name, week - 1)]
    if not rows:
        mend = f"Choose one of the {numbers.weeks:g} weeks simulated, from 1"
        raise BadInput([Finding("study.week", "nothing was simulated in this week", mend, value=str(week))])
    return pd.DataFrame(rows, columns=list(WEEK_COLUMNS))


def kept_rows(results: Results, table: str, scenario: str, numbers: Numbers, replications: int) -> pd.DataFrame:
    """Rows of a table that was kept with the runs, of the first replications at the demand of the answers."""
    if not 1 <= replications <= numbers.replications:
        mend = f"Choose 1 to {numbers.replications}, or simulate more"
        raise BadInput([Finding("replications", "so many were not simulated", mend, value=str(replications))])
    rows = results.rows(table, scenario, numbers.level)
    rows = rows[rows["replication"] < replications]
    return rows.drop(columns=["scenario", "demand_factor"]).reset_index(drop=True)


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
    span = measured_span(trace, workload)
    machines = zip(workload.plant.machines, trace.machines, workload.by_machine, strict=True)
    for row, log, own in machines:
        hours = state_table(log, own, trace.open_spans, span) / SECONDS_PER_HOUR
        made = sum(span[0] <= moment < span[1] for moment in log.made_at_s)
        for (measure, unit), value in zip(OF_MACHINES.items(), (*hours.tolist(), float(made)), strict=True):
            yield row.machine_id, number, measure, value, unit


def _run(scenario: Scenario, today: Scenario, numbers: Numbers, number: int) -> tuple[Trace, Workload]:
    workload = make_workload(scenario, *draw_luck(today, numbers.seed, number, numbers.weeks, numbers.level))
    return simulate(workload), workload
