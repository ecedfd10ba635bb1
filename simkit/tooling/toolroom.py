"""The tool room of a scenario: stations, tools, pins and magazine contents, worked out once.

Stations here are places for one tool (a multi-tool holder is several in one ring position), counted from 0 in ring
order; ``start.csv`` counts ring positions from 1. A tall form keeps the positions beside its own empty and, standing
in a multi-tool holder, the other places of that holder; a tool that takes two positions fills the next one. Tools are
named by their row in ``plant.tools``, copies from 1. A clearance of ``NO_CLEARANCE`` means that none matters.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import accumulate
from typing import NamedTuple

from simkit.base.messages import BadInput, Finding, nearest
from simkit.base.units import on_grid_s
from simkit.plant.settings import Settings, Station
from simkit.plant.tables import Material, ProgramTool, Tool
from simkit.tooling.magazine import MagazineState, filled_magazine


class Place(NamedTuple):
    """A place for one tool: the ring position it is in, and the station it belongs to."""

    position: int
    station: Station

    def takes(self, size_mm: float) -> bool:
        """Tell whether tools of a size class (mm) fit, as they are or in an adapter."""
        return size_mm == self.station.size_mm or size_mm in self.station.also_mm


def places_of(stations: Iterable[Station]) -> tuple[Place, ...]:
    """Return the places of runs of stations in ring order."""
    ring = [station for run in stations for station in [run] * run.count]
    return tuple(Place(p, station) for p, station in enumerate(ring) for _ in range(station.tools))


def neighbours(places: Sequence[Place]) -> tuple[tuple[int, ...], ...]:
    """Return by place the other places of its ring position and those of the positions beside it."""
    ring = _ring(places)
    near: list[tuple[int, ...]] = []
    for number, place in enumerate(places):
        around = {q for step in (-1, 0, 1) for q in ring[(place.position + step) % len(ring)]}
        near.append(tuple(sorted(around - {number})))
    return tuple(near)


def fitting(tool: Tool, places: Sequence[Place]) -> tuple[int, ...]:
    """Return the places that take a tool: those of its own size first, then those with an adapter.

    A tool that must turn needs a turning place. One that takes two positions needs a plain place with another
    plain one that takes its size behind it.
    """
    size = tool.station_size_mm
    fits = [
        number
        for number, place in enumerate(places)
        if place.takes(size)
        and (place.station.turning or not tool.needs_turning)
        and (tool.positions == 1 or _has_room_behind(number, size, places))
    ]
    return tuple(sorted(fits, key=lambda number: places[number].station.size_mm != size))


def barred_by(
    tool: Tool, is_tall: bool, places: Sequence[Place], near: Sequence[tuple[int, ...]]
) -> tuple[tuple[int, ...], ...]:
    """Return by place what stays empty while the tool stands there.

    That is what is near a tall form whose die cannot retract, and the place under a tool that takes two
    positions. ``near`` are the :func:`neighbours`.
    """
    barred = []
    for number, place in enumerate(places):
        filled = {number} if tool.positions == 1 else {number, _behind(number, places)}
        empty = filled.union(*(near[q] for q in filled)) if is_tall and not place.station.retracting else filled
        barred.append(tuple(sorted(empty - {number})))
    return tuple(barred)


def overlapping(fits: Iterable[tuple[int, ...]]) -> bool:
    """Tell whether two of the sets of places share some places but not all."""
    sets = {frozenset(places) for places in fits}
    return sum(map(len, sets)) > len(frozenset().union(*sets))


def _ring(places: Sequence[Place]) -> list[list[int]]:
    """Places by ring position."""
    ring: list[list[int]] = [[] for _ in range(places[-1].position + 1 if places else 0)]
    for number, place in enumerate(places):
        ring[place.position].append(number)
    return ring


def _behind(number: int, places: Sequence[Place]) -> int:
    """First place of the next ring position."""
    ring = _ring(places)
    return ring[(places[number].position + 1) % len(ring)][0]


def _has_room_behind(number: int, size_mm: float, places: Sequence[Place]) -> bool:
    """Whether the position and the next one hold one tool only, and the next one takes this size."""
    behind = _behind(number, places)
    alone = places[number].station.tools == places[behind].station.tools == 1
    return behind != number and alone and places[behind].takes(size_mm)


NO_CLEARANCE = -1.0
"""Clearance of a need or a placed tool for which no die clearance matters (mm)."""

EXCHANGE_S = {
    "tool_load": 144.0, "die_change": 90.0, "angle_change": 18.0,
    "magazine_exchange": 45.0, "magazine_die_change": 36.0,
}  # fmt: skip
"""Mean seconds of an exchange by kind while the machine stands: common practice, no source.

