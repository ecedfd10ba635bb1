"""Wear of tools: hits since regrind of every copy, regrinds at the limit, lives that end sooner.

A tracked tool is reground before the order that would take it past its limit; in an order longer than its limit,
before the sheet that would. What is due before an order was ground ahead, since its hits are known; what is due
in the middle of one is ground while the machine waits, unless there is a spare. Any tool whose drawn life ends
fails in the middle of a sheet: the sheet is lost, a spare copy or the same copy reground is fitted, and the sheet
is made again with all its hits. A life of exactly so many hits does those hits well and fails at the next one.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from simkit.base.laws import Law
from simkit.cell.toolfacts import ToolFacts
from simkit.process.workload import Workload
from simkit.tooling.turret import CopyOf, Placed, Turret
from simkit.tooling.wear import Use, after_regrind, due_for_regrind, first_failure, sheets_to_limit

_LIFE_CHUNK = 32
_NEVER = float("inf")
_MOST_TRIES = 10_000
"""Lives drawn until one is longer than the wear that a tool starts with."""


@dataclass
class WearCounts:
    """By tool row: regrinds, tools replaced because they cannot be ground again, failures in the middle of a sheet."""

    reground: dict[int, int] = field(default_factory=dict)
    replaced: dict[int, int] = field(default_factory=dict)
    failed: dict[int, int] = field(default_factory=dict)

    @property
    def worn_out(self) -> int:
        """Failures of all tools."""
        return sum(self.failed.values())


class CopyWear:
    """How worn every copy of a cell is, wherever it works; copies stand in one flat list, see ``ToolRoom.offsets``.

    ``hits`` and ``grinds`` are those since regrind and until now, ``life`` the present lives (0: not known yet, endless
    for tools without one), ``lives`` those to come.
    """

    def __init__(self, workload: Workload, tool_facts: ToolFacts) -> None:
        count = tool_facts.room.offsets[-1]
        self.hits, self.grinds = [0.0] * count, [0] * count
        self.lives: dict[int, Iterator[float]] = {}
        rows = zip(workload.plant.tools, tool_facts.room.copies, strict=True)
        self.life = [_NEVER if tool.life_hits is None else 0.0 for tool, copies in rows for _ in range(copies)]
        self._start(workload, tool_facts.room.offsets)

    def _start(self, workload: Workload, offsets: tuple[int, ...]) -> None:
        """Hits and regrinds of the copies in the turret at the start, numbered as :func:`start_turret` does."""
        index = {tool.tool_id: row for row, tool in enumerate(workload.plant.tools)}
        placed: dict[int, int] = {}
        in_turret = [row for row in workload.plant.start if row.what == "turret"]
        for row in sorted(in_turret, key=lambda row: row.station == 0):
            tool = index[row.item]
            at = offsets[tool] + placed.get(tool, 0)
            self.hits[at], self.grinds[at] = row.hits, row.grinds
            placed[tool] = placed.get(tool, 0) + 1


class MachineWear:
    """Wear of the copies that the orders of one machine use; ``worn`` is that of all copies of the cell."""

    def __init__(self, workload: Workload, tool_facts: ToolFacts, worn: CopyWear) -> None:
        self.tool_facts, self.worn = tool_facts, worn
        self.tools, self.draws = workload.plant.tools, workload.draws
        self.offsets = tool_facts.room.offsets
        self.counts = WearCounts()
        self.hits, self.grinds, self._life = worn.hits, worn.grinds, worn.life
        self.limited = any(limit is not None for limit in tool_facts.limits)
        self._uses: list[Use] = []
        self._done, self._first = 0.0, 0
        self._slack = self._to_limit = _NEVER

    def begin(
        self, program: int, sheets: int, turret: Turret, middle: Sequence[Placed] = ()
    ) -> tuple[tuple[int, int], ...]:
        """Regrind what an order would take past its limit; return those copies, and be ready for its sheets.

        ``middle`` is what only comes into the turret in the middle of a sheet.
        """
        self._settle()
        self._uses = self._used(program, turret, middle)
        due = self._reground(sheets) if self.limited else ()
        self._look()
        return due

    def end(self) -> None:
        """The order is done: its hits count, and its copies are worn by others from now on."""
        self._settle()
        self._uses = []
        self._slack = self._to_limit = _NEVER

    def due_now(self) -> tuple[tuple[int, int], ...]:
        """Regrind what the next sheet of the order would take past its limit; return those copies."""
        if self._done + 1.0 <= self._to_limit:
            return ()
        self._settle()
        due = self._reground(1)
        self._look()
        return due

    def fails_after(self) -> float:
        """The share of the next sheet's run after which a tool fails, 1 or more if none does.

        At n + 1 or more, no tool fails within the next n sheets.
        """
        left = self._slack - self._done
        return left if left > 0.0 else 0.0

    def ran(self, share: float) -> None:
        """A share of a sheet has been run."""
        self._done += share

    def fail(self, standing: Turret, others: Collection[CopyOf] = ()) -> tuple[int, int, int]:
        """The tool that fails now is reground; return its row, its copy, and a spare copy to fit instead (0: none)."""
        tool, copy, _, hits = self._uses[self._first]
        self._settle()
        self._regrind(tool, copy)
        self.counts.failed[tool] = self.counts.failed.get(tool, 0) + 1
        spare = self.spare(tool, standing, others)
        if spare:
            at = self.offsets[tool] + spare - 1
            self._life[at] = self._life[at] or self._first_life(tool, at)
            self._uses[self._first] = tool, spare, at, hits
        self._look()
        return tool, copy, spare

    def _look(self) -> None:
        """Sheets until the first life ends, and until the first limit would be passed."""
        self._slack, self._first = first_failure(self.hits, self._life, self._uses)
        if self.limited:
            self._to_limit = sheets_to_limit(self.hits, self.tool_facts.limits, self._uses)

    def _settle(self) -> None:
        """Add the hits of the sheets run since the order began."""
        hits, done = self.hits, self._done
        for _, _, at, amount in self._uses:
            hits[at] += amount * done
        self._done = 0.0

    def _reground(self, sheets: int) -> tuple[tuple[int, int], ...]:
        """Regrind what so many sheets would take past its limit; return those copies."""
        due = due_for_regrind(self.hits, self.tool_facts.limits, self._uses, sheets)
        for tool, copy in due:
            self._regrind(tool, copy)
        return due

    def _regrind(self, tool: int, copy: int) -> None:
        at = self.offsets[tool] + copy - 1
        self.hits[at] = 0.0
        self.grinds[at], replaced = after_regrind(self.grinds[at], self.tools[tool].grind_life)
        count = self.counts.replaced if replaced else self.counts.reground
        count[tool] = count.get(tool, 0) + 1
        if self.tools[tool].life_hits is not None:
            self._life[at] = next(self._lives_of(tool, at))

    def spare(self, tool: int, standing: Turret, others: Collection[CopyOf] = ()) -> int:
        """The lowest copy that stands neither in the turret nor among ``others`` (at other machines), 0 if all do."""
        there = {placed.copy for s in standing.where.get(tool, ()) if (placed := standing.stations[s])}
        there.update(copy for other, copy in others if other == tool)
        return next((copy for copy in range(1, self.tool_facts.room.copies[tool] + 1) if copy not in there), 0)

    def _used(self, program: int, turret: Turret, middle: Sequence[Placed]) -> list[Use]:
        """Copies that a sheet wears with its hits; of twins the one at the right clearance and angle."""
        where, stations, offsets, life = turret.where, turret.stations, self.offsets, self._life
        uses: list[Use] = []
        for (tool, clearance, angle), amount in self.tool_facts.hits[program]:
            at = where.get(tool, ())
            placed = stations[at[0]] if len(at) == 1 and not middle else _twin(turret, middle, tool, clearance, angle)
            copy = placed[1] if placed else 1
            place = offsets[tool] + copy - 1
            if not life[place]:
                life[place] = self._first_life(tool, place)
            uses.append((tool, copy, place, amount))
        return uses if len(uses) == len(self.tool_facts.tools[program]) else _summed(uses)

    def _first_life(self, tool: int, at: int) -> float:
        """Draw the life of a copy; that of one which starts worn is one longer than its wear, if there is one."""
        lives = self._lives_of(tool, at)
        life = next(lives)
        for _ in range(_MOST_TRIES):
            if life > self.hits[at] or self._law(tool).is_constant:
                break
            life = next(lives)
        return life

    def _law(self, tool: int) -> Law:
        row = self.tools[tool]
        return Law(row.life_law, row.life_hits or 1.0, row.life_cv)

    def _lives_of(self, tool: int, at: int) -> Iterator[float]:
        if at not in self.worn.lives:
            self.worn.lives[at] = self._life_stream(tool, at)
        return self.worn.lives[at]

    def _life_stream(self, tool: int, at: int) -> Iterator[float]:
        purpose, number, law = f"life:0:{at}", 0, self._law(tool)
        while True:
            uniforms = self.draws.uniform(purpose, number + _LIFE_CHUNK)[number:]
            yield from (max(float(value), 1.0) for value in law.draw(uniforms))
            number += _LIFE_CHUNK


def _twin(turret: Turret, middle: Sequence[Placed], tool: int, clearance: float, angle: float) -> Placed | None:
    """Of the copies of a tool that stand, now or in the middle of a sheet, the one at the right clearance and angle."""
    there = [placed for station in turret.where.get(tool, ()) if (placed := turret.stations[station])]
    there += [placed for placed in middle if placed[0] == tool]
    return min(there, key=lambda placed: (placed[2] != clearance, placed[3] != angle), default=None)


def _summed(uses: Iterable[Use]) -> list[Use]:
    """A copy that serves two angles has the hits of both."""
    summed: dict[int, Use] = {}
    for tool, copy, at, amount in uses:
        summed[at] = tool, copy, at, amount + (summed[at][3] if at in summed else 0.0)
    return list(summed.values())
