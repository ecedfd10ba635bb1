"""The last attended minutes before a night: what people do at a machine so that the night does not end early.

They do it between two sheets, if somebody who can is free then and it is done before they leave; else it is looked at
again after the next sheet. What does not fit in stays undone.
"""

from __future__ import annotations

from collections.abc import Generator

import simpy

from simkit.base.units import SECONDS_PER_MINUTE
from simkit.cell.changeover import ChangeOver
from simkit.cell.machinetime import MachineTime, Steps
from simkit.cell.nightqueue import NightView
from simkit.cell.orders import Job
from simkit.cell.output import Output
from simkit.cell.upkeep import UpkeepWork
from simkit.process.shifts import Span
from simkit.tooling.toolroom import Need

NO_NIGHT: Span = (-1.0, -1.0)
Task = tuple[str, int]
"""A task before leaving, and the row of upkeep.csv where it is upkeep."""


class BeforeNight:
    """How one machine is made ready for the night."""

    def __init__(self, time: MachineTime, change_over: ChangeOver, upkeep: UpkeepWork, output: Output) -> None:
        self.time, self.change_over, self.upkeep, self.output = time, change_over, upkeep, output
        self.facts, self.tools, self.supply = change_over.facts, change_over.tools, change_over.supply
        self.rules = self.facts.settings.rules
        self.before_s = self.rules.before_leaving_min * SECONDS_PER_MINUTE if self.rules.before_leaving else 0.0
        self._prepares, self._todo = NO_NIGHT, list[Task]()

    def view(self) -> NightView:
        """How the machine stands."""
        supply = self.supply
        return NightView(self.facts, self.tools, self.change_over.set_up, supply.packs, supply.store, supply.material,
                         self.output.bench.stack_has_room())  # fmt: skip

    def left_s(self) -> float | None:
        """Seconds until people leave for a night, if they prepare it now."""
        found = self._leaving()
        return found[0] if found else None

    def _leaving(self) -> tuple[float, Span] | None:
        found = self.time.open_hours.before_night(self.time.now) if self.before_s else None
        return found if found and found[0] <= self.before_s else None

    def before_leaving(self, job: Job) -> Steps:
        """Between two sheets: what is still to be done before the people leave."""
        found = self._leaving()
        if found is None:
            return
        if found[1] != self._prepares:
            self._prepares, self._todo = found[1], self._tasks()
        for task in [*self._todo]:
            done = yield from self._prepare(task, job)
            if done:
                self._todo.remove(task)

    def _tasks(self) -> list[Task]:
        found: list[Task] = []
        for task in self.rules.before_leaving:
            found += [(task, row) for row in self.upkeep.clocks.by_running] if task == "care" else [(task, 0)]
        return found

    def _fits(self, task: str, seconds: float) -> bool:
        """Whether somebody who can is free, and stays long enough."""
        left_s = self.left_s()
        return left_s is not None and seconds <= left_s and self.time.pool.at_hand(task)

    def _prepare(self, task: Task, job: Job) -> Generator[simpy.Event, None, bool]:
        """Do a task if it fits; whether it needs no other look."""
        what, row = task
        if what == "care":
            fits = self._fits("upkeep", self.upkeep.clocks.foreseen_s(row))
            if fits:
                yield from self.upkeep.do(row)
            return fits
        if what == "material":
            return (yield from self._full_pack(job))
        if what == "output":
            return self._empty_output(job)
        if what == "magazine":
            self._load_for_night(job)
        return True

    def _full_pack(self, job: Job) -> Generator[simpy.Event, None, bool]:
        facts, supply, material = self.facts, self.supply, self.supply.material
        seconds, task = facts.once_s["pack_change"][job.members[0]], facts.who["pack_change"]
        if not supply.packs.is_used(material) or material in facts.stored or task == "machine":
            return True
        fits = self._fits(task, seconds)
        if fits:
            yield from supply.fetch("pack_change", job, "pack_change")
            supply.packs.open(material)
        return fits

    def _empty_output(self, job: Job) -> bool:
        """Whole sheets, open stacks of parts and skeletons are taken away, each if it fits."""
        output, row, times, first = self.output, self.time.row, self.facts.once_s, job.members[0]
        stack_s, skeletons_s = times["stack_exchange"][first], times["skeleton_exchange"][first]
        held = output.stacks.piles[row].held
        done = True
        for lies, seconds, goes in (
            (output.skeletons.pallets[row].lying and skeletons_s > 0, skeletons_s, output.skeletons.exchange),
            (output.bench.stack_lies() and stack_s > 0, stack_s, output.bench.empty_stack),
            (held, held * stack_s, output.stacks.before_night),
        ):
            if lies:
                fits = self._fits("pallet", seconds)
                done = done and fits
                if fits:
                    goes(row, self.facts, job)
        return done

    def _load_for_night(self, job: Job) -> None:
        """What the orders that lack only tools need is put into the magazine, those of the night's queue first."""
        orders = self.change_over.orders
        if not self.tools.tool_facts.room.has_magazine:
            return
        queue = self.view().lacking_tools(orders.waiting)
        self.put_in(job, [orders.needs[job.program], *(orders.needs[other.program] for other in queue)])

    def load_ahead(self, job: Job) -> None:
        """What the orders known now need and the magazine lacks is put in, if the plant works so."""
        if self.tools.magazine.ahead:
            self.put_in(job, [self.change_over.orders.needs[job.program], *self.change_over.known_queue()])

    def put_in(self, job: Job, queue: list[tuple[Need, ...]]) -> None:
        """Ask somebody to put into the magazine what a queue of orders needs and it lacks."""
        moves, seconds = self.tools.magazine.plan(queue, self.tools.turret)
        if moves:
            self.tools.load_magazine(queue, moves, self.change_over.outside.ask(job, seconds))
