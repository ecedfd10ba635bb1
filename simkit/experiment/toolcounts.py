"""Exchanges of one run tool by tool and family by family: a model of its own, run for the few cases that need it.

Every name is ``<quantity>_<group>:<name>``. The group of a tool is the kind of exchange (or ``use`` for its hits),
that of a family of programs is ``family``. Totals are over the whole run, minutes are machine minutes unless hidden
behind cutting. This module is what a worker loads: it must not import pandas.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simkit.base.units import SECONDS_PER_MINUTE, SECONDS_PER_WEEK
from simkit.cell.run import simulate
from simkit.cell.trace import Trace
from simkit.experiment.task import Luck, Model, Totals, draw_luck
from simkit.plant.plant import Scenario
from simkit.process.workload import Workload, make_workload

FAMILY = "family"
USE = "use"
SPAN = "span_weeks"

UNITS = {
    SPAN: "weeks",
    "count": "exchanges",
    "hits": "hits",
    "faults": "faults",
    "visible": "min",
    "hidden": "min",
    "punch": "min",
    "cut": "min",
    "fixed": "min",
    "orders": "orders",
}
"""Unit of each quantity: exchanges and hits of a tool; visible and hidden exchange time; of a family also the minutes
in which its good sheets were punched and formed, and cut, the fixed minutes of its orders, and the orders started.
Faults are tools loaded wrongly: the group says where each was found, the name is the fault."""


class Counted(NamedTuple):
    """What a total counts: the quantity, its group, and the tool or the family."""

    quantity: str
    group: str
    name: str


def count_tools(scenario: Scenario, luck: Luck) -> Totals:
    """Simulate one scenario with given luck and count its exchanges."""
    draws, tables_today = luck
    workload = make_workload(scenario, draws, tables_today)
    return tool_totals(simulate(workload), workload)


def tool_totals(trace: Trace, workload: Workload) -> Totals:
    """Totals by tool and by family of one run."""
    totals: Totals = {SPAN: min(workload.span_s, trace.end_s) / SECONDS_PER_WEEK}
    found = (_exchanges, _hits, _faults, _families)
    rows = (row for rows_of in found for row in rows_of(trace, workload))
    for (quantity, group, name), value in rows:
        key = f"{quantity}_{group}:{name}"
        totals[key] = totals.get(key, 0.0) + float(value)
    return totals


def counted(measure: str) -> Counted | None:
    """Take the name of a total apart; None for the span."""
    if measure == SPAN:
        return None
    quantity, _, rest = measure.partition("_")
    group, _, name = rest.partition(":")
    return Counted(quantity, group, name)


def count_units() -> dict[str, str]:
    """Unit of each quantity."""
    return dict(UNITS)


TOOL_COUNTS = Model(draw_luck, count_tools, count_units)
"""The cell, counted by tool and family."""

Rows = Iterator[tuple[tuple[str, str, str], float]]


def _exchanges(trace: Trace, workload: Workload) -> Rows:
    tools = workload.plant.tools
    for counts in trace.tools:
        for (kind, tool), (times, visible_s, hidden_s) in sorted(counts.by_tool.items()):
            name = tools[tool].tool_id
            yield ("count", kind, name), times
            yield ("visible", kind, name), visible_s / SECONDS_PER_MINUTE
            yield ("hidden", kind, name), hidden_s / SECONDS_PER_MINUTE


def _hits(trace: Trace, workload: Workload) -> Rows:
    made = sum(_by_program(workload, log.made, np.ones(len(workload.sheets.program))) for log in trace.machines)
    for program, sheets in zip(workload.tables.programs, np.atleast_1d(made), strict=True):
        for use in workload.plant.tools_of.get(program.program_id, ()):
            if sheets:
                yield ("hits", USE, use.tool_id), sheets * use.hits_per_sheet


def _faults(trace: Trace, workload: Workload) -> Rows:
    for counts in trace.tools:
        for (row, where), times in sorted(counts.faults.found.items()):
            yield ("faults", where, workload.plant.load_faults[row].fault), times


def _families(trace: Trace, workload: Workload) -> Rows:
    """Minutes and orders of each family of programs, whatever machine made them."""
    programs = workload.tables.programs
    for log, own in zip(trace.machines, workload.by_machine, strict=True):
        times = own.sheets
        stages = {"punch": times.punch_s + times.form_s, "cut": times.cut_s}
        for quantity, seconds in stages.items():
            for program, total_s in zip(programs, _by_program(own, log.made, seconds), strict=True):
                yield (quantity, FAMILY, program.family), total_s / SECONDS_PER_MINUTE
    jobs = {job.number: job for job in trace.jobs}
    for counts in trace.tools:
        for number, (visible_s, hidden_s) in sorted(counts.by_job.items()):
            family = programs[jobs[number].program].family
            yield ("visible", FAMILY, family), visible_s / SECONDS_PER_MINUTE
            yield ("hidden", FAMILY, family), hidden_s / SECONDS_PER_MINUTE
    for job in jobs.values():
        if job.started_s >= 0:
            family, first = programs[job.program].family, job.members[0]
            fixed_s = float(workload.orders.fixed_s[first] + workload.orders.fixed_machine_s[first])
            yield ("fixed", FAMILY, family), fixed_s / SECONDS_PER_MINUTE
            yield ("orders", FAMILY, family), float(len(job.members))


def _by_program(workload: Workload, sheets: list[int], amount: NDArray[np.float64]) -> NDArray[np.float64]:
    """Sum of an amount per sheet over these sheets, by program."""
    chosen = np.array(sheets, np.int64)
    program = workload.sheets.program[chosen]
    return np.bincount(program, weights=amount[chosen], minlength=len(workload.tables.programs)).astype(float)
