"""The magazine: which tool stands in which place with which dies, as listed or filled with the most used.

Rules (common practice, no source):

- A place takes one tool of its size class with up to ``dies_per_place`` of its dies. A second place for the
  same tool needs a second copy, and holds further dies.
- A tool that takes two positions takes two places of its size, which need not be neighbours: whoever fills
  the magazine moves others up.
- A place stays kept for its tool while the tool stands in the turret, and so do its dies.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from simkit.base.messages import BadInput, Finding
from simkit.plant.settings import Magazine
from simkit.plant.tables import Tool

Wanted = tuple[int, float, float]
"""A need as plain numbers: row of the tool, clearance (mm), angle (degrees)."""

PLACE = "plant.magazine.contents"


class Stored(NamedTuple):
    """What a place holds or is kept for: row of the tool, copy from 1, clearances of its dies there (mm)."""

    tool: int
    copy: int
    dies: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Shelf:
    """The places of one size class (mm), each empty or taken; a tool of two positions is named in two of them."""

    size_mm: float
    dies_per_place: int
    places: tuple[Stored | None, ...]


@dataclass(frozen=True)
class MagazineState:
    """What is in the magazine. ``shelf_of`` gives the shelf of each tool's size, -1 where there is none."""

    shelves: tuple[Shelf, ...]
    shelf_of: tuple[int, ...]

    @cached_property
    def contents(self) -> frozenset[tuple[int, float]]:
        """The (tool, clearance) pairs that are in it."""
        stored = {stored for shelf in self.shelves for stored in shelf.places if stored}
        return frozenset((one.tool, clearance) for one in stored for clearance in one.dies)


def filled_magazine(
    magazine: Magazine,
    tools: Sequence[Tool],
    kept: Sequence[tuple[float, ...]],
    uses: Iterable[tuple[Wanted, float]],
    listed: Sequence[tuple[int, float | None]] = (),
) -> MagazineState:
    """Return the magazine with the contents listed, or else with the most used tools.

    ``kept`` are the clearances (mm) at which each tool can be kept, ``uses`` are (need, weight); a listed
    tool without a clearance means all its dies. Raises :class:`BadInput` with every tool for which there are
    not enough places, or not enough room for its dies.
    """
    sizes = {float(size): count for size, count in magazine.places.items()}
    dies = {float(size): count for size, count in magazine.dies_per_place.items()}
    row = {size: number for number, size in enumerate(sizes)}
    empty = [Shelf(size, dies.get(size, 1), (None,) * count) for size, count in sizes.items()]
    shelf_of = tuple(row.get(tool.station_size_mm, -1) for tool in tools)
    if listed and sizes:
        return MagazineState(_as_listed(empty, shelf_of, tools, kept, listed), shelf_of)
    weights = weights_of(uses)
    shelves = tuple(with_the_first(shelf, tools, most_used(shelf, tools, kept, weights)) for shelf in empty)
    return MagazineState(shelves, shelf_of)


def weights_of(uses: Iterable[tuple[Wanted, float]]) -> dict[tuple[int, float], float]:
    """Return the summed weight of each (tool, clearance)."""
    weights: dict[tuple[int, float], float] = {}
    for (tool, clearance, _), amount in uses:
        weights[tool, clearance] = weights.get((tool, clearance), 0.0) + amount
    return weights


def most_used(
    shelf: Shelf, tools: Sequence[Tool], kept: Sequence[tuple[float, ...]], weights: dict[tuple[int, float], float]
) -> tuple[Stored, ...]:
    """Return what deserves a place of a size, first the most used, each tool with its most used dies.

    Tools count by their weight per place they take. Every tool gets one place before any gets a second; a
    second one needs a second copy and takes the next dies. Ties go to the earlier tool and the smaller
    clearance. Neither depends on how many places there are.
    """
    dies: dict[int, list[float]] = {}
    for tool, clearance in sorted(weights, key=lambda pair: (-weights[pair], pair)):
        if clearance in kept[tool] and tools[tool].station_size_mm == shelf.size_mm:
            dies.setdefault(tool, []).append(clearance)
    worth = {row: sum(weights[row, each] for each in of_tool) / tools[row].positions for row, of_tool in dies.items()}
    ranked = sorted(dies, key=lambda row: (-worth[row], row))
    return _in_turn(ranked, dies, tools, shelf.dies_per_place)


