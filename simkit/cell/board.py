"""The board: released orders, what is given out or refused, overtime, and who works on what next."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable
from dataclasses import dataclass, field

import simpy

from simkit.base.units import HOURS_PER_DAY, SECONDS_PER_HOUR
from simkit.cell.clock import FIRST, MACHINE, Clock
from simkit.cell.opening import Opening
from simkit.cell.people import Request
from simkit.process.shifts import Span
from simkit.process.workload import Workload
from simkit.tooling.room import NO_CLEARANCE, Need
from simkit.tooling.sequence import Waiting, next_order, ranked

IN_HOUSE, SUBCONTRACT, REFUSED = "in_house", "subcontract", "refused"
_DECISION_LEAD_S = HOURS_PER_DAY * SECONDS_PER_HOUR
_FEED = 40


@dataclass
class Job:
    """An order on its way through the cell (several orders where repeats are merged)."""

    number: int
    members: tuple[int, ...]
    program: int
    sheets: list[int]
    released_s: float
    due_s: float
    rush: bool
    hours: float
    fate: str = IN_HOUSE
    started_s: float = -1.0
    finished_s: float = -1.0
    on_its_way: int = 0
    machine_done: bool = False
    sheets_lost: int = 0
    picked_height_mm: float = 0.0
    stacks_held: int = 0
    loads: float = 0.0
    worn_at: list[tuple[int, float]] = field(default_factory=list)
    staging: list[Request] = field(default_factory=list)


class Board:
    """Orders by state, and the decisions about them that the plant's rules leave to the moment."""

    def __init__(self, clock: Clock, workload: Workload, opening: Opening, needs: list[tuple[Need, ...]]) -> None:
        self.clock, self.opening = clock, opening
        self.rules = workload.plant.settings.rules
        self.needs = needs
        self.saturated = workload.plant.settings.run.source == "saturated"
        self.jobs = [_job(workload, number, group) for number, group in enumerate(workload.groups)]
        self.material = workload.tables.material.tolist()
        self.clearance = [row.clearance_mm for row in workload.plant.materials]
        self.tools = [frozenset(need.tool for need in program) for program in needs]
        self.waiting: list[Job] = []
        self.idle: list[tuple[int, simpy.Event]] = []
        self.backlog_h = 0.0
        self.unfinished = 0
        self.unreleased = len(self.jobs)
        self.week_given_out: dict[int, float] = {}
        self.on_all_done: Callable[[], None] | None = None
        self.overtime_persons: Callable[[Span], None] | None = None
        self._next = 0
        self._schedule()
        self._plan_overtime(workload)

    def choose(self, machine: int, material: int, turret_tools: frozenset[int]) -> Job | None:
        """Take the next order off the board by the dispatch rule; None when nothing waits."""
        if not self.waiting:
            return None
        rows = [self._row(job) for job in self.waiting]
        clearance = self.clearance[material] if material >= 0 else NO_CLEARANCE
        at = next_order(
            self.rules.dispatch, rows, last_material=material, last_clearance=clearance, turret_tools=turret_tools,
            window=self.rules.window_orders, now_s=self.clock.now,
            due_guard_s=self.rules.due_guard_days * HOURS_PER_DAY * SECONDS_PER_HOUR,
        )  # fmt: skip
        job = self.waiting.pop(at)
        if self.saturated:
            self._feed()
        return job

    def known_queue(self, material: int, turret_tools: frozenset[int]) -> list[tuple[Need, ...]]:
        """Needs of the waiting orders, ranked by the dispatch rule and cut at ``lookahead_orders``."""
        rows = [self._row(job) for job in self.waiting]
        clearance = self.clearance[material] if material >= 0 else NO_CLEARANCE
        order = ranked(
            self.rules.dispatch, rows, last_material=material, last_clearance=clearance, turret_tools=turret_tools,
            window=self.rules.window_orders, now_s=self.clock.now,
            due_guard_s=self.rules.due_guard_days * HOURS_PER_DAY * SECONDS_PER_HOUR,
            limit=self.rules.lookahead_orders,
        )  # fmt: skip
        return [self.needs[self.waiting[at].program] for at in order]

    def rush_waits(self) -> bool:
        """Whether an order marked rush waits on the board."""
        return any(job.rush for job in self.waiting)

    def put_back(self, job: Job) -> None:
        """Return an order that a rush order displaced."""
        self.waiting.append(job)
        self.waiting.sort(key=lambda job: (job.released_s, job.number))

    def wait_for_work(self, machine: int) -> simpy.Event:
        """An event that happens when an order is released."""
        event = simpy.Event(self.clock)
        self.idle.append((machine, event))
        return event

    def finish(self, job: Job) -> None:
        """The last part of an order is out."""
        job.finished_s = self.clock.now
        self.backlog_h -= job.hours
        self._count_down()

    def _row(self, job: Job) -> Waiting:
        material = self.material[job.program]
        return Waiting(
            job.number, job.released_s, job.due_s, job.rush, material, self.clearance[material],
            self.tools[job.program],
        )  # fmt: skip

    def _schedule(self) -> None:
        """Put one event at each moment of release."""
        if self.saturated:
            self.unfinished = 1
            self._feed()
            return
        self.unfinished = len(self.jobs)
        moments: dict[float, list[Job]] = {}
        for job in self.jobs:
            moments.setdefault(job.released_s, []).append(job)
        for moment, jobs in moments.items():
            self.clock.at(moment, lambda _, jobs=jobs: self._release(jobs), FIRST)  # type: ignore[misc]

    def _feed(self) -> None:
        while len(self.waiting) < _FEED and self._next < len(self.jobs):
            self.waiting.append(self.jobs[self._next])
            self._next += 1

    def _release(self, jobs: list[Job]) -> None:
        for job in jobs:
            self.unreleased -= len(job.members)
            job.fate = self._fate(job)
            if job.fate == IN_HOUSE:
                self.waiting.append(job)
                self.backlog_h += job.hours
            else:
                self._count_down()
        idle, self.idle = self.idle, []
        for machine, event in idle:
            if not event.triggered:
                self.clock.fire_at(event, self.clock.now, MACHINE + machine)

    def _fate(self, job: Job) -> str:
        """In house, given out, or refused, by the planner's hours that wait already."""
        rules, ahead = self.rules, self.backlog_h + job.hours
        if job.rush:
            return IN_HOUSE
        week = int(self.clock.now // (7 * _DECISION_LEAD_S))
        given = self.week_given_out.get(week, 0.0)
        wants_out = rules.subcontract_backlog_h is not None and ahead > rules.subcontract_backlog_h
        if wants_out and given + job.hours <= rules.subcontract_cap_h_per_week:
            self.week_given_out[week] = given + job.hours
            return SUBCONTRACT
        if rules.refuse_backlog_h is not None and ahead > rules.refuse_backlog_h:
            return REFUSED
        return IN_HOUSE

    def _plan_overtime(self, workload: Workload) -> None:
        """Decide each overtime window at the start of the last shift before it."""
        if self.rules.overtime_backlog_h is None:
            return
        starts = [start for _, start, _ in workload.plan.shift_spans]
        for span in workload.plan.overtime:
            before = bisect_left(starts, span[0])
            moment = starts[before - 1] if before else max(span[0] - _DECISION_LEAD_S, 0.0)
            self.clock.at(moment, lambda _, span=span: self._decide_overtime(span), FIRST)  # type: ignore[misc]

    def _decide_overtime(self, span: Span) -> None:
        limit = self.rules.overtime_backlog_h
        if limit is None or self.backlog_h <= limit:
            return
        used = sum(end - start for start, end in self.opening.worked_overtime if _same_week(start, span[0]))
        left = self.rules.overtime_cap_h_per_week * SECONDS_PER_HOUR - used
        worked = (span[0], min(span[1], span[0] + left))
        if worked[1] > worked[0]:
            self.opening.work_overtime(worked)
            if self.overtime_persons is not None:
                self.overtime_persons(worked)

    def _count_down(self) -> None:
        self.unfinished -= 1
        if self.unfinished == 0 and self.on_all_done is not None:
            self.on_all_done()


def _same_week(a_s: float, b_s: float) -> bool:
    return a_s // (7 * _DECISION_LEAD_S) == b_s // (7 * _DECISION_LEAD_S)


def _job(workload: Workload, number: int, group: tuple[int, ...]) -> Job:
    book, first = workload.draws.book, workload.first_sheet
    sheets = [sheet for order in group for sheet in range(int(first[order]), int(first[order + 1]))]
    return Job(
        number=number, members=group, program=int(workload.program[group[0]]), sheets=sheets,
        released_s=float(book.released_s[group[0]]), due_s=float(min(book.due_s[list(group)])),
        rush=bool(book.rush[list(group)].any()), hours=float(workload.planned_h[list(group)].sum()),
    )  # fmt: skip
