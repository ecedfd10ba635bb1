"""The oracle's people: one instant after another, who is there, and who works on what.

One referee keeps the order inside an instant: releases, the planner's decisions, work that people have finished, then
the machines by row, one at a time, each until it waits again; people are assigned when all else is done.
"""

from __future__ import annotations

from heapq import heappop, heappush
from itertools import count, permutations
from typing import Any

import simpy

from simkit.base.units import on_grid_s
from simkit.base.vocabulary import SKILLS, TASKS
from simkit.cell.breakupkeep import Breaks
from simkit.cell.elsewhere import Elsewhere
from simkit.cell.oncall import OnCall
from simkit.cell.orders import Job
from simkit.process.shifts import Span
from simkit.process.workload import Workload

RELEASE, DECISIONS, PEOPLE, MACHINES, BREAKS = 0, 1, 2, 3, 1000


class Request:
    """Work that waits for people."""

    begun_s, crew, working, called, arrived, shared, rule_at_break = None, (), False, False, None, 0.0, "finish"


class Worker:
    """A person: whether on duty and free, and what on."""

    def __init__(self, row: int, skills: tuple[str, ...]) -> None:
        self.row, self.skills, self.on, self.free, self.request = row, skills, False, True, None
        self.called_s = None


class Crew:
    """People in time; what a machine shows while it waits for them is noted here too."""

    def __init__(self, workload: Workload) -> None:
        self.env, self.plant, self.plan = simpy.Environment(), workload.plant, workload.plan
        self.s = workload.plant.settings
        self.walk_s = on_grid_s(self.s.people.walk_s)
        self.turns, self.number, self.bell, self.look = [], count(), self.env.event(), False
        self.requests, self.active, self.overtime, self.beginning = [], [], [], []
        self.chunks, self.waits, self.in_vain = [], [], []
        self.workers = [Worker(row, person.abilities) for row, person in enumerate(self.plant.people)]
        self.on_call, self.calls = OnCall(self.s.calendar.night, self.plant.people), []
        self.elsewhere = Elsewhere(self.plant.people, workload.draws)
        self.breaks, self.rests = Breaks(self.plan, self.plant.people), {}

    def come_to_work(self) -> None:
        self.env.process(self.referee())
        for worker in self.workers:
            for window in self.plan.person[worker.row]:
                self.env.process(self.duty(worker, window))
        for row in self.elsewhere.called:
            self.workers[row].skills = (*self.workers[row].skills, f"only {row}")
            self.env.process(self.called_away(row))

    # --- one instant ------------------------------------------------------------------------------

    def turn(self, rank: int) -> simpy.Event:
        event = self.env.event()
        heappush(self.turns, (rank, next(self.number), event))
        self.ring()
        return event

    def ring(self) -> None:
        if not self.bell.triggered:
            self.bell.succeed()

    def referee(self):
        env = self.env
        while True:
            yield self.bell
            self.bell = env.event()
            while True:
                while env.peek() <= env.now:
                    yield env.timeout(0)
                if self.turns:
                    heappop(self.turns)[2].succeed()
                elif self.look:
                    self.look = False
                    self.assign()
                else:
                    break

    # --- the calendar -----------------------------------------------------------------------------

    def attended(self) -> bool:
        return any(a <= self.env.now < b for a, b in (*self.plan.attended, *self.overtime))

    def people_change(self) -> float:
        """The next moment at which people are there who were not, or the other way round."""
        now, here = self.env.now, (*self.plan.attended, *self.overtime)
        if not self.attended():
            return min((a for a, _ in here if a > now), default=float("inf"))
        end = now
        while any(a <= end < b for a, b in here):
            end = max(b for a, b in here if a <= end < b)
        return end

    def night(self) -> bool:
        return self.this_night() is not None

    def this_night(self) -> Span | None:
        inside = [night for night in self.plan.nights if night[0] <= self.env.now < night[1]]
        return inside[0] if inside and not self.attended() else None

    def until(self, is_open):
        """Look again at every moment at which something opens."""
        while not is_open():
            starts = [a for a, _ in (*self.plan.attended, *self.plan.nights, *self.plan.overtime) if a > self.env.now]
            yield self.env.timeout(min(starts) - self.env.now) if starts else self.env.event()

    def duty(self, worker: Worker, window: Span):
        yield self.env.timeout(window[0] - self.env.now)
        worker.on = True
        self.poke()
        yield self.env.timeout(window[1] - window[0])
        worker.on = self.on_duty(worker)
        request = worker.request
        if request is not None and request.working and request.rule_at_break != "finish":
            request.working = False
            request.process.interrupt("window")

    def at_machine(self, row: int) -> bool:
        return not {"load", "unload", "changeover"}.isdisjoint(self.workers[row].skills)

    def on_duty(self, worker: Worker) -> bool:
        windows = (*self.plan.person[worker.row], *self.extra_of(worker.row))
        return any(a <= self.env.now < b for a, b in windows)

    # --- people -----------------------------------------------------------------------------------

    def ask(
        self,
        task: str,
        seconds: float,
        job: Job | None,
        skills=(),
        m=None,
        shows=("", ""),
        outside=False,
        shared=0.0,
        lifted=True,
    ) -> Request:
        """A request; ``shows`` is what a machine shows while it waits, and while they work."""
        r, rule = Request(), "preparation" if outside else {"technician": "clear", "elsewhere": "clear"}.get(task, task)
        rush = bool(job and job.rush and lifted and not outside)
        rank = [*self.s.people.priorities, *(t for t in TASKS if t not in self.s.people.priorities), *SKILLS].index
        first = min(rank(rule), rank("rush")) if rush else rank(rule)
        r.key = (first, self.env.now, m.row if m else -1, job.number if job else -1, next(self.number))
        r.task, r.left, r.skills, r.machine, r.shows, r.done = (
            task,
            seconds,
            skills or (task,),
            m,
            shows,
            self.env.event(),
        )
        r.rule, r.rush, r.out, r.shared = rule, rush, self.env.event(), shared
        r.rule_at_break = self.s.people.break_rules.get(rule, "pause")
        if task == "elsewhere" and r.rule_at_break == "stop":
            r.rule_at_break = "pause"
        r.process = self.env.process(self.do(r))
        return r

    def do(self, r: Request):
        """Wait for people, work until done or until somebody's window ends, and again."""
        env, asked_s, whole_s, stays = self.env, self.env.now, r.left, False
        while callable(r.left) or r.left > 0:
            if not stays:
                r.given = env.event()
                self.requests.append(r)
                self.poke()
                yield r.given
            if r.begun_s is None and r.task != "elsewhere":
                self.waits.append((r.task, asked_s, env.now))
            if callable(r.left):  # known when it begins
                r.left = whole_s = r.left()
            r.begun_s, r.working = env.now, True
            self.active.append(r)
            self.show(r.machine, r.shows[1])
            window_over = yield from self.undisturbed(r.left)
            r.working = False
            r.left -= env.now - r.begun_s
            self.active.remove(r)
            self.note_chunk(r)
            begins_anew = window_over and r.rule_at_break == "stop" and r.left > 0
            stays = begins_anew and all(self.on_duty(worker) for worker in r.crew)
            if begins_anew and not stays:
                self.in_vain.append((r.task, env.now, (whole_s - r.left) * len(r.crew)))
                r.left = whole_s
            if r.left > 0 and not stays:
                self.let_go(r.crew)
                self.show(r.machine, r.shows[0])
        r.done.succeed()
        yield from self.back(r)

    def back(self, r: Request):
        """The way after a task at a machine."""
        if r.machine and self.walk_s:
            self.chunks += [(w.row, "walk", self.env.now, self.env.now + self.walk_s) for w in r.crew]
            yield self.env.timeout(self.walk_s)
        self.let_go(r.crew)
        r.out.succeed()

    def help(self, r: Request, waiting: list[Request]) -> None:
        """The first who could do nothing of what waits, and can do his part before he goes, helps with a task."""
        now, part = self.env.now, min(r.shared, r.left - r.shared)
        r.shared = 0.0
        wanted = {skill for other in waiting for skill in other.skills}
        stays = min(self.stays_s(worker) for worker in r.crew) if r.rule_at_break == "stop" else float("inf")
        for worker in self.workers if part > 0 and now + (r.left - part) <= stays else ():
            able = r.skills[0] in worker.skills and wanted.isdisjoint(worker.skills)
            if worker.on and worker.free and able and now + part <= self.stays_s(worker):
                mine = Request()
                mine.task, mine.crew, mine.begun_s, mine.machine = r.task, (worker,), now, r.machine
                mine.out, worker.free, worker.request = self.env.event(), False, mine
                r.left -= part
                self.env.process(self.part(mine, part))
                return

    def part(self, r: Request, seconds: float):
        self.active.append(r)
        yield self.env.timeout(seconds)
        self.active.remove(r)
        self.note_chunk(r)
        yield from self.back(r)

    def stays_s(self, worker: Worker) -> float:
        """End of the window in which a person is."""
        spans = (*self.plan.person[worker.row], *self.extra_of(worker.row))
        return min((b for a, b in spans if a <= self.env.now < b), default=0.0)

    def undisturbed(self, seconds: float):
        """Work; whether it ended because a window did."""
        try:
            yield self.env.timeout(seconds)
        except simpy.Interrupt as interrupt:
            return interrupt.cause == "window"
        return False

    def in_break(self, seconds: float) -> None:
        found = self.breaks.book(self.env.now)
        if found is None:
            self.aside(None, {"upkeep": seconds})
        else:
            self.env.process(self.upkeep_in_break(*found, seconds))

    def upkeep_in_break(self, row: int, span: Span, seconds: float):
        """Upkeep at the start of a person's break, or when he or she is free after that; then the break, whole."""
        worker = self.workers[row]
        yield self.env.timeout(span[0] - self.env.now)
        yield self.turn(BREAKS)
        while not worker.free and row not in self.rests:
            yield self.env.timeout(0) if worker.request is None else worker.request.out
            yield self.turn(BREAKS)
        rest = self.rests.setdefault(row, {"end": span[1], "line": simpy.Resource(self.env), "open": 0})
        rest["end"], rest["open"], worker.free = max(rest["end"], span[1]), rest["open"] + 1, False
        with rest["line"].request() as mine:
            yield mine
            begun_s = self.env.now
            (r,) = self.aside(None, {"upkeep": seconds})
            r.arrived, r.rule_at_break = worker, "finish"
            yield r.done
            worker.free = False
            spent = max(min(self.env.now, rest["end"]) - begun_s, 0)
            rest["end"] = max(self.env.now, rest["end"]) + spent
            rest["open"] -= 1
        while rest["open"] == 0 and self.env.now < rest["end"]:
            yield self.env.timeout(rest["end"] - self.env.now)
        if rest["open"] == 0 and self.rests.get(row) is rest:
            del self.rests[row]
            self.let_go((worker,))

    def let_go(self, crew: tuple[Worker, ...]) -> None:
        for worker in crew:
            worker.free, worker.request = True, None
            self.leave_again(worker)
        self.poke()

    def leave_again(self, worker: Worker) -> None:
        if worker.called_s is not None:
            self.calls.append((worker.row, worker.called_s, self.env.now))
            worker.called_s = None

    def note_chunk(self, r: Request) -> None:
        self.chunks += [(w.row, r.task, r.begun_s, self.env.now) for w in r.crew if r.begun_s < self.env.now]

    def poke(self) -> None:
        self.look = True
        self.ring()

    def assign(self) -> None:
        for r in sorted(self.requests, key=lambda request: request.key):
            here = [worker for worker in self.workers if worker.on and worker.free]
            for crew in [(r.arrived,)] if r.arrived else permutations(here, len(r.skills)):
                if all(skill in worker.skills for skill, worker in zip(r.skills, crew, strict=True)):
                    r.crew = crew
                    for worker in crew:
                        worker.free, worker.request = False, r
                    self.requests.remove(r)
                    self.beginning.append(r)
                    break
        waiting = sorted(self.requests, key=lambda request: request.key)
        victims = [worker.request for r in waiting for worker in self.workers if self.may_take(r, worker)]
        if victims:
            victims[0].working = False
            victims[0].process.interrupt()
        else:
            for r in self.beginning:
                if r.shared:
                    self.help(r, waiting)
                r.given.succeed()
            self.beginning = []
            for r in waiting:
                self.call_for(r)
            self.send_away({skill for r in waiting for skill in r.skills})

    def extra_of(self, row: int) -> list[Span]:
        """The worked overtime that this person works, and not on a day of absence."""
        person, absent = self.plant.people[row], self.plan.person_absent
        days = absent[row] if absent else ()
        works = self.plan.person_overtime[row] and person.shift != "always"
        return [span for span in self.overtime if works and self.plan.day_of(span[0]) not in days]

    def send_away(self, wanted: set[str]) -> None:
        """Who could do nothing of what waits here leaves for a piece of work elsewhere."""
        for row in self.elsewhere.leaving:
            worker = self.workers[row]
            if worker.on and worker.free and wanted.isdisjoint(worker.skills):
                left_s, worker.free = self.stays_s(worker) - self.env.now, False
                self.env.process(self.piece(worker, min(self.elsewhere.piece_s(row), left_s)))

    def piece(self, worker: Worker, seconds: float):
        r = Request()
        r.task, r.crew, r.begun_s = "elsewhere", (worker,), self.env.now
        self.active.append(r)
        yield self.env.timeout(seconds)
        self.active.remove(r)
        self.note_chunk(r)
        self.let_go(r.crew)

    def called_away(self, row: int):
        """A person is called to other cells, as to a stop here."""
        for moment in self.elsewhere.calls(row, self.plan.person[row]):
            yield self.env.timeout(moment - self.env.now)
            self.ask("elsewhere", self.elsewhere.piece_s(row), None, (f"only {row}",))

    def may_take(self, r: Request, worker: Worker) -> bool:
        """Whether a request may take a person from a less urgent task."""
        v = worker.request
        if v is None or not v.working or not worker.on or len(r.skills) > 1 or r.skills[0] not in worker.skills:
            return False
        if worker.row in self.rests:  # upkeep in a break is begun and done: who is in a break is not on hand
            return False
        pairs = [f"{r.rule} > {v.rule}", *([f"rush > {v.rule}"] if r.rush else [])]
        allowed = any(pair in self.s.people.may_interrupt for pair in pairs)
        return allowed and len(v.crew) == 1 and r.key[0] < v.key[0] and v.begun_s < self.env.now

    def call_for(self, r: Request) -> None:
        """Call somebody at night for what a machine waits for."""
        night = self.this_night()
        able = [self.workers[row] for row in self.on_call.rows]
        able = [worker for worker in able if worker.free and r.skills[0] in worker.skills]
        wanted = able and r.machine and not r.called and len(r.skills) == 1
        if night and wanted and self.on_call.may_call(night, r.key[1], self.env.now):
            self.on_call.note(night)
            able[0].free, able[0].called_s, r.called = False, self.env.now, True
            self.env.process(self.come(able[0], r))

    def come(self, worker: Worker, r: Request):
        yield self.env.timeout(self.on_call.response_s)
        if r in self.requests:
            r.arrived, r.rule_at_break = worker, "finish"
            self.poke()
        else:
            self.let_go((worker,))

    def show(self, m: Any, state: str) -> None:
        if m:
            m.shown.append((self.env.now, state))
