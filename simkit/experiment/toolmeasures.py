"""Tools in a run: exchanges by tool and kind, minutes by family of programs, tools loaded wrongly, wear."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from simkit.base.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE
from simkit.base.vocabulary import EXCHANGES
from simkit.cell.trace import Trace
from simkit.cell.wrongtools import LATER
from simkit.experiment.tables import Records, Table, column_sum, table_of
from simkit.process.workload import Workload

HITS = "hits"
"""Stands in place of a kind of exchange in the row of a tool's hits, which take no minutes."""


class ToolUse(NamedTuple):
    """How often a tool was exchanged in one way over the whole run, and the minutes that took; or its hits.

    Minutes are of the machine where they are visible, and behind its cutting where they are hidden.
    """

    tool_id: str
    exchange: str
    times: float
    visible_min: float
    hidden_min: float


class FamilyUse(NamedTuple):
    """A family of programs over the whole run: minutes of exchanges, of punching and forming and of cutting its good
    sheets, fixed minutes of its orders, and the orders started."""

    family: str
    visible_min: float
    hidden_min: float
    punch_min: float
    cut_min: float
    fixed_min: float
    orders: float


class WrongLoadCount(NamedTuple):
    """Tools loaded wrongly over the whole run: the fault, where it was found, and how often."""

    fault: str
    found: str
    times: float


def tool_tables(trace: Trace, workload: Workload) -> dict[str, Table]:
    """Tables of tools, families and faults of one run."""
    rows = {"tools": (ToolUse, 2, [*_exchanges(trace, workload), *_hits(trace, workload)]),
            "families": (FamilyUse, 1, _families(trace, workload)),
            "faults": (WrongLoadCount, 2, _faults(trace, workload))}  # fmt: skip
    return {name: _added(*what) for name, what in rows.items()}


def tool_totals(trace: Trace, records: Records) -> dict[str, float]:
    """Exchanges by kind over the whole run, hidden and visible time, wear."""
    tools, faults = records["tools"], records["faults"]
    measures = {f"{kind}s": column_sum(tools["times"][tools["exchange"] == kind]) for kind in EXCHANGES}
    measures["magazine_misses"] = float(sum(counts.misses for counts in trace.tools))
    measures["magazine_loads"] = float(sum(counts.magazine_loads for counts in trace.tools))
    measures["exchange_hidden_h"] = sum(counts.hidden_s for counts in trace.tools) / SECONDS_PER_HOUR
    measures["exchange_visible_h"] = sum(counts.visible_s for counts in trace.tools) / SECONDS_PER_HOUR
    wear = [counts.wear for counts in trace.tools]
    measures["tools_reground"] = float(sum(sum(each.reground.values()) for each in wear))
    measures["tools_replaced"] = float(sum(sum(each.replaced.values()) for each in wear))
    measures["tool_lives"] = measures["tools_reground"] + measures["tools_replaced"]
    measures["tools_worn_out"] = float(sum(each.worn_out for each in wear))
    measures["tool_faults"] = column_sum(faults["times"])
    measures["tool_faults_late"] = column_sum(faults["times"][faults["found"] == LATER])
    measures["tool_fault_h"] = sum(counts.faults.repair_s for counts in trace.tools) / SECONDS_PER_HOUR
    measures["tools_broken"] = float(sum(counts.broken for counts in trace.tools))
    return measures


Rows = Iterator[tuple[Any, ...]]


def _added(row: Any, keys: int, rows: Iterable[tuple[Any, ...]]) -> Table:
    """Rows with the same names, in so many first columns, as one: their amounts added in the order they come."""
    found: dict[tuple[str, ...], list[float]] = {}
    for names, amounts in ((each[:keys], each[keys:]) for each in rows):
        known = found.get(names)
        found[names] = list(amounts) if known is None else [a + b for a, b in zip(known, amounts, strict=True)]
    return table_of(row, [(*names, *amounts) for names, amounts in found.items()])


def _exchanges(trace: Trace, workload: Workload) -> Rows:
    tools = workload.plant.tools
    for counts in trace.tools:
        for (kind, tool), (times, visible_s, hidden_s) in sorted(counts.by_tool.items()):
            yield tools[tool].tool_id, kind, times, visible_s / SECONDS_PER_MINUTE, hidden_s / SECONDS_PER_MINUTE


def _hits(trace: Trace, workload: Workload) -> Rows:
    made = sum(_by_program(workload, log.made, np.ones(len(workload.sheets.program))) for log in trace.machines)
    for program, sheets in zip(workload.tables.programs, made * workload.tables.filled, strict=True):
        for use in workload.plant.tools_of.get(program.program_id, ()):
            if sheets:
                yield use.tool_id, HITS, float(sheets * use.hits_per_sheet), 0.0, 0.0


def _faults(trace: Trace, workload: Workload) -> Rows:
    for counts in trace.tools:
        for (row, where), times in sorted(counts.faults.found.items()):
            yield workload.plant.load_faults[row].fault, where, float(times)


def _families(trace: Trace, workload: Workload) -> Rows:
    """Minutes and orders of each family of programs, whatever machine made them."""
    programs = workload.tables.programs
    for log, own in zip(trace.machines, workload.by_machine, strict=True):
        stages = (_by_program(own, log.made, s) for s in (own.sheets.punch_s + own.sheets.form_s, own.sheets.cut_s))
        for program, punch_s, cut_s in zip(programs, *stages, strict=True):
            yield program.family, 0.0, 0.0, punch_s / SECONDS_PER_MINUTE, cut_s / SECONDS_PER_MINUTE, 0.0, 0.0
    jobs, once = {job.number: job for job in trace.jobs}, workload.orders.seconds
    for counts in trace.tools:
        for number, (visible_s, hidden_s) in sorted(counts.by_job.items()):
            family = programs[jobs[number].program].family
            yield family, visible_s / SECONDS_PER_MINUTE, hidden_s / SECONDS_PER_MINUTE, 0.0, 0.0, 0.0, 0.0
    for job in jobs.values():
        if job.started_s >= 0:
            first = job.members[0]
            fixed_s = float(once["fixed"][first] + once["fixed_machine"][first])
            fixed_min = fixed_s / SECONDS_PER_MINUTE
            yield programs[job.program].family, 0.0, 0.0, 0.0, 0.0, fixed_min, float(len(job.members))


def _by_program(workload: Workload, sheets: list[int], amount: NDArray[np.float64]) -> NDArray[np.float64]:
    """Sum of an amount per sheet over these sheets, by program."""
    chosen = np.array(sheets, np.int64)
    program = workload.sheets.program[chosen]
    return np.bincount(program, weights=amount[chosen], minlength=len(workload.tables.programs)).astype(float)
