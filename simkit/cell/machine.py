"""The machine: a process that reads like the shop floor. Its parts do the work; here stands in which order."""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass

import simpy

from simkit.base.vocabulary import NO_WORK, PUNCHING
from simkit.cell.beforenight import BeforeNight
from simkit.cell.board import Board
from simkit.cell.changeover import ChangeOver
from simkit.cell.choosing import OrderChoice, ToolWaits
from simkit.cell.facts import Facts
from simkit.cell.firstpiece import FirstPiece
from simkit.cell.machinetime import MachineTime, Steps
from simkit.cell.orders import Job
from simkit.cell.output import Output
from simkit.cell.requests import Request
from simkit.cell.running import Running
from simkit.cell.sheetsupply import SheetSupply
from simkit.cell.toolwork import ToolChange, ToolWork
from simkit.cell.troubles import Lost, Troubles
from simkit.cell.upkeep import UpkeepWork


@dataclass(frozen=True)
class MachineParts:
    """What a machine is put together from."""

    supply: SheetSupply
    change_over: ChangeOver
    running: Running
    first_piece: FirstPiece
    output: Output
    troubles: Troubles
    upkeep: UpkeepWork
    before_night: BeforeNight


class Machine:
    """One machine of the cell."""

    def __init__(
        self, time: MachineTime, facts: Facts, tools: ToolWork, parts: MachineParts, board: Board, waiting: ToolWaits,
        machines: int,
    ) -> None:  # fmt: skip
        self.time, self.facts, self.tools, self.parts, self.board, self.waiting = (
            time, facts, tools, parts, board, waiting,
        )  # fmt: skip
        self.choice = OrderChoice(parts.before_night, board, waiting, machines)

    def work(self) -> Steps:
        """Order after order, for ever."""
        choice, time = self.choice, self.time
        while True:
            job = choice.next()
            if job is None:
                yield from self._wait_for_work()
                continue
            yield from time.until_open()
            job = choice.displaced(job)
            job = yield from choice.wait_for_tools(job)
            job.started_s, time.job_number = time.now, job.number
            change = yield from self.parts.change_over.change_to(job)
            yield from Batch(self, job, change).make()
            job.machine_done = True
            self.tools.release()
            self.waiting.look()
            if job.on_its_way == 0:
                self.board.finish(job)

    def _wait_for_work(self) -> Steps:
        """Wait for a release; an idle machine may still fail by calendar hours."""
        time, stops = self.time, self.parts.troubles.stops
        self.parts.output.stacks.no_work(time.row, self.facts)
        stops.catch_up(time.now)
        release = self.board.wait_for_work(time.row)
        by_day_s = time.open_hours.next_attended(time.now) if self.board.committed else None
        if by_day_s is not None and by_day_s > time.now:  # what could not be taken over at this hour can be then
            time.wake_at(by_day_s, release)
        failure_s = stops.next_calendar()
        if failure_s < float("inf"):
            time.wake_at(time.now + failure_s, release)
        yield from time.wait_for(NO_WORK, release)
        yield from self.parts.troubles.stand_idle()


class Batch:
    """The sheets of one order at a machine; a lost one is made again at the end."""

    def __init__(self, machine: Machine, job: Job, change: ToolChange) -> None:
        self.machine, self.job, self.parts, self.tools = machine, job, machine.parts, machine.tools
        self.time, self.sheets, self.done = machine.time, list(job.sheets), 0
        facts = machine.facts
        self.engaged_s = change.engaged * facts.once_s["engagement"][job.members[0]]
        self.stacks_parts = bool(facts.flows[job.program].stacks)
        self.tail = facts.settings.rules.lookahead_sheets
        self.beside: Request | None = None
        self.first_piece_open = True
        self.good: set[int] = set()
        self.suspect: list[int] = []

    def make(self) -> Steps:
        """Make all sheets."""
        time, job, parts = self.time, self.job, self.parts
        while self.done < len(self.sheets):
            time.sheet = sheet = self.sheets[self.done]
            yield from self._before()
            yield from parts.supply.load(job, sheet, more=self._more)
            lost = yield from self._run(sheet)
            if lost:
                self.sheets += [sheet] * lost
            else:
                job.on_its_way += 1
                job.sheets_done += 1
                yield from parts.output.hand_over(job, sheet)
                self._made(sheet)
                if self.first_piece_open or self.beside is not None or job.faults:
                    yield from self._looked_at(sheet)
            self.done += 1
        time.sheet = -1
        parts.output.stacks.order_done(time.row, self.machine.facts, job)

    @property
    def _more(self) -> bool:
        """Whether sheets come after this one."""
        return self.done + 1 < len(self.sheets)

    def _run(self, sheet: int) -> Lost:
        """Tools are exchanged in its middle where the program needs it, and the sheet runs; return the sheets lost."""
        job, parts = self.job, self.parts
        hand_s, gripper_s, helped_s = self.tools.middle(job, self.done)
        if len(self.sheets) - self.done <= self.tail:
            self.machine.choice.look_ahead(job, sheet, gripper_s)
        if hand_s or gripper_s:
            yield from parts.change_over.exchange(job, hand_s, gripper_s, helped_s)
        if self.engaged_s:
            yield from self.time.alone(PUNCHING, self.engaged_s)
        lost = (yield from parts.troubles.break_tool(job, sheet)) if job.faults else 0
        return lost or (yield from parts.running.run(job, sheet, self.done))

    def _before(self) -> Steps:
        """What comes before a sheet is loaded."""
        time, job, parts, start_s = self.time, self.job, self.parts, self.time.clock.now
        if not time.open_hours.is_open(start_s):
            yield from time.until_open()
        if parts.before_night.before_s:
            yield from parts.before_night.before_leaving(job)
        if parts.upkeep.is_due():
            yield from parts.upkeep.do_due()
        if self.stacks_parts:
            yield from parts.output.stacks.room_for(time, self.machine.facts, job)
        worn = self.tools.swap_worn(job)
        if worn is not None:
            yield from parts.change_over.swap(job, worn)
        if not parts.supply.is_ready():
            yield from parts.supply.next_pack(job)
        if self.beside is not None:
            yield from parts.first_piece.wait_for(self.beside)
        if time.clock.now > start_s:
            yield from time.until_open()

    def _looked_at(self, sheet: int) -> Steps:
        """A first piece is measured, and what is wrong with the tools is found."""
        job = self.job
        measured = yield from self._measured()
        if job.faults:
            self.suspect.append(sheet)
            bad = yield from self.parts.troubles.find_faults(job, self.suspect, measured, not self._more)
            if bad:
                self.sheets, self.suspect, self.first_piece_open = self.sheets + bad, [], True

    def _made(self, sheet: int) -> None:
        """A sheet is made, unless it replaces one that was made before and lost at a later stop."""
        if sheet not in self.good:
            self.good.add(sheet)
            self.time.log.made.append(sheet)
            self.time.log.made_at_s.append(self.time.clock.now)

    def _measured(self) -> Generator[simpy.Event, None, bool]:
        """Whether what a first piece shows is known with this sheet, the first, or one made while it was measured."""
        job, first_piece = self.job, self.parts.first_piece
        if self.first_piece_open:
            self.first_piece_open = False
            self.beside = first_piece.measured_beside(job, more=self._more)
            if self.beside is None:
                measured = yield from first_piece.release(job)
                job.measured |= measured
                return measured
        elif self.beside is not None and self.beside.done:
            self.beside, job.measured, job.measured_after = None, True, job.sheets_done
            return True
        return False
