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
from simkit.desk.night_tables import why_none
from simkit.desk.notebook_display import titled
from simkit.desk.runs import luck_of
from simkit.desk.simulated import Simulated
from simkit.experiment.eventcolumns import MACHINE, REQUEST
from simkit.experiment.events import WORKS, run_as_rows
from simkit.experiment.measures import state_table
from simkit.experiment.overlaps import measured_span
from simkit.experiment.replication import draw_luck
from simkit.experiment.states import gantt_rows
from simkit.process.workload import Workload, make_workload
from simkit.report import sentences_nights as say

if TYPE_CHECKING:
    from simkit.desk.plants import Scenario

OF_MACHINES = {**{f"state_{state}_h": "h" for state in STATES}, "sheets_in_span": "sheets"}
"""Measures that a single machine has, and their units."""
WEEK_COLUMNS = ("resource", "state", "start_h", "end_h")


def week_table(study: Simulated, scenario: str | Scenario, week: int | None = None) -> pd.DataFrame:
    """Who or what was in which state in one week of the first replication, by default its second.

    Columns resource, state, start_h and end_h in hours from Monday 00:00; ``calendar`` holds shifts and breaks.
    """
    shown = week or (2 if study.numbers.weeks > 1 else 1)  # the first week begins with the start of the run
    own = study.scenario(scenario)
    workload = _workload(study, own)
    rows = [row[1:] for row in gantt_rows(simulate(workload), workload, own.name, shown - 1)]
    if not rows:
        mend = f"Choose one of the {study.numbers.weeks:g} weeks simulated, from 1"
        raise BadInput([Finding("study.week", "nothing was simulated in this week", mend, value=str(shown))])
    return pd.DataFrame(rows, columns=list(WEEK_COLUMNS))


def order_table(study: Simulated, scenario: str | Scenario, replications: int = 1) -> pd.DataFrame:
    """One row per order of the first replications: released, due, started, there, in hours from the start.

    The columns are those of :class:`simkit.experiment.ordermeasures.OrderRow`; ``fate`` is in_house, subcontract or
    refused, ``late_days`` count from the due date; hours are empty where nothing happened by the end of the run.
    """
    return _kept(study, "orders", scenario, replications)


def night_table(study: Simulated, scenario: str | Scenario, replications: int = 1) -> pd.DataFrame:
    """One row per machine and unattended night of the first replications: hours allowed, run and lost, and why."""
    return _kept(study, "nights", scenario, replications)


def _kept(study: Simulated, table: str, scenario: str | Scenario, replications: int) -> pd.DataFrame:
    """Rows of a table that was kept with the runs, of the first replications at the demand of the answers."""
    if not 1 <= replications <= study.numbers.replications:
        mend = f"Choose 1 to {study.numbers.replications}, or simulate more"
        raise BadInput([Finding("replications", "so many were not simulated", mend, value=str(replications))])
    rows = study.records(table, study.scenario(scenario).name)
    return rows[rows["replication"] < replications].reset_index(drop=True)


def machine_table(study: Simulated, scenario: str | Scenario) -> pd.DataFrame:
    """Hours of each state and sheets of every machine, in long form: machine, replication, measure, value, unit.

    In the measured span. With several machines every replication is run for it again; of a single machine they are the
    measures of the cell.
    """
    own = study.scenario(scenario)
    names = [row.machine_id for row in own.made.plant.machines]
    if len(names) == 1:
        rows = [
            (names[0], number, measure, value, unit)
            for measure, unit in OF_MACHINES.items()
            for number, value in enumerate(study.results.raw(own.name, measure, study.numbers.level))
        ]
    else:
        rows = [row for number in range(study.numbers.replications)
                for row in _machines(number, _workload(study, own, number))]  # fmt: skip
    return pd.DataFrame(rows, columns=["machine", "replication", "measure", "value", "unit"])


def _machines(number: int, workload: Workload) -> Iterator[tuple[str, int, str, float, str]]:
    trace = simulate(workload)
    span = measured_span(trace, workload)
    machines = zip(workload.plant.machines, trace.machines, workload.by_machine, strict=True)
    for row, log, own in machines:
        hours = state_table(log, own, trace.open_spans, span) / SECONDS_PER_HOUR
        made = sum(span[0] <= moment < span[1] for moment in log.made_at_s)
        for (measure, unit), value in zip(OF_MACHINES.items(), (*hours.tolist(), float(made)), strict=True):
            yield row.machine_id, number, measure, value, unit


