"""Times of machine motion: moves from rest to rest, repositions, steps of the turret, order of tools.

Lengths are in mm, speeds in m/s, accelerations in m/s2, jerks in m/s3, times in s. Distances and times are numbers or
arrays. ValueError for a speed, an acceleration or a jerk that is not positive and finite, for a distance that is not
finite and for a negative time. Moves use textbook kinematics (from memory); times of the ram, of clamps and of settling
are inputs of the plant.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from simkit.base.arrays import Floats, Ints
from simkit.base.units import MM_PER_M
from simkit.process.quantities import above_zero, finite, not_below_zero, whole


@dataclass(frozen=True)
class Axis:
    """Limits of one axis, alike in both directions and at both ends of a move; an infinite jerk is not limited.

    Raises ValueError for limits that are not positive.
    """

    speed_m_s: float
    accel_m_s2: float
    jerk_m_s3: float = math.inf

    def __post_init__(self) -> None:
        above_zero(self.speed_m_s, "speed_m_s")
        above_zero(self.accel_m_s2, "accel_m_s2")
        if not self.jerk_m_s3 > 0:
            raise ValueError(f"jerk_m_s3 must be above zero, not {self.jerk_m_s3:g}")

    def move_s(self, distance_mm: ArrayLike) -> Floats:
        """Seconds from rest to rest over a distance; its sign does not matter.

        Long moves reach the speed (trapezoidal profile), short ones do not (triangular).
        """
        distance = np.asarray(np.abs(finite(distance_mm, "distance_mm"))) / MM_PER_M
        if math.isfinite(self.jerk_m_s3):
            return _smooth_s(distance, self.speed_m_s, self.accel_m_s2, self.jerk_m_s3)
        boundary = self.speed_m_s**2 / self.accel_m_s2
        short = 2 * np.sqrt(distance / self.accel_m_s2)
        return np.where(distance < boundary, short, (distance + boundary) / self.speed_m_s)


def _smooth_s(distance: Floats, speed: float, accel: float, jerk: float) -> Floats:
    """The same with limited jerk, in m and s: up to the boundary distance two ramps, the rest at full speed.

    A ramp that does not reach the acceleration goes with the cube root of the distance.
    """
    lag = accel / jerk
    ramp_s = speed / accel + lag if speed >= accel * lag else 2 * math.sqrt(speed / jerk)
    ramped = np.minimum(distance, speed * ramp_s)
    short = np.cbrt(32 / jerk * ramped)
    seconds = np.where(ramped < 2 * accel * lag**2, short, lag + np.sqrt(lag**2 + 4 / accel * ramped))
    return np.asarray(seconds + (distance - ramped) / speed)


def reposition_s(distance_mm: ArrayLike, axis: Axis, clamping_s: ArrayLike) -> Floats:
    """Seconds of a reposition: the carriage moves along the held sheet, plus ``clamping_s`` seconds.

    ``clamping_s`` is opening and closing of clamps and of the hold-down (common practice, no source).
    """
    return np.asarray(axis.move_s(distance_mm) + not_below_zero(clamping_s, "clamping_s"))


def ring_steps(from_station: ArrayLike, to_station: ArrayLike, stations: int) -> Ints:
    """Steps between stations of a ring of ``stations`` by the shorter way round.

    Stations are whole numbers in their order round the ring, from 0 or from 1; ValueError else, or for a ring
    without stations.
    """
    ring = whole(stations, "stations", 1)
    ahead = np.mod(whole(to_station, "to_station") - whole(from_station, "from_station"), ring)
    return np.asarray(np.minimum(ahead, ring - ahead))


@dataclass(frozen=True)
class ToolOrder:
    """Numbers of the tools of a sheet in their order of use, and the turret steps that it takes."""

    order: tuple[int, ...]
    steps: int


def tool_order(stations: Sequence[int], forming: Sequence[bool], ring: int, start: int | None = None) -> ToolOrder:
    """Order of a sheet's tools with the fewest turret steps, every cutting tool before every forming tool.

    ``stations`` and ``forming`` hold one entry per tool; ``ring`` counts the turret's stations; the turret
    stands at ``start``, or wherever suits if None. Exact for any number of tools: a shortest way over
    points of a ring turns back at most once, so that those ways are all there are to compare. Cutting
    before forming is common practice, no source. Raises ValueError for lists of unlike length.
    """
    if len(stations) != len(forming):
        raise ValueError(f"stations and forming need one entry per tool: they have {len(stations)} and {len(forming)}")
    cutting = [tool for tool, forms in enumerate(forming) if not forms]
    shaping = [tool for tool, forms in enumerate(forming) if forms]
    begins = [start] if start is not None else [stations[tool] for tool in cutting or shaping]
    paths = {station: ToolOrder((), 0) for station in begins}
    for group in (cutting, shaping):
        if group:
            paths = _continued(paths, group, stations, ring)
    return min(paths.values(), key=lambda path: (path.steps, path.order), default=ToolOrder((), 0))


def _continued(
    paths: dict[int, ToolOrder], group: list[int], stations: Sequence[int], ring: int
) -> dict[int, ToolOrder]:
    """For each station at which the tools of the group can end, the best order up to there."""
    best: dict[int, ToolOrder] = {}
    for begin, path in paths.items():
        for sweep in _sweeps(begin, group, stations, ring):
            places = [begin, *(stations[tool] for tool in sweep)]
            steps = path.steps + int(ring_steps(places[:-1], places[1:], ring).sum())
            if places[-1] not in best or steps < best[places[-1]].steps:
                best[places[-1]] = ToolOrder((*path.order, *sweep), steps)
    return best


def _sweeps(begin: int, group: list[int], stations: Sequence[int], ring: int) -> Iterator[list[int]]:
    """Ways over the group that turn back at most once: some tools one way, the others the other way."""
    ahead = sorted(group, key=lambda tool: (stations[tool] - begin) % ring)
    for cut in range(len(ahead) + 1):
        one, other = ahead[:cut], ahead[cut:][::-1]
        yield [*one, *other]
        yield [*other, *one]
