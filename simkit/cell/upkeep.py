"""Upkeep of a machine: what is due, counted by its exposure, and doing it: before a sheet, in breaks, or by others."""

from __future__ import annotations

import math

import numpy as np

from simkit.base.laws import Law
from simkit.base.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE, on_grid_s
from simkit.base.vocabulary import UPKEEP
from simkit.cell.breakupkeep import BreakUpkeep
from simkit.cell.machinetime import MachineTime, Steps
from simkit.cell.outside import OutsideWork
from simkit.plant.tables import Upkeep
from simkit.process.draws import Draws
from simkit.process.shifts import ShiftPlan


class UpkeepClocks:
    """Exposure since the last time of each upkeep task at one machine."""

    def __init__(self, tasks: tuple[Upkeep, ...], draws: Draws, machine: int) -> None:
        self.tasks, self.draws, self.machine = tasks, draws, machine
        self.grown = [0.0] * len(tasks)
        self.number = [0] * len(tasks)
        self._counted = [(row, task.exposure, task.interval or math.inf) for row, task in enumerate(tasks)]
        self._day = -1
        self.is_due = False

    def grow(self, run_s: float, cut_s: float, slug_kg: float) -> None:
        """A sheet has been run; so much of it fell into the bin."""
        grown = self.grown
        for row, exposure, interval in self._counted:
            if exposure == "running_hour":
                grown[row] += run_s / SECONDS_PER_HOUR
            elif exposure == "cutting_hour":
                grown[row] += cut_s / SECONDS_PER_HOUR
            elif exposure == "sheet":
                grown[row] += 1.0
            elif exposure == "slug_kg":
                grown[row] += slug_kg
            if grown[row] >= interval:
                self.is_due = True

    def open_day(self, day: int) -> None:
        """A sheet is about to start on this day; the first of a day counts as an open day."""
        if day != self._day:
            self._day = day
            for row, exposure, interval in self._counted:
                if exposure == "open_day":
                    self.grown[row] += 1.0
                    self.is_due |= self.grown[row] >= interval

    def due(self) -> list[int]:
        """Upkeep tasks whose interval has passed, in file order; they count as known from now on."""
        self.is_due = False
        return [row for row, _, interval in self._counted if self.grown[row] >= interval]

    def do(self, row: int) -> float:
        """Start an upkeep task anew; return its seconds, isolation included."""
        seconds = self.foreseen_s(row)
        self.grown[row] = 0.0
        self.number[row] += 1
        return seconds

    @property
    def by_running(self) -> list[int]:
        """Upkeep tasks of people that are counted by what the machine has run since the last time."""
        rows = (row for row, task in enumerate(self.tasks) if task.needs_person and task.exposure != "open_day")
        return [row for row in rows if self.tasks[row].interval > 0 and self.grown[row] > 0]

    def foreseen_s(self, row: int) -> float:
        """Seconds that an upkeep task takes when it is done next."""
        task, number = self.tasks[row], self.number[row]
        law = Law(task.duration_law, task.duration_min, task.duration_cv)
        uniform = self.draws.uniform(f"upkeep:{task.task}:{self.machine}", 2 * number + 16)[number : number + 1]
        minutes = float(law.draw(np.asarray(uniform))[0]) + task.isolation_min
        return on_grid_s(minutes * SECONDS_PER_MINUTE)


class UpkeepWork:
    """The upkeep of one machine, done; ``done`` counts tasks of all machines, ``plan`` tells a moment's day."""

    def __init__(
        self,
        time: MachineTime,
        clocks: UpkeepClocks,
        in_breaks: BreakUpkeep,
        outside: OutsideWork,
        done: dict[str, int],
        plan: ShiftPlan,
    ) -> None:
        self.time, self.clocks, self._in_breaks, self._outside = time, clocks, in_breaks, outside
        self._done, self._day_of, self._day_start_s = done, plan.day_of, plan.day_start
        self._day_end_s = 0.0

    def is_due(self) -> bool:
        """Whether upkeep is due before the next sheet starts."""
        if self.clocks.tasks and self.time.clock.now >= self._day_end_s:
            day = self._day_of(self.time.clock.now)
            self._day_end_s = self._day_start_s[day + 1] if day + 1 < len(self._day_start_s) else float("inf")
            self.clocks.open_day(day)
        return self.clocks.is_due

    def do_due(self) -> Steps:
        """Do the upkeep that is due."""
        for row in self.clocks.due():
            yield from self.do(row)

    def do(self, row: int) -> Steps:
        """Do one upkeep task."""
        task, time = self.clocks.tasks[row], self.time
        seconds = self.clocks.do(row)
        self._done[task.task] = self._done.get(task.task, 0) + 1
        if task.planned_in_break and time.attended():
            self._in_break(task, seconds)
        elif task.needs_person:
            yield from time.by_person("upkeep", UPKEEP, seconds, None, task.night_limit, task.task)
        else:
            yield from time.alone(UPKEEP, seconds)

    def _in_break(self, task: Upkeep, seconds: float) -> None:
        """Upkeep that costs no machine time takes somebody all the same: of the cell, in the next break, or others."""
        if task.needs_person and task.break_by == "crew":
            if seconds > 0 and not self._in_breaks.plan(seconds):
                self._outside.upkeep(seconds)
        elif task.needs_person:
            self.time.log.care_by_others_s += seconds
