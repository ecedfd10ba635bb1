"""One record per unplanned stop of a machine: what caused it, when, and how long the machine then stood."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from simkit.base.units import SECONDS_PER_HOUR
from simkit.base.vocabulary import STOPPED
from simkit.cell.trace import STATE_CODE, WORN_TOOL, MachineLog, Trace
from simkit.experiment.spans import measured_span, overlap_s
from simkit.experiment.tables import Table, table_of
from simkit.process.shifts import Span, without
from simkit.process.workload import Workload

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
    nights = without(workload.plan.nights, trace.overtime_spans)
    names = [row.machine_id for row in workload.plant.machines]
    causes = [row.cause for row in workload.plant.stops]
    rows = (
        (name, causes[cause] if cause >= 0 else WORN if cause == WORN_TOOL else WRONG, at_s / SECONDS_PER_HOUR,
         stopped_s / SECONDS_PER_HOUR, any(start <= at_s < end for start, end in nights))
        for name, log in zip(names, trace.machines, strict=True)
        for cause, at_s, stopped_s in _stops(log, span, trace.open_spans)
    )  # fmt: skip
    return table_of(StopRow, rows)


def _stops(log: MachineLog, span: Span, open_spans: tuple[Span, ...]) -> Iterator[tuple[int, float, float]]:
    """Cause, moment and seconds stopped of each stop within a span."""
    stood = np.array(log.state) == STATE_CODE[STOPPED]
    start_s, end_s = (np.array(column, float)[stood] for column in (log.start_s, log.end_s))
    of_stop = np.searchsorted(log.stop_at_s, start_s, side="right") - 1
    open_s = overlap_s(np.clip(start_s, *span), np.clip(end_s, *span), open_spans)
    stopped_s = np.bincount(of_stop, open_s, len(log.stop_at_s)) if len(of_stop) else np.zeros(len(log.stop_at_s))
    for cause, at_s, seconds in zip(log.stop_cause, log.stop_at_s, stopped_s.tolist(), strict=True):
        if span[0] <= at_s < span[1]:
            yield cause, at_s, seconds
