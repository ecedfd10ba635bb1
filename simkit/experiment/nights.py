"""One record per machine and night: what ran unattended, what ended it, and what it leaves for the morning."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from simkit.base.units import SECONDS_PER_HOUR
from simkit.cell.trace import RUN, STATE_CODE, MachineLog, Trace
from simkit.experiment.measures import ACTIVE, night_end, overlap_s
from simkit.process.shifts import Span, without
from simkit.process.workload import Workload


@dataclass(frozen=True)
class NightRecord:
    """An allowed night at one machine.

    ``start_h`` and ``end_h`` count from the start of the run; the night is cut where worked overtime or the end of
    the run takes from it. ``running_h`` are hours in which the machine worked; ``ended_by`` is what was missing first
    (a word of :data:`simkit.base.vocabulary.NIGHT_LIMITS`; empty: the night reached its end) and ``lost_h`` the hours
    after it. Waits for somebody on call are neither. ``sheets`` and ``parts`` were made in it; ``hand_h`` are the hours
    of work by hand on those sheets, and ``bench_sheets`` and ``stack_sheets`` what lies there at its end, over all
    machines. ``calls`` are calls of people on call, over all machines.
    """

    machine: str
    start_h: float
    end_h: float
    running_h: float
    sheets: int
    parts: int
    ended_by: str
    lost_h: float
    hand_h: float
    bench_sheets: int
    stack_sheets: int
    calls: int


def night_records(trace: Trace, workload: Workload) -> tuple[NightRecord, ...]:
    """Records of all allowed nights, in order of machine, then time; empty where none is allowed."""
    nights = [span for span in without(workload.plan.nights, trace.overtime_spans) if span[0] < trace.end_s]
    cut = [(start, min(end, trace.end_s)) for start, end in nights]
    names = [row.machine_id for row in workload.plant.machines]
    return tuple(
        _record(name, log, night, trace, workload)
        for name, log in zip(names, trace.machines, strict=True)
        for night in cut
    )


def _record(name: str, log: MachineLog, night: Span, trace: Trace, workload: Workload) -> NightRecord:
    state, start, end = np.array(log.state), np.array(log.start_s), np.array(log.end_s)
    busy = np.isin(state, [*(STATE_CODE[word] for word in ACTIVE), RUN])
    ended_s, ended_by = night_end(log, state, start, night) or (night[1], "")
    made = [sheet for sheet, moment in zip(log.made, log.made_at_s, strict=True) if night[0] < moment <= night[1]]
    sheets = workload.sheets
    levels = [row[1:] for row in trace.bench_level if row[0] <= night[1]]
    bench, stack = levels[-1] if levels else (0, 0)
    return NightRecord(
        machine=name,
        start_h=night[0] / SECONDS_PER_HOUR,
        end_h=night[1] / SECONDS_PER_HOUR,
        running_h=float(overlap_s(start, end, (night,))[busy].sum()) / SECONDS_PER_HOUR,
        sheets=len(made),
        parts=sum(workload.tables.flows[int(sheets.program[sheet])].parts for sheet in made),
        ended_by=ended_by,
        lost_h=(night[1] - ended_s) / SECONDS_PER_HOUR,
        hand_h=float(sum(sheets.bench_s[sheet] for sheet in made)) / SECONDS_PER_HOUR,
        bench_sheets=bench,
        stack_sheets=stack,
        calls=sum(night[0] <= moment < night[1] for moment in trace.tasks.called_s),
    )
