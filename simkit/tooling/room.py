"""The tool room of a scenario: stations, tools, pins and magazine contents, worked out once.

Stations here are places for one tool (a multi-tool holder is several), counted from 0 in ring order;
``start.csv`` counts ring positions from 1. Tools are named by their row in ``plant.tools``, copies from 1.
A clearance of ``NO_CLEARANCE`` means that none matters.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import accumulate
from typing import NamedTuple

from simkit.base.messages import BadInput, Finding, nearest
from simkit.base.units import on_grid_s
from simkit.plant.settings import Settings
from simkit.plant.tables import Material, ProgramTool, Tool
from simkit.tooling.magazine import MagazineState, filled_magazine
from simkit.tooling.places import barred_by, fitting, neighbours, overlapping, places_of

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

    Per station: ``sizes`` (mm), ``ring`` (its position in the ring), ``turning``, ``retracting``, ``neighbours``
    (see :mod:`simkit.tooling.places`). Per tool: ``forming``,
    ``tall``, ``needs_turning``, ``positions``, ``copies``, ``offsets`` (where its copies start in
    a list of all copies; the last number is their count), ``clearances`` (mm, sorted), ``fits`` (stations that
    take it), ``bars`` (by station: the stations that stay empty while it stands there) and ``level`` (how
    hard it is to place: 0 anywhere in its size, 1 bars other stations, 2 needs a turning station, 3 both);
    ``special`` are the tools that bar stations or are pinned. ``shared``: some stations take tools of more than
    one size class, others of these do not. ``wide``: some tools take two positions.
    ``pinned`` holds (tool, clearance), ``pinned_tools`` the tools pinned whatever their clearance,
    ``magazine`` what is in the magazine at the start, ``contents`` the (tool, clearance) pairs in it.
    ``exchange_s`` are the mean seconds of an exchange by kind, which weigh exchanges against each other.
    """

    sizes: tuple[float, ...]
    ring: tuple[int, ...]
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
    special: frozenset[int]
    shared: bool
    wide: bool
    pinned: frozenset[tuple[int, float]]
    pinned_tools: frozenset[int]
    magazine: MagazineState
    contents: frozenset[tuple[int, float]]
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
        sizes=tuple(place.station.size_mm for place in places),
        ring=tuple(place.position for place in places),
        turning=tuple(place.station.turning for place in places),
        retracting=tuple(place.station.retracting for place in places),
        neighbours=near,
        forming=tuple(t.kind == "forming" for t in tools),
        tall=tall,
        needs_turning=tuple(t.needs_turning for t in tools),
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
        contents=magazine.contents,
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


def uniform_room(tool_count: int, capacity: int, eviction: str) -> ToolRoom:
    """Return a room of one station class and ``tool_count`` alike tools: the textbook tool-switching problem."""
    settings = Settings.model_validate({
        "name": "uniform", "calendar": {"shifts": []}, "rules": {"eviction": eviction},
        "machine": {"stations": [{"size_mm": 1.0, "count": capacity}]},
    })  # fmt: skip
    tools = [Tool(tool_id=str(i), shape="any", length_mm=1, width_mm=1, station_size_mm=1.0) for i in range(tool_count)]
    return make_tool_room(settings, tools)


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
