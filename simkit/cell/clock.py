"""The event clock: the only place that touches SimPy beyond its public interface.

Checked against SimPy 4.1.2 (pinned). Two things are added to its environment: a delay after which
nothing else is due may jump there without an event, and events can be put at an absolute moment with a
rank inside that moment, so that everything of an instant happens before people are assigned.
"""

from __future__ import annotations

from collections.abc import Callable
from heapq import heappush

import simpy

FIRST, NORMAL, MACHINE, LAST = 0, 1, 2, 1 << 30
"""Ranks inside one instant: releases, what people have finished, machines (``MACHINE`` plus the row), then the
assignment of people. So equal times are settled by machine row, not by who planned its event first."""

Callback = Callable[[simpy.Event], None]


class Clock(simpy.Environment):
    """SimPy's environment with jumps and ranked events.

    ``jumping`` off makes every delay an event; results must not change (a test proves it).
    """

    def __init__(self, *, jumping: bool = True) -> None:
        super().__init__()
        self.jumping = jumping

    def jump(self, moment_s: float) -> bool:
        """Move the clock to ``moment_s`` at once if nothing is due until then; else change nothing."""
        queue = self._queue
        if not self.jumping or (queue and queue[0][0] <= moment_s):
            return False
        self._now = moment_s
        return True

    def quiet(self) -> bool:
        """Whether nothing else is due at this very instant."""
        queue = self._queue
        return not queue or queue[0][0] > self._now

    def at(self, moment_s: float, callback: Callback | None = None, rank: int = NORMAL) -> simpy.Event:
        """Return an event that happens at ``moment_s`` with the given rank."""
        event = simpy.Event(self)
        event._ok = True
        event._value = None
        if callback is not None:
            event.callbacks.append(callback)
        heappush(self._queue, (moment_s, rank, next(self._eid), event))  # type: ignore[misc]
        return event

    def happen(self, event: simpy.Event) -> None:
        """Let a waiting event happen within what is happening now."""
        event._ok = True
        event._value = None
        callbacks, event.callbacks = event.callbacks, None  # type: ignore[assignment]
        for callback in callbacks:
            callback(event)

    def fire_at(self, event: simpy.Event, moment_s: float, rank: int = NORMAL) -> None:
        """Let a waiting event happen at ``moment_s`` with the given rank."""
        event._ok = True
        event._value = None
        heappush(self._queue, (moment_s, rank, next(self._eid), event))  # type: ignore[misc]
