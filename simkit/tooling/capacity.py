"""Who deserves a place in the magazine: what the book exchanges, by places it takes.

Orders are exchanged one after the other from an empty turret, without clock or people. What is exchanged does
not depend on the magazine, and what is in the magazine with fewer places is also in it with more, copies as well
as dies (see :func:`simkit.tooling.magazine.with_the_first`): so misses never rise with places or dies per place.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from simkit.plant.settings import Settings
from simkit.plant.tables import Tool
from simkit.tooling.exchange import apply_exchanges, mark_used, plan_exchange
from simkit.tooling.magazine import Shelf, Stored, most_used, places_more, weights_of
from simkit.tooling.toolroom import NO_CLEARANCE, Need, ToolRoom, make_tool_room
from simkit.tooling.turret import LOADS, Exchange, empty_turret

Exchanged = tuple[int, float, int]
"""What is exchanged: tool, clearance (mm), and the copy that is loaded (0: only the die)."""


class PlaceClaim(NamedTuple):
    """What deserves a place: the tool, its copy (0: a die alone), the clearances to keep (mm), its exchanges.

    ``loads`` counts exchanges of this tool with these dies, ``share`` is that over all exchanges; a die alone
    has those of the first copy, a further copy all of its own. ``positions`` are the places it takes, none for a
    die that joins others of its tool; ``kept`` tells whether the plant's places reach so far.
    """

    size_mm: float
    tool: int
    copy: int
    dies: tuple[float, ...]
    positions: int
    loads: int
    share: float
    kept: bool


def exchanged(room: ToolRoom, jobs: Sequence[tuple[Need, ...]], known: int = 20) -> Counter[Exchanged]:
    """Count loads and die changes, for jobs in the order given; ``known`` are looked ahead.

    What a split program exchanges in its middle counts once, though every sheet repeats it. Turning a tool
    does not count.
    """
    blind = replace(room, has_magazine=False)
    turret = empty_turret(blind)
    counts: Counter[Exchanged] = Counter()
    for number, needs in enumerate(jobs):
        plan = plan_exchange(blind, turret, needs, jobs[number + 1 : number + 1 + known])
        turret = mark_used(apply_exchanges(turret, plan.exchanges, number), needs, number)
        done = (*plan.exchanges, *plan.mid_program)
        counts.update(_key(exchange) for exchange in done if exchange.kind != "angle_change")
    return counts


def _key(exchange: Exchange) -> Exchanged:
    tool, copy, clearance, _ = exchange.placed
    return tool, clearance, copy if exchange.kind in LOADS else 0


def keep_list(settings: Settings, tools: Sequence[Tool], jobs: Sequence[tuple[Need, ...]]) -> tuple[PlaceClaim, ...]:
    """Return tools and dies by size in the order in which they deserve a place: by exchanges per place they take.

    Tools that stand in the turret all the time are not in it, as nothing is exchanged for them. The first of a
    size with ``kept`` false is the first for which the plant's places are too few.
    """
    room = make_tool_room(settings, tools)
    kept = [owned or (NO_CLEARANCE,) for owned in room.clearances]
    counts = exchanged(room, jobs)
    total = sum(counts.values())
    weights = weights_of(((tool, clearance, 0.0), float(count)) for (tool, clearance, _), count in counts.items())
    places = {float(size): count for size, count in settings.magazine.places.items()}
    per_place = {float(size): count for size, count in settings.magazine.dies_per_place.items()}
    rows = []
    for size in sorted({tools[tool].station_size_mm for tool, _, _ in counts}):
        shelf = Shelf(size, per_place.get(size, 1), ())
        ranked = [(s, n) for s in most_used(shelf, tools, kept, weights) if (n := _loads(s, counts)) or s.copy < 2]
        more = places_more([stored for stored, _ in ranked], tools, shelf.dies_per_place)
        taken = 0
        for (stored, loads), positions in zip(ranked, more, strict=True):
            taken += positions
            rows.append(PlaceClaim(size, *stored, positions, loads, loads / total, taken <= places.get(size, 0)))
    return tuple(rows)


def _loads(stored: Stored, counts: Mapping[Exchanged, int]) -> int:
    """Count the exchanges for which something is stored."""
    if stored.copy > 1:
        return sum(count for (tool, _, copy), count in counts.items() if (tool, copy) == stored[:2])
    return sum(counts.get((stored.tool, die, copy), 0) for die in stored.dies for copy in (0, 1))
