"""One record per machine and night: what ran unattended, what ended it, and what it leaves for the morning."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from simkit.base.units import SECONDS_PER_HOUR
from simkit.base.vocabulary import NIGHT_WANTS
from simkit.cell.trace import RUN, STATE_CODE, MachineLog, Trace
from simkit.experiment.measures import ACTIVE, night_end
from simkit.experiment.spans import Floats, overlap_s
from simkit.process.shifts import Span, without
from simkit.process.workload import Workload

LEFT_BY_SHIFT = NIGHT_WANTS[-1]


@dataclass(frozen=True)
class NightRecord:
    """An allowed night at one machine.

    ``start_h`` and ``end_h`` count from the start of the run; the night is cut where worked overtime or the end of
    the run takes from it. ``running_h`` are hours in which the machine worked, ``process_h`` those of them in which it
    punched, formed or cut; ``ended_by`` is what was missing first (a word of
    :data:`simkit.base.vocabulary.NIGHT_LIMITS`; empty: the night reached its end), ``want`` the same finer (a cause, an
    upkeep task, or a word of ``NIGHT_WANTS``; empty also at ``queue``) and ``lost_h`` the hours after it. Waits for
    somebody on call are neither. ``sheets`` and ``parts`` were made in it, of so many ``programs``, ``materials`` and
    ``tools`` (tool and clearance); ``hand_h`` are the hours of work by hand on those sheets, ``bench_sheets`` and
    ``stack_sheets`` what lies there at its end, over all machines, and ``worked_off_h`` the hours from its end until
    no more lies there than at its start (to the end of the run if never). ``calls`` are calls of people on call, over
    all machines.
    """

    machine: str
    start_h: float
    end_h: float
    running_h: float
    process_h: float
    sheets: int
    parts: int
    programs: int
    materials: int
    tools: int
    ended_by: str
    want: str
    lost_h: float
    hand_h: float
    bench_sheets: int
    stack_sheets: int
    worked_off_h: float
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


def worked_h(trace: Trace, spans: tuple[Span, ...]) -> float:
    """Hours that the machines worked within spans of time (sorted, disjoint)."""
    return sum(float(_hours(log, spans)[_busy(log)].sum()) for log in trace.machines)


def _hours(log: MachineLog, spans: tuple[Span, ...]) -> Floats:
    return overlap_s(np.array(log.start_s), np.array(log.end_s), spans) / SECONDS_PER_HOUR


def _busy(log: MachineLog) -> NDArray[np.bool_]:
    return np.isin(np.array(log.state), [*(STATE_CODE[word] for word in ACTIVE), RUN])


def _record(name: str, log: MachineLog, night: Span, trace: Trace, workload: Workload) -> NightRecord:
    state, inside_h = np.array(log.state), _hours(log, (night,))
    ended_s, ended_by = night_end(log, state, np.array(log.start_s), night) or (night[1], "")
    made = [sheet for sheet, moment in zip(log.made, log.made_at_s, strict=True) if night[0] < moment <= night[1]]
    programs = [int(workload.sheets.program[sheet]) for sheet in made]
    level = _level(trace, night[1])
    return NightRecord(
        machine=name,
        start_h=night[0] / SECONDS_PER_HOUR,
        end_h=night[1] / SECONDS_PER_HOUR,
        running_h=float(inside_h[_busy(log)].sum()),
        process_h=float(inside_h[state == RUN].sum()),
        sheets=len(made),
        parts=sum(workload.tables.flows[program].parts for program in programs),
        programs=len(set(programs)),
        materials=len({int(workload.tables.material[program]) for program in programs}),
        tools=len(_tools(programs, workload)),
        ended_by=ended_by,
        want=_want(log, ended_s, ended_by),
        lost_h=(night[1] - ended_s) / SECONDS_PER_HOUR,
        hand_h=float(sum(workload.sheets.bench_s[sheet] for sheet in made)) / SECONDS_PER_HOUR,
        bench_sheets=level[0],
        stack_sheets=level[1],
        worked_off_h=_worked_off_s(trace, night) / SECONDS_PER_HOUR,
        calls=sum(night[0] <= moment < night[1] for moment in trace.tasks.called_s),
    )


def _tools(programs: list[int], workload: Workload) -> set[tuple[str, float]]:
    """Tools at clearances that these programs use."""
    plant, rows = workload.plant, [workload.tables.programs[program] for program in dict.fromkeys(programs)]
    return {
        (use.tool_id, plant.material_by_id[row.material_id].clearance_mm)
        for row in rows
        for use in plant.tools_of.get(row.program_id, ())
    }


def _level(trace: Trace, moment_s: float) -> tuple[int, int]:
    """Sheets at the bench and on the stack at a moment."""
    after = _first_after(trace, moment_s)
    return trace.bench_level[after - 1][1:] if after else (0, 0)


def _first_after(trace: Trace, moment_s: float) -> int:
    """Number of the first change of the bench after a moment; changes stand in order of time."""
    return bisect_right(trace.bench_level, moment_s, key=lambda row: row[0])


def _worked_off_s(trace: Trace, night: Span) -> float:
    before = sum(_level(trace, night[0]))
    if sum(_level(trace, night[1])) <= before:
        return 0.0
    later = islice(trace.bench_level, _first_after(trace, night[1]), None)
    return next((moment for moment, *level in later if sum(level) <= before), trace.end_s) - night[1]


def _want(log: MachineLog, ended_s: float, ended_by: str) -> str:
    """What the wait that ended a night was for; a wait from before the night is work that the shift left."""
    if ended_by in ("", "queue"):
        return ""
    waits = zip(log.wait_s, log.wait_limit, log.wait_want, strict=True)
    return next((w for moment, limit, w in waits if (moment, limit) == (ended_s, ended_by)), LEFT_BY_SHIFT)
