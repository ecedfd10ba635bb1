"""What the planner counts on of the hours in which the cell may run unattended. Pure: told what the machines did.

A stated share of them, or what they gave so far in this run: hours worked over hours in which there was work, in the
nights that are over. An empty queue says nothing about what a night can give, so its hours count on neither side;
before the first such night nothing is counted on. Common practice, no source; nothing is known of the future.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable, Sequence

from simkit.base.vocabulary import CLOSED, NO_WORK, PASSIVE_STATES
from simkit.process.shifts import Span

Stretch = tuple[str, float, float]
"""A state of a machine from when to when, s."""

_IDLE = (*PASSIVE_STATES, CLOSED)

Seen = Callable[[Span], Iterable[Stretch]]
"""Tells what all machines did in a night that is over."""


class NightShare:
    """Allowed nights, and the share of them that counts as hours; ``seen`` is set by whoever has the machines."""

    def __init__(self, nights: Sequence[Span], stated: float | None) -> None:
        self.nights, self.stated = nights, stated
        self.seen: Seen = lambda night: ()
        self._ends = [end for _, end in nights]
        self._over = 0
        self._worked_s = self._with_work_s = 0.0

    def share(self, now_s: float) -> float:
        """The share at a moment, 0 to 1, by the nights that are over then."""
        if self.stated is not None:
            return self.stated
        over = bisect_right(self._ends, now_s)
        for night in self.nights[self._over : over]:
            for state, start, end in self.seen(night):
                seconds = max(min(end, night[1]) - max(start, night[0]), 0.0)
                self._with_work_s += seconds if state not in (NO_WORK, CLOSED) else 0.0
                self._worked_s += seconds if state not in _IDLE else 0.0
        self._over = over
        return self._worked_s / self._with_work_s if self._with_work_s > 0 else 0.0
