"""The oracle: time and contention of the cell in straightforward SimPy, slow and plain.

Every delay is a real timeout, people are told by their own shift process when their window ends, and nothing is worked
out in advance. It shares with the cell only what knows no clock: workload, facts, orders, tools, stops, upkeep.
"""

from __future__ import annotations

from itertools import pairwise

import simpy

from simkit.base.units import on_grid_s
from simkit.cell.facts import Facts, SetUp
from simkit.cell.machinestand import stand_of
from simkit.cell.openstacks import OpenStacks, SkeletonPallet
from simkit.cell.orders import Job, Orders
from simkit.cell.packs import Packs, Store
from simkit.cell.planning import Planner
from simkit.cell.stops import SheetExposure, StopClocks, shared_sequences
from simkit.cell.toolfacts import tool_facts_of
from simkit.cell.toolwork import ToolStock, ToolWork
from simkit.cell.upkeep import UpkeepClocks
from simkit.cell.wrongtools import found_now
from simkit.process.shifts import Span
from simkit.process.workload import Workload
from tests.oracle.beforenight import BeforeNight
from tests.oracle.crew import DECISIONS, MACHINES, RELEASE, Request

NOTHING = SheetExposure(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)


class Machine:
    """What a machine has and did; ``shown`` lists (moment, state)."""

    def __init__(self, row: int, tools: ToolWork, stops: StopClocks, upkeep: UpkeepClocks, set_up: SetUp) -> None:
        self.row, self.tools, self.stops, self.upkeep, self.set_up = row, tools, stops, upkeep, set_up
        self.next, self.chosen_s = None, 0.0
        self.material, self.store_ready_s, self.pack_ready_s, self.woken = -1, 0.0, 0.0, None
        self.packs, removal = Packs(set_up.facts.per_pack), set_up.facts.settings.removal
        self.pile, self.pallet, self.exchange = OpenStacks(removal), SkeletonPallet(removal.skeleton_places), None
        self.readied, self.to_ready, self.tools_free = None, [], None
        self.shown, self.made, self.lost, self.stopped, self.nights = [(0.0, "no_work")], [], [], [], []


