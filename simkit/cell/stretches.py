"""Time at a machine: stretches of one state, written down as they end."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Generator, Iterator

import simpy

from simkit.base.vocabulary import CUTTING, NO_WORK, STATES, WAITING_PERSON
from simkit.cell.clock import MACHINE, Clock
from simkit.cell.opening import Opening
from simkit.cell.orders import Job
from simkit.cell.people import Pool, Request
from simkit.cell.trace import RUN, STATE_CODE, MachineLog
from simkit.process.shifts import Span

Steps = Generator[simpy.Event, None, None]


class Stretches:
    """A machine is in exactly one state at each instant; every change writes the stretch that ends."""

    def __init__(self, clock: Clock, pool: Pool, opening: Opening, row: int) -> None:
        self.clock, self.pool, self.opening, self.row = clock, pool, opening, row
        self.rank = MACHINE + row
        self.log = MachineLog()
        self.in_state = self.after_request = STATE_CODE[NO_WORK]
        self.since_s = 0.0
        self.sheet, self.offset_s, self.job_number = -1, 0.0, -1
        self.request: Request | None = None
        self.notes_waits = bool(opening.nights)

    def enter_run(self) -> None:
        """A stretch of a sheet's run begins."""
        self.in_state, self.since_s = RUN, self.clock.now

    def alone(self, state: str, seconds: float) -> Steps:
        """Something that needs nobody."""
        if seconds <= 0:
            return
        self.enter(state)
        end_s = self.clock.now + seconds
        if not self.clock.jump(end_s):
            yield self.clock.at(end_s, rank=self.rank)
        self.leave()

    def wait(self, state: str, event: simpy.Event, limit: str, want: str) -> Steps:
        """Wait for something that is not a person of ours."""
        self.night_wait(limit, want)
        self.enter(state)
        yield event
        self.leave()

    def by_person(
        self, task: str, state: str, seconds: float, job: Job | None, limit: str, want: str,
        skills: tuple[str, ...] = (), waiting: str = WAITING_PERSON, measure: Callable[[], float] | None = None,
        helped_s: float = 0.0,
    ) -> Steps:  # fmt: skip
        """Something that needs people: wait for them, then be in ``state`` while they work.

        ``measure`` tells the seconds in place of ``seconds`` when they begin. ``helped_s`` of them are done at the same
        time by a second person, if one is free then.
        """
        if seconds <= 0:
            return
        noted = self.night_wait(limit, want)
        self.enter(waiting)
        self.after_request = STATE_CODE[state]
        self.request, done = self.pool.serve(
            task, seconds, self.row, job.number if job else -1, rush=job.rush if job else False, skills=skills,
            measure=measure, helped_s=helped_s,
        )  # fmt: skip
        request = self.request
        if done is not None:
            yield done
        self.leave()
        if noted and request.by_call and self.opening.in_night(self.clock.now):
            self.log.night_wait_s.pop()  # the night goes on
            self.log.night_limit.pop()

    def night_wait(self, limit: str, want: str) -> bool:
        """In an allowed night, the first thing that needs a person ends it; note what each wait is for.

        Tells whether it is such a wait.
        """
        if not self.notes_waits:
            return False
        now = self.clock.now
        self.log.wait_s.append(now)
        self.log.wait_limit.append(limit)
        self.log.wait_want.append(want)
        noted = self.opening.in_night(now)
        if noted:
            self.log.night_wait_s.append(now)
            self.log.night_limit.append(limit)
        return noted

    def enter(self, state: str) -> None:
        """A stretch of a state begins."""
        self.in_state, self.since_s = STATE_CODE[state], self.clock.now

    def leave(self) -> None:
        """Write down the stretch that ends now."""
        self._write(self.clock.now)
        self.request = None

    def _write(self, end_s: float) -> None:
        if self.request is None:
            self._row(self.in_state, self.since_s, end_s)
            return
        for state, start_s, until_s in self._pieces(end_s):
            self._row(state, start_s, until_s)

    def _pieces(self, end_s: float) -> Iterator[tuple[int, float, float]]:
        """The stretch in progress until a moment: the state, and that of people's work in it."""
        start_s = self.since_s
        if self.request is not None:
            for chunk_start, chunk_end in self.request.chunks:
                yield self.in_state, start_s, chunk_start
                yield self.after_request, chunk_start, chunk_end
                start_s = chunk_end
        yield self.in_state, start_s, end_s

    def did(self, span: Span) -> Iterator[tuple[str, float, float]]:
        """States within a span of time that is over, those not yet written down included."""
        log = self.log
        first = max(bisect_right(log.start_s, span[0]) - 1, 0)
        rows = zip(log.state[first:], log.start_s[first:], log.end_s[first:], strict=True)
        now, request = self.clock.now, self.request
        going_on = [*self._pieces(now)]
        if request is not None and request.persons:  # somebody is at it now
            state, start_s, _ = going_on.pop()
            going_on += [(state, start_s, request.begun_s), (self.after_request, request.begun_s, now)]
        for state, start_s, end_s in (*rows, *going_on):
            if start_s < min(end_s, span[1]):
                yield STATES[state] if state != RUN else CUTTING, start_s, end_s

    def _row(self, state: int, start_s: float, end_s: float) -> None:
        if end_s > start_s:
            log = self.log
            log.state.append(state)
            log.start_s.append(start_s)
            log.end_s.append(end_s)
            log.job.append(self.job_number)
            log.sheet.append(self.sheet)
            log.offset_s.append(self.offset_s if state == RUN else 0.0)

    def close(self, end_s: float) -> None:
        """Write down the stretch in progress at the end of the run."""
        self._write(end_s)
