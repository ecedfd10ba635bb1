"""Routine care at a machine: done before a sheet starts, in breaks, or by others."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simkit.base.vocabulary import UPKEEP
from simkit.cell.breakcare import BreakCare
from simkit.cell.machinetime import MachineTime, Steps
from simkit.cell.outside import OutsideWork
from simkit.cell.upkeep import UpkeepClocks
from simkit.process.shifts import ShiftPlan

if TYPE_CHECKING:
    from simkit.plant.tables import Upkeep


class Care:
    """The care of one machine; ``done`` counts tasks of all machines, ``plan`` tells a moment's day."""

    def __init__(
        self, time: MachineTime, upkeep: UpkeepClocks, in_breaks: BreakCare, outside: OutsideWork, done: dict[str, int],
        plan: ShiftPlan,
    ) -> None:  # fmt: skip
        self.time, self.upkeep, self._in_breaks, self._outside = time, upkeep, in_breaks, outside
        self._done, self._day_of, self._day_start_s = done, plan.day_of, plan.day_start
        self._day_end_s = 0.0

    def is_due(self) -> bool:
        """Whether care is due before the next sheet starts."""
        if self.upkeep.tasks and self.time.clock.now >= self._day_end_s:
            day = self._day_of(self.time.clock.now)
            self._day_end_s = self._day_start_s[day + 1] if day + 1 < len(self._day_start_s) else float("inf")
            self.upkeep.open_day(day)
        return self.upkeep.is_due

    def do_due(self) -> Steps:
        """Do the care that is due."""
        for row in self.upkeep.due():
            yield from self.do(row)

    def do(self, row: int) -> Steps:
        """Do one care task."""
        task, time = self.upkeep.tasks[row], self.time
        seconds = self.upkeep.do(row)
        self._done[task.task] = self._done.get(task.task, 0) + 1
        if task.planned_in_break and time.attended():
            self._in_break(task, seconds)
        elif task.needs_person:
            yield from time.by_person("upkeep", UPKEEP, seconds, None, task.night_limit, task.task)
        else:
            yield from time.alone(UPKEEP, seconds)

    def _in_break(self, task: Upkeep, seconds: float) -> None:
        """Care that costs no machine time takes somebody all the same: of the cell, in the next break, or others."""
        if task.needs_person and task.break_by == "crew":
            if seconds > 0 and not self._in_breaks.plan(seconds):
                self._outside.care(seconds)
        elif task.needs_person:
            self.time.log.care_by_others_s += seconds
