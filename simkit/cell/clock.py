"""The event clock: the only place that touches SimPy beyond its public interface.

Checked against SimPy 4.1.2 (pinned). The clock lets happen what is due in a SimPy environment, and adds three things.
What happens at a moment may be a plain function, put there with a rank inside that moment, so that everything of an
instant happens before people are assigned. A process that waits for a moment may let all that is due before happen at
once, and go on without an event of its own. And a run ends when somebody says so.
"""

from __future__ import annotations

from collections.abc import Callable, Generator
from heapq import heappop, heappush
from typing import Any, Protocol

from simpy import Environment, Event

FIRST, NORMAL, MACHINE, LAST = 0, 1, 2, 1 << 30
"""Ranks inside one instant: releases, what people have finished, machines (``MACHINE`` plus the row), then the
assignment of people. So equal times are settled by machine row, not by who planned its event first."""

Act = Callable[[], object]
"""What happens at a moment."""


class Awaited(Protocol):
    """Work that somebody waits for."""

    done: bool


class Clock:
    """A SimPy environment with acts, waits without events, and an end.

    ``jumping`` lets the clock jump to the end of a wait before which nothing is due, ``inline`` lets a process have
    all happen that is due before; with both off every wait is an event. Results must not change (a test proves it).
    ``inline`` is for a single process: of two, one could not go on while the other lets things happen.
    """

    def __init__(self, *, jumping: bool = True, inline: bool = True) -> None:
        self._environment = Environment()
        self._queue: list[Any] = self._environment._queue
        self._number = self._environment._eid
        self.now = 0.0
        self.jumping, self.inline = jumping, inline
        self.over = False
        self._limit_s = 0.0

    def process(self, steps: Generator[Event, None, None]) -> None:
        """A process begins now."""
        self._environment.process(steps)

    def event(self) -> Event:
        """An event that somebody will let happen."""
        return Event(self._environment)

    def step(self) -> None:
        """Let the next thing happen."""
        entry = heappop(self._queue)
        self.now = entry[0]
        due = entry[3]
        if not isinstance(due, Event):
            due()
            return
        self._environment._now = self.now
        _call_back(due)
        if not due._ok and not due.defused:
            raise due._value

    def run_until(self, limit_s: float, *, releases_only: bool = False) -> None:
        """Let things happen until :meth:`end` or until a moment; of that moment at most what has rank ``NORMAL``.

        ``releases_only``: at most what has rank ``FIRST``.
        """
        self.over, self._limit_s = False, limit_s
        if releases_only:
            self.at(limit_s, self._stop, FIRST)
        else:
            self.at(limit_s, self.end)
        while not self.over:
            self.step()

    def end(self) -> None:
        """The run ends when what is due by now with a rank up to ``NORMAL`` has happened."""
        self.at(self.now, self._stop)

    def _stop(self) -> None:
        self.over = True

    def quiet(self) -> bool:
        """Whether nothing else is due at this very instant."""
        queue = self._queue
        return not queue or queue[0][0] > self.now

    def happens_alone(self, act: Act) -> bool:
        """Let an act happen now that is due at this very instant, if nothing else is."""
        queue = self._queue
        now = self.now
        if queue[0][0] > now or queue[0][3] != act:
            return False
        if len(queue) > 1 and (queue[1][0] <= now or (len(queue) > 2 and queue[2][0] <= now)):
            return False
        heappop(queue)
        act()
        return True

    def reach(self, moment_s: float, rank: int) -> bool:
        """Let all happen that is due before a moment and rank, and stand there; False where only an event can."""
        queue = self._queue
        if queue[0][0] <= moment_s or not self.jumping:
            if not self.inline or moment_s >= self._limit_s:
                return False
            mine = (moment_s, rank, next(self._number))
            while queue[0] < mine:
                self.step()
                if self.over:
                    return False
        self.now = moment_s
        return True

    def await_done(self, request: Awaited) -> bool:
        """Let things happen until some work is done; False where only an event can tell."""
        if not self.inline:
            return False
        queue, limit_s = self._queue, self._limit_s
        while not request.done:
            if self.over or queue[0][0] >= limit_s:
                return False
            self.step()
        return True

    def at(self, moment_s: float, act: Act, rank: int = NORMAL) -> None:
        """Let something happen at a moment, with the given rank."""
        heappush(self._queue, (moment_s, rank, next(self._number), act))

    def wait_until(self, moment_s: float, rank: int) -> Event:
        """An event that happens at a moment with the given rank."""
        event = self.event()
        self.fire_at(event, moment_s, rank)
        return event

    def happen(self, event: Event) -> None:
        """Let a waiting event happen within what is happening now."""
        event._ok = True
        event._value = None
        _call_back(event)

    def fire_at(self, event: Event, moment_s: float, rank: int = NORMAL) -> None:
        """Let a waiting event happen at a moment with the given rank."""
        event._ok = True
        event._value = None
        heappush(self._queue, (moment_s, rank, next(self._number), event))


def _call_back(event: Event) -> None:
    """An event happens: all who wait for it go on."""
    callbacks, event.callbacks = event.callbacks, None  # type: ignore[assignment]
    for callback in callbacks:
        callback(event)
