"""Routine care: what is due at a machine, counted by its exposure."""

from __future__ import annotations

import math

import numpy as np

from simkit.base.laws import Law
from simkit.base.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE, on_grid_s
from simkit.plant.tables import Upkeep
from simkit.process.draws import Draws


class UpkeepClocks:
    """Exposure since the last time of each care task at one machine."""

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
        """Care tasks whose interval has passed, in file order; they count as known from now on."""
        self.is_due = False
        return [row for row, _, interval in self._counted if self.grown[row] >= interval]

    def do(self, row: int) -> float:
        """Start a care task anew; return its seconds, isolation included."""
        seconds = self.foreseen_s(row)
        self.grown[row] = 0.0
        self.number[row] += 1
        return seconds

    @property
    def by_running(self) -> list[int]:
        """Care tasks of people that are counted by what the machine has run since the last time."""
        rows = (row for row, task in enumerate(self.tasks) if task.needs_person and task.exposure != "open_day")
        return [row for row in rows if self.tasks[row].interval > 0 and self.grown[row] > 0]

    def foreseen_s(self, row: int) -> float:
        """Seconds that a care task takes when it is done next."""
        task, number = self.tasks[row], self.number[row]
        law = Law(task.duration_law, task.duration_min, task.duration_cv)
        uniform = self.draws.uniform(f"upkeep:{task.task}:{self.machine}", 2 * number + 16)[number : number + 1]
        minutes = float(law.draw(np.asarray(uniform))[0]) + task.isolation_min
        return on_grid_s(minutes * SECONDS_PER_MINUTE)
