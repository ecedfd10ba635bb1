"""Requests for people, and the people themselves."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import simpy

from simkit.cell.clock import Clock
from simkit.cell.windows import Windows
from simkit.process.shifts import Span

LISTED_S = float("inf")
"""Stands for the seconds of work that are read from a list when somebody begins with it."""

NO_REQUEST = -1

ServiceKey = tuple[int, float, int, int, int]
"""Priority, moment asked, machine row (-1 where none waits), order and number of a request."""


class Request:
    """Work that waits for, or has, its people.

    ``anew_s`` are the seconds to begin with again if a window ends before they are done; 0 where work pauses or is
    finished. ``measure`` tells the seconds when the work is begun for the first time, where they are not known before.
    ``helped_s`` of them a second person does at the same time, if one is free then; ``helps`` is the number of the
    request of which this is such a part. ``who`` are the rows of people who may have to do with it. ``thens`` happen
    when the work is done.
    """

    done = False
    called = False
    rush = False
    begun_s = 0.0
    anew_s = 0.0
    helped_s = 0.0
    turn = 0
    persons: tuple[Worker, ...] = ()
    arrived: tuple[Worker, ...] = ()
    measure: Callable[[], float] | None = None

    def __init__(
        self, task: int, seconds: float, skills: tuple[int, ...], key: ServiceKey, pauses: bool, who: frozenset[int]
    ) -> None:
        self.task, self.remaining_s, self.skills, self.key, self.pauses = task, seconds, skills, key, pauses
        self.rule, self.asked_s, self.who, self.helps = task, key[1], who, NO_REQUEST
        self.chunks: list[Span] = []
        self.thens: list[Callable[[], object]] = []

    @property
    def by_call(self) -> bool:
        """Whether somebody on call has come for it."""
        return bool(self.arrived)

    def event(self, clock: Clock) -> simpy.Event:
        """An event that happens within what happens when the work is done."""
        event = clock.event()
        self.thens.append(lambda: clock.happen(event))
        return event


def is_done(request: Request) -> bool:
    """Whether the work is done."""
    return request.done


def key_of(request: Request) -> ServiceKey:
    """Requests of one instant are served in this order."""
    return request.key


class Worker(Windows):
    """One person, by windows of work: whether free, and if taken by what no request tells (the way after a task, work
    begun at once) when free again; whether at some upkeep in a break; of work apart, its task, when it began and the
    end of that window."""

    __slots__ = ("apart", "called_s", "free", "free_at_s", "in_break", "row", "skills")

    def __init__(self, row: int, skills: frozenset[int], windows: Sequence[Span]) -> None:
        super().__init__(windows)
        self.row, self.skills = row, skills
        self.free, self.free_at_s, self.in_break = True, 0.0, False
        self.called_s: float | None = None
        self.apart: tuple[int, float, float] | None = None

    def window_end(self, now_s: float) -> float:
        """End of the window the person is in now; 0.0 when away."""
        return self.until_s if self.hold(now_s) else 0.0
