"""The last attended minutes before a night: what people do at a machine so that the night does not end early.

They do it between two sheets, if somebody who can is free then and it is done before they leave; else it is looked at
again after the next sheet. What does not fit in stays undone.
"""

from __future__ import annotations

from collections.abc import Generator
from typing import TYPE_CHECKING

import simpy

from simkit.base.units import SECONDS_PER_MINUTE
from simkit.cell.facts import Facts, SetUp
from simkit.cell.nightqueue import NightView, kept_back
from simkit.cell.orders import Job
from simkit.cell.sheets import SheetSupply
from simkit.cell.stops import StopClocks
from simkit.cell.stretches import Steps
from simkit.cell.toolwork import ToolWork
from simkit.cell.upkeep import UpkeepClocks
from simkit.process.shifts import Span
from simkit.tooling.room import Need

if TYPE_CHECKING:
    from simkit.cell.run import Cell

NO_NIGHT: Span = (-1.0, -1.0)
Task = tuple[str, int]
"""A task before leaving, and the row of upkeep.csv where it is care."""


class Leaving(SheetSupply):
    """A machine that is made ready for the night."""

    def __init__(
        self, cell: Cell, row: int, facts: Facts, tools: ToolWork, stops: StopClocks, upkeep: UpkeepClocks
    ) -> None:
        super().__init__(cell, row, facts, tools, stops, upkeep)
        self.rules, self.orders, self.set_up = cell.settings.rules, cell.board.orders, SetUp(facts)
        self.before_s = self.rules.before_leaving_min * SECONDS_PER_MINUTE if self.rules.before_leaving else 0.0
        self.prepares, self.todo = NO_NIGHT, list[Task]()

    def view(self) -> NightView:
        """How the machine stands."""
        cell = self.cell
        return NightView(self.facts, self.tools, self.set_up, self.packs, cell.store, self.material,
                         cell.bench.stack_has_room())  # fmt: skip

    def left_s(self) -> float | None:
        """Seconds until people leave for a night, if they prepare it now."""
        found = self._leaving()
        return found[0] if found else None

    def _leaving(self) -> tuple[float, Span] | None:
        found = self.opening.before_night(self.clock.now) if self.before_s else None
        return found if found and found[0] <= self.before_s else None

    def kept_back(self) -> list[Job]:
        """Orders that this day leaves to the coming night."""
        night = self.opening.next_night(self.clock.now) if self.rules.night_queue == "reserved" else None
        if night is None:
            return []
        share = self.cell.board.planner.nights.share(self.clock.now)
        expected_s = share * (night[1] - night[0]) * len(self.cell.machines)
        return kept_back(self.orders, self.view(), expected_s, night[1] + self.orders.guard_s)

    def before_leaving(self, job: Job) -> Steps:
        """Between two sheets: what is still to be done before the people leave."""
        found = self._leaving()
        if found is None:
            return
        if found[1] != self.prepares:
            self.prepares, self.todo = found[1], self._tasks()
        for task in [*self.todo]:
            done = yield from self._prepare(task, job)
            if done:
                self.todo.remove(task)

    def _tasks(self) -> list[Task]:
        found: list[Task] = []
        for task in self.rules.before_leaving:
            found += [(task, row) for row in self.upkeep.by_running] if task == "care" else [(task, 0)]
        return found

    def _fits(self, task: str, seconds: float) -> bool:
        """Whether somebody who can is free, and stays long enough."""
        left_s = self.left_s()
        return left_s is not None and seconds <= left_s and self.pool.at_hand(task)

    def _prepare(self, task: Task, job: Job) -> Generator[simpy.Event, None, bool]:
        """Do a task if it fits; whether it needs no other look."""
        what, row = task
        if what == "care":
            fits = self._fits("upkeep", self.upkeep.foreseen_s(row))
            if fits:
                yield from self.care_for(row)
            return fits
        if what == "material":
            return (yield from self._full_pack(job))
        if what == "output":
            return self._empty_output(job)
        if what == "magazine":
            self._load_for_night(job)
        return True

    def _full_pack(self, job: Job) -> Generator[simpy.Event, None, bool]:
        facts, material = self.facts, self.material
        seconds, task = float(facts.orders.change_s["pack_change"][job.members[0]]), facts.who["pack_change"]
        if not self.packs.is_used(material) or material in facts.stored or task == "machine":
            return True
        fits = self._fits(task, seconds)
        if fits:
            yield from self._fetch("pack_change", job, "pack_change")
            self.packs.open(material)
        return fits

    def _empty_output(self, job: Job) -> bool:
        """Whole sheets, open stacks of parts and skeletons are taken away, each if it fits."""
        cell, times, first = self.cell, self.facts.orders, job.members[0]
        stack_s, skeletons_s = float(times.stack_exchange_s[first]), float(times.skeleton_exchange_s[first])
        held = cell.stacks.piles[self.row].held
        done = True
        for lies, seconds, goes in (
            (cell.skeletons.pallets[self.row].lying and skeletons_s > 0, skeletons_s, cell.skeletons.exchange),
            (cell.bench.stack_lies() and stack_s > 0, stack_s, cell.bench.empty_stack),
            (held, held * stack_s, cell.stacks.before_night),
        ):
            if lies:
                fits = self._fits("pallet", seconds)
                done = done and fits
                if fits:
                    goes(self, job)
        return done

    def _load_for_night(self, job: Job) -> None:
        """What the orders that lack only tools need is put into the magazine, those of the night's queue first."""
        if not self.tools.book.room.has_magazine:
            return
        queue = self.view().lacking_tools(self.orders.waiting)
        self.put_in(job, [self.orders.needs[job.program], *(self.orders.needs[other.program] for other in queue)])

    def put_in(self, job: Job, queue: list[tuple[Need, ...]]) -> None:
        """Ask somebody to put into the magazine what a queue of orders needs and it lacks."""
        moves, seconds = self.tools.magazine.plan(queue, self.tools.turret)
        if moves:
            self.tools.load_magazine(queue, moves, self.cell.ask_outside(job, seconds))
