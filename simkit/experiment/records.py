"""The records of one run, made once from its trace and kept with it; measures are sums over them. No pandas.

The bench is told by ``Trace.bench_level``: moments (s), places of the bench taken (sheets waiting and in work), and
whole sheets on the stack, each until the next moment.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simkit.base.arrays import Floats
from simkit.base.units import HOURS_PER_DAY, SECONDS_PER_DAY, SECONDS_PER_HOUR
from simkit.base.vocabulary import STOPPED
from simkit.cell.trace import STATE_CODE, WORN_TOOL, MachineStates, Trace
from simkit.experiment.nights import Night, night_table
from simkit.experiment.ordermeasures import OrderRow, order_table
from simkit.experiment.overlaps import measured_span, overlap_s
from simkit.experiment.partmeasures import PickedSheets, pick_table
from simkit.experiment.tables import Records, Table, table, table_of
from simkit.experiment.toolmeasures import FamilyUse, ToolUse, WrongLoadCount, tool_tables
from simkit.process.shifts import Span, without
from simkit.process.workload import Workload

Level = Sequence[tuple[float, int, int]]


class Morning(NamedTuple):
    """The start of an attended day, and the sheets at the bench and on the stack just before it."""

    moment_h: float
    bench: int
    stack: int


class Hour(NamedTuple):
    """An hour of the day (0 to 23), and the mean sheets in it at the bench and on the whole-sheet stack."""

    hour: int
    bench: float
    stack: float


def _columns(level: Level) -> tuple[Floats, Floats]:
    """Moments, from 0, and the two levels from each of them on."""
    table = np.array([(0.0, 0, 0), *level], float)
    return table[:, 0], table[:, 1:]


def by_hour(level: Level, span: Span) -> Table:
    """Mean sheets in each :class:`Hour` of the day over the whole hours of a span; empty for less than a day."""
    first, last = np.ceil(span[0] / SECONDS_PER_HOUR), np.floor(span[1] / SECONDS_PER_HOUR)
    if last - first < HOURS_PER_DAY:
        return table_of(Hour, ())
    edges = np.arange(first, last + 1) * SECONDS_PER_HOUR
    moment, held = _columns(level)
    lasted = np.diff(moment, append=max(float(edges[-1]), float(moment[-1])))
    sheet_s = np.concatenate([np.zeros((1, 2)), np.cumsum(held * lasted[:, None], axis=0)])
    at = np.searchsorted(moment, edges, side="right") - 1
    until = sheet_s[at] + held[at] * (edges - moment[at])[:, None]
    mean = np.diff(until, axis=0) / SECONDS_PER_HOUR
    of_hour = (np.arange(first, last) % HOURS_PER_DAY).astype(np.int64)
    hours = range(int(HOURS_PER_DAY))
    return table_of(Hour, ((hour, *mean[of_hour == hour].mean(axis=0)) for hour in hours))


def mornings(level: Level, attended: Sequence[Span], span: Span) -> Table:
    """Each :class:`Morning` of a span: sheets that wait when the first people of a day come, if some do.

    ``attended`` are the attended spans, sorted. What happens at that very moment is not yet counted.
    """
    first: dict[int, float] = {}
    for start, _ in attended:
        if span[0] <= start < span[1]:
            first.setdefault(int(start // SECONDS_PER_DAY), start)
    moments = np.array(list(first.values()), float)
    moment, held = _columns(level)
    before = np.maximum(np.searchsorted(moment, moments, side="left") - 1, 0)
    return table(Morning, (moments / SECONDS_PER_HOUR, *held[before].T))


WORN, WRONG = "worn_tool", "wrong_tool"
"""Causes that no row of stops.csv names: a tool past its life, a tool loaded wrongly."""


class StopRow(NamedTuple):
    """A stop in the measured span: ``cause`` is a row of stops.csv, or :data:`WORN` or :data:`WRONG`.

    ``at_h`` counts from the start of the run; ``stopped_h`` are the hours in the state 'stopped' from then to the next
    stop, as counted there: in open hours; ``unattended`` is a stop in an allowed night.
    """

    machine: str
    cause: str
    at_h: float
    stopped_h: float
    unattended: bool


def stop_table(trace: Trace, workload: Workload) -> Table:
    """All stops of a run, in order of machine, then time; their hours sum to those of the state."""
    span = measured_span(trace, workload)
    found = [_stops(log, span, trace.open_spans) for log in trace.machines]
    cause, at_s, stopped_s = (np.concatenate(column) for column in zip(*found, strict=True))
    machine = np.repeat(np.arange(len(found)), [len(causes) for causes, _, _ in found])
    causes = [*(row.cause for row in workload.plant.stops), WRONG, WORN]
    wrong, worn = len(causes) - 2, len(causes) - 1
    starts, ends = np.array(without(workload.plan.nights, trace.overtime_spans)).reshape(-1, 2).T
    unattended = np.searchsorted(starts, at_s, side="right") > np.searchsorted(ends, at_s, side="right")
    return table(StopRow, (
        _named([row.machine_id for row in workload.plant.machines], machine),
        _named(causes, np.where(cause >= 0, cause, np.where(cause == WORN_TOOL, worn, wrong))),
        at_s / SECONDS_PER_HOUR, stopped_s / SECONDS_PER_HOUR, unattended,
    ))  # fmt: skip


def _named(names: Sequence[str], rows: NDArray[np.int64]) -> NDArray[np.str_]:
    """The name of each row, as wide as the longest there is."""
    used = np.array([name if row in rows else "" for row, name in enumerate(names)])
    return used[rows]


def _stops(log: MachineStates, span: Span, open_spans: tuple[Span, ...]) -> tuple[NDArray[np.int64], Floats, Floats]:
    """Cause, moment and seconds stopped of each stop within a span."""
    stood = log.state == STATE_CODE[STOPPED]
    start_s, end_s = log.start_s[stood], log.end_s[stood]
    cause, at_s = np.array(log.stop_cause, np.int64), np.array(log.stop_at_s, float)
    of_stop = np.searchsorted(at_s, start_s, side="right") - 1
    open_s = overlap_s(np.clip(start_s, *span), np.clip(end_s, *span), open_spans)
    stopped_s = np.bincount(of_stop, open_s, len(at_s)).astype(float)
    inside = (span[0] <= at_s) & (at_s < span[1])
    return cause[inside], at_s[inside], stopped_s[inside]


ROWS = {
    "orders": OrderRow, "nights": Night, "mornings": Morning, "hours": Hour, "picks": PickedSheets, "tools": ToolUse,
    "families": FamilyUse, "faults": WrongLoadCount, "stops": StopRow,
}  # fmt: skip
"""What a row of each table is, by the name of the table."""


def record_run(trace: Trace, workload: Workload) -> Records:
    """All tables of one run."""
    span = (0.0, min(workload.span_s, trace.end_s))
    return {
        "orders": order_table(trace, workload), "nights": night_table(trace, workload),
        "mornings": mornings(trace.bench_level, trace.attended_spans, span), "hours": by_hour(trace.bench_level, span),
        "picks": pick_table(trace, workload), **tool_tables(trace, workload), "stops": stop_table(trace, workload),
    }  # fmt: skip
