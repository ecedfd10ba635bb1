"""The machine: a generator process that reads like the shop floor."""

from __future__ import annotations

from collections.abc import Generator
from typing import TYPE_CHECKING

import simpy

from simkit.base.vocabulary import (
    BLOCKED,
    CHANGEOVER,
    CLOSED,
    LOADING,
    NO_WORK,
    PUNCHING,
    UNLOADING,
    WAITING_MATERIAL,
)  # fmt: skip
from simkit.cell.facts import Facts
from simkit.cell.firstpiece import FirstPiece
from simkit.cell.nightqueue import NightView, first_night_order, night_order
from simkit.cell.orders import Job
from simkit.cell.standing import stand_of
from simkit.cell.stops import SheetExposure, StopClocks
from simkit.cell.stretches import Steps
from simkit.cell.toolwork import Change, ToolWork
from simkit.cell.upkeep import UpkeepClocks

if TYPE_CHECKING:
    from simkit.cell.people import Request
    from simkit.cell.run import Cell


class MachineProcess(FirstPiece):
    """One machine of the cell."""

    def __init__(
        self, cell: Cell, row: int, facts: Facts, tools: ToolWork, stops: StopClocks, upkeep: UpkeepClocks
    ) -> None:
        super().__init__(cell, row, facts, tools, stops, upkeep)
        self.board, self.committed = cell.board, cell.board.committed

    # --- the day's work -------------------------------------------------------------------------

    def work(self) -> Steps:
        """Order after order, for ever."""
        while True:
            job = self.committed.begin(self.row) or self._choose() or self._take_over()
            if job is None:
                yield from self._wait_for_work()
                continue
            yield from self._until_open()
            job = self._displaced(job)
            job = yield from self._wait_for_tools(job)
            job.started_s = self.clock.now
            self.job_number = job.number
            change = yield from self._change_over(job)
            yield from self._run_sheets(job, change)
            job.machine_done = True
            self.tools.release()
            self.cell.look_for_tools()
            if job.on_its_way == 0:
                self.board.finish(job)

    def _wait_for_tools(self, job: Job) -> Generator[simpy.Event, None, Job]:
        """A copy of each tool must be free; who asked first has it first. Return the order that begins now.

        Rather than wait, or go on waiting, an order of the board that can begin at once is taken in its place.
        """
        tools = self.tools
        while not tools.sharing.ask(self.row, tools.wanted(job)):
            if not self._can_begin():
                yield from self._stand_in_line(job)
                yield from self._until_open()
            others = [] if tools.to_be_had(job) else self._can_begin()
            if others:
                tools.sharing.leave(self.row)
                self.cell.look_for_tools()
                self.orders.put_back(job)
                able = {other.number for other in others}
                job = self._next([other for other in self.orders.waiting if other.number not in able]) or job
        return job

    def _can_begin(self) -> list[Job]:
        """Orders of the board that it could begin now, last in the line for tools; in a prepared night by nobody."""
        view, kept = self._night_view(), {job.number for job in self.kept_back()}
        able = (job for job in self.orders.waiting if self.tools.to_be_had(job, anew=True) and job.number not in kept)
        return [job for job in able if view is None or view.ready(job)]

    def _stand_in_line(self, job: Job) -> Steps:
        """Wait until the order can begin, or another one."""
        self.night_wait("tool", "tool_elsewhere")
        self.enter(WAITING_MATERIAL)
        while not (self.tools.to_be_had(job) or self._can_begin()):
            event = self.cell.tool_waits[self.row] = self.board.wait_for_work(self.row)
            yield event
        self.leave()

    def _choose(self) -> Job | None:
        """The next order off the board, by the rule of the night or of the day."""
        job = self._night_order()
        if job is None:
            return self._next([*self.kept_back(), *self._without_tools()])
        self.orders.take(job)
        return self._prepared(job)

    def _next(self, kept: list[Job]) -> Job | None:
        """The next order by the dispatch rule; those kept back only if nothing else waits."""
        stand = stand_of(self.orders, self.tools, self.set_up, self.material)
        job = self.orders.next(self.clock.now, self.material, self.tools.tools_in_turret, stand, kept)
        return self._prepared(job) if job is not None else None

    def _without_tools(self) -> list[Job]:
        """Orders that wait and whose tools other machines use now."""
        if len(self.cell.workload.plant.machines) == 1:
            return []
        return [job for job in self.orders.waiting if not self.tools.to_be_had(job)]

    def _take_over(self) -> Job | None:
        """Rather than stand idle while the cell is open, what another machine has committed; of a prepared night only
        what needs nobody here."""
        if not self.opening.is_open(self.clock.now):
            return None
        view = self._night_view()
        fits = view.ready if view else _any
        job = self.committed.take_over(lambda job: fits(job) and self.tools.to_be_had(job))
        return self._prepared(job) if job is not None else None

    def _prepared(self, job: Job) -> Job:
        """The material of a chosen order starts to be brought now, by the store or by whoever stages it."""
        facts = self.facts
        if facts.in_store(job, self.material):
            self.store_ready_s = self._store_exchange(job)
        staged = facts.staged_of(job, self.material)
        if staged:
            job.staged, job.staging = True, self.cell.ask_outside(job, staged)
        self._load_magazine(job)
        return job

    def _load_magazine(self, job: Job) -> None:
        """What the orders known now need and the magazine lacks is put in, if the plant works so."""
        if self.tools.magazine.ahead:
            known = self.orders.known_queue(self.clock.now, self.material, self.tools.tools_in_turret)
            self.put_in(job, [self.orders.needs[job.program], *known])

    def _night_order(self, committed: Job | None = None) -> Job | None:
        """The order that the queue of a night puts first, or people who prepare one."""
        view = self._night_view()
        if view is not None:
            return night_order(self.orders, view, committed)
        left_s = self.left_s() if "first_order" in self.rules.before_leaving else None
        return None if left_s is None else first_night_order(self.orders, self.view(), left_s, committed)

    def _night_view(self) -> NightView | None:
        """How the machine stands in a night whose queue is prepared; None at other times."""
        by_rank = self.rules.night_queue == "as_ranked" or not self.opening.in_night(self.clock.now)
        return None if by_rank else self.view()

    def _displaced(self, job: Job) -> Job:
        """Only an order marked rush, or at night a ready one, displaces the committed one; what is done stays done."""
        rush = not job.rush and self.orders.rush_waits()
        if not rush and self._night_order(job) is None:
            return job
        self.orders.put_back(job)
        return self._choose() or job

    def _wait_for_work(self) -> Steps:
        """Wait for a release; an idle machine may still fail by calendar hours."""
        now = self.clock.now
        self.cell.stacks.no_work(self)
        self.enter(NO_WORK)
        self.stops.catch_up(now)
        release = self.board.wait_for_work(self.row)
        self._look_again_by_day(release)
        failure_s = self.stops.next_calendar()
        if failure_s < float("inf"):
            self.clock.at(now + failure_s, lambda _: self._wake(release), self.rank)
        yield release
        self.leave()
        self.stops.catch_up(self.clock.now)
        if self.stops.has_calendar and self.stops.next_calendar() <= 0:
            cause = self.stops.calendar_cause()
            number = self.stops.number[cause]
            self.stops.advance(_NOTHING, 0.0, 0.0, 0.0, cause)
            yield from self._stop(cause, number, None)

    def _look_again_by_day(self, release: simpy.Event) -> None:
        """What could not be taken over at this hour can be taken when people come."""
        now = self.clock.now
        moment = self.opening.next_attended(now) if self.committed else None
        if moment is not None and moment > now:
            self.clock.at(moment, lambda _: self._wake(release), self.rank)

    def _until_open(self) -> Steps:
        """Outside attended hours without a night rule nothing new starts."""
        opening, now = self.cell.opening, self.clock.now
        if opening.is_open(now):
            return
        moment = opening.next_open(now)
        self.enter(CLOSED)
        yield self.clock.at(moment, rank=self.rank) if moment is not None else simpy.Event(self.clock)
        self.leave()

    # --- changeover ------------------------------------------------------------------------------

    def _change_over(self, job: Job) -> Generator[simpy.Event, None, Change]:
        cell, orders, first = self.cell, self.facts.orders, job.members[0]
        known = self.orders.known_queue(self.clock.now, self.material, self.tools.tools_in_turret)
        change = self.tools.change_to(job, known)
        job.loads += change.loads
        cell.ask_outside(job, change.outside_s)
        cell.ask_outside(job, self.facts.outside_of(job))
        by_hand_s, automatic_s, helped_s = self.set_up.change_to(job)
        fixed_s, fixed_helped_s = float(orders.fixed_s[first]), float(orders.fixed_helped_s[first])
        if cell.opening.in_night(self.clock.now):
            cell.ask_outside(job, {"preparation": fixed_s})
            fixed_s = fixed_helped_s = 0.0
        automatic_s += change.gripper_s + float(orders.fixed_machine_s[first])
        yield from self.alone(CHANGEOVER, automatic_s)
        limit = "tool" if change.hand_s > 0 else "material"
        want = "tool_by_hand" if change.hand_s > 0 else "set_up" if by_hand_s > 0 else "left_by_shift"
        yield from self.by_person("changeover", CHANGEOVER, fixed_s + change.hand_s + by_hand_s, job, limit, want,
                                  helped_s=fixed_helped_s + change.helped_s + helped_s)  # fmt: skip
        yield from self._change_material(job)
        return change

    # --- sheets ----------------------------------------------------------------------------------

    def _run_sheets(self, job: Job, change: Change) -> Steps:
        cell, sheets = self.cell, list(job.sheets)
        tail = cell.settings.rules.lookahead_sheets
        first_piece_open, done = True, 0
        beside: Request | None = None
        good: set[int] = set()
        suspect: list[int] = []
        while done < len(sheets):
            self.sheet = sheet = sheets[done]
            yield from self._until_open()
            if self.before_s:
                yield from self.before_leaving(job)
            yield from self._care()
            yield from cell.stacks.room_for(self, job)
            yield from self._swap_worn(job)
            yield from self._next_pack(job)
            yield from self._released(beside)
            yield from self._until_open()
            yield from self._load(job, sheet)
            self._use_sheet(job, more=done + 1 < len(sheets))
            hand_s, gripper_s, helped_s = self.tools.middle(job, done)
            if len(sheets) - done <= tail:
                self._look_ahead(job, sheet, gripper_s)
            yield from self.alone(CHANGEOVER, gripper_s)
            yield from self.by_person("changeover", CHANGEOVER, hand_s, job, "tool", "tool_by_hand", helped_s=helped_s)
            yield from self.alone(PUNCHING, change.engaged * self.facts.engagement_s[job.members[0]])
            lost = yield from self._break_tool(job, sheet)
            if not lost:
                lost = yield from self._run(job, sheet, done)
            if lost:
                sheets += [sheet] * lost
            else:
                job.on_its_way += 1
                job.sheets_done += 1
                yield from self._hand_over(job, sheet)
                if sheet not in good:  # else it replaces one that was made before and lost at a later stop
                    good.add(sheet)
                    self.log.made.append(sheet)
                    self.log.made_at_s.append(self.clock.now)
                measured = False
                if first_piece_open:
                    first_piece_open = False
                    beside = self._measured_beside(job, more=done + 1 < len(sheets))
                    if beside is None:
                        measured = yield from self._first_piece(job)
                        job.measured |= measured
                elif beside is not None and beside.event.processed:
                    beside, measured = None, True
                    job.measured, job.measured_after = True, job.sheets_done
                if job.faults:
                    suspect = [*suspect, sheet]
                    bad = yield from self._find_faults(job, suspect, measured, done + 1 == len(sheets))
                    if bad:
                        sheets, suspect, first_piece_open = sheets + bad, [], True
            done += 1
        self.sheet = -1
        cell.stacks.order_done(self, job)

    def _load(self, job: Job, sheet: int) -> Steps:
        who, seconds = self.facts.who["load"], self.facts.load_s[sheet]
        if who == "machine":
            yield from self.alone(LOADING, seconds)
        else:
            skills = self.facts.load_skills(job)
            yield from self.by_person(who, LOADING, seconds, job, "material", "loading_by_hand", skills)

    def _look_ahead(self, job: Job, sheet: int, gripper_s: float) -> None:
        """Commit the next order; the cutting time of this sheet, less its own gripper time, is the budget for it."""
        coming = self.committed.of(self.row)
        if coming is None:
            coming = self._choose()
            if coming is None:
                return
            self.committed.commit(self.row, coming, self.clock.now)
        if not self.tools.lookahead:
            return
        budget_s = self.facts.cut_s[sheet] - gripper_s
        if budget_s > 0:
            known = self.orders.known_queue(self.clock.now, self.material, self.tools.tools_in_turret)
            self.tools.look_ahead(job, coming, known, budget_s)

    def _swap_worn(self, job: Job) -> Steps:
        """In an order longer than a tool's limit the tool is swapped between two sheets."""
        change = self.tools.swap_worn(job)
        if change is not None:
            self.cell.ask_outside(job, change.outside_s)
            yield from self.by_person("changeover", CHANGEOVER, change.hand_s, job, "tool", "worn_tool",
                                      helped_s=change.helped_s)  # fmt: skip

    def _hand_over(self, job: Job, sheet: int) -> Steps:
        facts, bench = self.facts, self.cell.bench
        unload_s = facts.unload_s[sheet]
        aims = facts.goes_on_stack(job, self.opening.attended(self.clock.now))
        if not facts.to_bench[job.program]:
            by_device = facts.by_device[job.program]
            exchange = self.cell.skeletons.in_exchange(self.row) if by_device else None
            if exchange is not None:
                yield from self.wait(BLOCKED, self._after(exchange), "output", "skeletons_full")
            yield from self._pull_out(job, unload_s, by_device, "unloading_by_hand")
            if by_device:
                self.cell.skeletons.put(self, job)
            bench.beside(job, sheet)
        elif aims and bench.stack_has_room():
            yield from self._pull_out(job, unload_s, True, "")
            bench.put_on_stack(job, sheet)
        else:
            taken = bench.places.take(self.row)
            if taken is not None:
                yield from self.wait(BLOCKED, taken, "output", "stack_full" if aims else "bench_full")
            yield from self._pull_out(job, unload_s, False, "stack_full" if aims else "unloading_by_hand")
            bench.put(job, sheet)

    def _pull_out(self, job: Job, seconds: float, automatic: bool, want: str) -> Steps:
        who = self.facts.who["unload"]
        if automatic or who == "machine":
            yield from self.alone(UNLOADING, seconds)
        else:
            yield from self.by_person(who, UNLOADING, seconds, job, "output", want, self.facts.unload_skills(job))


def _any(_: Job) -> bool:
    return True


_NOTHING = SheetExposure(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
