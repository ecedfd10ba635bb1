"""Work of people that begins at once, without a request that waits: exact where nothing else at this instant can want
the same people, and the same as if it had been asked for.

While somebody works so for a machine, all else happens that is due before the end; nobody is told of the work, so it is
only done so where nobody could interrupt it and the person's window does not end before.
"""

from __future__ import annotations

from functools import partial

from simkit.cell.clock import MACHINE, Act, Clock
from simkit.cell.crew import Crew, RequestKind
from simkit.cell.requests import Worker
from simkit.cell.waitinglines import WaitingLines


class AtOnce:
    """Who begins at once; ``lines`` are the requests that wait. ``possible`` is off where everything is a request, and
    ``calls`` tells whether somebody on call may come for what waits."""

    def __init__(self, clock: Clock, crew: Crew, lines: WaitingLines, *, possible: bool, calls: bool) -> None:
        self.clock, self.crew, self.lines = clock, crew, lines
        self.chunks, self.begun = crew.chunks, crew.begun
        self.possible, self._calls = possible, calls

    def given(self, kind: RequestKind, rank: int, *, listed: bool = False) -> Worker | None:
        """Who is given to a request of now, if nothing else at this instant could change that.

        Where an assignment is due, it happens now, if it is all that is: after the choice for this request, which
        comes before all that want the same people. ``listed``: how long it takes is read from a list that others may
        read.
        """
        clock, lines = self.clock, self.lines
        if not lines.due:
            return self.crew.first_free(kind, clock.now) if clock.quiet() else None
        if listed or self._calls or not kind.simple or lines.rival(kind.who, rank):
            return None
        worker = self.crew.first_free(kind, clock.now)
        if worker is None:
            return None
        worker.free = False
        alone = clock.happens_alone(lines.assign)
        worker.free = True
        return worker if alone else None

    def works(self, kind: RequestKind, worker: Worker, seconds: float, machine: int) -> bool:
        """Somebody works from now on until it is done, while all else happens; False where it must be a request."""
        clock = self.clock
        start_s, window_end_s = clock.now, worker.until_s
        end_s = start_s + seconds
        if kind.pauses and end_s > window_end_s:
            return False
        worker.free, worker.free_at_s = False, end_s
        done = clock.reach(end_s, MACHINE + machine)
        worker.free = True
        if done:
            self.chunks += (worker.row, kind.task, start_s, end_s, window_end_s)
            self.begun += (kind.task, machine, start_s, start_s)
            if self.lines.count:
                self.lines.look()
        return done

    def begins(self, task: str, seconds: float, then: Act) -> bool:
        """Somebody who has no other task begins with work that no machine waits for; ``then`` happens at its end.

        False, and nothing done, where it must be asked for.
        """
        kind, clock = self.crew.kind(task), self.clock
        if not (self.possible and kind.apart) or self.lines.due or not clock.quiet():
            return False
        worker, end_s = self.crew.first_free(kind, clock.now), clock.now + seconds
        if worker is None or (kind.pauses and end_s > worker.until_s):
            return False
        worker.free, worker.free_at_s, worker.apart = False, end_s, (kind.task, clock.now, worker.until_s)
        clock.at(end_s, partial(self._ends, worker, then), MACHINE - 1)
        return True

    def _ends(self, worker: Worker, then: Act) -> None:
        self.record(worker, self.clock.now)
        worker.free, worker.apart = True, None
        if self.lines.count:
            self.lines.look()
        then()

    def record(self, worker: Worker, end_s: float) -> None:
        """Write down what somebody has done apart until now."""
        if worker.apart is not None:
            task, start_s, window_end_s = worker.apart
            self.chunks += (worker.row, task, start_s, end_s, window_end_s)
            self.begun += (task, -1, start_s, start_s)
