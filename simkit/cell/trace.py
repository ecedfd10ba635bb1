"""The trace of one replication: who or what was in which state from when to when. No statistics."""

from __future__ import annotations

from dataclasses import dataclass, field

from simkit.base.vocabulary import STATES
from simkit.cell.logs import MachineLog, TaskLog
from simkit.cell.orders import Job
from simkit.cell.planning import Decision
from simkit.cell.toolwork import ToolCounts
from simkit.process.shifts import Span

STATE_CODE = {state: code for code, state in enumerate(STATES)}
RUN = len(STATES)
"""State code of a stretch of a sheet's run; its split into states follows from the sheet's own times."""

WORN_TOOL, TOOL_FAULT = -1, -2
"""Causes of stops in the trace that no row of stops.csv names: a tool past its life, a tool loaded wrongly."""


def fault_cause(row: int) -> int:
    """The cause of what a row of load_faults.csv costs."""
    return TOOL_FAULT - row


@dataclass(frozen=True)
class Trace:
    """Records of one replication; times in seconds from the start.

    ``end_s`` is the end of the run: the horizon, or the moment when the released book was finished (not
    before the end of the span). ``bench_level`` lists (moment, places taken, sheets on the stack). ``stacks_taken``
    counts stacks of parts by why they went; ``stack_level`` lists (moment, places for stacks taken), those of stacks
    that wait to be taken away included; ``skeletons`` holds, per machine, those put down and full pallets. ``moved``
    holds each piece of moved work: its task, and from when to when somebody did it. ``decisions`` are the planner's.
    """

    end_s: float
    machines: tuple[MachineLog, ...]
    tasks: TaskLog
    jobs: tuple[Job, ...]
    tools: tuple[ToolCounts, ...]
    bench_level: tuple[tuple[float, int, int], ...]
    open_spans: tuple[Span, ...]
    attended_spans: tuple[Span, ...]
    overtime_spans: tuple[Span, ...]
    outside_s: dict[str, float]
    upkeep_count: dict[str, int]
    stacks_taken: dict[str, int] = field(default_factory=dict)
    stack_level: tuple[tuple[float, int], ...] = ()
    skeletons: tuple[tuple[int, int], ...] = ()
    moved: tuple[tuple[str, tuple[Span, ...]], ...] = ()
    decisions: tuple[Decision, ...] = ()