class Straight(BeforeNight):
    """One replication; ``run`` fills the records."""

    def __init__(self, workload: Workload) -> None:
        super().__init__(workload)
        self.span_s, self.facts, self.tool_facts = workload.span_s, Facts(workload), tool_facts_of(workload)
        self.orders = Orders(workload, self.tool_facts.needs)
        self.planner, self.new, self.decided_s = Planner(workload, self.orders), [], -1.0
        self.planner.nights.seen = self.seen
        self.unfinished, self.all_done = len(self.orders.jobs), self.env.event()
        self.pile, self.outside, self.levels, self.taken = [], {}, {}, {}
        self.beside, self.emptying = 0, False
        self.store = Store(self.s.store.packs, lambda request: request.done.processed)
        self.bench, self.stacks = (
            simpy.Container(self.env, places, places) for places in (self.s.bench.places, self.s.removal.stack_places)
        )
        stock = ToolStock(workload, self.tool_facts)
        shared = shared_sequences(self.plant.stops, dict(self.plant.sequences))
        self.machines = [
            Machine(row, ToolWork(workload, self.tool_facts, row, lambda request: request.done.processed, stock),
                    StopClocks(self.plant.stops, workload.draws, row, shared, workload.pick_luck),
                    UpkeepClocks(self.plant.upkeep, workload.draws, row), SetUp(self.facts))
            for row in range(len(self.plant.machines))
        ]  # fmt: skip

    def run(self) -> Straight:
        env, horizon = self.env, self.s.run.horizon_s
        self.come_to_work()
        if self.orders.saturated:
            self.unfinished = 1
            self.orders.feed()
        else:
            for moment in {job.released_s for job in self.orders.jobs}:
                env.process(self.release(moment))
        for moment in self.planner.moments:
            env.process(self.look_at_orders(moment))
        for m in self.machines:
            env.process(self.work(m))
        limit = horizon if horizon is not None else self.plan.day_start[-2]
        if horizon is None and self.unfinished:
            env.run(until=self.all_done | env.timeout(limit))
            limit = max(env.now, min(self.span_s, limit))
        if env.now < limit:
            env.run(until=limit)
        for request in self.active:
            self.note_chunk(request)
        for worker in self.workers:
            self.leave_again(worker)
        return self

    # --- orders ------------- ----------------------------------------------------------------------

    def release(self, moment: float):
        yield self.env.timeout(moment)
        if self.plan.nights and moment > 0:
            yield from self.until(self.attended)
        yield self.turn(RELEASE)
        for job in [job for job in self.orders.jobs if job.released_s == moment]:
            self.orders.release(job)
            self.new.append(job)
        for m in self.machines:
            if m.woken is not None and not m.woken.triggered:
                m.woken.succeed()
        self.tools_changed()
        yield from self.look_at_orders(0.0)

    def look_at_orders(self, in_s: float):
        """The planner decides once an instant, when all its releases are on the board."""
        yield self.env.timeout(in_s)
        yield self.turn(DECISIONS)
        if self.planner.active and self.decided_s < self.env.now:
            self.decided_s = self.env.now
            extra, gone = self.planner.decide(self.env.now, self.new, self.overtime)
            self.new = []
            for span in extra:
                due = [row for row, comes in enumerate(self.plan.person_overtime) if comes and self.at_machine(row)]
                if due and not any(self.plan.works_overtime(row, span) for row in due):
                    continue
                self.overtime.append(span)
                for worker in self.workers:
                    if span in self.extra_of(worker.row):
                        self.env.process(self.duty(worker, span))
            for _ in gone:
                self.count_down(True)

    def seen(self, night: Span):
        """What the machines showed in a night, worked overtime left out."""
        cuts = sorted({*night, *(t for span in self.overtime for t in span if night[0] < t < night[1])})
        for a, b in pairwise(cuts):
            if any(start <= a < end for start, end in self.overtime):
                continue
            for m in self.machines:
                for (start, state), (end, _) in pairwise([*m.shown, (self.env.now, "")]):
                    if max(start, a) < min(end, b):
                        yield state, max(start, a), min(end, b)

    def count_down(self, done: bool) -> None:
        self.unfinished -= done
        if done and self.unfinished == 0:
            self.all_done.succeed()

    def finish_if_out(self, job: Job, sheets: int) -> None:
        job.on_its_way -= sheets
        if job.machine_done and job.on_its_way == 0:
            self.orders.finish(job, self.env.now)
            self.count_down(True)

    def aside(self, job: Job | None, seconds_by_task: dict[str, float]) -> list[Request]:
        todo = {task: seconds for task, seconds in seconds_by_task.items() if seconds > 0}
        for task, seconds in todo.items():
            self.outside[task] = self.outside.get(task, 0.0) + seconds
        able = {skill for person in self.plant.people for skill in person.skills if person.shift != "on_call"}
        return [self.ask(task, seconds, job, outside=True) for task, seconds in todo.items() if task in able]

    # --- the machine ------------------------------------------------------------------------------

    def wait(self, m: Machine, state: str, event: simpy.Event):
        self.show(m, state)
        yield event
        yield self.turn(MACHINES + m.row)

    def alone(self, m: Machine, state: str, seconds: float):
        if seconds > 0:
            yield from self.wait(m, state, self.env.timeout(seconds))

    def wait_by_night_too(self, m: Machine, state: str, event: simpy.Event, limit: str):
        if self.night():
            m.nights.append((self.env.now, limit))
        yield from self.wait(m, state, event)

    def night_goes_on(self, m: Machine, request: Request, noted: bool) -> None:
        if noted and request.arrived and self.night():
            m.nights.pop()

    def by(
        self, m: Machine, task: str, state: str, seconds: float, job: Job | None, limit: str, skills=(), waiting=None,
        shared=0.0,
    ):  # fmt: skip
        """Something that people do, or nobody where the task is the machine's own."""
        if task == "machine":
            yield from self.alone(m, state, seconds)
        elif callable(seconds) or seconds > 0:
            shows = (waiting or "waiting_person", state)
            request, noted = self.ask(task, seconds, job, skills, m, shows, shared=shared), self.night()
            yield from self.wait_by_night_too(m, shows[0], request.done, limit)
            self.night_goes_on(m, request, noted)

    def place(self, m: Machine, places: simpy.Container, wanted: int):
        taken = places.get(wanted)
        if not taken.triggered:
            yield from self.wait_by_night_too(m, "blocked", taken, "output")

    def work(self, m: Machine):
        yield self.turn(MACHINES + m.row)
        while True:
            job, m.next = m.next or self.choose(m) or self.take_over(m), None
            if job is None:
                yield from self.idle(m)
                continue
            yield from self.until_open(m)
            if (not job.rush and self.orders.rush_waits()) or self.for_night(m, job):
                self.orders.put_back(job)
                job = self.choose(m)
            job = yield from self.all_tools(m, job)
            job.started_s = self.env.now
            change = yield from self.change_over(m, job)
            yield from self.sheets(m, job, change)
            job.machine_done = True
            m.tools.release()
            self.tools_changed()
            self.finish_if_out(job, 0)

    def choose(self, m: Machine) -> Job | None:
        job = self.for_night(m)
        if job is None:
            return self.next_of(m, self.for_later(m) + [j for j in self.orders.waiting if not m.tools.to_be_had(j)])
        self.orders.take(job)
        return self.prepared(m, job)

    def next_of(self, m: Machine, later: list[Job]) -> Job | None:
        stand = stand_of(self.orders, m.tools, m.set_up, m.material)
        job = self.orders.next(self.env.now, m.material, m.tools.tools_in_turret, stand, later)
        return job and self.prepared(m, job)

    def idle(self, m: Machine):
        self.clear_stacks(m, m.pile.why_idle())
        m.stops.catch_up(self.env.now)
        left, m.woken = m.stops.next_calendar(), self.env.event()
        woken = m.woken if left == float("inf") else m.woken | self.env.timeout(left)
        if any(owner.next for owner in self.machines) and not self.attended():
            woken |= self.env.process(self.until(self.attended))
        yield from self.wait(m, "no_work", woken)
        m.stops.catch_up(self.env.now)
        if m.stops.next_calendar() <= 0:
            cause = m.stops.calendar_cause()
            number = m.stops.number[cause]
            m.stops.advance(NOTHING, 0.0, 0.0, 0.0, cause)
            yield from self.stop(m, cause, number, None)

    def until_open(self, m: Machine):
        if not (self.attended() or self.night()):
            opened = self.env.process(self.until(lambda: self.attended() or self.night()))
            yield from self.wait(m, "closed", opened)

    def change_over(self, m: Machine, job: Job):
        first, facts, now = job.members[0], self.facts, self.env.now
        change = m.tools.change_to(job, self.orders.known_queue(now, m.material, m.tools.tools_in_turret))
        job.loads += change.loads
        self.aside(job, change.outside_s)
        self.aside(job, facts.outside_of(job))
        by_hand, automatic, shared = m.set_up.change_to(job)
        fixed, helped = facts.once_s["fixed"][first], facts.helped_s["fixed"][first]
        if self.night():
            self.aside(job, {"preparation": fixed})
        else:
            by_hand, shared = by_hand + fixed, shared + helped
        yield from self.alone(m, "changeover", automatic + change.gripper_s + facts.once_s["fixed_machine"][first])
        by_hand, shared = by_hand + change.hand_s, shared + change.helped_s
        what = "tool" if change.hand_s else "material"
        yield from self.by(m, "changeover", "changeover", by_hand, job, what, shared=shared)
        yield from self.bring_material(m, job)
        return change

    def sheets(self, m: Machine, job: Job, change):
        """Each sheet of the order; lost ones are made again at the end."""
        rules, facts, to_do, number = self.s.rules, self.facts, list(job.sheets), 0
        unmeasured, suspect, beside = True, [], None
        while number < len(to_do):
            sheet, remaining = to_do[number], len(to_do) - number
            yield from self.until_open(m)
            yield from self.make_ready(m, job)
            yield from self.upkeep(m)
            yield from self.room_for_parts(m, job)
            if swap := m.tools.swap_worn(job):
                self.aside(job, swap.outside_s)
                yield from self.by(m, "changeover", "changeover", swap.hand_s, job, "tool", shared=swap.helped_s)
            yield from self.next_pack(m, job)
            yield from self.released(m, beside)
            yield from self.until_open(m)
            skills = facts.load_skills(job)
            yield from self.by(m, facts.who["load"], "loading", facts.load_s[sheet], job, "material", skills)
            self.use_sheet(m, job, remaining > 1)
            hand_s, gripper_s, shared = m.tools.middle(job, number)
            if remaining <= rules.lookahead_sheets:
                if m.next is None:
                    m.next, m.chosen_s = self.choose(m), self.env.now
                budget = facts.cut_s[sheet] - gripper_s
                if m.next and m.tools.lookahead and budget > 0:
                    known = self.orders.known_queue(self.env.now, m.material, m.tools.tools_in_turret)
                    m.tools.look_ahead(job, m.next, known, budget)
            yield from self.alone(m, "changeover", gripper_s)
            yield from self.by(m, "changeover", "changeover", hand_s, job, "tool", shared=shared)
            yield from self.alone(m, "punching", change.engaged * facts.once_s["engagement"][job.members[0]])
            lost = yield from self.broken_tools(m, job, sheet)
            lost = lost or (yield from self.run_sheet(m, job, sheet, number))
            m.lost += [(sheet, self.env.now)] * lost
            to_do += [sheet] * lost
            number += 1
            if not lost:
                job.on_its_way += 1
                job.sheets_done += 1
                yield from self.hand_over(m, job, sheet)
                if not any(sheet == made for made, _ in m.made):
                    m.made.append((sheet, self.env.now))
                measured, unmeasured = unmeasured, False
                if measured:
                    beside = self.measured_beside(job, number < len(to_do))
                    measured = beside is None and (yield from self.first_piece(m, job))
                elif beside and beside.done.processed:
                    measured, beside = True, None
                suspect += [sheet] if job.faults else []
                seen = {"measured": measured, "attended": self.attended(), "last": number == len(to_do)}
                for fault, _ in found_now(job, len(suspect), **seen):
                    yield from self.mend(m, job, fault, suspect)
                    to_do, suspect, unmeasured = to_do + suspect, [], True
        self.order_out(m, job)

    def broken_tools(self, m: Machine, job: Job, sheet: int):
        """Tools loaded wrongly that break at their first hit; the number of sheets lost."""
        faults = [fault for fault in job.faults if fault.breaks]
        job.faults = [fault for fault in job.faults if not fault.breaks]
        for fault in faults:
            yield from self.mend(m, job, fault, [])
        return 1 if faults else 0

    def mend(self, m: Machine, job: Job, fault, sheets: list[int]):
        m.stopped.append((-2, self.env.now))
        seconds = self.facts.entered(fault.repair_s, job)
        who = self.plant.load_faults[fault.row].clears
        yield from self.by(m, who, "stopped", seconds, job, "tool", waiting="stopped")
        m.stops.stood_until(self.env.now)
        m.lost += [(sheet, self.env.now) for sheet in sheets]

    def run_sheet(self, m: Machine, job: Job, sheet: int, number: int):
        """Run through stops and worn tools; the number of sheets lost."""
        run_s, adds, done_s = self.facts.run_s[sheet], self.facts.exposure(job, number), 0.0
        share = m.tools.wear.fails_after()
        worn = [on_grid_s(share * run_s)] if share < 1 else []
        m.stops.begin_sheet(sheet)
        m.stops.catch_up(self.env.now)
        while True:
            coming = m.stops.first(adds, done_s, run_s, self.env.now, self.attended())
            until = min([run_s, *worn, *([coming.offset_s] if coming else [])])
            changes = done_s + self.people_change() - self.env.now
            if m.stops.differ_by_hour and changes < until:
                yield from self.alone(m, "run", changes - done_s)
                m.stops.advance(adds, done_s, changes, run_s, -1)
                done_s = changes
                continue
            by_wear = until in worn
            yield from self.alone(m, "run", until - done_s)
            m.stops.advance(adds, done_s, until, run_s, coming.cause if coming and not by_wear else -1)
            done_s = until
            if by_wear:
                m.stopped.append((-1, self.env.now))
                m.tools.wear.ran(share)
                seconds, outside = m.tools.replace_worn(job)
                self.aside(job, outside)
                yield from self.by(m, "clear", "stopped", seconds, job, "tool", waiting="stopped")
                m.stops.stood_until(self.env.now)
                return 1
            if coming is None:
                m.upkeep.grow(run_s, self.facts.cut_s[sheet], self.facts.slug_kg[job.program])
                m.tools.wear.ran(1.0)
                return 0
            lost = yield from self.stop(m, coming.cause, coming.number, job)
            if lost:
                m.tools.wear.ran(done_s / run_s if run_s > 0 else 0.0)
                return lost

    def stop(self, m: Machine, cause: int, number: int, job: Job | None):
        outcome, who = m.stops.outcome(cause, number), self.plant.stops[cause].clears
        m.stopped.append((cause, self.env.now))
        yield from self.alone(m, "stopped", outcome.retry_s)
        inside = job if self.plant.stops[cause].needs_entry else None
        if not outcome.listed:
            seconds = self.facts.entered(outcome.repair_s, inside)
        elif who == "nobody":
            seconds = self.facts.entered(m.stops.listed_repair_s(cause), inside)
        else:
            seconds = lambda: self.facts.entered(m.stops.listed_repair_s(cause), inside)  # noqa: E731
        yield from self.by(m, "machine" if who == "nobody" else who, "stopped", seconds, job, "stop", waiting="stopped")
        m.stops.stood_until(self.env.now)
        return outcome.sheets_lost if job else 0

    def upkeep(self, m: Machine):
        m.upkeep.open_day(self.plan.day_of(self.env.now))
        for row in m.upkeep.due():
            yield from self.do_upkeep(m, row)

    def do_upkeep(self, m: Machine, row: int):
        task, seconds = self.plant.upkeep[row], m.upkeep.do(row)
        if task.planned_in_break and self.attended():
            if task.needs_person and task.break_by == "crew" and seconds > 0:
                self.in_break(seconds)
        else:
            who = "upkeep" if task.needs_person else "machine"
            yield from self.by(m, who, "upkeep", seconds, None, task.night_limit)
