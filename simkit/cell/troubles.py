"""What goes wrong at a machine: stops, worn tools, tools loaded wrongly."""

from __future__ import annotations

from collections.abc import Generator

import simpy

from simkit.base.vocabulary import STOPPED
from simkit.cell.facts import Facts
from simkit.cell.machinetime import MachineTime, Steps
from simkit.cell.orders import Job
from simkit.cell.outside import OutsideWork
from simkit.cell.requests import LISTED_S
from simkit.cell.stops import SheetExposure, StopClocks
from simkit.cell.toolwork import ToolWork
from simkit.cell.trace import TOOL_FAULT, WORN_TOOL, fault_cause
from simkit.cell.wrongtools import AT_FIRST_HIT, breaking, found_now
from simkit.process.wrongloads import WrongLoad

_NOTHING = SheetExposure(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)

Lost = Generator[simpy.Event, None, int]
"""Steps that return how many sheets are lost."""


class Troubles:
    """What stops a machine, and what is lost by it."""

    def __init__(
        self, time: MachineTime, facts: Facts, tools: ToolWork, stops: StopClocks, outside: OutsideWork
    ) -> None:
        self.time, self.facts, self.tools, self.stops, self.outside = time, facts, tools, stops, outside

    def stop(self, cause: int, number: int, job: Job | None) -> Lost:
        """Retries, then whoever clears it; return the sheets lost."""
        time, outcome, row = self.time, self.stops.outcome(cause, number), self.stops.causes[cause]
        time.stopped_by(cause)
        if outcome.retry_s:
            yield from time.alone(STOPPED, outcome.retry_s)
        inside = job if row.needs_entry else None

        def listed_s() -> float:
            return self.facts.entered(self.stops.listed_repair_s(cause), inside)

        if outcome.listed and row.clears != "nobody":
            self.note_entry(inside, LISTED_S)
            yield from time.by_person(row.clears, STOPPED, LISTED_S, job, "stop", row.cause, (), STOPPED, listed_s)
        else:
            seconds = listed_s() if outcome.listed else self.facts.entered(outcome.repair_s, inside)
            if row.clears == "nobody":
                yield from time.alone(STOPPED, seconds)
            else:
                self.note_entry(inside, seconds)
                yield from time.by_person(row.clears, STOPPED, seconds, job, "stop", row.cause, (), STOPPED)
        self.stops.stood_until(time.clock.now)
        if outcome.breaks_tool:
            self.tools.counts.note_broken(cause)
        lost = outcome.sheets_lost if job is not None else 0
        if lost:
            time.lose([time.sheet] * lost, cause)
        return lost

    def stand_idle(self) -> Steps:
        """A cause by calendar hours has struck an idle machine."""
        stops = self.stops
        stops.catch_up(self.time.clock.now)
        if stops.has_calendar and stops.next_calendar() <= 0:
            cause = stops.calendar_cause()
            number = stops.number[cause]
            stops.advance(_NOTHING, 0.0, 0.0, 0.0, cause)
            yield from self.stop(cause, number, None)

    def note_entry(self, job: Job | None, seconds: float) -> None:
        """Somebody has to enter the guarded cell for work of so many seconds."""
        if job is not None and seconds > 0 and self.facts.guarded(job):
            self.time.log.entered_at_s.append(self.time.clock.now)

    def worn_tool(self, job: Job) -> Steps:
        """A tool has passed its life: another or the reground one is fitted, and the sheet is lost."""
        time = self.time
        time.stopped_by(WORN_TOOL)
        seconds, outside = self.tools.replace_worn(job)
        self.outside.ask(job, outside)
        yield from time.by_person("clear", STOPPED, seconds, job, "tool", "worn_tool", waiting=STOPPED)
        self.stops.stood_until(time.clock.now)
        time.lose([time.sheet], WORN_TOOL)

    # --- wrong tools -----------------------------------------------------------------------------

    def break_tool(self, job: Job, sheet: int) -> Lost:
        """Wrongly loaded tools that break do so at the first hit; return the sheets lost."""
        causes: list[int] = []
        while (fault := breaking(job)) is not None:
            yield from self._mend_fault(job, fault, AT_FIRST_HIT, [])
            causes.append(fault_cause(fault.row))
            self.tools.counts.note_broken(causes[-1])
        if causes:
            self.time.lose([sheet], causes[0])
        return int(bool(causes))

    def find_faults(
        self, job: Job, suspect: list[int], measured: bool, last: bool
    ) -> Generator[simpy.Event, None, list[int]]:
        """Find wrongly loaded tools after a sheet; return the sheets to be made again."""
        found = found_now(job, len(suspect), measured=measured, attended=self.time.attended(), last=last)
        for number, (fault, where) in enumerate(found):
            yield from self._mend_fault(job, fault, where, [] if number else suspect)
        return suspect if found else []

    def _mend_fault(self, job: Job, fault: WrongLoad, where: str, sheets: list[int]) -> Steps:
        """The machine stops until the fault is put right; the sheets made with it are lost."""
        time = self.time
        time.stopped_by(TOOL_FAULT)
        self.tools.counts.faults.note(fault, where)
        clears, seconds = self.facts.faults[fault.row].clears, self.facts.entered(fault.repair_s, job)
        self.note_entry(job, seconds)
        yield from time.by_person(clears, STOPPED, seconds, job, "tool", "wrong_tool", waiting=STOPPED)
        self.stops.stood_until(time.clock.now)
        time.lose(sheets, fault_cause(fault.row))