They only weigh exchanges against each other when a program must be split; the plant's own means replace them.
"""


class Need(NamedTuple):
    """A tool that a program needs: row of the tool, total die clearance (mm), angle (degrees)."""

    tool: int
    clearance: float
    angle: float


@dataclass(frozen=True)
class ToolRoom:
    """What never changes about stations and tools while a scenario runs.

    Per station: ``ring`` (its position in the ring), ``turning``, ``retracting``. Per tool: ``forming``,
    ``positions``, ``copies``, ``offsets`` (where its copies start in a list of all copies; the last number is their
    count), ``clearances`` (mm, sorted), ``fits`` (stations that
    take it), ``bars`` (by station: the stations that stay empty while it stands there) and ``level`` (how
    hard it is to place: 0 anywhere in its size, 1 bars other stations, 2 needs a turning station, 3 both);
    ``special`` are the tools that bar stations or are pinned. ``shared``: some stations take tools of more than
    one size class, others of these do not. ``wide``: some tools take two positions.
    ``pinned`` holds (tool, clearance), ``pinned_tools`` the tools pinned whatever their clearance,
    ``magazine`` what is in the magazine at the start.
    ``exchange_s`` are the mean seconds of an exchange by kind, which weigh exchanges against each other.
    """

    ring: tuple[int, ...]
    turning: tuple[bool, ...]
    retracting: tuple[bool, ...]
    forming: tuple[bool, ...]
    positions: tuple[int, ...]
    copies: tuple[int, ...]
    offsets: tuple[int, ...]
    clearances: tuple[tuple[float, ...], ...]
    fits: tuple[tuple[int, ...], ...]
    bars: tuple[tuple[tuple[int, ...], ...], ...]
    level: tuple[int, ...]
    special: frozenset[int]
    shared: bool
    wide: bool
    pinned: frozenset[tuple[int, float]]
    pinned_tools: frozenset[int]
    magazine: MagazineState
    eviction: str
    has_magazine: bool
    exchange_s: Mapping[str, float] = field(hash=False)

    def owned_clearance(self, need: Need) -> float:
        """Return the owned clearance nearest to the one wanted (mm); of two equally near, the smaller."""
        owned = self.clearances[need.tool]
        if need.clearance < 0 or not owned:
            return NO_CLEARANCE
        return min(owned, key=lambda clearance: abs(clearance - need.clearance))

    def is_pinned(self, tool: int, clearance: float) -> bool:
        """Tell whether a tool at a clearance belongs to the standard tools."""
        return tool in self.pinned_tools or (tool, clearance) in self.pinned


def make_tool_room(
    settings: Settings,
    tools: Sequence[Tool],
    uses: Iterable[tuple[Need, float]] = (),
    exchange_s: Mapping[str, float] | None = None,
) -> ToolRoom:
    """Work out the tool room; ``uses`` are (need, weight), which rank the default magazine contents.

    ``exchange_s`` are mean seconds by kind of exchange; what is not given is as in :data:`EXCHANGE_S`.
    Raises :class:`BadInput` with every pinned or magazine entry that names no tool or no clearance owned, and
    with every tool for which the magazine has no room.
    """
    places = places_of(settings.machine.stations)
    tall = tuple(t.kind == "forming" and t.form_height_mm >= settings.machine.tall_form_mm for t in tools)
    near = neighbours(places)
    pins = _entries("plant.rules.pinned", settings.rules.pinned, tools)
    listed = _entries("plant.magazine.contents", settings.magazine.contents, tools)
    kept = tuple(_owned(t) or (NO_CLEARANCE,) for t in tools)
    magazine = filled_magazine(settings.magazine, tools, kept, uses, listed)
    pinned_rows = {tool for tool, _ in pins}
    fits = tuple(fitting(t, places) for t in tools)
    bars = tuple(barred_by(t, is_tall, places, near) for t, is_tall in zip(tools, tall, strict=True))
    level = tuple(2 * t.needs_turning + any(barred) for t, barred in zip(tools, bars, strict=True))
    return ToolRoom(
        ring=tuple(place.position for place in places),
        turning=tuple(place.station.turning for place in places),
        retracting=tuple(place.station.retracting for place in places),
        forming=tuple(t.kind == "forming" for t in tools),
        positions=tuple(t.positions for t in tools),
        copies=tuple(t.copies for t in tools),
        offsets=tuple(accumulate((t.copies for t in tools), initial=0)),
        clearances=tuple(_owned(t) for t in tools),
        fits=fits,
        bars=bars,
        level=level,
        special=frozenset(row for row, barred in enumerate(bars) if row in pinned_rows or any(barred)),
        shared=overlapping(places for places, hard in zip(fits, level, strict=True) if not hard),
        wide=any(t.positions > 1 for t in tools),
        pinned=frozenset((tool, clearance) for tool, clearance in pins if clearance is not None),
        pinned_tools=frozenset(tool for tool, clearance in pins if clearance is None),
        magazine=magazine,
        eviction=settings.rules.eviction,
        has_magazine=bool(settings.magazine.places),
        exchange_s={kind: on_grid_s(seconds) for kind, seconds in {**EXCHANGE_S, **(exchange_s or {})}.items()},
    )


def needs_of(
    program_tools: Iterable[ProgramTool], material: Material, tools: Sequence[Tool], tool_index: dict[str, int]
) -> tuple[Need, ...]:
    """Return the sorted needs of a program on a material; ``tool_index`` gives the row of each tool id."""
    needs = set()
    for use in program_tools:
        row = tool_index[use.tool_id]
        clearance = material.clearance_mm if _owned(tools[row]) else NO_CLEARANCE
        needs.add(Need(row, clearance, use.angle))
    return tuple(sorted(needs))


def _owned(tool: Tool) -> tuple[float, ...]:
    return () if tool.kind == "forming" else tuple(sorted(tool.clearances))


def _entries(place: str, entries: tuple[str, ...], tools: Sequence[Tool]) -> list[tuple[int, float | None]]:
    """Read entries as in ``TL-001`` or ``TL-001@0.20``."""
    rows = {tool.tool_id: row for row, tool in enumerate(tools)}
    read: list[tuple[int, float | None]] = []
    findings = []
    for entry in entries:
        tool_id, at, text = (part.strip() for part in entry.partition("@"))
        if tool_id not in rows:
            findings.append(Finding(place, "no such tool", nearest(tool_id, rows), value=entry))
            continue
        owned = _owned(tools[rows[tool_id]])
        clearance = _number(text) if at else None
        if at and clearance not in owned:
            mend = f"clearances owned: {', '.join(map(str, owned)) or 'none, leave out the part from @'}"
            findings.append(Finding(place, "clearance not owned", mend, value=entry))
            continue
        read.append((rows[tool_id], clearance))
    if findings:
        raise BadInput(findings)
    return read


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None
