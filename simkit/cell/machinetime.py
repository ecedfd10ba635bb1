"""Time at a machine: stretches of one state, written down as they end.

A wait is let pass at once where the clock can, else it is an event that the machine's process yields.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Generator, Iterator
from typing import Any

import simpy

from simkit.base.vocabulary import CLOSED, CUTTING, NO_WORK, STATES, WAITING_PERSON
from simkit.cell.clock import MACHINE, Clock
from simkit.cell.openhours import OpenHours
from simkit.cell.orders import Job
from simkit.cell.people import Pool
from simkit.cell.requests import Request
from simkit.cell.trace import RUN, STATE_CODE, STRETCH, MachineStates, rows_of
from simkit.process.shifts import Span

Steps = Generator[simpy.Event, None, None]


class MachineTime:
    """A machine is in exactly one state at each instant; every change writes the stretch that ends.

    ``noted`` keeps all waits, not only those of allowed nights.
    """

    def __init__(self, clock: Clock, pool: Pool, open_hours: OpenHours, row: int, *, noted: bool = False) -> None:
        self.clock, self.pool, self.open_hours, self.row = clock, pool, open_hours, row
        self.rank = MACHINE + row
        self.log = MachineStates()
        self._rows: list[Any] = self.log.stretches
        self.sheet, self.job_number = -1, -1
        self._state = self._after_request = STATE_CODE[NO_WORK]
        self._since_s = self._offset_s = self._end_s = 0.0
        self._request: Request | None = None
        self._notes_waits = noted or bool(open_hours.nights)

    @property
    def now(self) -> float:
        """The present moment."""
        return self.clock.now

    def attended(self) -> bool:
        """Whether people are there now."""
        return self.open_hours.attended(self.clock.now)

    # --- what takes time --------------------------------------------------------------------------

    def alone(self, state: str, seconds: float) -> Steps:
        """Something that needs nobody."""
        if seconds > 0 and not self.passes(STATE_CODE[state], seconds):
            yield from self.rest()

    def passes(self, state: int, seconds: float, offset_s: float = 0.0) -> bool:
        """Be in a state for so many seconds while all else happens; False where :meth:`rest` must be waited for.

        ``offset_s``: of a sheet's run, where in it this begins.
        """
        start_s = self.clock.now
        self._state, self._since_s, self._offset_s, self._end_s = state, start_s, offset_s, start_s + seconds
        if not self.clock.reach(self._end_s, self.rank):
            return False
        self._rows += (state, start_s, self._end_s, self.job_number, self.sheet, offset_s)
        return True

    def rest(self) -> Steps:
        """Wait for what did not pass."""
        yield self.clock.wait_until(self._end_s, self.rank)
        self.leave()

    def wait(self, state: str, event: simpy.Event, limit: str, want: str) -> Steps:
        """Wait for something that is not a person of ours."""
        self.note_wait(limit, want)
        yield from self.wait_for(state, event)

    def wait_for(self, state: str, event: simpy.Event) -> Steps:
        """Be in a state until an event."""
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
        noted = self.note_wait(limit, want)
        start_s = self._since_s = self.clock.now
        self._state = STATE_CODE[state]
        number, rush = (job.number, job.rush) if job else (-1, False)
        request = self.pool.serve(
            task, seconds, self.row, number, rush=rush, skills=skills, measure=measure, helped_s=helped_s
        )
        if request is None:
            self._row(self._state, start_s, self.clock.now)
            return
        self._after_request, self._state, self._request = self._state, STATE_CODE[waiting], request
        if not self.clock.await_done(request):
            yield request.event(self.clock)
        self.leave()
        if noted and request.by_call and self.open_hours.in_night(self.clock.now):
            self.log.night_wait_s.pop()  # the night goes on
            self.log.night_limit.pop()

    def until_open(self) -> Steps:
        """Outside attended hours without a night rule nothing new starts."""
        open_hours, now = self.open_hours, self.clock.now
        if not open_hours.is_open(now):
            moment = open_hours.next_open(now)
            never = self.clock.event()
            yield from self.wait_for(CLOSED, never if moment is None else self.clock.wait_until(moment, self.rank))

    def after(self, request: Request) -> simpy.Event:
        """An event of this machine's own, when somebody else's work is done."""
        done = self.clock.event()
        request.thens.append(lambda: self.wake(done))
        return done

    def wake(self, event: simpy.Event) -> None:
        """Let an event that the machine waits for happen now, unless it has."""
        if not event.triggered:
            self.clock.fire_at(event, self.clock.now, self.rank)

    def wake_at(self, moment_s: float, event: simpy.Event) -> None:
        """Let an event that the machine waits for happen at a moment, unless it has by then."""
        self.clock.at(moment_s, lambda: self.wake(event), self.rank)

    def note_wait(self, limit: str, want: str) -> bool:
        """In an allowed night, the first thing that needs a person ends it; note what each wait is for.

        Tells whether it is such a wait.
        """
        if not self._notes_waits:
            return False
        now, log = self.clock.now, self.log
        log.wait_s.append(now)
        log.wait_limit.append(limit)
        log.wait_want.append(want)
        noted = self.open_hours.in_night(now)
        if noted:
            log.night_wait_s.append(now)
            log.night_limit.append(limit)
        return noted

    # --- what is written down ---------------------------------------------------------------------

    def lose(self, sheets: list[int], cause: int) -> None:
        """These sheets are lost by a cause, named as in the log."""
        log, now = self.log, self.clock.now
        for sheet in sheets:
            log.lost.append(sheet)
            log.lost_by.append(cause)
            log.lost_at_s.append(now)

    def stopped_by(self, cause: int) -> None:
        """The machine stops now."""
        self.log.stop_cause.append(cause)
        self.log.stop_at_s.append(self.clock.now)

    def close(self, end_s: float) -> None:
        """Write down the stretch in progress at the end of the run."""
        self._write(end_s)

    def did(self, span: Span) -> Iterator[tuple[str, float, float]]:
        """States within a span of time that is over, the stretch in progress included; none counts twice."""
        rows = self._rows
        first = max(bisect_right(range(len(rows) // STRETCH), span[0], key=lambda row: rows[STRETCH * row + 1]) - 1, 0)
        now, request = self.clock.now, self._request
        written_s = rows[2 - STRETCH] if rows else 0.0  # between two stretches the last one is written already
        going_on = [*self._pieces(now)] if self._since_s >= written_s else []
        if request is not None and request.persons:  # somebody is at it now
            state, start_s, _ = going_on.pop()
            going_on += [(state, start_s, request.begun_s), (self._after_request, request.begun_s, now)]
        over = [row[:3] for row in rows_of(rows[STRETCH * first :], STRETCH)]
        for state, start_s, end_s in over + going_on:
            if start_s < min(end_s, span[1]):
                yield STATES[state] if state != RUN else CUTTING, start_s, end_s

    def enter(self, state: str) -> None:
        """A stretch of a state begins."""
        self._state, self._since_s = STATE_CODE[state], self.clock.now

    def leave(self) -> None:
        """Write down the stretch that ends now."""
        self._write(self.clock.now)
        self._request = None

    def _write(self, end_s: float) -> None:
        if self._request is None:
            self._row(self._state, self._since_s, end_s)
            return
        for state, start_s, until_s in self._pieces(end_s):
            self._row(state, start_s, until_s)

    def _pieces(self, end_s: float) -> Iterator[tuple[int, float, float]]:
        """The stretch in progress until a moment: the state, and that of people's work in it."""
        start_s = self._since_s
        if self._request is not None:
            for chunk_start, chunk_end in self._request.chunks:
                yield self._state, start_s, chunk_start
                yield self._after_request, chunk_start, chunk_end
                start_s = chunk_end
        yield self._state, start_s, end_s

    def _row(self, state: int, start_s: float, end_s: float) -> None:
        if end_s > start_s:
            offset_s = self._offset_s if state == RUN else 0.0
            self._rows += (state, start_s, end_s, self.job_number, self.sheet, offset_s)