def _in_turn(
    ranked: Sequence[int], dies: dict[int, list[float]], tools: Sequence[Tool], per_place: int
) -> tuple[Stored, ...]:
    """Deal out the dies of tools to their copies: all first copies before any second."""
    most = max((tools[row].copies for row in ranked), default=0)
    return tuple(
        Stored(row, copy + 1, tuple(more))
        for copy in range(most)
        for row in ranked
        if copy < tools[row].copies and (more := dies[row][copy * per_place : (copy + 1) * per_place])
    )


def with_the_first(shelf: Shelf, tools: Sequence[Tool], ranked: Iterable[Stored]) -> Shelf:
    """Return the shelf with the first of the tools that are ranked, up to the first for which no place is left.

    Nothing behind that one gets in, even if a single place is left before a tool that takes two: so whatever
    is in stays in when places are added, and more places never miss more.
    """
    count = len(shelf.places)
    places: list[Stored | None] = []
    for stored in ranked:
        width = tools[stored.tool].positions
        if len(places) + width > count:
            break
        places += [stored] * width
    return Shelf(shelf.size_mm, shelf.dies_per_place, (*places, *[None] * (count - len(places))))


def _as_listed(
    shelves: Sequence[Shelf],
    shelf_of: Sequence[int],
    tools: Sequence[Tool],
    kept: Sequence[tuple[float, ...]],
    listed: Sequence[tuple[int, float | None]],
) -> tuple[Shelf, ...]:
    """Fill the shelves as listed, or say everything that does not fit."""
    dies: dict[int, list[float]] = {}
    for row, clearance in listed:
        wanted = kept[row] if clearance is None else (clearance,)
        dies.setdefault(row, []).extend(each for each in wanted if each not in dies.get(row, ()))
    findings = [_no_place(tools[row]) for row in dies if shelf_of[row] < 0]
    filled = []
    for number, shelf in enumerate(shelves):
        rows = [row for row in dies if shelf_of[row] == number]
        findings += _too_many_dies(shelf, tools, rows, dies)
        stored = _in_turn(rows, dies, tools, shelf.dies_per_place)
        wanted_places = sum(tools[one.tool].positions for one in stored)
        if wanted_places > len(shelf.places):
            findings.append(_too_many_tools(shelf, wanted_places))
        filled.append(with_the_first(shelf, tools, stored))
    if findings:
        raise BadInput(findings)
    return tuple(filled)


def _no_place(tool: Tool) -> Finding:
    why = f"the magazine has no places of {tool.station_size_mm:g} mm"
    return Finding(PLACE, why, "Leave the tool out, or give places for its size", value=tool.tool_id)


def _too_many_dies(
    shelf: Shelf, tools: Sequence[Tool], rows: Iterable[int], dies: dict[int, list[float]]
) -> list[Finding]:
    findings = []
    for row in rows:
        copies, per_place = tools[row].copies, shelf.dies_per_place
        if len(dies[row]) > copies * per_place:
            why = f"{len(dies[row])} dies are listed; {copies} x {per_place} fit (copies x dies per place)"
            mend = "List the clearances to keep, as in TL-001@0.20, or mend plant.magazine.dies_per_place"
            findings.append(Finding(PLACE, why, mend, value=tools[row].tool_id))
    return findings


def _too_many_tools(shelf: Shelf, wanted: int) -> Finding:
    why = f"tools listed take {wanted} places of {shelf.size_mm:g} mm; there are {len(shelf.places)}"
    return Finding(PLACE, why, "List fewer tools of this size, or mend plant.magazine.places")
