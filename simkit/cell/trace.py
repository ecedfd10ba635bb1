"""The trace of one replication: who or what was in which state from when to when. No statistics.

While the clock runs, rows of a log stand one after the other in a flat list; who reads a log reads arrays. Nothing is
faster than such a list, and Python need not look through it for garbage.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from simkit.base.vocabulary import STATES

if TYPE_CHECKING:
    from simkit.cell.orders import Job
    from simkit.cell.planning import OverflowDecision
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


STRETCH, CHUNK = 6, 5
"""Numbers in a row of a machine's stretches, and of what one person worked on."""


class LogColumn(cached_property[NDArray[Any]]):
    """One column of the rows in an attribute, as an array, made when it is first read: after the run."""

    def __init__(self, rows: str, at: int, width: int, kind: type) -> None:
        super().__init__(lambda log: np.array(getattr(log, rows)[at::width], kind))


def columns(rows: str, *kinds: type) -> Any:
    """Columns of the rows in an attribute, by their kinds, to be given names in the class of a log."""
    return tuple(LogColumn(rows, at, len(kinds), kind) for at, kind in enumerate(kinds))


def rows_of(flat: Sequence[Any], width: int) -> Iterator[tuple[Any, ...]]:
    """The rows of a flat list, one after the other."""
    return zip(*[iter(flat)] * width, strict=True)


@dataclass
class MachineStates:
    """One machine's stretches in time order, as rows and, after the run, columns.

    ``offset_s`` is for runs only, ``sheet`` -1 between orders.

    ``night_wait_s`` and ``night_limit`` hold the waits that begin in an allowed night; ``wait_s``,
    ``wait_limit`` and ``wait_want`` all waits of a plant with such nights, or of a noted run: for what, by words of
    ``NIGHT_LIMITS`` and, finer, by a cause of stops.csv, a task of upkeep.csv or a word of ``NIGHT_WANTS``.
    ``lost_by`` says what each sheet of ``lost`` was lost by: a row of stops.csv, ``WORN_TOOL``, or
    :func:`fault_cause` of a row of load_faults.csv. ``entered_at_s`` are the moments at which somebody is asked to
    enter the guarded cell of a removal device.
    """

    stretches: list[Any] = field(default_factory=list)
    made: list[int] = field(default_factory=list)
    made_at_s: list[float] = field(default_factory=list)
    lost: list[int] = field(default_factory=list)
    lost_at_s: list[float] = field(default_factory=list)
    lost_by: list[int] = field(default_factory=list)
    stop_cause: list[int] = field(default_factory=list)
    stop_at_s: list[float] = field(default_factory=list)
    night_wait_s: list[float] = field(default_factory=list)
    night_limit: list[str] = field(default_factory=list)
    wait_s: list[float] = field(default_factory=list)
    wait_limit: list[str] = field(default_factory=list)
    wait_want: list[str] = field(default_factory=list)
    entered_at_s: list[float] = field(default_factory=list)
    care_by_others_s: float = 0.0

    state, start_s, end_s, job, sheet, offset_s = columns("stretches", int, float, float, int, int, float)


@dataclass
class TaskLog:
    """Who worked on what, and how requests waited: rows while the run goes on, columns (seconds) after it.

    ``request_machine`` is -1 where no machine waits. ``called`` lists calls at night: the person's row, the moment of
    the call, and when the person left again. ``anew`` lists work broken off to be begun anew: its task, the moment, and
    the person-seconds spent on it in vain. ``breaks_left`` lists what is left of breaks after upkeep in them: the
    person's row, from when to when.
    """

    chunks: list[Any] = field(default_factory=list)
    begun: list[Any] = field(default_factory=list)
    calls: list[Any] = field(default_factory=list)
    broken_off: list[Any] = field(default_factory=list)
    breaks_left: list[tuple[int, float, float]] = field(default_factory=list)

    person, task, start_s, end_s, window_end_s = columns("chunks", int, int, float, float, float)
    request_task, request_machine, asked_s, begun_s = columns("begun", int, int, float, float)
    called, called_s, called_until_s = columns("calls", int, float, float)
    anew_task, anew_at_s, anew_s = columns("broken_off", int, float, float)


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
    machines: tuple[MachineStates, ...]
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
    decisions: tuple[OverflowDecision, ...] = ()
