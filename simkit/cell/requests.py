"""Requests for people, the people themselves, and the log of both."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import simpy

from simkit.process.shifts import Span

LISTED_S = float("inf")
"""Stands for the seconds of work that are read from a list when somebody begins with it."""


NO_REQUEST = -1


class CellError(RuntimeError):
    """The plant asks for something the cell cannot do; the text says what."""


class Request:
    """Work that waits for, or has, its people.

    ``anew_s`` are the seconds to begin with again if a window ends before they are done; 0 where work pauses or is
    finished. ``measure`` tells the seconds when the work is begun for the first time, where they are not known before.
    ``helped_s`` of them a second person does at the same time, if one is free then; ``helps`` is the number of the
    request of which this is such a part.
    """

    __slots__ = (
        "anew_s", "arrived", "asked_s", "begun_s", "called", "chunks", "event", "helped_s", "helps", "key", "measure",
        "pauses", "persons", "remaining_s", "rule", "rush", "skills", "task", "turn",
    )  # fmt: skip

    def __init__(
        self, task: int, seconds: float, skills: tuple[int, ...], key: tuple[int, float, int, int, int], pauses: bool,
        event: simpy.Event,
    ) -> None:  # fmt: skip
        self.task, self.remaining_s, self.skills, self.key, self.pauses = task, seconds, skills, key, pauses
        self.event = event
        self.asked_s = key[1]
        self.begun_s = 0.0
        self.chunks: list[Span] = []
        self.persons: tuple[Worker, ...] = ()
        self.called = self.rush = False
        self.helped_s, self.helps = 0.0, NO_REQUEST
        self.rule, self.turn = task, 0
        self.arrived: tuple[Worker, ...] = ()
        self.anew_s = 0.0
        self.measure: Callable[[], float] | None = None

    @property
    def by_call(self) -> bool:
        """Whether somebody on call has come for it."""
        return bool(self.arrived)


def key_of(request: Request) -> tuple[int, float, int, int, int]:
    """Priority, moment asked, machine row, order and number: requests of one instant are served in this order."""
    return request.key


class Worker:
    """One person: windows of work, whether free, whether at some care in a break, and when back from the last way."""

    __slots__ = ("at", "back_s", "called_s", "free", "in_break", "row", "skills", "windows")

    def __init__(self, row: int, skills: frozenset[int], windows: Sequence[Span]) -> None:
        self.row, self.skills, self.windows = row, skills, list(windows)
        self.at, self.free, self.in_break, self.back_s = 0, True, False, 0.0
        self.called_s: float | None = None

    def window_end(self, now_s: float) -> float:
        """End of the window the person is in now; 0.0 when away."""
        windows = self.windows
        at = self.at
        while at < len(windows) and windows[at][1] <= now_s:
            at += 1
        while at and windows[at - 1][1] > now_s:  # asked for a moment that is past
            at -= 1
        self.at = at
        return windows[at][1] if at < len(windows) and windows[at][0] <= now_s else 0.0

    def next_start(self, now_s: float) -> float:
        """Start of the next window, infinity when there is none."""
        self.window_end(now_s)
        return self.windows[self.at][0] if self.at < len(self.windows) else float("inf")


@dataclass
class TaskLog:
    """Task chunks of people and requests, as columns (seconds); ``request_machine`` is -1 where none waits for it.

    ``called`` lists calls at night: the person's row, the moment of the call, and when the person left again. ``anew``
    lists work broken off to be begun anew: its task, the moment, and the person-seconds spent on it in vain. ``rest``
    lists what is left of breaks after care in them: the person's row, from when to when.
    """

    person: list[int] = field(default_factory=list)
    task: list[int] = field(default_factory=list)
    start_s: list[float] = field(default_factory=list)
    end_s: list[float] = field(default_factory=list)
    window_end_s: list[float] = field(default_factory=list)
    request_task: list[int] = field(default_factory=list)
    request_machine: list[int] = field(default_factory=list)
    asked_s: list[float] = field(default_factory=list)
    begun_s: list[float] = field(default_factory=list)
    called: list[int] = field(default_factory=list)
    called_s: list[float] = field(default_factory=list)
    called_until_s: list[float] = field(default_factory=list)
    anew_task: list[int] = field(default_factory=list)
    anew_at_s: list[float] = field(default_factory=list)
    anew_s: list[float] = field(default_factory=list)
    rest: list[tuple[int, float, float]] = field(default_factory=list)

    def begun(self, request: Request, start_s: float) -> None:
        """The first chunk of a request starts: its wait is over."""
        self.request_task.append(request.task)
        self.request_machine.append(request.key[2])
        self.asked_s.append(request.asked_s)
        self.begun_s.append(start_s)

    def chunk(self, worker: Worker, task: int, start_s: float, end_s: float) -> None:
        """One person worked on a task."""
        self.person.append(worker.row)
        self.task.append(task)
        self.start_s.append(start_s)
        self.end_s.append(end_s)
        in_window = worker.called_s is None and not worker.in_break
        self.window_end_s.append(worker.window_end(start_s) if in_window else end_s)

    def call_over(self, worker: Worker, now_s: float) -> None:
        """Who was called, if so, leaves again."""
        if worker.called_s is not None:
            self.called.append(worker.row)
            self.called_s.append(worker.called_s)
            self.called_until_s.append(now_s)
            worker.called_s = None

    def rested(self, person: int, start_s: float, end_s: float) -> None:
        """What is left of a break is taken after care in it."""
        self.rest.append((person, start_s, end_s))

    def broken_off(self, task: int, at_s: float, person_s: float) -> None:
        """What was done of a task is lost; it is begun anew."""
        self.anew_task.append(task)
        self.anew_at_s.append(at_s)
        self.anew_s.append(person_s)
