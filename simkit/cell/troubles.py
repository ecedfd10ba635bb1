"""What goes wrong at a machine, and its care: stops, worn tools, tools loaded wrongly, upkeep."""

from __future__ import annotations

from collections.abc import Generator
from typing import TYPE_CHECKING

import simpy

from simkit.base.vocabulary import STOPPED, UPKEEP
from simkit.cell.facts import Facts
from simkit.cell.orders import Job
from simkit.cell.requests import LISTED_S
from simkit.cell.stops import StopClocks
from simkit.cell.stretches import Steps, Stretches
from simkit.cell.toolwork import ToolWork
from simkit.cell.trace import TOOL_FAULT, WORN_TOOL, fault_cause
from simkit.cell.upkeep import UpkeepClocks
from simkit.cell.wrongtools import AT_FIRST_HIT, breaking, found_now

if TYPE_CHECKING:
    from simkit.cell.run import Cell
    from simkit.plant.tables import Upkeep
    from simkit.process.faults import Struck


class Troubles(Stretches):
    """A machine whose time is also lost to stops, worn and wrong tools, and care."""

    def __init__(
        self, cell: Cell, row: int, facts: Facts, tools: ToolWork, stops: StopClocks, upkeep: UpkeepClocks
    ) -> None:
        super().__init__(cell.clock, cell.pool, cell.opening, row)
        self.cell, self.facts, self.tools, self.stops, self.upkeep = cell, facts, tools, stops, upkeep

    def _stop(self, cause: int, number: int, job: Job | None) -> Generator[simpy.Event, None, int]:
        """Retries, then whoever clears it; return the sheets lost."""
        outcome = self.stops.outcome(cause, number)
        self.log.stop_cause.append(cause)
        self.log.stop_at_s.append(self.clock.now)
        yield from self.alone(STOPPED, outcome.retry_s)
        row = self.stops.causes[cause]
        inside = job if row.needs_entry else None

        def seconds() -> float:
            return self.facts.entered(self.stops.listed_repair_s(cause) if outcome.listed else outcome.repair_s, inside)

        if row.clears == "nobody":
            yield from self.alone(STOPPED, seconds())
        else:
            repair_s = LISTED_S if outcome.listed else seconds()
            self._note_entry(inside, repair_s)
            measure = seconds if outcome.listed else None
            yield from self.by_person(row.clears, STOPPED, repair_s, job, "stop", row.cause, (), STOPPED, measure)
        self.stops.stood_until(self.clock.now)
        if outcome.breaks_tool:
            self.tools.counts.note_broken(cause)
        lost = outcome.sheets_lost if job is not None else 0
        self._lose([self.sheet] * lost, cause)
        return lost

    def _note_entry(self, job: Job | None, seconds: float) -> None:
        """Somebody has to enter the guarded cell for work of so many seconds."""
        if job is not None and seconds > 0 and self.facts.guarded(job):
            self.log.entered_at_s.append(self.clock.now)

    def _worn_tool(self, job: Job) -> Steps:
        """A tool has passed its life: another or the reground one is fitted, and the sheet is lost."""
        self.log.stop_cause.append(WORN_TOOL)
        self.log.stop_at_s.append(self.clock.now)
        seconds, outside = self.tools.replace_worn(job)
        self.cell.ask_outside(job, outside)
        yield from self.by_person("clear", STOPPED, seconds, job, "tool", "worn_tool", waiting=STOPPED)
        self.stops.stood_until(self.clock.now)
        self._lose([self.sheet], WORN_TOOL)

    def _lose(self, sheets: list[int], cause: int) -> None:
        self.log.lost += sheets
        self.log.lost_by += [cause] * len(sheets)
        self.log.lost_at_s += [self.clock.now] * len(sheets)

    def _care(self) -> Steps:
        """Do the upkeep that is due before the next sheet starts."""
        self.upkeep.open_day(self.cell.workload.plan.day_of(self.clock.now))
        for row in self.upkeep.due():
            yield from self.care_for(row)

    def care_for(self, row: int) -> Steps:
        """Do one care task."""
        task, count = self.upkeep.tasks[row], self.cell.upkeep_count
        seconds = self.upkeep.do(row)
        count[task.task] = count.get(task.task, 0) + 1
        if task.planned_in_break and self.opening.attended(self.clock.now):
            self._care_in_break(task, seconds)
        elif task.needs_person:
            yield from self.by_person("upkeep", UPKEEP, seconds, None, task.night_limit, task.task)
        else:
            yield from self.alone(UPKEEP, seconds)

    def _care_in_break(self, task: Upkeep, seconds: float) -> None:
        """Care that costs no machine time takes somebody all the same: of the cell, in the next break, or others."""
        if task.needs_person and task.break_by == "crew":
            if seconds > 0 and not self.cell.break_care.plan(seconds):
                self.cell.ask_outside(None, {"upkeep": seconds})
        elif task.needs_person:
            self.log.care_by_others_s += seconds

    # --- wrong tools -----------------------------------------------------------------------------

    def _break_tool(self, job: Job, sheet: int) -> Generator[simpy.Event, None, int]:
        """Wrongly loaded tools that break do so at the first hit; return the sheets lost."""
        causes: list[int] = []
        while (fault := breaking(job)) is not None:
            yield from self._mend_fault(job, fault, AT_FIRST_HIT, [])
            causes.append(fault_cause(fault.row))
            self.tools.counts.note_broken(causes[-1])
        if causes:
            self._lose([sheet], causes[0])
        return int(bool(causes))

    def _find_faults(
        self, job: Job, suspect: list[int], measured: bool, last: bool
    ) -> Generator[simpy.Event, None, list[int]]:
        """Find wrongly loaded tools after a sheet; return the sheets to be made again."""
        attended = self.opening.attended(self.clock.now)
        found = found_now(job, len(suspect), measured=measured, attended=attended, last=last)
        for number, (fault, where) in enumerate(found):
            yield from self._mend_fault(job, fault, where, [] if number else suspect)
        return suspect if found else []

    def _mend_fault(self, job: Job, fault: Struck, where: str, sheets: list[int]) -> Steps:
        """The machine stops until the fault is put right; the sheets made with it are lost."""
        self.log.stop_cause.append(TOOL_FAULT)
        self.log.stop_at_s.append(self.clock.now)
        self.tools.counts.faults.note(fault, where)
        clears, seconds = self.facts.faults[fault.row].clears, self.facts.entered(fault.repair_s, job)
        self._note_entry(job, seconds)
        yield from self.by_person(clears, STOPPED, seconds, job, "tool", "wrong_tool", waiting=STOPPED)
        self.stops.stood_until(self.clock.now)
        self._lose(sheets, fault_cause(fault.row))
