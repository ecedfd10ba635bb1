"""What is noted of a run besides its trace when somebody asks for it: every request for people, every move of a tool.

A run that is not noted knows nothing of this: the pool and the tools of a noted one are classes of their own here.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from simkit.base.vocabulary import GRIPPER_EXCHANGES
from simkit.cell.breakrules import SKILL_CODE
from simkit.cell.clock import Clock
from simkit.cell.crew import RequestKind
from simkit.cell.elsewhere import Elsewhere
from simkit.cell.magazineloading import Queue
from simkit.cell.oncall import OnCall
from simkit.cell.openhours import OpenHours
from simkit.cell.orders import Job
from simkit.cell.packs import IsDone
from simkit.cell.people import Pool
from simkit.cell.requests import Request, Worker
from simkit.cell.toolfacts import ToolFacts
from simkit.cell.toolwork import ToolStock, ToolWork
from simkit.plant.settings import People
from simkit.plant.tables import Person
from simkit.process.shifts import Span
from simkit.process.workload import Workload
from simkit.tooling.refill import Move as Refill
from simkit.tooling.toolroom import NO_CLEARANCE
from simkit.tooling.turret import CopyOf, Exchange, Placed, Turret

NO_TOOL = NO_JOB = -1
DIE_ALONE = 0
"""Copy number of a die that moves without a tool."""
MAGAZINE, OUTSIDE, NOWHERE = -1, -2, -3
"""Places of tools beside the stations, which are counted from 0; what is there at the start comes from nowhere."""
AT_START, WORN_TOOL, MAGAZINE_LOAD, FETCHED = "at_start", "worn_tool", "magazine_load", "fetched"
_AT_MACHINE = (SKILL_CODE["changeover"], SKILL_CODE["clear"])
"""Tasks in which people exchange tools at a machine."""


class ToolMove(NamedTuple):
    """A copy of a tool, or a die alone, goes from a place to another, both as numbers, at the moment it counts.

    ``asked`` are the numbers of the requests for whoever does it: none where the gripper does, or where it takes no
    time; ``seconds`` those of the exchange, zero for what only makes room. At the start a row with ``NO_TOOL`` names an
    empty station.
    """

    machine: int
    at_s: float
    kind: str
    job: int
    tool: int
    copy: int
    clearance: float
    angle: float
    source: int
    target: int
    hidden: bool
    seconds: float
    asked: Sequence[int]


@dataclass
class Notes:
    """Requests by number, in the order asked; who worked on which from when to when; moves of tools.

    ``rings`` give, by machine row, the position in the ring of each station. ``waiting`` and ``unfinished`` are numbers
    of requests at the end of the run: of those that wait for somebody, and of those at which somebody still works.
    """

    requests: dict[int, Request] = field(default_factory=dict)
    work: list[tuple[int, tuple[int, ...], float, float]] = field(default_factory=list)
    moves: list[ToolMove] = field(default_factory=list)
    rings: dict[int, tuple[int, ...]] = field(default_factory=dict)
    waiting: frozenset[int] = frozenset()
    unfinished: frozenset[int] = frozenset()
    to_be_asked: dict[int, list[list[int]]] = field(default_factory=dict)

    def ask(self, request: Request) -> None:
        """A request is made."""
        self.requests.setdefault(request.key[4], request)


class NotedPool(Pool):
    """People whose requests are noted."""

    serves_at_once = False

    def __init__(
        self, notes: Notes, clock: Clock, rules: People, people: Sequence[Person], windows: Sequence[Sequence[Span]],
        open_hours: OpenHours, on_call: OnCall, elsewhere: Elsewhere,
    ) -> None:  # fmt: skip
        self.notes = notes
        super().__init__(clock, rules, people, windows, open_hours, on_call, elsewhere)

    def _request(
        self, kind: RequestKind, seconds: float, machine: int, order: int, rush: bool, outside: bool = False
    ) -> Request:
        request = super()._request(kind, seconds, machine, order, rush, outside)
        self.notes.ask(request)
        if kind.task in _AT_MACHINE:
            for asked in self.notes.to_be_asked.pop(machine, ()):
                asked.append(request.key[4])
        return request

    def _called_away(self, row: int) -> Request:
        request = super()._called_away(row)
        self.notes.ask(request)
        return request

    def _record(self, request: Request, persons: tuple[Worker, ...], start_s: float, end_s: float) -> None:
        super()._record(request, persons, start_s, end_s)
        self.notes.ask(request)
        self.notes.work.append((request.key[4], tuple(worker.row for worker in persons), start_s, end_s))

    def close(self, end_s: float) -> None:
        """Note also what waits or is at work as the run ends."""
        self.notes.waiting = frozenset(request.key[4] for request in self.waiting_lines)
        self.notes.unfinished = frozenset(request.key[4] for request in self.busy.values())
        super().close(end_s)


class NotedTools(ToolWork):
    """The turret and magazine of one machine, whose moves are noted."""

    def __init__(
        self, notes: Notes, clock: Clock, workload: Workload, tool_facts: ToolFacts, machine: int, is_done: IsDone,
        stock: ToolStock,
    ) -> None:  # fmt: skip
        super().__init__(workload, tool_facts, machine, is_done, stock)
        self.notes, self.clock, self.machine, self.is_done = notes, clock, machine, is_done
        self._stations = list(self.turret.stations)
        self._at = {placed[:2]: station for station, placed in enumerate(self._stations) if placed is not None}
        self._loading: list[list[Request]] = []
        notes.rings[machine] = tool_facts.room.ring
        self._begin()

    def _begin(self) -> None:
        """Where every station, copy and die alone is at the start."""
        for station, placed in enumerate(self._stations):
            self._note_move(AT_START, placed or Placed(NO_TOOL, 0, NO_CLEARANCE, 0.0), NOWHERE, station)
        for tool, copies in enumerate(self.magazine.room.copies):
            for copy in range(1, copies + 1):
                if (tool, copy) not in self._at:
                    placed = Placed(tool, copy, NO_CLEARANCE, 0.0)
                    self._at[tool, copy] = self._home(placed)
                    self._note_move(AT_START, placed, NOWHERE, self._home(placed))
        for tool, die in sorted(self.magazine.room.magazine.contents):
            self._note_move(AT_START, Placed(tool, DIE_ALONE, die, 0.0), NOWHERE, MAGAZINE)

    def change_to(self, job: Job, known_queue: Queue) -> Any:
        """Exchange what the order needs, after noting what has come into the magazine until now."""
        self._settle()
        return super().change_to(job, list(known_queue))

    def look_ahead(self, running: Job, coming: Job, known_queue: Queue, budget_s: float) -> None:
        """Exchange behind the laser, after noting what has come into the magazine until now."""
        self._settle()
        super().look_ahead(running, coming, list(known_queue), budget_s)

    def give_up(self, copies: Collection[CopyOf]) -> None:
        """Copies leave for another machine."""
        super().give_up(copies)
        for station, left in enumerate(self._stations):
            if left is not None and left[:2] in copies:
                self._stations[station], self._at[left[:2]] = None, OUTSIDE
                self._note_move(FETCHED, left, station, OUTSIDE)

    def load_magazine(self, queue: Queue, moves: tuple[Refill, ...], requests: list[Request]) -> None:
        """Keep the requests, so that who puts it in can be told when it counts."""
        super().load_magazine(queue, moves, requests)
        self._loading.append(requests)

    def _settle(self) -> None:
        before, turret = self.magazine.room.magazine, self.turret
        self.magazine.settle(turret)
        after, asked = self.magazine.room.magazine, []
        while self._loading and all(self.is_done(request) for request in self._loading[0]):
            asked += [request.key[4] for request in self._loading.pop(0)]
        for of, into, source, target in (
            (before, after, MAGAZINE, OUTSIDE), (after, before, OUTSIDE, MAGAZINE),
        ):  # fmt: skip
            for tool, copy in sorted(of.copies - into.copies):
                if self._at[tool, copy] == source:
                    self._at[tool, copy] = target
                    self._note_move(MAGAZINE_LOAD, Placed(tool, copy, NO_CLEARANCE, 0.0), source, target, asked=asked)
            for tool, die in sorted(of.contents - into.contents):
                self._note_move(MAGAZINE_LOAD, Placed(tool, DIE_ALONE, die, 0.0), source, target, asked=asked)

    def _note(self, job: Job, exchanges: tuple[Exchange, ...], *, hidden: bool = False) -> tuple[float, float]:
        for exchange in exchanges:
            self._exchange(job, exchange, self._seconds(job, exchange), hidden=hidden)
        self._compare(self.turret)
        return super()._note(job, exchanges, hidden=hidden)

    def _refit(self, job: Job, tool: int, copy: int, spare: int) -> tuple[float, dict[str, float]]:
        at = self._at[tool, copy]
        seconds, outside = super()._refit(job, tool, copy, spare)
        fitted = self.turret.stations[at] if at >= 0 else None
        if fitted is None:  # it stands in the turret in another part of the program only
            gone, asked = Placed(tool, copy, NO_CLEARANCE, 0.0), self._asked(WORN_TOOL, seconds)
            self._note_move(WORN_TOOL, gone, at, at, seconds, job.number, asked=asked)
        else:
            self._exchange(job, Exchange(WORN_TOOL, at, fitted), seconds)
        self._compare(self.turret)
        return seconds, outside

    def _exchange(self, job: Job, exchange: Exchange, seconds: float, *, hidden: bool = False) -> None:
        """What leaves stations for it goes home; the copy goes from where it is to its station, or stays in it."""
        kind, placed, asked = exchange.kind, exchange.placed, self._asked(exchange.kind, seconds)
        cleared = (*exchange.removed, exchange.station)
        for station in cleared:
            left, self._stations[station] = self._stations[station], None
            if left is not None and left[:2] != placed[:2]:
                self._at[left[:2]] = self._home(left)
                self._note_move(kind, left, station, self._home(left), 0.0, job.number, asked=asked, hidden=hidden)
        source, self._at[placed[:2]] = self._at[placed[:2]], exchange.station
        self._stations[exchange.station] = placed
        self._note_move(kind, placed, source, exchange.station, seconds, job.number, asked=asked, hidden=hidden)

    def _asked(self, kind: str, seconds: float) -> list[int]:
        """Where the number of the request will stand in which people do it."""
        asked: list[int] = []
        if kind not in GRIPPER_EXCHANGES and seconds > 0:
            self.notes.to_be_asked.setdefault(self.machine, []).append(asked)
        return asked

    def _compare(self, turret: Turret) -> None:
        """Raise RuntimeError where the turret is not what the moves noted make of it."""
        if self._stations != turret.stations:
            raise RuntimeError(f"moves noted at machine row {self.machine} make another turret than it has")

    def _home(self, placed: Placed) -> int:
        """Where a copy is that does not stand in the turret."""
        return MAGAZINE if placed[:2] in self.magazine.room.magazine.copies else OUTSIDE

    def _note_move(
        self, kind: str, placed: Placed, source: int, target: int, seconds: float = 0.0, job: int = NO_JOB, *,
        hidden: bool = False, asked: Sequence[int] = (),
    ) -> None:  # fmt: skip
        move = ToolMove(self.machine, self.clock.now, kind, job, *placed, source, target, hidden, seconds, asked)
        self.notes.moves.append(move)
