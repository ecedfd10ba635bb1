"""Orders committed ahead: what a machine has chosen to do next while it still works on an order. Pure: no clock.

A commitment never lets another machine stand idle: one that would have no work takes the order, and its owner chooses
again. What the owner exchanged ahead for it stays in the owner's turret, with what went wrong there.
"""

from __future__ import annotations

from collections.abc import Callable

from simkit.cell.orders import Job


class Commitments:
    """The order that each busy machine has committed, by machine row."""

    def __init__(self) -> None:
        self._made: dict[int, tuple[float, int, Job]] = {}

    def __bool__(self) -> bool:
        return bool(self._made)

    def commit(self, machine: int, job: Job, now_s: float) -> None:
        """A busy machine has chosen its next order."""
        self._made[machine] = (now_s, machine, job)

    def of(self, machine: int) -> Job | None:
        """The order that a machine has committed."""
        return self._made[machine][2] if machine in self._made else None

    def begin(self, machine: int) -> Job | None:
        """A machine is free for the order that it has committed: from now on nobody takes it."""
        return self._made.pop(machine, (0.0, 0, None))[2]

    def take_over(self, fits: Callable[[Job], bool]) -> Job | None:
        """The order for a machine without work: of those that fit it the earliest committed, then machine row."""
        for _, owner, job in sorted(self._made.values(), key=lambda made: made[:2]):
            if fits(job):
                del self._made[owner]
                return job
        return None
