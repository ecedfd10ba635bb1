"""Work that holds no machine: it occupies somebody who can do it, after all other tasks, and is counted."""

from __future__ import annotations

from collections.abc import Mapping

from simkit.cell.orders import Job
from simkit.cell.people import Pool
from simkit.cell.requests import Request


class OutsideWork:
    """Work moved away from the machines: seconds by task, and each piece of it that somebody of the cell does."""

    def __init__(self, pool: Pool) -> None:
        self._pool = pool
        self.seconds: dict[str, float] = {}
        self.pieces: list[tuple[str, Request]] = []

    def ask(self, job: Job | None, seconds_by_task: Mapping[str, float]) -> list[Request]:
        """Ask for it; what nobody of the cell can do is only counted."""
        asked = []
        for task, seconds in seconds_by_task.items():
            if seconds > 0:
                self.seconds[task] = self.seconds.get(task, 0.0) + seconds
                if self._pool.can(task):
                    asked.append(self._pool.ask(task, seconds, -1, job.number if job else -1, outside=True))
                    self.pieces.append((task, asked[-1]))
        return asked

    def upkeep(self, seconds: float) -> Request:
        """Ask for upkeep of so many seconds, by somebody of the cell."""
        return self.ask(None, {"upkeep": seconds})[0]
