"""The turret as a ring of places: which tools a place takes, and what stays empty beside a tool.

A place holds one tool. A plain station is one place; a multi-tool holder is several places in one ring
position. Places are counted from 0 in ring order, and so are ring positions. What bars what is a matter of
ring positions: a tall form keeps the positions beside its own empty and, standing in a multi-tool holder, the
other places of that holder, which are nearer still; a tool that takes two positions fills the next one.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from simkit.plant.settings import Station
from simkit.plant.tables import Tool


class Place(NamedTuple):
    """A place for one tool: the ring position it is in, and the station it belongs to."""

    position: int
    station: Station

    def takes(self, size_mm: float) -> bool:
        """Tell whether tools of a size class (mm) fit, as they are or in an adapter."""
        return size_mm == self.station.size_mm or size_mm in self.station.also_mm

    def plain(self) -> bool:
        """Tell whether the position holds one tool only."""
        return self.station.tools == 1


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
    behind = _behind(number, places)
    return behind != number and places[number].plain() and places[behind].plain() and places[behind].takes(size_mm)
