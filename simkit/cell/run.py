"""One replication of the cell: put the pieces together, let the clock run, hand over the trace."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

import simpy

from simkit.cell.bench import Bench
from simkit.cell.board import Board, Job
from simkit.cell.breakcare import BreakCare, Breaks
from simkit.cell.clock import MACHINE, Clock
from simkit.cell.elsewhere import Elsewhere
from simkit.cell.facts import Facts
from simkit.cell.machine import MachineProcess
from simkit.cell.noting import NotedPool, NotedTools, Notes
from simkit.cell.oncall import OnCall
from simkit.cell.opening import Opening
from simkit.cell.people import Pool, Request
from simkit.cell.stacks import PartStacks, Skeletons
from simkit.cell.stops import StopClocks, shared_sequences
from simkit.cell.supply import Store
from simkit.cell.toolbook import tool_book
from simkit.cell.toolwork import Stock, ToolWork
from simkit.cell.trace import Trace
from simkit.cell.upkeep import UpkeepClocks
from simkit.plant.tables import Upkeep
from simkit.process.shifts import Span, without
from simkit.process.workload import Workload


def simulate(workload: Workload, *, jumping: bool = True, notes: Notes | None = None) -> Trace:
    """Simulate one replication of one scenario.

    ``jumping`` off makes every delay an event; the result is the same. ``notes`` take up every request and every move
    of a tool. Raises :class:`simkit.cell.people.CellError` when the plant asks for what nobody can do.
    """
    return Cell(workload, jumping=jumping, notes=notes).run()


class Cell:
    """Everything of one run: clock, people, board, bench, machines, and the scenario's numbers as lists."""

    def __init__(self, workload: Workload, *, jumping: bool = True, notes: Notes | None = None) -> None:
        self.workload, self.plant = workload, workload.plant
        self.settings, self.facts = workload.plant.settings, Facts(workload)
        self.clock = Clock(jumping=jumping)
        self.opening = Opening(workload.plan)
        pool: Callable[..., Pool] = Pool if notes is None else partial(NotedPool, notes)
        tools: Callable[..., ToolWork] = ToolWork if notes is None else partial(NotedTools, notes, self.clock)
        self.pool = pool(self.clock, self.settings.people, self.plant.people, workload.plan.person,
                         self.opening, OnCall(self.settings.calendar.night, self.plant.people),
                         Elsewhere(self.plant.people, workload.draws))  # fmt: skip
        breaks = Breaks(workload.plan, self.plant.people if any(_in_breaks(row) for row in self.plant.upkeep) else ())
        self.break_care = BreakCare(self.pool, breaks, lambda seconds: self.ask_outside(None, {"upkeep": seconds})[0])
        book = tool_book(workload)
        self.board = Board(self.clock, workload, self.opening, book.needs)
        self.bench = Bench(self.clock, self.pool, self.board, self.opening, workload)
        self.stacks, self.skeletons = PartStacks(self), Skeletons(self)
        self.store = Store(self.settings.store.packs, _is_done)
        self.outside_s: dict[str, float] = {}
        self.moved: list[tuple[str, Request]] = []
        self.upkeep_count: dict[str, int] = {}
        stock = Stock(workload, book)
        self.tool_waits: dict[int, simpy.Event] = {}
        shared = shared_sequences(self.plant.stops, dict(self.plant.sequences))
        self.machines = [
            MachineProcess(
                self, row, self.facts if own is workload else Facts(own),
                tools(own, tool_book(own), row, _is_done, stock),
                StopClocks(own.plant.stops, own.draws, row, shared, own.pick_luck),
                UpkeepClocks(own.plant.upkeep, own.draws, row),
            )
            for row, own in enumerate(workload.by_machine)
        ]  # fmt: skip
        for machine in self.machines:
            machine.notes_waits |= notes is not None
        self.board.planner.nights.seen = self._seen

    def run(self) -> Trace:
        """Run to the horizon, or until the released book is finished but not before the end of the span."""
        workload, clock = self.workload, self.clock
        all_done = simpy.Event(clock)
        self.board.on_all_done = lambda: clock.fire_at(all_done, clock.now)
        self.board.overtime_persons = self._overtime
        for machine in self.machines:
            clock.process(machine.work())
        horizon = self.settings.run.horizon_s
        limit_s = horizon if horizon is not None else workload.plan.day_start[-2]
        if horizon is None and self.board.unfinished:
            clock.run(until=simpy.AnyOf(clock, [all_done, clock.at(limit_s)]))
            limit_s = max(clock.now, min(workload.span_s, limit_s))
        if clock.now < limit_s:
            clock.run(until=limit_s)
        return self._trace(limit_s)

    def _seen(self, night: Span) -> Iterator[tuple[str, float, float]]:
        """What all machines did in a night that is over, worked overtime left out."""
        for span in without([night], self.opening.worked_overtime):
            for machine in self.machines:
                for state, start_s, end_s in machine.did(span):
                    yield state, max(start_s, span[0]), min(end_s, span[1])

    def _overtime(self, span: Span) -> None:
        for row, person in enumerate(self.plant.people):
            if person.shift != "always" and self.workload.plan.works_overtime(row, span):
                self.pool.add_window(row, span)

    def _trace(self, end_s: float) -> Trace:
        self.pool.close(end_s)
        for machine in self.machines:
            machine.close(end_s)
        return Trace(
            end_s=end_s, machines=tuple(machine.log for machine in self.machines), tasks=self.pool.log,
            jobs=tuple(self.board.orders.jobs), decisions=tuple(self.board.planner.decisions),
            tools=tuple(machine.tools.counts for machine in self.machines),
            bench_level=tuple(self.bench.level), open_spans=self.opening.open_spans,
            attended_spans=self.opening.attended_spans, overtime_spans=tuple(self.opening.worked_overtime),
            outside_s=dict(self.outside_s), upkeep_count=dict(self.upkeep_count),
            stacks_taken=dict(self.stacks.taken), stack_level=tuple(self.stacks.level),
            skeletons=tuple((pallet.put_down, pallet.filled) for pallet in self.skeletons.pallets),
            moved=tuple((task, tuple(request.chunks)) for task, request in self.moved),
        )  # fmt: skip

    def look_for_tools(self) -> None:
        """Machines that wait for tools look whether they can go on."""
        waits, self.tool_waits = self.tool_waits, {}
        for row, event in waits.items():
            if not event.triggered:
                self.clock.fire_at(event, self.clock.now, MACHINE + row)

    def ask_outside(self, job: Job | None, seconds_by_task: dict[str, float]) -> list[Request]:
        """Work that holds no machine: it occupies somebody who can do it, after all other tasks, and is counted."""
        asked = []
        for task, seconds in seconds_by_task.items():
            if seconds > 0:
                self.outside_s[task] = self.outside_s.get(task, 0.0) + seconds
                if self.pool.can(task):
                    asked.append(self.pool.ask(task, seconds, -1, job.number if job else -1, outside=True))
                    self.moved.append((task, asked[-1]))
        return asked


def _in_breaks(task: Upkeep) -> bool:
    return task.planned_in_break and task.break_by == "crew"


def _is_done(request: Request) -> bool:
    return request.event.processed
