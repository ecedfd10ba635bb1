"""The orders of a run and the decisions about them: pure, without a clock. Every method is told the moment."""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Collection, Sequence, Set
from dataclasses import dataclass, field
from operator import attrgetter
from typing import Any

import numpy as np

from simkit.base.units import HOURS_PER_DAY, SECONDS_PER_HOUR
from simkit.process.workload import Workload
from simkit.process.wrongloads import WrongLoad
from simkit.tooling.improve import MachineStand, SequencePlan, improve
from simkit.tooling.searchinputs import SearchInputs
from simkit.tooling.sequence import GROUPED, SEARCHED, SetUpBefore, WaitingOrder, by_arrival, by_due, grouped, parted
from simkit.tooling.toolroom import NO_CLEARANCE, Need

IN_HOUSE, SUBCONTRACT, REFUSED = "in_house", "subcontract", "refused"
NO_MACHINE = -1
_FEED = 40
_rank = attrgetter("rank")


@dataclass(eq=False)
class Job:
    """An order on its way through the cell (several orders where repeats are merged).

    ``hours`` are the planner's for all of them, ``invoice_h`` those of today's plant; ``gone_s`` is the moment at which
    they were given out or refused. ``loaded_at``: the machine whose exchanges its ``loads``, ``faults`` and ``risked``
    count. ``measured_after``: good sheets made when what the first piece showed was known. ``row`` is what the dispatch
    rule sees of it, ``rank`` its place among those that wait as far as nothing but the orders decides.
    """

    number: int
    members: tuple[int, ...]
    program: int
    sheets: list[int]
    released_s: float
    due_s: float
    rush: bool
    hours: float
    invoice_h: float
    fate: str = IN_HOUSE
    started_s: float = -1.0
    finished_s: float = -1.0
    gone_s: float = -1.0
    sheets_done: int = 0
    on_its_way: int = 0
    machine_done: bool = False
    sheets_lost: int = 0
    loads: float = 0.0
    loaded_at: int = NO_MACHINE
    faults: list[WrongLoad] = field(default_factory=list)
    risked: dict[int, int] = field(default_factory=dict)
    measured: bool = False
    measured_after: int = 1
    row: WaitingOrder | None = None
    rank: tuple[float, ...] = ()
    staged: bool = False
    staging: list[Any] = field(default_factory=list)

    @property
    def left_h(self) -> float:
        """Planner's hours left, by sheets."""
        return self.hours * max(1.0 - self.sheets_done / len(self.sheets), 0.0)


