"""The measures of one run, and its nights one by one: a model of its own, run for the few cases that need it.

A quantity of a night is named ``<quantity>_of_night_<machine>.<number>``; what ended it stands in the name of the hours
lost, ``lost_h_of_night_<machine>.<number>.<limit>.<want>``. A night that reached its end lost none and has no such
entry. Machines are rows of ``machines.csv``, from 0. This module is what a worker loads: no pandas.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from simkit.cell.run import simulate
from simkit.experiment.measures import measure_run
from simkit.experiment.nights import NightRecord, night_records, worked_h
from simkit.experiment.task import Luck, Model, Totals, cell_units, draw_luck
from simkit.plant.plant import Scenario
from simkit.process.workload import make_workload

OF_NIGHT, LOST = "_of_night_", "lost_h"
QUANTITIES: dict[str, str] = {
    "start_h": "h", "allowed_h": "h", "running_h": "h", "process_h": "h", "sheets": "sheets", "parts": "parts",
    "programs": "programs", "materials": "materials", "tools": "tools", "hand_h": "h", "bench_sheets": "sheets",
    "stack_sheets": "sheets", "worked_off_h": "h", "calls": "calls",
}  # fmt: skip
"""Quantities of a night and their units: the fields of a record of a night, with the hours allowed."""


class NightRow(NamedTuple):
    """One night of one run: machine row, number, quantities, and what ended it (empty: it reached the morning)."""

    machine: int
    number: int
    amounts: Mapping[str, float]
    ended_by: str = ""
    want: str = ""
    lost_h: float = 0.0


def count_nights(scenario: Scenario, luck: Luck) -> Totals:
    """Simulate one scenario with given luck; all measures of the cell, and its nights."""
    draws, tables_today = luck
    workload = make_workload(scenario, draws, tables_today)
    trace = simulate(workload)
    rows = [row.machine_id for row in workload.plant.machines]
    visited = {"visit_running_h": worked_h(trace, workload.plan.visits)}
    return measure_run(trace, workload) | visited | night_totals(night_records(trace, workload), rows)


def night_totals(records: tuple[NightRecord, ...], machines: list[str]) -> Totals:
    """Records of nights as flat totals."""
    totals: Totals = {}
    number: dict[str, int] = {}
    for record in records:
        at = number[record.machine] = number.get(record.machine, -1) + 1
        night = f"{OF_NIGHT}{machines.index(record.machine)}.{at}"
        for quantity in QUANTITIES:
            value = record.end_h - record.start_h if quantity == "allowed_h" else getattr(record, quantity)
            totals[f"{quantity}{night}"] = float(value)
        if record.ended_by:
            totals[f"{LOST}{night}.{record.ended_by}.{record.want}"] = record.lost_h
    return totals


def night_rows(totals: Mapping[str, float]) -> Iterator[NightRow]:
    """The nights of one run from its flat totals, in order of machine and time."""
    amounts: dict[tuple[int, int], dict[str, float]] = {}
    ends: dict[tuple[int, int], tuple[str, str, float]] = {}
    for name, value in totals.items():
        quantity, of_night, rest = name.partition(OF_NIGHT)
        if not of_night:
            continue
        machine, number, *what = rest.split(".", 3)
        key = int(machine), int(number)
        if quantity == LOST:
            ends[key] = (what[0], what[1], value)
        else:
            amounts.setdefault(key, {})[quantity] = value
    for key in sorted(amounts):
        limit, want, lost_h = ends.get(key, ("", "", 0.0))
        yield NightRow(*key, amounts[key], limit, want, lost_h)


def is_of_night(measure: str) -> bool:
    """Whether a total belongs to a single night."""
    return OF_NIGHT in measure


def night_units() -> dict[str, str]:
    """Unit of every measure of the cell, and of each quantity of a night."""
    return (
        cell_units()
        | {"visit_running_h": "h"}
        | {f"{name}{OF_NIGHT}".rstrip("_"): unit for name, unit in (*QUANTITIES.items(), (LOST, "h"))}
    )


NIGHT_COUNTS = Model(draw_luck, count_nights, night_units)
"""The cell, with its nights one by one."""
