"""One replication of the cell: put the pieces together, let the clock run, hand over the trace."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial

from simkit.cell.beforenight import BeforeNight
from simkit.cell.bench import Bench
from simkit.cell.board import Board
from simkit.cell.breakupkeep import Breaks, BreakUpkeep
from simkit.cell.changeover import ChangeOver
from simkit.cell.choosing import ToolWaits
from simkit.cell.clock import Clock
from simkit.cell.elsewhere import Elsewhere
from simkit.cell.eventnotes import NotedPool, NotedTools, Notes
from simkit.cell.facts import Facts
from simkit.cell.firstpiece import FirstPiece
from simkit.cell.machine import Machine, MachineParts
from simkit.cell.machinetime import MachineTime
from simkit.cell.oncall import OnCall
from simkit.cell.openhours import OpenHours
from simkit.cell.output import Output
from simkit.cell.outside import OutsideWork
from simkit.cell.packs import Store
from simkit.cell.people import Pool
from simkit.cell.requests import is_done
from simkit.cell.running import Running
from simkit.cell.sheetsupply import SheetSupply
from simkit.cell.stacks import PartStacks, Skeletons
from simkit.cell.stops import StopClocks, shared_sequences
from simkit.cell.toolfacts import tool_facts_of
from simkit.cell.toolwork import ToolStock, ToolWork
from simkit.cell.trace import Trace
from simkit.cell.troubles import Troubles
from simkit.cell.upkeep import UpkeepClocks, UpkeepWork
from simkit.plant.tables import Upkeep
from simkit.process.shifts import Span, without
from simkit.process.workload import Workload


def simulate(workload: Workload, *, by_events: bool = False, notes: Notes | None = None) -> Trace:
    """Simulate one replication of one scenario.

    ``by_events`` makes every wait an event; the result is the same. ``notes`` take up every request and every move
    of a tool. Raises :class:`simkit.base.messages.CellError` when the plant asks for what nobody can do.
    """
    with _no_collection():
        return Cell(workload, by_events=by_events, notes=notes).run()


@contextmanager
def _no_collection() -> Iterator[None]:
    """Python does not look for what nobody needs any more: a run keeps nearly all it makes, so a look finds nothing."""
    before = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if before:
            gc.enable()


class Cell:
    """Everything of one run: clock, people, board, bench and machines."""

    def __init__(self, workload: Workload, *, by_events: bool = False, notes: Notes | None = None) -> None:
        self.workload, self.plant, self.notes = workload, workload.plant, notes
        self.settings, facts = workload.plant.settings, Facts(workload)
        self.clock = Clock(jumping=not by_events, inline=not by_events and len(workload.by_machine) == 1)
        self.open_hours = OpenHours(workload.plan)
        pool: Callable[..., Pool] = Pool if notes is None else partial(NotedPool, notes)
        self.pool = pool(self.clock, self.settings.people, self.plant.people, workload.plan.person,
                         self.open_hours, OnCall(self.settings.calendar.night, self.plant.people),
                         Elsewhere(self.plant.people, workload.draws))  # fmt: skip
        self.outside = OutsideWork(self.pool)
        breaks = Breaks(workload.plan, self.plant.people if any(_in_breaks(row) for row in self.plant.upkeep) else ())
        self.break_upkeep = BreakUpkeep(self.pool, breaks, self.outside.upkeep)
        tool_facts = tool_facts_of(workload)
        self.board = Board(self.clock, workload, self.open_hours, tool_facts.needs)
        self.bench = Bench(self.clock, self.pool, self.board, self.open_hours, workload)
        removals = [own.plant.settings.removal for own in workload.by_machine]
        self.stacks = PartStacks(self.clock, self.pool, self.settings.removal.stack_places, removals)
        self.skeletons = Skeletons(self.pool, removals)
        self.store = Store(self.settings.store.packs, is_done)
        self.upkeep_count: dict[str, int] = {}
        self.waiting, self.stock = ToolWaits(), ToolStock(workload, tool_facts)
        self.sequences = shared_sequences(self.plant.stops, dict(self.plant.sequences))
        self.machines = [
            self._machine(row, own, facts if own is workload else Facts(own))
            for row, own in enumerate(workload.by_machine)
        ]
        self.board.planner.nights.seen = self._seen

    def _machine(self, row: int, own: Workload, facts: Facts) -> Machine:
        """Put a machine together; ``own`` is the workload as its own settings make it."""
        time = MachineTime(self.clock, self.pool, self.open_hours, row, noted=self.notes is not None)
        tools = self._tools(row, own)
        stops = StopClocks(own.plant.stops, own.draws, row, self.sequences, own.pick_luck)
        upkeep = UpkeepClocks(own.plant.upkeep, own.draws, row)
        upkeep_work = UpkeepWork(time, upkeep, self.break_upkeep, self.outside, self.upkeep_count, self.workload.plan)
        supply = SheetSupply(time, facts, self.store, self.outside)
        change_over = ChangeOver(time, facts, tools, supply, self.board.orders, self.outside)
        troubles = Troubles(time, facts, tools, stops, self.outside)
        output = Output(time, facts, self.bench, self.stacks, self.skeletons)
        parts = MachineParts(
            supply,
            change_over,
            Running(time, facts, tools, stops, upkeep, troubles),
            FirstPiece(time, facts, troubles),
            output,
            troubles,
            upkeep_work,
            BeforeNight(time, change_over, upkeep_work, output),
        )
        return Machine(time, facts, tools, parts, self.board, self.waiting, len(self.workload.by_machine))

    def _tools(self, row: int, own: Workload) -> ToolWork:
        given = (own, tool_facts_of(own), row, is_done, self.stock)
        return ToolWork(*given) if self.notes is None else NotedTools(self.notes, self.clock, *given)

    def run(self) -> Trace:
        """Run to the horizon, or until the released book is finished but not before the end of the span."""
        workload, clock = self.workload, self.clock
        self.board.overtime_persons = self._overtime
        for machine in self.machines:
            clock.process(machine.work())
        horizon = self.settings.run.horizon_s
        limit_s = horizon if horizon is not None else workload.plan.day_start[-2]
        if horizon is None and self.board.unfinished:
            self.board.on_all_done = lambda: clock.at(clock.now, clock.end)
            clock.run_until(limit_s)
            limit_s = max(clock.now, min(workload.span_s, limit_s))
        if clock.now < limit_s:
            clock.run_until(limit_s, releases_only=True)
        return self._trace(limit_s)

    def _seen(self, night: Span) -> Iterator[tuple[str, float, float]]:
        """What all machines did in a night that is over, worked overtime left out."""
        for span in without([night], self.open_hours.worked_overtime):
            for machine in self.machines:
                for state, start_s, end_s in machine.time.did(span):
                    yield state, max(start_s, span[0]), min(end_s, span[1])

    def _overtime(self, span: Span) -> None:
        for row, person in enumerate(self.plant.people):
            if person.shift != "always" and self.workload.plan.works_overtime(row, span):
                self.pool.add_window(row, span)

    def _trace(self, end_s: float) -> Trace:
        self.pool.close(end_s)
        for machine in self.machines:
            machine.time.close(end_s)
        return Trace(
            end_s=end_s, machines=tuple(machine.time.log for machine in self.machines), tasks=self.pool.log,
            jobs=tuple(self.board.orders.jobs), decisions=tuple(self.board.planner.decisions),
            tools=tuple(machine.tools.counts for machine in self.machines),
            bench_level=tuple(self.bench.level), open_spans=self.open_hours.open_spans,
            attended_spans=self.open_hours.attended_spans, overtime_spans=tuple(self.open_hours.worked_overtime),
            outside_s=dict(self.outside.seconds), upkeep_count=dict(self.upkeep_count),
            stacks_taken=dict(self.stacks.taken), stack_level=tuple(self.stacks.level),
            skeletons=tuple((pallet.put_down, pallet.filled) for pallet in self.skeletons.pallets),
            moved=tuple((task, tuple(request.chunks)) for task, request in self.outside.pieces),
        )  # fmt: skip


def _in_breaks(task: Upkeep) -> bool:
    return task.planned_in_break and task.break_by == "crew"
