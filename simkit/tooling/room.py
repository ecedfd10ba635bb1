"""The tool room of a scenario: stations, tools, pins and magazine contents, worked out once.

Stations are counted from 0 in ring order here (from 1 in ``start.csv``). Tools are named by their row
in ``plant.tools``, copies of a tool from 1. A clearance of ``NO_CLEARANCE`` means that none matters.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import NamedTuple

from simkit.base.messages import BadInput, Finding, nearest
from simkit.plant.settings import Settings, Station
from simkit.plant.tables import Material, ProgramTool, Tool
from simkit.tooling.magazine import default_contents, listed_contents

NO_CLEARANCE = -1.0
"""Clearance of a need or a placed tool for which no die clearance matters (mm)."""


class Need(NamedTuple):
    """A tool that a program needs: row of the tool, total die clearance (mm), angle (degrees)."""

    tool: int
    clearance: float
    angle: float


@dataclass(frozen=True)
class ToolRoom:
    """What never changes about stations and tools while a scenario runs.

    Per station: ``sizes`` (mm), ``turning``, ``retracting``, ``neighbours`` (ring). Per tool: ``forming``,
    ``tall``, ``needs_turning``, ``positions``, ``copies``, ``offsets`` (where its copies start in
    a list of all copies; the last number is their count), ``clearances`` (mm, sorted), ``fits`` (stations that
    take it), ``bars`` (by station: the stations that stay empty while it stands there) and ``level`` (how
    hard it is to place: 0 anywhere in its size, 1 bars other stations, 2 needs a turning station, 3 both);
    ``special`` are the tools that bar stations or are pinned.
    ``pinned`` holds (tool, clearance), ``pinned_tools`` the tools pinned whatever their clearance,
    ``contents`` the (tool, clearance) pairs of the magazine.
    """

    sizes: tuple[float, ...]
    turning: tuple[bool, ...]
    retracting: tuple[bool, ...]
    neighbours: tuple[tuple[int, ...], ...]
    forming: tuple[bool, ...]
    tall: tuple[bool, ...]
    needs_turning: tuple[bool, ...]
    positions: tuple[int, ...]
    copies: tuple[int, ...]
    offsets: tuple[int, ...]
    clearances: tuple[tuple[float, ...], ...]
    fits: tuple[tuple[int, ...], ...]
    bars: tuple[tuple[tuple[int, ...], ...], ...]
    level: tuple[int, ...]
    special: tuple[bool, ...]
    pinned: frozenset[tuple[int, float]]
    pinned_tools: frozenset[int]
    contents: frozenset[tuple[int, float]]
    eviction: str
    has_magazine: bool

    def owned_clearance(self, need: Need) -> float:
        """Return the owned clearance nearest to the one wanted (mm); of two equally near, the smaller."""
        owned = self.clearances[need.tool]
        if need.clearance < 0 or not owned:
            return NO_CLEARANCE
        return min(owned, key=lambda clearance: abs(clearance - need.clearance))

    def is_pinned(self, tool: int, clearance: float) -> bool:
        """Tell whether a tool at a clearance belongs to the standard tools."""
        return tool in self.pinned_tools or (tool, clearance) in self.pinned


def make_tool_room(settings: Settings, tools: Sequence[Tool], uses: Iterable[tuple[Need, float]] = ()) -> ToolRoom:
    """Work out the tool room; ``uses`` are (need, weight), which rank the default magazine contents.

    Raises :class:`BadInput` with every pinned or magazine entry that names no tool or no clearance owned.
    """
    ring = [station for run in settings.machine.stations for station in [run] * run.count]
    tall = tuple(t.kind == "forming" and t.form_height_mm >= settings.machine.tall_form_mm for t in tools)
    neighbours = tuple(_neighbours(s, len(ring)) for s in range(len(ring)))
    pins = _entries("plant.rules.pinned", settings.rules.pinned, tools)
    magazine = settings.magazine
    listed = _entries("plant.magazine.contents", magazine.contents, tools)
    kept = tuple(_owned(t) or (NO_CLEARANCE,) for t in tools)
    pinned_rows = {tool for tool, _ in pins}
    bars = tuple(_bars(t, is_tall, ring, neighbours) for t, is_tall in zip(tools, tall, strict=True))
    return ToolRoom(
        sizes=tuple(s.size_mm for s in ring),
        turning=tuple(s.turning for s in ring),
        retracting=tuple(s.retracting for s in ring),
        neighbours=neighbours,
        forming=tuple(t.kind == "forming" for t in tools),
        tall=tall,
        needs_turning=tuple(t.needs_turning for t in tools),
        positions=tuple(t.positions for t in tools),
        copies=tuple(t.copies for t in tools),
        offsets=tuple(accumulate((t.copies for t in tools), initial=0)),
        clearances=tuple(_owned(t) for t in tools),
        fits=tuple(_fits(t, ring) for t in tools),
        bars=bars,
        level=tuple(2 * t.needs_turning + any(barred) for t, barred in zip(tools, bars, strict=True)),
        special=tuple(row in pinned_rows or any(barred) for row, barred in enumerate(bars)),
        pinned=frozenset((tool, clearance) for tool, clearance in pins if clearance is not None),
        pinned_tools=frozenset(tool for tool, clearance in pins if clearance is None),
        contents=listed_contents(listed, kept) if listed else default_contents(magazine, tools, kept, uses),
        eviction=settings.rules.eviction,
        has_magazine=bool(magazine.places),
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


def uniform_room(tool_count: int, capacity: int, eviction: str) -> ToolRoom:
    """Return a room of one station class and ``tool_count`` alike tools: the textbook tool-switching problem."""
    settings = Settings.model_validate({
        "name": "uniform", "calendar": {"shifts": []}, "rules": {"eviction": eviction},
        "machine": {"stations": [{"size_mm": 1.0, "count": capacity}]},
    })  # fmt: skip
    tools = [Tool(tool_id=str(i), shape="any", length_mm=1, width_mm=1, station_size_mm=1.0) for i in range(tool_count)]
    return make_tool_room(settings, tools)


def _neighbours(station: int, count: int) -> tuple[int, ...]:
    return tuple(sorted({(station - 1) % count, (station + 1) % count} - {station}))


def _owned(tool: Tool) -> tuple[float, ...]:
    return () if tool.kind == "forming" else tuple(sorted(tool.clearances))


def _fits(tool: Tool, ring: list[Station]) -> tuple[int, ...]:
    """Stations of its size; a turning tool needs a turning one, a wide tool one more of its size behind."""
    return tuple(
        s
        for s, station in enumerate(ring)
        if station.size_mm == tool.station_size_mm
        and (station.turning or not tool.needs_turning)
        and (tool.positions == 1 or (len(ring) > 1 and ring[(s + 1) % len(ring)].size_mm == tool.station_size_mm))
    )


def _bars(
    tool: Tool, is_tall: bool, ring: list[Station], neighbours: tuple[tuple[int, ...], ...]
) -> tuple[tuple[int, ...], ...]:
    """By station: what stays empty beside a tall form whose die cannot retract, or under a wide tool."""
    barred = []
    for s, station in enumerate(ring):
        stations = set(neighbours[s]) if is_tall and not station.retracting else set()
        if tool.positions > 1:
            stations.add((s + 1) % len(ring))
        barred.append(tuple(sorted(stations - {s})))
    return tuple(barred)


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
