"""One record per machine and night: what ran unattended, what ended it, and what it leaves for the morning."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from simkit.base.units import SECONDS_PER_HOUR
from simkit.base.vocabulary import CLOSED, NIGHT_LIMITS, NIGHT_WANTS, NO_WORK, PASSIVE_STATES, STATES
from simkit.cell.trace import RUN, STATE_CODE, MachineStates, Trace
from simkit.experiment.tables import Table, column_sum, table_of
from simkit.process.shifts import Span, without
from simkit.process.workload import Workload

LEFT_BY_SHIFT = NIGHT_WANTS[-1]
WORKING = [*(STATE_CODE[state] for state in STATES if state not in (*PASSIVE_STATES, CLOSED)), RUN]
"""Codes of the states in which a machine works."""
WAITING = [STATE_CODE[state] for state in PASSIVE_STATES if state != NO_WORK]
"""Codes of those in which it waits for somebody or something."""


class Night(NamedTuple):
    """An allowed night at one machine, the nights of a machine numbered from 0.

    ``start_h`` counts from the start of the run; the night is cut where worked overtime or the end of the run takes
    from it. ``running_h`` are hours in which the machine worked, ``process_h`` those of them in which it punched,
    formed or cut; ``ended_by`` is what was missing first (a word of :data:`simkit.base.vocabulary.NIGHT_LIMITS`; empty:
    the night reached its end), ``want`` the same finer (a cause, an upkeep task, or a word of ``NIGHT_WANTS``; empty
    also at ``queue``) and ``lost_h`` the hours after it. Waits for somebody on call are neither. ``sheets`` and
    ``parts`` were made in it, of so many ``programs``, ``materials`` and ``tools`` (tool and clearance); ``hand_h`` are
    the hours of work by hand on those sheets. Over all machines: ``bench_sheets`` and ``stack_sheets`` lie there at its
    end, ``worked_off_h`` are the hours from its end until no more lies there than at its start (to the end of the run
    if never), ``calls`` those of people on call, ``most_places`` and ``most_stack_sheets`` the most places for stacks
    taken and whole sheets on the stack at once, ``skeletons`` put down.
    """

    machine: str
    night: int
    start_h: float
    allowed_h: float
    running_h: float
    process_h: float
    sheets: int
    parts: float
    programs: int
    materials: int
    tools: int
    hand_h: float
    bench_sheets: int
    stack_sheets: int
    worked_off_h: float
    calls: int
    most_places: int
    most_stack_sheets: int
    skeletons: int
    ended_by: str
    want: str
    lost_h: float


def night_records(trace: Trace, workload: Workload) -> tuple[Night, ...]:
    """All allowed nights, in order of machine, then time; empty where none is allowed."""
    nights = [span for span in without(workload.plan.nights, trace.overtime_spans) if span[0] < trace.end_s]
    if not nights:
        return ()
    morning, names = _Morning(trace, workload), [row.machine_id for row in workload.plant.machines]
    left = [morning.left((start, min(end, trace.end_s))) for start, end in nights]
    return tuple(
        _record(name, number, log, night, own, workload)
        for name, log in zip(names, map(_Log, trace.machines), strict=True)
        for number, (night, own) in enumerate(left)
    )


def night_table(trace: Trace, workload: Workload) -> Table:
    """The same as a table."""
    return table_of(Night, night_records(trace, workload))


def night_totals(nights: Table) -> dict[str, float]:
    """Allowed nights: hours run, and what ended each, over the whole run."""
    measures = {"nights": float(len(nights)), "night_allowed_h": column_sum(nights["allowed_h"])}
    measures["night_running_h"] = column_sum(nights["running_h"])
    ended = {limit: nights["lost_h"][nights["ended_by"] == limit] for limit in NIGHT_LIMITS}
    measures |= {f"night_ended_{limit}": float(len(lost_h)) for limit, lost_h in ended.items()}
    return measures | {f"night_lost_{limit}_h": column_sum(lost_h) for limit, lost_h in ended.items()}


def worked_h(trace: Trace, spans: tuple[Span, ...]) -> float:
    """Hours that the machines worked within spans of time (sorted, disjoint)."""
    return sum(log.hours(span)[0] for log in map(_Log, trace.machines) for span in spans)


class _Log:
    """Columns of one machine's log, made once for all nights; its stretches stand in order of time."""

    def __init__(self, log: MachineStates) -> None:
        self.log = log
        self.state, self.start_s, self.end_s = log.state, log.start_s, log.end_s
        self.working, self.waiting = np.isin(self.state, WORKING), np.isin(self.state, WAITING)
        self.made, self.made_at_s = np.array(log.made, np.int64), np.array(log.made_at_s)

    def touching(self, span: Span) -> slice:
        """The stretches that reach into a span."""
        return slice(*np.searchsorted(self.end_s, span[:1], "right"), *np.searchsorted(self.start_s, span[1:]))

    def hours(self, span: Span) -> tuple[float, float]:
        """Hours of work, and of running sheets, within a span."""
        own = self.touching(span)
        inside_h = (np.minimum(self.end_s[own], span[1]) - np.maximum(self.start_s[own], span[0])) / SECONDS_PER_HOUR
        return float(inside_h[self.working[own]].sum()), float(inside_h[self.state[own] == RUN].sum())


