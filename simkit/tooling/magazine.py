"""What is in the tool magazine: the tools and dies listed, or the most used of the book."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from simkit.plant.settings import Magazine
from simkit.plant.tables import Tool

Wanted = tuple[int, float, float]
"""A need as plain numbers: row of the tool, clearance (mm), angle (degrees)."""


def listed_contents(
    listed: Iterable[tuple[int, float | None]], kept: Sequence[tuple[float, ...]]
) -> frozenset[tuple[int, float]]:
    """Contents as listed; an entry without clearance means the tool with all its dies.

    ``kept`` are the clearances (mm) at which each tool can be kept.
    """
    contents: set[tuple[int, float]] = set()
    for tool, clearance in listed:
        contents.update((tool, each) for each in (kept[tool] if clearance is None else (clearance,)))
    return frozenset(contents)


def default_contents(
    magazine: Magazine,
    tools: Sequence[Tool],
    kept: Sequence[tuple[float, ...]],
    uses: Iterable[tuple[Wanted, float]],
) -> frozenset[tuple[int, float]]:
    """Fill the places of each size with its most used tools, each with its most used dies.

    Every tool gets one place before any gets a second; a second place needs a second copy and takes the
    next dies. Ties go to the earlier tool and the smaller clearance.
    """
    weight: dict[tuple[int, float], float] = {}
    for (tool, clearance, _), amount in uses:
        weight[tool, clearance] = weight.get((tool, clearance), 0.0) + amount
    dies: dict[int, list[float]] = {}
    for tool, clearance in sorted(weight, key=lambda pair: (-weight[pair], pair)):
        if clearance in kept[tool]:
            dies.setdefault(tool, []).append(clearance)
    total = {tool: sum(weight[tool, clearance] for clearance in of_tool) for tool, of_tool in dies.items()}
    ranked = sorted(dies, key=lambda tool: (-total[tool], tool))
    contents: set[tuple[int, float]] = set()
    for size, places in magazine.places.items():
        per_place = magazine.dies_per_place.get(size, 1)
        of_size = [tool for tool in ranked if tools[tool].station_size_mm == float(size)]
        contents.update(_filled(of_size, dies, tools, places, per_place))
    return frozenset(contents)


def _filled(
    ranked: list[int], dies: dict[int, list[float]], tools: Sequence[Tool], places: int, per_place: int
) -> set[tuple[int, float]]:
    """Give ``places`` places to the tools in turn, first copies first."""
    filled: set[tuple[int, float]] = set()
    for copy in range(max((tools[tool].copies for tool in ranked), default=0)):
        for tool in ranked:
            more = dies[tool][copy * per_place : (copy + 1) * per_place]
            if places and more and copy < tools[tool].copies:
                places -= 1
                filled.update((tool, clearance) for clearance in more)
    return filled
