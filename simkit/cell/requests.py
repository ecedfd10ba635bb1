"""Requests for people, the people themselves, and the log of both."""

from __future__ import annotations

from bisect import bisect_right, insort
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import simpy

from simkit.cell.clock import Clock
from simkit.cell.columns import columns
from simkit.process.shifts import Span

LISTED_S = float("inf")
"""Stands for the seconds of work that are read from a list when somebody begins with it."""


NO_REQUEST = -1

Key = tuple[int, float, int, int, int]
"""Priority, moment asked, machine row (-1 where none waits), order and number of a request."""


class CellError(RuntimeError):
    """The plant asks for something the cell cannot do; the text says what."""


class Request:
    """Work that waits for, or has, its people.

    ``anew_s`` are the seconds to begin with again if a window ends before they are done; 0 where work pauses or is
    finished. ``measure`` tells the seconds when the work is begun for the first time, where they are not known before.
    ``helped_s`` of them a second person does at the same time, if one is free then; ``helps`` is the number of the
    request of which this is such a part. ``who`` are the rows of people who may have to do with it. ``thens`` happen
    when the work is done.
    """

    done = called = rush = False
    begun_s = anew_s = helped_s = 0.0
    helps, turn = NO_REQUEST, 0
    persons: tuple[Worker, ...] = ()
    arrived: tuple[Worker, ...] = ()
    measure: Callable[[], float] | None = None

    def __init__(
        self, task: int, seconds: float, skills: tuple[int, ...], key: Key, pauses: bool, who: frozenset[int]
    ) -> None:
        self.task, self.remaining_s, self.skills, self.key, self.pauses = task, seconds, skills, key, pauses
        self.rule, self.asked_s, self.who = task, key[1], who
        self.chunks: list[Span] = []
        self.thens: list[Callable[[], object]] = []

    @property
    def by_call(self) -> bool:
        """Whether somebody on call has come for it."""
        return bool(self.arrived)

    def event(self, clock: Clock) -> simpy.Event:
        """An event that happens within what happens when the work is done."""
        event = simpy.Event(clock)
        self.thens.append(lambda: clock.happen(event))
        return event


def is_done(request: Request) -> bool:
    """Whether the work is done."""
    return request.done


def key_of(request: Request) -> Key:
    """Requests of one instant are served in this order."""
    return request.key


class Worker:
    """One person: windows of work, whether free, whether at some care in a break, and when back from the last way or
    the last work without a request; of work apart, its task, when it began and the end of that window.

    ``there`` tells whether the moment last looked at lies in a window, and ``from_s`` to ``until_s`` is that window or
    the gap between two.
    """

    __slots__ = (
        "apart", "back_s", "called_s", "free", "from_s", "in_break", "row", "skills", "there", "until_s", "windows",
    )  # fmt: skip

    def __init__(self, row: int, skills: frozenset[int], windows: Sequence[Span]) -> None:
        self.row, self.skills, self.windows = row, skills, list(windows)
        self.free, self.in_break, self.back_s = True, False, 0.0
        self.called_s: float | None = None
        self.apart: tuple[int, float, float] | None = None
        self.there, self.from_s, self.until_s = False, 0.0, 0.0

    def is_there(self, now_s: float) -> bool:
        """Whether the person is at work now."""
        if not self.from_s <= now_s < self.until_s:
            self._look(now_s)
        return self.there

    def window_end(self, now_s: float) -> float:
        """End of the window the person is in now; 0.0 when away."""
        return self.until_s if self.is_there(now_s) else 0.0

    def add_window(self, span: Span) -> None:
        """The person works at another time too."""
        insort(self.windows, span)
        self.from_s = self.until_s = 0.0

    def _look(self, now_s: float) -> None:
        windows = self.windows
        at = bisect_right(windows, (now_s, float("inf"))) - 1
        self.there = at >= 0 and now_s < windows[at][1]
        if self.there:
            self.from_s, self.until_s = windows[at]
            return
        self.from_s = windows[at][1] if at >= 0 else float("-inf")
        self.until_s = windows[at + 1][0] if at + 1 < len(windows) else float("inf")


@dataclass
class TaskLog:
    """Who worked on what, and how requests waited: rows while the run goes on, columns (seconds) after it.

    ``request_machine`` is -1 where no machine waits. ``called`` lists calls at night: the person's row, the moment of
    the call, and when the person left again. ``anew`` lists work broken off to be begun anew: its task, the moment, and
    the person-seconds spent on it in vain. ``rest`` lists what is left of breaks after care in them: the person's row,
    from when to when.
    """

    chunks: list[tuple[int, int, float, float, float]] = field(default_factory=list)
    begun: list[tuple[int, int, float, float]] = field(default_factory=list)
    calls: list[tuple[int, float, float]] = field(default_factory=list)
    broken_off: list[tuple[int, float, float]] = field(default_factory=list)
    rest: list[tuple[int, float, float]] = field(default_factory=list)

    person, task, start_s, end_s, window_end_s = columns("chunks", 5)
    request_task, request_machine, asked_s, begun_s = columns("begun", 4)
    called, called_s, called_until_s = columns("calls", 3)
    anew_task, anew_at_s, anew_s = columns("broken_off", 3)

    def chunk(self, worker: Worker, task: int, start_s: float, end_s: float) -> None:
        """One person worked on a task."""
        in_window = worker.called_s is None and not worker.in_break
        self.chunks.append((worker.row, task, start_s, end_s, worker.window_end(start_s) if in_window else end_s))

    def call_over(self, worker: Worker, now_s: float) -> None:
        """Who was called, if so, leaves again."""
        if worker.called_s is not None:
            self.calls.append((worker.row, worker.called_s, now_s))
            worker.called_s = None
