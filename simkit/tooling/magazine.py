"""The magazine: which tool stands in which place with which dies, as listed or filled with the most used.

Rules (common practice, no source):

- A place takes a copy of a tool of its size class with up to ``dies_per_place`` of its dies, or as many further
  dies alone of a tool that has a place.
- A copy that takes two positions takes two places of its size, which need not be neighbours: whoever fills
  the magazine moves others up. Dies alone take one.
- A place stays kept for its copy while that stands in the turret, and so do its dies.
- By the gripper comes what finds both in the magazine: the place of its copy and its die.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
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
    """What a place holds or is kept for: row of the tool, copy from 1 (0: dies alone), clearances of its dies (mm)."""

    tool: int
    copy: int
    dies: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Shelf:
    """The places of one size class (mm), each empty or taken; a copy of two positions is named in two of them."""

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
        return frozenset((one.tool, clearance) for one in self._stored for clearance in one.dies)

    @cached_property
    def copies(self) -> frozenset[tuple[int, int]]:
        """The (tool, copy) pairs that have a place in it."""
        return frozenset((one.tool, one.copy) for one in self._stored if one.copy)

    @property
    def _stored(self) -> set[Stored]:
        return {stored for shelf in self.shelves for stored in shelf.places if stored}

    def gives(self, tool: int, clearance: float, copy: int = 0) -> bool:
        """Tell whether the gripper can exchange a die (mm) of a tool, or with ``copy`` load that copy with it."""
        return (tool, clearance) in self.contents and (copy == 0 or (tool, copy) in self.copies)


def filled_magazine(
    magazine: Magazine,
    tools: Sequence[Tool],
    kept: Sequence[tuple[float, ...]],
    uses: Iterable[tuple[Wanted, float]],
    listed: Sequence[tuple[int, float | None]] = (),
) -> MagazineState:
    """Return the magazine with the contents listed, or else with the most used tools.

    ``kept`` are the clearances (mm) at which each tool can be kept, ``uses`` are (need, weight). A listed tool
    without a clearance means all its dies; what is listed twice is there with two copies. Of a listed tool the
    first dies stand with it, the others alone. Raises :class:`BadInput` with everything listed for which there
    are not enough places or copies.
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
    """Return what deserves a place of a size, first what deserves it most.

    First come all tools that are used, by their weight per place they take, each with its most used dies. Then
    come further dies, each on its own, by their own weight, and last the further copies, again with the most
    used dies. Ties go to the earlier tool and the smaller clearance. Nothing depends on how many places there are.
    """
    ranked = sorted(weights, key=lambda pair: (-weights[pair], pair))
    used = [p for p in ranked if p[1] in kept[p[0]] and tools[p[0]].station_size_mm == shelf.size_mm]
    dies: dict[int, list[float]] = {}
    for tool, clearance in used:
        dies.setdefault(tool, []).append(clearance)
    worth = {row: sum(weights[row, each] for each in of_tool) / tools[row].positions for row, of_tool in dies.items()}
    rows = sorted(dies, key=lambda row: (-worth[row], row))
    first = [Stored(row, 1, tuple(dies[row][: shelf.dies_per_place])) for row in rows]
    further = [Stored(row, 0, (die,)) for row, die in used if die in dies[row][shelf.dies_per_place :]]
    most = max((tools[row].copies for row in rows), default=0)
    twins = [one._replace(copy=copy) for copy in range(2, most + 1) for one in first if copy <= tools[one.tool].copies]
    return (*first, *further, *twins)


def places_more(ranked: Iterable[Stored], tools: Sequence[Tool], dies_per_place: int) -> Iterator[int]:
    """Yield the places that each in turn takes beyond those before it: none for a die that joins others of its tool."""
    alone: Counter[int] = Counter()
    for stored in ranked:
        if stored.copy:
            yield tools[stored.tool].positions
        else:
            yield int(alone[stored.tool] % dies_per_place == 0)
            alone[stored.tool] += 1