class _Morning:
    """What nights leave, from the records of bench, stacks and calls."""

    def __init__(self, trace: Trace, workload: Workload) -> None:
        self.trace = trace
        self.on_stack = [(moment, stack) for moment, _, stack in trace.bench_level]
        flows, program = workload.tables.flows, workload.sheets.program
        leaves = np.array([flow.leaves_skeleton for flow in flows], bool)
        made = np.array([sheet for log in trace.machines for sheet in log.made], np.int64)
        at_s = np.array([moment for log in trace.machines for moment in log.made_at_s])
        self.skeleton_s = at_s[leaves[program[made]]]

    def left(self, night: Span) -> tuple[Span, dict[str, Any]]:
        """A night and what it leaves, by the columns of a record."""
        bench, stack = self._level(night[1])
        return night, {
            "bench_sheets": bench, "stack_sheets": stack, "worked_off_h": self._worked_off_s(night) / SECONDS_PER_HOUR,
            "calls": sum(night[0] <= moment < night[1] for moment in self.trace.tasks.called_s.tolist()),
            "most_places": most_in(self.trace.stack_level, night),
            "most_stack_sheets": most_in(self.on_stack, night),
            "skeletons": int(((night[0] < self.skeleton_s) & (self.skeleton_s <= night[1])).sum()),
        }  # fmt: skip

    def _level(self, moment_s: float) -> tuple[int, int]:
        """Sheets at the bench and on the stack at a moment."""
        after = self._first_after(moment_s)
        return self.trace.bench_level[after - 1][1:] if after else (0, 0)

    def _first_after(self, moment_s: float) -> int:
        """Number of the first change of the bench after a moment; changes stand in order of time."""
        return bisect_right(self.trace.bench_level, moment_s, key=lambda row: row[0])

    def _worked_off_s(self, night: Span) -> float:
        before = sum(self._level(night[0]))
        if sum(self._level(night[1])) <= before:
            return 0.0
        later = self.trace.bench_level[self._first_after(night[1]) :]
        return next((moment for moment, bench, stack in later if bench + stack <= before), self.trace.end_s) - night[1]


def most_in(level: Sequence[tuple[float, int]], span: Span) -> int:
    """The highest level within a span of (moment, level from then on), the level at its start included."""
    first = bisect_right(level, span[0], key=lambda row: row[0])
    last = bisect_left(level, span[1], key=lambda row: row[0])
    return max((amount for _, amount in level[max(first - 1, 0) : last]), default=0)


def _record(name: str, number: int, log: _Log, night: Span, left: dict[str, Any], workload: Workload) -> Night:
    ended_s, ended_by = night_end(log, night) or (night[1], "")
    made = log.made[(night[0] < log.made_at_s) & (log.made_at_s <= night[1])]
    programs: list[int] = workload.sheets.program[made].tolist()
    running_h, process_h = log.hours(night)
    return Night(
        machine=name, night=number, start_h=night[0] / SECONDS_PER_HOUR,
        allowed_h=(night[1] - night[0]) / SECONDS_PER_HOUR, running_h=running_h, process_h=process_h, sheets=len(made),
        parts=sum(workload.tables.flows[program].parts for program in programs), programs=len(set(programs)),
        materials=len({int(workload.tables.material[program]) for program in programs}),
        tools=len(_tools(programs, workload)),
        hand_h=sum(workload.sheets.hand_s[made].tolist()) / SECONDS_PER_HOUR, **left, ended_by=ended_by,
        want=_want(log.log, ended_s, ended_by), lost_h=(night[1] - ended_s) / SECONDS_PER_HOUR,
    )  # fmt: skip


def _tools(programs: list[int], workload: Workload) -> set[tuple[str, float]]:
    """Tools at clearances that these programs use."""
    plant, rows = workload.plant, [workload.tables.programs[program] for program in dict.fromkeys(programs)]
    return {
        (use.tool_id, plant.material_by_id[row.material_id].clearance_mm)
        for row in rows
        for use in plant.tools_of.get(row.program_id, ())
    }


def _want(log: MachineStates, ended_s: float, ended_by: str) -> str:
    """What the wait that ended a night was for; a wait from before the night is work that the shift left."""
    if ended_by in ("", "queue"):
        return ""
    at = slice(bisect_left(log.wait_s, ended_s), bisect_right(log.wait_s, ended_s))
    waits = zip(log.wait_limit[at], log.wait_want[at], strict=True)
    return next((want for limit, want in waits if limit == ended_by), LEFT_BY_SHIFT)


def night_end(log: _Log, night: Span) -> tuple[float, str] | None:
    """The first moment of a night at which somebody or something was missing; None if it reached the morning."""
    at = slice(bisect_left(log.log.night_wait_s, night[0]), bisect_left(log.log.night_wait_s, night[1]))
    waits = list(zip(log.log.night_wait_s[at], log.log.night_limit[at], strict=True))
    own = log.touching(night)
    state, start_s, end_s = log.state[own], log.start_s[own], log.end_s[own]
    idle_s = start_s[state == STATE_CODE[NO_WORK]]
    if len(idle_s):
        waits.append((float(max(idle_s[0], night[0])), "queue"))
    whole_night = (start_s <= night[0]) & (end_s >= min(night[1], float(log.end_s[-1])))
    if (log.waiting[own] & whole_night).any() and not any(moment == night[0] for moment, _ in waits):
        # it waits since the day, or its work was left at its end
        waits.append((night[0], _limit_before(log.log, night[0])))
    return min(waits, default=None)


def _limit_before(log: MachineStates, night_start_s: float) -> str:
    """What a machine waits for that waits through a whole night: its last wait before the night."""
    at = bisect_left(log.wait_s, night_start_s)
    return log.wait_limit[at - 1] if at else "stop"
