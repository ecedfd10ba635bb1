"""Tables of single runs: orders and nights as kept with them; a week, machines and one night from runs made for it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import groupby
from typing import TYPE_CHECKING, Any

import pandas as pd

from simkit.base.messages import BadInput, Finding
from simkit.base.units import SECONDS_PER_HOUR
from simkit.base.vocabulary import CLOSED, HANDLING_STATES, LOADING, PROCESS_STATES, STATES, WEEKDAYS
from simkit.cell.run import simulate
from simkit.cell.trace import Trace
from simkit.desk.night_tables import why_none
from simkit.desk.runs import Numbers, luck_of
from simkit.desk.shown import titled
from simkit.experiment.eventcolumns import MACHINE, REQUEST
from simkit.experiment.events import WORKS, told
from simkit.experiment.measures import state_table
from simkit.experiment.results import Results
from simkit.experiment.spans import measured_span
from simkit.experiment.stretches import ribbon_rows
from simkit.experiment.task import draw_luck
from simkit.plant.plant import Scenario
from simkit.process.workload import Workload, make_workload
from simkit.report import sentences_nights as say

if TYPE_CHECKING:
    from simkit.desk.study import Study

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
    workload = make_workload(scenario, draw_luck(today, numbers.seed, number, numbers.weeks, numbers.level))
    return simulate(workload), workload


BEFORE_H, AFTER_H = 1.0, 0.5
"""Hours before the people leave and after they are back that are told with the night."""
SHEETS = (*HANDLING_STATES, *PROCESS_STATES)
"""States that are told together, as sheets of an order."""
TOGETHER = "sheets"
PREPARES = ("upkeep", "pallet", "preparation", "material")
"""Tasks of people that are told where they need no machine."""
COLUMNS = ("at", "until", "minutes", "what_happens", "order_id", "sheets", "waits_for")


# ---- one night, event by event ----


def trace_table(study: Study, scenario: str) -> pd.DataFrame:
    """One night of the first run, one that works about as long as half of them: rows in order of time.

    Empty where no night may be shown.
    """
    why = why_none(study, [scenario])
    nights = study.nights(scenario)
    if why or nights.empty:
        return titled(pd.DataFrame(columns=list(COLUMNS)), why or say.NO_NIGHT)
    usual = nights["running_h"].sub(nights["running_h"].median()).abs()
    night = nights.iloc[int(usual.to_numpy().argmin())]
    made, numbers = study.scenario(scenario).made, study.numbers
    today = luck_of(study.plant.inputs, made)
    workload = make_workload(made, draw_luck(today, numbers.seed, 0, numbers.weeks, numbers.level))
    span = night["start_h"] - BEFORE_H, night["start_h"] + night["allowed_h"] + AFTER_H
    happened = [row for row in told(workload, scenario) if _within(row, span)]
    rows = [*_of_machine(happened, str(night["machine"])), *_of_people(happened)]
    clock = _Clock(workload)
    frame = pd.DataFrame(
        [clock.read(row, span) for row in sorted(rows, key=lambda row: row["start_h"])], columns=[*COLUMNS]
    )
    causes, care = {row.cause for row in made.plant.stops}, {row.task for row in made.plant.upkeep}
    end = say.end(night["ended_by"], night["want"], night["want"] in causes, night["want"] in care)
    title = say.one_night(clock.name(night["start_h"]), night["running_h"], night["allowed_h"], end)
    return titled(frame, title, say.ONE_NIGHT_NOTE, folded=True)


def _within(row: Mapping[str, Any], span: tuple[float, float]) -> bool:
    return bool(row["kind"] in (MACHINE, REQUEST) and row["end_h"] > span[0] and row["start_h"] < span[1])


def _of_machine(rows: list[dict[str, Any]], machine: str) -> Iterator[dict[str, Any]]:
    """What the machine did, the sheets of an order in a row told together."""
    own = [row for row in rows if row["kind"] == MACHINE and row["resource"] == machine]
    for (state, job), group in groupby(own, key=lambda row: (_kind(row["state"]), row.get("job"))):
        held = list(group)
        if state != TOGETHER:
            yield from held
            continue
        sheets = {row["sheet"] for row in held if row["state"] != LOADING and "sheet" in row}
        yield {**held[0], "state": TOGETHER, "end_h": held[-1]["end_h"], "sheets": len(sheets), "job": job}


def _kind(state: str) -> str:
    return TOGETHER if state in SHEETS else state


def _of_people(rows: list[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    """What people prepared beside the machine."""
    for row in rows:
        if row["kind"] == REQUEST and row["state"] == WORKS and not row["resource"] and row["task"] in PREPARES:
            yield {**row, "state": row["task"], "by": row["by"]}


class _Clock:
    """Hours of a run as weekday and time of day."""

    def __init__(self, workload: Workload) -> None:
        self.plan = workload.plan

    def read(self, row: Mapping[str, Any], span: tuple[float, float]) -> dict[str, Any]:
        """A row as a person reads it, cut to the span that is told."""
        start, end = max(row["start_h"], span[0]), min(row["end_h"], span[1])
        doing = say.happening(row["state"], row.get("by", ""))
        waits = say.WANTS.get(row.get("waiting", ""), row.get("waiting", "").replace("_", " "))
        return {"at": self.time(start), "until": self.time(end), "minutes": 60 * (end - start), "what_happens": doing,
                "order_id": row.get("order_id", "") if row["state"] != CLOSED else "", "sheets": row.get("sheets"),
                "waits_for": waits}  # fmt: skip

    def time(self, hour: float) -> str:
        """Weekday and time of day."""
        day = self.plan.day_of(hour * SECONDS_PER_HOUR)
        minutes = round((hour * SECONDS_PER_HOUR - self.plan.day_start[day]) / 60)
        return f"{WEEKDAYS[day % 7]} {minutes // 60 % 24:02d}:{minutes % 60:02d}"

    def name(self, hour: float) -> str:
        """The night that starts at an hour."""
        day = self.plan.day_of(hour * SECONDS_PER_HOUR)
        return f"{WEEKDAYS[day % 7]} to {WEEKDAYS[(day + 1) % 7]} of week {day // 7 + 1}"