def _workload(study: Simulated, scenario: Scenario, number: int = 0) -> Workload:
    """What a replication of a scenario does, with the luck of the study."""
    today, numbers = luck_of(study.plant.inputs, scenario.made), study.numbers
    return make_workload(scenario.made, draw_luck(today, numbers.seed, number, numbers.weeks, numbers.level))


BEFORE_H, AFTER_H = 1.0, 0.5
"""Hours before the people leave and after they are back that are told with the night."""
SHEETS = (*HANDLING_STATES, *PROCESS_STATES)
"""States that are told together, as sheets of an order."""
TOGETHER = "sheets"
PREPARES = ("upkeep", "pallet", "preparation", "material")
"""Tasks of people that are told where they need no machine."""
COLUMNS = ("at", "until", "minutes", "what_happens", "order_id", "sheets", "waits_for")


# ---- one night, event by event ----


def trace_table(study: Simulated, scenario: str | Scenario) -> pd.DataFrame:
    """A usual unattended night of a scenario event by event: at, until, what_happens, order_id, sheets.

    Of the first run, one that works about as long as half of them; empty where no night may be shown.
    """
    own = study.scenario(scenario)
    why, nights = why_none(study, [own.name]), night_table(study, own)
    if why or nights.empty:
        return titled(pd.DataFrame(columns=list(COLUMNS)), why or say.NO_NIGHT)
    usual = nights["running_h"].sub(nights["running_h"].median()).abs()
    night = nights.iloc[int(usual.to_numpy().argmin())]
    workload = _workload(study, own)
    span = night["start_h"] - BEFORE_H, night["start_h"] + night["allowed_h"] + AFTER_H
    happened = [row for row in run_as_rows(workload, own.name) if _within(row, span)]
    rows = [*_of_machine(happened, str(night["machine"])), *_of_people(happened)]
    clock = _TimeOfDay(workload)
    frame = pd.DataFrame(
        [clock.read(row, span) for row in sorted(rows, key=lambda row: row["start_h"])], columns=[*COLUMNS]
    )
    held = own.made.plant
    causes, upkeep = {row.cause for row in held.stops}, {row.task for row in held.upkeep}
    end, _ = say.end(night["ended_by"], night["want"], night["want"] in causes, night["want"] in upkeep)
    title_and_note = say.one_night(clock.name(night["start_h"]), night["running_h"], night["allowed_h"], end)
    return titled(frame, *title_and_note, folded=True)


def _within(row: Mapping[str, Any], span: tuple[float, float]) -> bool:
    return bool(row["kind"] in (MACHINE, REQUEST) and row["end_h"] > span[0] and row["start_h"] < span[1])


def _of_machine(rows: list[dict[str, Any]], machine: str) -> Iterator[dict[str, Any]]:
    """What the machine did, the sheets of an order in a row told together."""
    own = [row for row in rows if row["kind"] == MACHINE and row["resource"] == machine]
    for (state, job), group in groupby(
        own, key=lambda row: (TOGETHER if row["state"] in SHEETS else row["state"], row.get("job"))
    ):
        held = list(group)
        if state != TOGETHER:
            yield from held
            continue
        sheets = {row["sheet"] for row in held if row["state"] != LOADING and "sheet" in row}
        yield {**held[0], "state": TOGETHER, "end_h": held[-1]["end_h"], "sheets": len(sheets), "job": job}


def _of_people(rows: list[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    """What people prepared beside the machine."""
    for row in rows:
        if row["kind"] == REQUEST and row["state"] == WORKS and not row["resource"] and row["task"] in PREPARES:
            yield {**row, "state": row["task"], "by": row["by"]}


class _TimeOfDay:
    """Hours of a run as weekday and time of day."""

    def __init__(self, workload: Workload) -> None:
        self.plan = workload.plan

    def read(self, row: Mapping[str, Any], span: tuple[float, float]) -> dict[str, Any]:
        """A row as a person reads it, cut to the span that is told."""
        start, end = max(row["start_h"], span[0]), min(row["end_h"], span[1])
        doing = say.happening(row["state"], row.get("by", ""))
        asked = row.get("waiting", "")
        waits = say.WANTS[asked][0] if asked in say.WANTS else asked.replace("_", " ")
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
