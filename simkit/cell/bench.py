"""Where whole sheets go: the separation bench, and the whole-sheet stack that feeds it."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from functools import partial

import simpy

from simkit.cell.board import Board
from simkit.cell.clock import MACHINE, Clock
from simkit.cell.facts import Facts
from simkit.cell.openhours import OpenHours
from simkit.cell.orders import Job
from simkit.cell.people import Pool
from simkit.cell.requests import Request
from simkit.process.workload import Workload


class Places:
    """So many places; who finds none waits in line. Holding a place needs nobody."""

    def __init__(self, clock: Clock, count: int, changed: Callable[[], None] = lambda: None) -> None:
        self.clock, self.free, self.count, self.changed = clock, count, count, changed
        self.line: deque[tuple[simpy.Event, int, int]] = deque()

    def take(self, machine: int, count: int = 1) -> simpy.Event | None:
        """Take places at once for a machine, or return an event that happens when they are taken."""
        count = min(count, self.count)
        if self.taken(count):
            return None
        event = self.clock.event()
        self.line.append((event, count, machine))
        return event

    def taken(self, count: int = 1) -> bool:
        """Take places if they are at hand; whether they were."""
        if self.line or self.free < count:
            return False
        self.free -= count
        self.changed()
        return True

    def at_hand(self, count: int) -> bool:
        """Whether so many places are free and nobody waits for any."""
        return self.free >= count and not self.line

    def give(self, count: int = 1) -> None:
        """Give places back; the first in line takes what it needs."""
        self.free += count
        while self.line and self.free >= self.line[0][1]:
            event, wanted, machine = self.line.popleft()
            self.free -= wanted
            self.clock.fire_at(event, self.clock.now, MACHINE + machine)
        self.changed()


class Bench:
    """The separation bench and the whole-sheet stack that feeds it."""

    def __init__(self, clock: Clock, pool: Pool, board: Board, open_hours: OpenHours, workload: Workload) -> None:
        settings = workload.plant.settings
        self.clock, self.pool, self.board, self.open_hours = clock, pool, board, open_hours
        self.places = Places(clock, settings.bench.places, self._note)
        self.stack_places = settings.stack.places
        self.stack: deque[tuple[Job, int]] = deque()
        self.aside = 0
        self.emptied: Request | None = None
        self.level: list[tuple[float, int, int]] = []
        self.seconds: list[float] = workload.sheets.hand_s.tolist()
        self.skill = workload.who["bench"]

    def stack_has_room(self) -> bool:
        """Whether the stack takes another whole sheet."""
        return len(self.stack) - self.aside < self.stack_places

    def stack_lies(self) -> bool:
        """Whether whole sheets lie on the stack and nobody is asked to take them away."""
        return len(self.stack) > self.aside and (self.emptied is None or self.emptied.done)

    def empty_stack(self, row: int, facts: Facts, job: Job) -> None:
        """Somebody takes the sheets off the stack and puts them beside it, where they wait for the bench."""
        seconds = facts.once_s["stack_exchange"][job.members[0]]
        self.emptied = self.pool.ask("pallet", seconds, -1, job.number, rush=job.rush, then=self._set_aside)

    def _set_aside(self) -> None:
        self.aside = len(self.stack)

    def put_on_stack(self, job: Job, sheet: int) -> None:
        """A whole sheet waits on the stack for the bench of the next attended time."""
        self.stack.append((job, sheet))
        self._note()
        if len(self.stack) == 1:
            moment = self.open_hours.next_attended(self.clock.now)
            if moment is not None:
                self.clock.at(moment, self.draw_from_stack)

    def put(self, job: Job, sheet: int) -> None:
        """A sheet lies on the bench, its place already taken."""
        self._work_on(job, sheet, partial(self._done, job))

    def beside(self, job: Job, sheet: int) -> None:
        """No part of a sheet goes to the bench: sorting and rework take somebody, but no place there."""
        self._work_on(job, sheet, partial(sheet_out, self.board, job))

    def _work_on(self, job: Job, sheet: int, then: Callable[[], None]) -> None:
        """Somebody does a sheet's work by hand, if there is any; go on when it is done."""
        seconds = self.seconds[sheet]
        if seconds <= 0:
            then()
        elif self.skill == "machine":
            self.clock.at(self.clock.now + seconds, then)
        elif not self.pool.at_once.begins(self.skill, seconds, then):
            self.pool.ask(self.skill, seconds, -1, job.number, rush=job.rush, then=then)

    def draw_from_stack(self) -> None:
        """Move sheets from the stack to free bench places, in attended time."""
        while self.stack and self.places.free > 0 and not self.places.line and self.open_hours.attended(self.clock.now):
            job, sheet = self.stack.popleft()
            self.aside = max(self.aside - 1, 0)
            self.places.free -= 1
            self._note()
            self.put(job, sheet)
        if self.stack and not self.open_hours.attended(self.clock.now):
            moment = self.open_hours.next_attended(self.clock.now)
            if moment is not None:
                self.clock.at(moment, self.draw_from_stack)

    def _done(self, job: Job) -> None:
        self.places.give()
        sheet_out(self.board, job)
        if self.stack:
            self.draw_from_stack()

    def _note(self) -> None:
        """Note the level at the end of this instant, as far as it is known."""
        level, now = self.level, self.clock.now
        if level and level[-1][0] == now:
            level.pop()
        level.append((now, self.places.count - self.places.free, len(self.stack)))


def sheet_out(board: Board, job: Job) -> None:
    """One sheet's parts are all out; the order is finished with its last one."""
    job.on_its_way -= 1
    if job.machine_done and job.on_its_way == 0:
        board.finish(job)