class Orders:
    """Released orders that wait, the planner's hours ahead, and what the plant's rules say about both.

    ``waiting`` stands in the order of release, or of due dates: what other rules decide, they decide from there.
    """

    def __init__(self, workload: Workload, needs: list[tuple[Need, ...]]) -> None:
        self.rules = workload.plant.settings.rules
        self.needs = needs
        self.reads_queue = self.rules.eviction == "soonest" or workload.plant.settings.magazine.loading == "ahead"
        self.saturated = workload.plant.settings.run.source == "saturated"
        self.jobs = _jobs(workload)
        self.material = workload.tables.material.tolist()
        self.clearance = [row.clearance_mm for row in workload.plant.materials]
        names = {row.nozzle: place for place, row in enumerate(workload.plant.materials)}
        self._nozzle = [names[row.nozzle] if self.rules.group_nozzles else 0 for row in workload.plant.materials]
        self.tools = [frozenset(need.tool for need in program) for program in needs]
        self._workload = workload
        self.replayed = workload.plant.settings.run.source == "replay" and bool(workload.plant.history)
        self.dispatch = "arrival" if self.replayed else self.rules.dispatch
        self._rank = by_arrival if self.dispatch == "arrival" else by_due
        self.waiting: list[Job] = []
        self._begun: list[Job] = []
        self._rush = 0
        self._seen: tuple[int, frozenset[int]] = (-1, frozenset())
        self.guard_s = self.rules.due_guard_days * HOURS_PER_DAY * SECONDS_PER_HOUR
        self._window = SearchInputs(workload, needs) if self.dispatch == SEARCHED else None
        self._plan = SequencePlan([], ())
        self._next = 0

    def next(
        self, now_s: float, material: int, turret_tools: Set[int], stand: MachineStand | None = None,
        kept: Collection[Job] = (),
    ) -> Job | None:  # fmt: skip
        """Take the next order off the board by the dispatch rule; None when nothing waits.

        ``stand`` is how the machine stands; only ``searched`` reads it, and needs it. Orders ``kept`` back are taken
        only if nothing else waits.
        """
        if not self.waiting:
            return None
        if self.dispatch == GROUPED:
            self._seen = (material, frozenset(turret_tools))
        free = [job for job in self.waiting if job not in kept] if kept else self.waiting
        free = free or self.waiting
        if self.dispatch == SEARCHED:
            job = self._search(free, now_s, stand)
        else:
            job = self._ranked(free, 1, now_s, material, turret_tools)[0]
        self.take(job)
        return job

    def known_queue(self, now_s: float, material: int, turret_tools: Set[int]) -> list[tuple[Need, ...]]:
        """Needs of the waiting orders, ranked by the dispatch rule and cut at ``lookahead_orders``.

        Empty where no rule reads it: only ``soonest`` evicts, and only a magazine filled ahead is filled, by what
        comes next.
        """
        if not self.reads_queue:
            return []
        known = self._ranked(self.waiting, self.rules.lookahead_orders, now_s, material, turret_tools)
        return [self.needs[job.program] for job in known]

    def planned(self, now_s: float) -> tuple[list[Job], list[Job]]:
        """Released orders that are not done at their machine: those started or committed, then those that wait.

        These as the dispatch rule ranks them, for a machine as the one that chose last stood then.
        """
        self._begun = [job for job in self._begun if not job.machine_done]
        begun = sorted(self._begun, key=lambda job: (job.started_s < 0, job.started_s, job.number))
        return begun, self._ranked(self.waiting, len(self.waiting), now_s, *self._seen)

    def _ranked(self, jobs: list[Job], limit: int, now_s: float, material: int, turret_tools: Set[int]) -> list[Job]:
        """The first of some waiting orders, as the dispatch rule ranks them."""
        if self.dispatch == SEARCHED:
            return self._as_planned(jobs, now_s)[:limit]
        if self.dispatch != GROUPED:
            return jobs[:limit]
        stood = (self.clearance[material], self._nozzle[material]) if material >= 0 else (NO_CLEARANCE, 0)
        standing = SetUpBefore(material, *stood, turret_tools)
        rows = grouped(_rows(jobs), standing, self.rules.window_orders, now_s + self.guard_s, limit)
        return [self.jobs[row.position] for row in rows]

    def _search(self, free: list[Job], now_s: float, stand: MachineStand | None) -> Job:
        """The next order of the searched rule; what the search plans for after it is kept."""
        rows = _rows(free)
        pressing, others = parted(rows, now_s, self.guard_s)
        if pressing:
            return free[pressing[0]]
        window = self._window
        if stand is None or window is None:
            raise ValueError("the searched rule must be told how the machine stands")
        inside, rest = others[: self.rules.window_orders], others[self.rules.window_orders :]
        plan = self._plan
        if not plan.holds({rows[at].position for at in inside}, stand):
            orders = [(rows[at], free[at].program, free[at].members) for at in inside]
            after = [self.needs[free[at].program] for at in rest[: self.rules.lookahead_orders]]
            found = improve(stand, window.pieces(orders, now_s, stand), self.rules.search_evaluations, after)
            plan = SequencePlan([rows[inside[at]].position for at in found.order], found.foreseen)
        self._plan = plan.after_first()
        return self.jobs[plan.order[0]]

    def _as_planned(self, jobs: list[Job], now_s: float) -> list[Job]:
        """Orders that nothing may delay, then the others as the last search put them, then those it did not see."""
        pressing, others = parted(_rows(jobs), now_s, self.guard_s)
        place = {number: at for at, number in enumerate(self._plan.order)}
        others.sort(key=lambda at: place.get(jobs[at].number, len(place)))
        return [jobs[at] for at in pressing + others]

    def rush_waits(self) -> bool:
        """Whether an order marked rush waits on the board."""
        return self._rush > 0

    def take(self, job: Job) -> None:
        """Take a given order off the board."""
        self._off_board(job)
        self._begun.append(job)
        if self.saturated:
            self.feed()

    def put_back(self, job: Job) -> None:
        """Return an order that a rush order displaced."""
        self._begun.remove(job)
        self._on_board(job)

    def release(self, job: Job) -> None:
        """A new order comes on the board."""
        job.row = self._row(job)
        job.rank = self._rank(job.row)
        self._on_board(job)

    def leave(self, job: Job, fate: str, now_s: float) -> None:
        """An order that waits is given out or refused."""
        self._off_board(job)
        job.fate, job.gone_s = fate, now_s

    def finish(self, job: Job, now_s: float) -> None:
        """The last part of an order is out."""
        job.finished_s = now_s

    def feed(self) -> None:
        """Keep a saturated board full."""
        while len(self.waiting) < _FEED and self._next < len(self.jobs):
            self.release(self.jobs[self._next])
            self._next += 1

    def _on_board(self, job: Job) -> None:
        insort(self.waiting, job, key=_rank)
        self._rush += job.rush

    def _off_board(self, job: Job) -> None:
        self._rush -= job.rush
        del self.waiting[bisect_left(self.waiting, job.rank, key=_rank)]

    def _row(self, job: Job) -> WaitingOrder:
        """What the dispatch rule sees; in a replay of a history, orders arrive in the observed sequence."""
        material, arrived, rush = self.material[job.program], job.released_s, job.rush
        if self.replayed:
            arrived, rush = float(self._workload.draws.book.position[job.members[0]]), False
        return WaitingOrder(
            job.number, arrived, job.due_s, rush, material, self.clearance[material],
            self.tools[job.program], self._nozzle[material],
        )  # fmt: skip


def _rows(jobs: Sequence[Job]) -> list[WaitingOrder]:
    return [job.row for job in jobs if job.row]


def _jobs(workload: Workload) -> list[Job]:
    """The orders of a run by number, or the groups of those that are merged."""
    book, first, programs = workload.draws.book, workload.first_sheet.tolist(), workload.program.tolist()
    columns = (book.released_s, book.due_s, book.rush, workload.shared_h, workload.draws.order_h)
    released_s, due_s, rush, hours, invoice_h = (column.tolist() for column in columns)

    def total(of_each: Sequence[float], group: tuple[int, ...]) -> float:
        return of_each[group[0]] if len(group) == 1 else float(np.sum([of_each[order] for order in group]))

    return [
        Job(
            number=number, members=group, program=programs[group[0]],
            sheets=[sheet for order in group for sheet in range(first[order], first[order + 1])],
            released_s=released_s[group[0]], due_s=min(due_s[order] for order in group),
            rush=any(rush[order] for order in group), hours=total(hours, group), invoice_h=total(invoice_h, group),
        )
        for number, group in enumerate(workload.groups)
    ]  # fmt: skip
