"""The board: orders are released, overtime is decided, and machines that wait for work are woken, each in its time."""

from __future__ import annotations

from collections.abc import Callable

import simpy

from simkit.cell.clock import FIRST, MACHINE, Clock
from simkit.cell.commitments import Commitments
from simkit.cell.openhours import OpenHours
from simkit.cell.orders import Job, Orders
from simkit.cell.planning import Planner
from simkit.process.shifts import Span
from simkit.process.workload import Workload
from simkit.tooling.toolroom import Need


class Board:
    """Orders in time."""

    def __init__(self, clock: Clock, workload: Workload, open_hours: OpenHours, needs: list[tuple[Need, ...]]) -> None:
        self.clock, self.open_hours, self.workload = clock, open_hours, workload
        self.orders, self.committed = Orders(workload, needs), Commitments()
        self.idle: list[tuple[int, simpy.Event]] = []
        self.unfinished = len(self.orders.jobs)
        self.on_all_done: Callable[[], None] | None = None
        self.overtime_persons: Callable[[Span], None] | None = None
        self.planner = Planner(workload, self.orders)
        self._new: list[Job] = []
        self._to_decide = False
        self._schedule()

    def wait_for_work(self, machine: int) -> simpy.Event:
        """An event that happens when an order is released."""
        event = self.clock.event()
        self.idle.append((machine, event))
        return event

    def finish(self, job: Job) -> None:
        """The last part of an order is out."""
        self.orders.finish(job, self.clock.now)
        self._count_down()

    def _schedule(self) -> None:
        """Put one event at each moment of release."""
        if self.orders.saturated:
            self.unfinished = 1
            self.orders.feed()
            return
        moments: dict[float, list[Job]] = {}
        for job in self.orders.jobs:
            moments.setdefault(job.released_s, []).append(job)
        for moment, jobs in moments.items():
            self.clock.at(moment, lambda jobs=jobs: self._release(jobs), FIRST)  # type: ignore[misc]
        for moment in self.planner.moments:
            self.clock.at(moment, self._decide_later, FIRST)

    def _release(self, jobs: list[Job]) -> None:
        """New orders, or those of the start; where nights are allowed, what comes unattended waits for people."""
        now = self.clock.now
        if self.open_hours.nights and now > 0 and not self.open_hours.attended(now):
            moment = self.open_hours.next_attended(now)
            if moment is not None:
                self.clock.at(moment, lambda: self._release(jobs), FIRST)
            return
        for job in jobs:
            self.orders.release(job)
        self._new += jobs
        self._decide_later()
        idle, self.idle = self.idle, []
        for machine, event in idle:
            if not event.triggered:
                self.clock.fire_at(event, self.clock.now, MACHINE + machine)

    def _decide_later(self) -> None:
        """Decide about overflow when all releases of this instant are on the board."""
        if self.planner.active and not self._to_decide:
            self._to_decide = True
            self.clock.at(self.clock.now, self._decide, FIRST)

    def _decide(self) -> None:
        new, self._new, self._to_decide = self._new, [], False
        extra, gone = self.planner.decide(self.clock.now, new, self.open_hours.worked_overtime)
        plan, people = self.workload.plan, self.workload.plant.people
        for span in (span for span in extra if plan.is_manned(people, span)):
            self.open_hours.work_overtime(span)
            if self.overtime_persons is not None:
                self.overtime_persons(span)
        for _ in gone:
            self._count_down()

    def _count_down(self) -> None:
        self.unfinished -= 1
        if self.unfinished == 0 and self.on_all_done is not None:
            self.on_all_done()
