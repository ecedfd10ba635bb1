"""The turret: which copy of which tool stands where, at which clearance and angle. Changed in place."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from simkit.base.messages import BadInput, Finding
from simkit.plant.tables import StartRow
from simkit.tooling.toolroom import NO_CLEARANCE, Need, ToolRoom

LOADS = ("tool_load", "magazine_exchange")

CopyOf = tuple[int, int]
"""A copy of a tool: row of the tool, copy number from 1."""


class Placed(NamedTuple):
    """A copy of a tool in a station: tool row, copy number from 1, clearance (mm), angle (degrees)."""

    tool: int
    copy: int
    clearance: float
    angle: float


class Exchange(NamedTuple):
    """One exchange: its kind, the station, what stands there afterwards, and what left.

    ``out`` is the tool evicted from the station itself (-1: it was free, or the tool stayed), ``removed``
    the other stations that are emptied because the new tool bars them.
    """

    kind: str
    station: int
    placed: Placed
    out: int = -1
    removed: tuple[int, ...] = ()


@dataclass(slots=True)
class Turret:
    """Per station: what stands there, the order counter of its last use, the sequence number of its load.

    ``last_used`` and ``loaded_at`` are -1 for an empty station. ``where`` gives the stations of each tool that stands,
    lowest first.
    """

    stations: list[Placed | None]
    last_used: list[int]
    loaded_at: list[int]
    where: dict[int, tuple[int, ...]] = field(default_factory=dict, compare=False, repr=False)

    def __post_init__(self) -> None:
        if not self.where:
            for station, placed in enumerate(self.stations):
                if placed is not None:
                    self.where[placed[0]] = (*self.where.get(placed[0], ()), station)

    def copy(self) -> Turret:
        """Return another turret in which the same stands."""
        return Turret([*self.stations], [*self.last_used], [*self.loaded_at], {**self.where})

    @property
    def copies(self) -> frozenset[CopyOf]:
        """Copies that stand."""
        return frozenset(placed[:2] for placed in self.stations if placed is not None)

    def holds(self, station: int, copy: CopyOf) -> bool:
        """Whether a copy stands in a station."""
        placed = self.stations[station]
        return placed is not None and placed[:2] == copy

    def exchange(self, exchanges: Iterable[Exchange], counter: int) -> None:
        """Do the exchanges, for the order with number ``counter``."""
        stations, where = self.stations, self.where
        sequence = max(self.loaded_at, default=-1) + 1
        for kind, station, placed, _, removed in exchanges:
            for emptied in removed:
                self.empty(emptied)
            before, tool = stations[station], placed[0]
            if before is None or before[0] != tool:
                self._gone(station)
                at = where.get(tool)
                where[tool] = tuple(sorted((*at, station))) if at else (station,)
            stations[station] = placed
            self.last_used[station] = counter
            if kind in LOADS:
                self.loaded_at[station] = sequence
                sequence += 1

    def empty(self, station: int) -> None:
        """Take out what stands in a station."""
        self._gone(station)
        self.stations[station], self.last_used[station], self.loaded_at[station] = None, -1, -1

    def mark_used(self, needs: Iterable[Need], counter: int) -> None:
        """Mark the stations that serve needs as used by the order with number ``counter``."""
        last_used = self.last_used
        for station in self.serving(needs):
            last_used[station] = counter

    def serving(self, needs: Iterable[Need]) -> list[int]:
        """Return the stations that serve needs: tool and clearance alike, else the tool at another one."""
        found: list[int] = []
        for need in needs:
            at = self.where.get(need[0])
            if at:
                found += at if len(at) == 1 else self._alike(at, need[1]) or at
        return found

    def _alike(self, at: tuple[int, ...], clearance: float) -> list[int]:
        return [s for s in at if (placed := self.stations[s]) and placed[2] == clearance]

    def _gone(self, station: int) -> None:
        placed = self.stations[station]
        if placed is not None:
            at = self.where.pop(placed[0])
            if len(at) > 1:
                self.where[placed[0]] = tuple([s for s in at if s != station])


def empty_turret(room: ToolRoom) -> Turret:
    """Return the turret with nothing in it."""
    count = len(room.ring)
    return Turret([None] * count, [-1] * count, [-1] * count)


def start_turret(room: ToolRoom, start_rows: Iterable[StartRow], tool_index: Mapping[str, int]) -> Turret:
    """Return the turret of ``start.csv``; ring positions are counted from 1 there, 0 is the first that is free.

    In a multi-tool holder a tool takes the first free place. An empty clearance means the smallest owned.
    Copies are numbered in the order of the rows, and counted as loaded in that order, before any order.
    Raises :class:`BadInput` with every row that cannot stand.
    """
    stations: list[Placed | None] = [None] * len(room.ring)
    loaded_at = [-1] * len(stations)
    findings = []
    rows = [row for row in start_rows if row.what == "turret"]
    for number, row in enumerate(sorted(rows, key=lambda row: row.station == 0)):
        tool = tool_index[row.item]
        station = _station_of(room, stations, tool, row.station)
        copy = 1 + sum(placed is not None and placed.tool == tool for placed in stations)
        why = _why_not(room, stations, tool, copy, station)
        if why:
            mend = "Mend station, tool or stations of the machine"
            findings.append(Finding("start.csv", why, mend, column="station", value=f"{row.item} in {row.station}"))
            continue
        stations[station] = Placed(tool, copy, _start_clearance(room, tool, row), row.angle)
        loaded_at[station] = number
    if findings:
        raise BadInput(findings)
    return Turret(stations, [-1] * len(stations), loaded_at)


def barred_stations(room: ToolRoom, stations: Iterable[Placed | None]) -> set[int]:
    """Return the stations that must stay empty because of what stands in others."""
    barred: set[int] = set()
    for station, placed in enumerate(stations):
        if placed is not None:
            barred.update(room.bars[placed.tool][station])
    return barred


def covering(room: ToolRoom, stations: Sequence[Placed | None], wanted: Iterable[int]) -> list[int]:
    """Return the stations of tools that take two positions and stand over one of those wanted with the second."""
    if not room.wide:
        return []
    over = {(q - 1) % len(stations) for q in wanted}
    return [s for s in sorted(over) if (placed := stations[s]) and room.positions[placed.tool] > 1]


def _station_of(room: ToolRoom, stations: list[Placed | None], tool: int, listed: int) -> int:
    """Return the station meant, or -1: by ring position from 1, or the first free one that takes the tool."""
    if listed:
        holder = [s for s, position in enumerate(room.ring) if position == listed - 1]
        return next((s for s in holder if stations[s] is None), holder[0] if holder else -1)
    barred = barred_stations(room, stations)
    free = (s for s in room.fits[tool] if stations[s] is None and s not in barred)
    return next((s for s in free if not _disturbs(room, stations, tool, s)), -1)


def _start_clearance(room: ToolRoom, tool: int, row: StartRow) -> float:
    owned = room.clearances[tool]
    if not owned:
        return NO_CLEARANCE
    return owned[0] if row.clearance_mm is None else row.clearance_mm


def _why_not(room: ToolRoom, stations: list[Placed | None], tool: int, copy: int, station: int) -> str:
    if station not in room.fits[tool]:
        return "the tool does not fit there"
    if copy > room.copies[tool]:
        return "more copies than owned"
    if stations[station] is not None:
        return "the station is taken"
    barred = barred_stations(room, stations)
    if station in barred or _disturbs(room, stations, tool, station):
        return "a tall forming tool or a wide tool bars a station that is taken"
    return ""


def _disturbs(room: ToolRoom, stations: list[Placed | None], tool: int, station: int) -> bool:
    """Tell whether something stands where the tool would need an empty place."""
    beside = room.bars[tool][station]
    return any(stations[q] is not None for q in beside) or bool(covering(room, stations, beside))
