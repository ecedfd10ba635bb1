"""The orders of a run and the decisions about them: pure, without a clock. Every method is told the moment."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field
from typing import Any

from simkit.base.units import HOURS_PER_DAY, SECONDS_PER_HOUR
from simkit.process.faults import Struck
from simkit.process.workload import Workload
from simkit.tooling.improve import Stand, improve
from simkit.tooling.room import NO_CLEARANCE, Need
from simkit.tooling.sequence import SEARCHED, Waiting, next_order, parted, ranked
from simkit.tooling.window import Plan, Window

IN_HOUSE, SUBCONTRACT, REFUSED = "in_house", "subcontract", "refused"
NO_MACHINE = -1
_FEED = 40


@dataclass
class Job:
    """An order on its way through the cell (several orders where repeats are merged).

    ``hours`` are the planner's for all of them, ``invoice_h`` those of today's plant; ``gone_s`` is the moment at which
    they were given out or refused. ``loaded_at``: the machine whose exchanges its ``loads``, ``faults`` and ``risked``
    count. ``measured_after``: good sheets made when what the first piece showed was known.
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
    faults: list[Struck] = field(default_factory=list)
    risked: dict[int, int] = field(default_factory=dict)
    measured: bool = False
    measured_after: int = 1
    row: Waiting | None = None
    staged: bool = False
    staging: list[Any] = field(default_factory=list)

    @property
    def left_h(self) -> float:
        """Planner's hours left, by sheets."""
        return self.hours * max(1.0 - self.sheets_done / len(self.sheets), 0.0)