def with_the_first(shelf: Shelf, tools: Sequence[Tool], ranked: Sequence[Stored]) -> Shelf:
    """Return the shelf with the first of what is ranked, up to the first for which no place is left.

    Dies alone are ranked one by one. Nothing behind the first that finds no place gets in, even if a single place
    is left before a tool that takes two, or room beside other dies: so whatever is in stays in when places or
    dies per place are added, and more of them never miss more.
    """
    count = len(shelf.places)
    places: list[Stored] = []
    for stored, more in zip(ranked, places_more(ranked, tools, shelf.dies_per_place), strict=True):
        if len(places) + more > count:
            break
        if more:
            places += [stored] * more
        else:
            alone = max(at for at, one in enumerate(places) if (one.tool, one.copy) == (stored.tool, 0))
            places[alone] = places[alone]._replace(dies=places[alone].dies + stored.dies)
    return Shelf(shelf.size_mm, shelf.dies_per_place, (*places, *[None] * (count - len(places))))


def _as_listed(
    shelves: Sequence[Shelf],
    shelf_of: Sequence[int],
    tools: Sequence[Tool],
    kept: Sequence[tuple[float, ...]],
    listed: Sequence[tuple[int, float | None]],
) -> tuple[Shelf, ...]:
    """Fill the shelves as listed, or say everything that does not fit."""
    copies = _listed_copies(kept, listed)
    findings = [
        Finding(PLACE, f"the magazine has no places of {tools[row].station_size_mm:g} mm",
                "Leave the tool out, or give places for its size", value=tools[row].tool_id)
        for row in copies
        if shelf_of[row] < 0
    ]  # fmt: skip
    filled = []
    for number, shelf in enumerate(shelves):
        own = {row: dies for row, dies in copies.items() if shelf_of[row] == number}
        findings += _too_many_copies(shelf, tools, own)
        per_place = shelf.dies_per_place
        stored = [Stored(row, 1, tuple(dies[0][:per_place])) for row, dies in own.items()]
        stored += [Stored(row, 0, (die,)) for row, dies in own.items() for die in dies[0][per_place:]]
        stored += [Stored(row, at + 2, tuple(twin)) for row, dies in own.items() for at, twin in enumerate(dies[1:])]
        wanted_places = sum(places_more(stored, tools, per_place))
        if wanted_places > len(shelf.places):
            why = f"tools listed take {wanted_places} places of {shelf.size_mm:g} mm; there are {len(shelf.places)}"
            findings.append(Finding(PLACE, why, "List fewer tools of this size, or mend plant.magazine.places"))
        filled.append(with_the_first(shelf, tools, stored))
    if findings:
        raise BadInput(findings)
    return tuple(filled)


def _listed_copies(
    kept: Sequence[tuple[float, ...]], listed: Iterable[tuple[int, float | None]]
) -> dict[int, list[list[float]]]:
    """Return by tool the dies of its first copy, of its second, and so on: what is listed again is for the next."""
    copies: dict[int, list[list[float]]] = {}
    for row, clearance in listed:
        of_tool = copies.setdefault(row, [])
        for die in kept[row] if clearance is None else (clearance,):
            copy = sum(die in dies for dies in of_tool)
            if copy == len(of_tool):
                of_tool.append([])
            of_tool[copy].append(die)
    return copies


def _too_many_copies(shelf: Shelf, tools: Sequence[Tool], copies: dict[int, list[list[float]]]) -> list[Finding]:
    findings = []
    for row, dies in copies.items():
        owned, most = tools[row].copies, max(map(len, dies[1:]), default=0)
        why = f"listed for {len(dies)} copies; {owned} owned" if len(dies) > owned else ""
        if most > shelf.dies_per_place and not why:
            why = f"{most} dies are listed for one more copy; a place takes {shelf.dies_per_place}"
        if why:
            mend = "List a tool at a clearance once, and again only for a second copy, with the dies that stand with it"
            findings.append(Finding(PLACE, why, mend, value=tools[row].tool_id))
    return findings
