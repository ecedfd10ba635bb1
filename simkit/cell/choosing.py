"""Which order a machine works on next: by the rule of day or night, from the board or from another machine."""

from __future__ import annotations

from collections.abc import Callable, Generator

import simpy

from simkit.base.vocabulary import WAITING_MATERIAL
from simkit.cell.beforenight import BeforeNight
from simkit.cell.board import Board
from simkit.cell.machinestand import stand_of
from simkit.cell.machinetime import Steps
from simkit.cell.nightqueue import NightView, first_night_order, kept_back, night_order
from simkit.cell.orders import Job


class ToolWaits:
    """Machines that wait for tools which others use; each looks again when an order is done or given back."""

    def __init__(self) -> None:
        self.looks: dict[int, Callable[[], None]] = {}

    def look(self) -> None:
        """Machines that wait for tools look whether they can go on."""
        looks, self.looks = self.looks, {}
        for again in looks.values():
            again()


class OrderChoice:
    """How one machine chooses."""

    def __init__(self, leaving: BeforeNight, board: Board, waiting: ToolWaits, machines: int) -> None:
        self.leaving, self.board, self.waiting, self.machines = leaving, board, waiting, machines
        self.time, self.tools, self.supply = leaving.time, leaving.tools, leaving.supply
        self.rules, self.facts, self.set_up = leaving.rules, leaving.facts, leaving.change_over.set_up
        self.orders, self.committed = board.orders, board.committed

    def next(self) -> Job | None:
        """The order to begin with now: the one committed, one off the board, or one that another machine committed."""
        return self.committed.begin(self.time.row) or self._choose() or self._take_over()

    def displaced(self, job: Job) -> Job:
        """Only an order marked rush, or at night a ready one, displaces the committed one; what is done stays done."""
        rush = not job.rush and self.orders.rush_waits()
        if not rush and self._night_order(job) is None:
            return job
        self.orders.put_back(job)
        return self._choose() or job

    def look_ahead(self, job: Job, sheet: int, gripper_s: float) -> None:
        """Commit the next order; the cutting time of this sheet, less its own gripper time, is the budget for it."""
        coming = self.committed.of(self.time.row)
        if coming is None:
            coming = self._choose()
            if coming is None:
                return
            self.committed.commit(self.time.row, coming, self.time.now)
        budget_s = self.facts.cut_s[sheet] - gripper_s
        if self.tools.lookahead and budget_s > 0:
            self.tools.look_ahead(job, coming, self.leaving.change_over.known_queue(), budget_s)

    def wait_for_tools(self, job: Job) -> Generator[simpy.Event, None, Job]:
        """A copy of each tool must be free; who asked first has it first. Return the order that begins now.

        Rather than wait, or go on waiting, an order of the board that can begin at once is taken in its place.
        """
        tools, row = self.tools, self.time.row
        while not tools.sharing.ask(row, tools.wanted(job)):
            if not self._can_begin():
                yield from self._stand_in_line(job)
                yield from self.time.until_open()
            others = [] if tools.to_be_had(job) else self._can_begin()
            if others:
                tools.sharing.leave(row)
                self.waiting.look()
                self.orders.put_back(job)
                able = {other.number for other in others}
                job = self._next([other for other in self.orders.waiting if other.number not in able]) or job
        return job

    def _can_begin(self) -> list[Job]:
        """Orders of the board that it could begin now, last in the line for tools; in a prepared night by nobody."""
        view, kept = self._night_view(), {job.number for job in self._kept_back()}
        able = (job for job in self.orders.waiting if self.tools.to_be_had(job, anew=True) and job.number not in kept)
        return [job for job in able if view is None or view.ready(job)]

    def _stand_in_line(self, job: Job) -> Steps:
        """Wait until the order can begin, or another one."""
        time, row = self.time, self.time.row
        time.note_wait("tool", "tool_elsewhere")
        time.enter(WAITING_MATERIAL)
        while not (self.tools.to_be_had(job) or self._can_begin()):
            event = self.board.wait_for_work(row)
            self.waiting.looks[row] = lambda event=event: time.wake(event)  # type: ignore[misc]
            yield event
        time.leave()

    def _choose(self) -> Job | None:
        """The next order off the board, by the rule of the night or of the day."""
        job = self._night_order()
        if job is None:
            return self._next([*self._kept_back(), *self._without_tools()])
        self.orders.take(job)
        return self._prepared(job)

    def _next(self, kept: list[Job]) -> Job | None:
        """The next order by the dispatch rule; those kept back only if nothing else waits."""
        material, tools = self.supply.material, self.tools
        stand = stand_of(self.orders, tools, self.set_up, material)
        job = self.orders.next(self.time.now, material, tools.tools_in_turret, stand, kept)
        return self._prepared(job) if job is not None else None

    def _kept_back(self) -> list[Job]:
        """Orders that this day leaves to the coming night."""
        time = self.time
        night = time.open_hours.next_night(time.now) if self.rules.night_queue == "reserved" else None
        if night is None:
            return []
        expected_s = self.board.planner.nights.share(time.now) * (night[1] - night[0]) * self.machines
        return kept_back(self.orders, self.leaving.view(), expected_s, night[1] + self.orders.guard_s)

    def _without_tools(self) -> list[Job]:
        """Orders that wait and whose tools other machines use now."""
        return [job for job in self.orders.waiting if not self.tools.to_be_had(job)] if self.machines > 1 else []

    def _take_over(self) -> Job | None:
        """Rather than stand idle while the cell is open, what another machine has committed; of a prepared night only
        what needs nobody here."""
        if not self.time.open_hours.is_open(self.time.now):
            return None
        view = self._night_view()
        job = self.committed.take_over(lambda job: (view is None or view.ready(job)) and self.tools.to_be_had(job))
        return self._prepared(job) if job is not None else None

    def _prepared(self, job: Job) -> Job:
        """What a chosen order needs starts to be brought now: its material, and tools for the magazine."""
        self.supply.prepare(job)
        self.leaving.load_ahead(job)
        return job

    def _night_order(self, committed: Job | None = None) -> Job | None:
        """The order that the queue of a night puts first, or people who prepare one."""
        view = self._night_view()
        if view is not None:
            return night_order(self.orders, view, committed)
        left_s = self.leaving.left_s() if "first_order" in self.rules.before_leaving else None
        return None if left_s is None else first_night_order(self.orders, self.leaving.view(), left_s, committed)

    def _night_view(self) -> NightView | None:
        """How the machine stands in a night whose queue is prepared; None at other times."""
        by_rank = self.rules.night_queue == "as_ranked" or not self.time.open_hours.in_night(self.time.now)
        return None if by_rank else self.leaving.view()