class Orders:
    """Released orders that wait, the planner's hours ahead, and what the plant's rules say about both."""

    def __init__(self, workload: Workload, needs: list[tuple[Need, ...]]) -> None:
        self.rules = workload.plant.settings.rules
        self.needs = needs
        self.reads_queue = self.rules.eviction == "soonest" or workload.plant.settings.magazine.loading == "ahead"
        self.saturated = workload.plant.settings.run.source == "saturated"
        self.jobs = [_job(workload, number, group) for number, group in enumerate(workload.groups)]
        self.material = workload.tables.material.tolist()
        self.clearance = [row.clearance_mm for row in workload.plant.materials]
        names = {row.nozzle: place for place, row in enumerate(workload.plant.materials)}
        self._nozzle = [names[row.nozzle] if self.rules.group_nozzles else 0 for row in workload.plant.materials]
        self.tools = [frozenset(need.tool for need in program) for program in needs]
        self._workload = workload
        self.replayed = workload.plant.settings.run.source == "replay" and bool(workload.plant.history)
        self.dispatch = "arrival" if self.replayed else self.rules.dispatch
        self.waiting: list[Job] = []
        self._open: list[Job] = []
        self._seen: tuple[int, frozenset[int]] = (-1, frozenset())
        self.guard_s = self.rules.due_guard_days * HOURS_PER_DAY * SECONDS_PER_HOUR
        self._window = Window(workload, needs) if self.dispatch == SEARCHED else None
        self._plan = Plan([], ())
        self._next = 0

    def next(
        self, now_s: float, material: int, turret_tools: frozenset[int], stand: Stand | None = None,
        kept: Collection[Job] = (),
    ) -> Job | None:  # fmt: skip
        """Take the next order off the board by the dispatch rule; None when nothing waits.

        ``stand`` is how the machine stands; only ``searched`` reads it, and needs it. Orders ``kept`` back are taken
        only if nothing else waits.
        """
        if not self.waiting:
            return None
        self._seen = (material, turret_tools)
        numbers = {job.number for job in kept}
        free = [job for job in self.waiting if job.number not in numbers] or self.waiting
        rows = [job.row for job in free if job.row]
        if self.dispatch == SEARCHED:
            job = free[self._search(free, rows, now_s, stand)]
        else:
            job = free[next_order(self.dispatch, rows, **self._facts(now_s, material, turret_tools))]
        self.take(job)
        return job

    def known_queue(self, now_s: float, material: int, turret_tools: frozenset[int]) -> list[tuple[Need, ...]]:
        """Needs of the waiting orders, ranked by the dispatch rule and cut at ``lookahead_orders``.

        Empty where no rule reads it: only ``soonest`` evicts, and only a magazine filled ahead is filled, by what
        comes next.
        """
        if not self.reads_queue:
            return []
        known = self._ranked(self.rules.lookahead_orders, now_s, material, turret_tools)
        return [self.needs[job.program] for job in known]

    def planned(self, now_s: float) -> tuple[list[Job], list[Job]]:
        """Released orders that are not done at their machine: those started or committed, then those that wait.

        These as the dispatch rule ranks them, for a machine as the one that chose last stood then.
        """
        self._open = [job for job in self._open if job.fate == IN_HOUSE and not job.machine_done]
        waiting = {job.number for job in self.waiting}
        begun = [job for job in self._open if job.number not in waiting]
        begun.sort(key=lambda job: (job.started_s < 0, job.started_s, job.number))
        return begun, self._ranked(len(waiting), now_s, *self._seen)

    def _ranked(self, limit: int, now_s: float, material: int, turret_tools: frozenset[int]) -> list[Job]:
        rows = [job.row for job in self.waiting if job.row]
        if self.dispatch == SEARCHED:
            order = self._as_planned(rows, now_s)[:limit]
        else:
            order = ranked(self.dispatch, rows, limit=limit, **self._facts(now_s, material, turret_tools))
        return [self.waiting[at] for at in order]

    def _search(self, free: list[Job], rows: list[Waiting], now_s: float, stand: Stand | None) -> int:
        """Index of the next order of the searched rule; what the search plans for after it is kept."""
        pressing, others = parted(rows, now_s, self.guard_s)
        if pressing:
            return pressing[0]
        window = self._window
        if stand is None or window is None:
            raise ValueError("the searched rule must be told how the machine stands")
        inside, rest = others[: self.rules.window_orders], others[self.rules.window_orders :]
        numbers = {rows[at].position: at for at in inside}
        plan = self._plan
        if not plan.holds(set(numbers), stand):
            orders = [(rows[at], free[at].program, free[at].members) for at in inside]
            after = [self.needs[free[at].program] for at in rest[: self.rules.lookahead_orders]]
            found = improve(stand, window.pieces(orders, now_s, stand), self.rules.search_evaluations, after)
            plan = Plan([rows[inside[at]].position for at in found.order], found.foreseen)
        self._plan = plan.after_first()
        return numbers[plan.order[0]]

    def _as_planned(self, rows: list[Waiting], now_s: float) -> list[int]:
        """Orders that nothing may delay, then the others as the last search put them, then those it did not see."""
        pressing, others = parted(rows, now_s, self.guard_s)
        place = {number: at for at, number in enumerate(self._plan.order)}
        return pressing + sorted(others, key=lambda at: place.get(rows[at].position, len(place)))

    def rush_waits(self) -> bool:
        """Whether an order marked rush waits on the board."""
        return any(job.rush for job in self.waiting)

    def take(self, job: Job) -> None:
        """Take a given order off the board."""
        self.waiting.pop(next(at for at, other in enumerate(self.waiting) if other is job))
        if self.saturated:
            self.feed()

    def put_back(self, job: Job) -> None:
        """Return an order that a rush order displaced."""
        self.waiting.append(job)
        self.waiting.sort(key=lambda job: (job.released_s, job.number))

    def release(self, job: Job) -> None:
        """A new order comes on the board."""
        self._open.append(job)
        self._to_board(job)

    def leave(self, job: Job, fate: str, now_s: float) -> None:
        """An order that waits is given out or refused."""
        self.waiting.remove(job)
        job.fate, job.gone_s = fate, now_s

    def finish(self, job: Job, now_s: float) -> None:
        """The last part of an order is out."""
        job.finished_s = now_s

    def feed(self) -> None:
        """Keep a saturated board full."""
        while len(self.waiting) < _FEED and self._next < len(self.jobs):
            self._to_board(self.jobs[self._next])
            self._next += 1

    def _to_board(self, job: Job) -> None:
        job.row = self._row(job)
        self.waiting.append(job)

    def _facts(self, now_s: float, material: int, turret_tools: frozenset[int]) -> dict[str, Any]:
        return {
            "last_material": material, "last_clearance": self.clearance[material] if material >= 0 else NO_CLEARANCE,
            "turret_tools": turret_tools, "window": self.rules.window_orders, "now_s": now_s,
            "due_guard_s": self.guard_s, "last_nozzle": self._nozzle[material] if material >= 0 else 0,
        }  # fmt: skip

    def _row(self, job: Job) -> Waiting:
        """What the dispatch rule sees; in a replay of a history, orders arrive in the observed sequence."""
        material, arrived, rush = self.material[job.program], job.released_s, job.rush
        if self.replayed:
            arrived, rush = float(self._workload.draws.book.position[job.members[0]]), False
        return Waiting(
            job.number, arrived, job.due_s, rush, material, self.clearance[material],
            self.tools[job.program], self._nozzle[material],
        )  # fmt: skip


def _job(workload: Workload, number: int, group: tuple[int, ...]) -> Job:
    book, first = workload.draws.book, workload.first_sheet
    sheets = [sheet for order in group for sheet in range(int(first[order]), int(first[order + 1]))]
    return Job(
        number=number, members=group, program=int(workload.program[group[0]]), sheets=sheets,
        released_s=float(book.released_s[group[0]]), due_s=float(min(book.due_s[list(group)])),
        rush=bool(book.rush[list(group)].any()), hours=float(workload.shared_h[list(group)].sum()),
        invoice_h=float(workload.invoice_h[list(group)].sum()),
    )  # fmt: skip
