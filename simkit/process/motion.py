"""Times of machine motion: moves from rest to rest, hits, nibbling, repositions, turret turns, order of tools.

Lengths are in mm, speeds in m/s, accelerations in m/s2, jerks in m/s3, times in s. Functions take numbers
or arrays that broadcast against each other and give arrays of the common shape. They raise ValueError for a
speed, an acceleration or a jerk that is not positive and finite, for a distance that is not finite and for a
negative time. Moves use textbook kinematics (from memory); times of the ram, of clamps and of settling are
inputs of the plant.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from simkit.base.units import MM_PER_M, SECONDS_PER_MINUTE
from simkit.process.quantities import Floats, Whole, above_zero, finite, not_below_zero, whole

Value = float | Floats

BLOCK = 16_384
"""Hits reckoned at once along a pattern, few enough for the processor's own memory."""
FULL_TURN_DEG = 360.0
ROUNDING = 1e-9
"""Share of a nibbling step that counts as none, so that 6.0000000001 steps are six."""


@dataclass(frozen=True)
class Axis:
    """Limits of one axis, alike in both directions.

    ``decel_m_s2`` is the acceleration's if None; ``jerk_m_s3`` infinite means that it is not limited.
    Raises ValueError for limits that are not positive, and for a limited jerk with unequal acceleration
    and deceleration, which is not covered.
    """

    speed_m_s: float
    accel_m_s2: float
    decel_m_s2: float | None = None
    jerk_m_s3: float = math.inf

    def __post_init__(self) -> None:
        _check(speed_m_s=self.speed_m_s, accel_m_s2=self.accel_m_s2, decel_m_s2=self._decel_m_s2)
        if not self.jerk_m_s3 > 0:
            raise ValueError(f"jerk_m_s3 must be above zero, not {self.jerk_m_s3:g}")
        if math.isfinite(self.jerk_m_s3) and self._decel_m_s2 != self.accel_m_s2:
            raise ValueError("a limited jerk needs equal acceleration and deceleration")

    @property
    def _decel_m_s2(self) -> float:
        return self.accel_m_s2 if self.decel_m_s2 is None else self.decel_m_s2

    def move_s(self, distance_mm: ArrayLike) -> Floats:
        """Seconds from rest to rest over a distance; its sign does not matter."""
        distance = _distance(distance_mm)
        return np.asarray(np.sqrt(self._squared_s2(distance, np.empty_like(distance))))

    def _squared_s2(self, distance: Floats, spare: Floats) -> Floats:
        """Squares of the seconds of moves, in the array of their distances; ``spare`` is another of its shape."""
        speed, accel, decel = (limit * MM_PER_M for limit in (self.speed_m_s, self.accel_m_s2, self._decel_m_s2))
        if math.isinf(self.jerk_m_s3):
            return _rest_to_rest_s2(distance, speed, 1.0 / accel + 1.0 / decel, spare)
        seconds = _smooth_s(distance, speed, accel, self.jerk_m_s3 * MM_PER_M)
        return np.multiply(seconds, seconds, out=distance)


def move_s(
    distance_mm: ArrayLike, speed_m_s: ArrayLike, accel_m_s2: ArrayLike, decel_m_s2: ArrayLike | None = None
) -> Floats:
    """Seconds from rest to rest with constant acceleration and deceleration (the same if None).

    Long moves reach the speed (trapezoidal profile), short ones do not (triangular). The sign of the
    distance does not matter.
    """
    decel = accel_m_s2 if decel_m_s2 is None else decel_m_s2
    limits = _check(speed_m_s=speed_m_s, accel_m_s2=accel_m_s2, decel_m_s2=decel)
    speed, accel, decel = (limit * MM_PER_M for limit in limits)
    return _rest_to_rest_s(_distance(distance_mm), speed, accel, decel)


def peak_speed_m_s(
    distance_mm: ArrayLike, speed_m_s: ArrayLike, accel_m_s2: ArrayLike, decel_m_s2: ArrayLike | None = None
) -> Floats:
    """Highest speed (m/s) of the move of :func:`move_s`: the limit, or what a short move reaches."""
    decel = accel_m_s2 if decel_m_s2 is None else decel_m_s2
    speed, accel, decel = _check(speed_m_s=speed_m_s, accel_m_s2=accel_m_s2, decel_m_s2=decel)
    distance_m = _distance(distance_mm) / MM_PER_M
    return np.asarray(np.minimum(speed, np.sqrt(2 * distance_m / (1 / accel + 1 / decel))))


def jerk_limited_move_s(
    distance_mm: ArrayLike, speed_m_s: ArrayLike, accel_m_s2: ArrayLike, jerk_m_s3: ArrayLike
) -> Floats:
    """Seconds from rest to rest with limited jerk, the same acceleration at both ends.

    All cases: with or without a stretch of constant speed, with or without one of constant acceleration.
    """
    limits = _check(speed_m_s=speed_m_s, accel_m_s2=accel_m_s2, jerk_m_s3=jerk_m_s3)
    speed, accel, jerk = (limit * MM_PER_M for limit in limits)
    return _smooth_s(_distance(distance_mm), speed, accel, jerk)


def two_axis_move_s(x_mm: ArrayLike, y_mm: ArrayLike, x_axis: Axis, y_axis: Axis) -> Floats:
    """Seconds of a move of two axes that start together and do not wait for each other: the slower one's."""
    return np.asarray(np.maximum(x_axis.move_s(x_mm), y_axis.move_s(y_mm)))


def travel_s(x_mm: ArrayLike, y_mm: ArrayLike, x_axis: Axis, y_axis: Axis) -> Floats:
    """Seconds of travel along hit positions in the order given, with a rest at each hit.

    The last dimension counts the hits of a sheet; the result has the others. A sheet without hits, or with one,
    has no travel. Sheets of unlike counts share an array when the last position of the shorter ones is repeated,
    since no move takes no time. Raises ValueError for positions that are not finite, and for a single number.
    """
    x, y = np.broadcast_arrays(np.asarray(x_mm, float), np.asarray(y_mm, float))
    if x.ndim == 0:
        raise ValueError("positions must be arrays whose last dimension counts the hits, not single numbers")
    hits = x.shape[-1]
    total = np.zeros(x.shape[:-1])
    if hits < 2:
        finite((x, y), "positions")
        return total
    flat_x, flat_y, sums = x.reshape(-1), y.reshape(-1), total.reshape(-1)
    room = np.zeros((3, hits * max(1, BLOCK // hits)))
    for first in range(0, x.size, room.shape[1]):
        hit = slice(first, first + room.shape[1])
        seconds = _moves_s(flat_x[hit], flat_y[hit], x_axis, y_axis, room)
        seconds.reshape(-1, hits)[:, :-1].sum(axis=-1, out=sums[first // hits : hit.stop // hits])
    if not np.isfinite(total).all():
        raise ValueError("positions must be finite")
    return total


def hits_per_min(pitch_mm: ArrayLike, axis: Axis, ram_s: ArrayLike) -> Floats:
    """Hits per minute of a row of holes: a move of one pitch, then ``ram_s`` seconds of ram and settling.

    The ram time is an input (common practice, no source): headline rates hold at small pitch only. Raises
    ValueError for a hit that takes no time at all.
    """
    hit_s = axis.move_s(pitch_mm) + not_below_zero(ram_s, "ram_s")
    return np.asarray(SECONDS_PER_MINUTE / above_zero(hit_s, "move and ram_s together"))


def nibbling_hits(length_mm: ArrayLike, tool_mm: ArrayLike, overlap_mm: ArrayLike) -> Whole:
    """Hits of a slot of a length, made by a tool of a length along it, each hit overlapping the one before.

    ``ceil((length - tool) / (tool - overlap)) + 1`` (common practice, no source). Raises ValueError for a
    tool longer than the slot, an overlap that is not below the tool, and lengths that are not finite.
    """
    length, tool = finite(length_mm, "length_mm"), finite(tool_mm, "tool_mm")
    overlap = not_below_zero(overlap_mm, "overlap_mm")
    if not ((length >= tool) & (tool > overlap)).all():
        raise ValueError("needs length >= tool > overlap >= 0")
    return whole(np.ceil((length - tool) / (tool - overlap) - ROUNDING) + 1, "hits")


def scallop_mm(radius_mm: ArrayLike, pitch_mm: ArrayLike) -> Floats:
    """Height of the ridges (mm) that a round tool of this radius leaves between hits at this pitch.

    Geometry of two circles; for pitches from 0 to the diameter, else ValueError.
    """
    radius, pitch = above_zero(radius_mm, "radius_mm"), finite(pitch_mm, "pitch_mm")
    if not ((pitch >= 0) & (pitch <= 2 * radius)).all():
        raise ValueError("the pitch must lie between 0 and the diameter")
    return np.asarray(radius - np.sqrt(radius**2 - pitch**2 / 4))


def reposition_s(distance_mm: ArrayLike, axis: Axis, clamping_s: ArrayLike) -> Floats:
    """Seconds of a reposition: the carriage moves along the held sheet, plus ``clamping_s`` seconds.

    ``clamping_s`` is opening and closing of clamps and of the hold-down (common practice, no source).
    """
    return np.asarray(axis.move_s(distance_mm) + not_below_zero(clamping_s, "clamping_s"))


def ring_steps(from_station: ArrayLike, to_station: ArrayLike, stations: int) -> Whole:
    """Steps between stations of a ring of ``stations`` by the shorter way round.

    Stations are whole numbers in their order round the ring, from 0 or from 1; ValueError else, or for a ring
    without stations.
    """
    ring = whole(stations, "stations", 1)
    ahead = np.mod(whole(to_station, "to_station") - whole(from_station, "from_station"), ring)
    return np.asarray(np.minimum(ahead, ring - ahead))


def turret_turn_s(
    from_station: ArrayLike, to_station: ArrayLike, stations: int, speed_deg_s: ArrayLike, accel_deg_s2: ArrayLike
) -> Floats:
    """Seconds in which a turret with evenly spaced stations turns to the next tool by the shorter way round.

    A move from rest to rest in degrees, with the same acceleration at both ends.
    """
    speed, accel = _check(speed_deg_s=speed_deg_s, accel_deg_s2=accel_deg_s2)
    angle_deg = np.asarray(ring_steps(from_station, to_station, stations) * (FULL_TURN_DEG / stations), float)
    return _rest_to_rest_s(angle_deg, speed, accel, accel)


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


def _check(**limits: ArrayLike) -> tuple[Floats, ...]:
    """The limits as arrays; raises ValueError naming the first that is not positive and finite."""
    return tuple(above_zero(value, name) for name, value in limits.items())


def _distance(distance_mm: ArrayLike) -> Floats:
    """Distances without their sign, in an array of their own."""
    return np.asarray(np.abs(finite(distance_mm, "distance_mm")))


def _moves_s(x: Floats, y: Floats, x_axis: Axis, y_axis: Axis, room: Floats) -> Floats:
    """Seconds to each next position in a row of them, all sheets of a block in one.

    The moves from sheet to sheet and the last number mean nothing. ``room`` holds three rows that are long
    enough and are used again and again, so that they stay in the cache; the first holds the result.
    """
    rows: list[Floats] = list(room[:, : x.size])
    x_s2, y_s2, spare = rows
    with np.errstate(invalid="ignore", over="ignore"):
        for squared, places, axis in ((x_s2, x, x_axis), (y_s2, y, y_axis)):
            np.subtract(places[1:], places[:-1], out=squared[:-1])
            np.abs(squared, out=squared)
            axis._squared_s2(squared, spare)
        np.maximum(x_s2, y_s2, out=x_s2)
        np.sqrt(x_s2, out=x_s2)
    return x_s2


def _rest_to_rest_s(distance: Floats, speed: Value, accel: Value, decel: Value) -> Floats:
    """Seconds, in units that agree, of limits that broadcast against the distance."""
    ease = 1.0 / accel + 1.0 / decel
    shaped = np.array(np.broadcast_arrays(distance, speed, ease)[0])
    return np.asarray(np.sqrt(_rest_to_rest_s2(shaped, speed, ease, np.empty_like(shaped))))


def _rest_to_rest_s2(distance: Floats, speed: Value, ease: Value, spare: Floats) -> Floats:
    """Squares of the seconds, in the array of the distances: ``2 e d``, and beyond the boundary more.

    A short move takes ``sqrt(2 e d)``, with e the sum of the inverse accelerations. The speed is just reached
    over ``b = e v^2 / 2``; a longer move takes ``(d + b) / v``, whose square is ``2 e d + ((d - b) / v)^2``.
    """
    np.subtract(distance, speed**2 * ease / 2, out=spare)
    np.maximum(spare, 0.0, out=spare)
    spare *= 1.0 / speed
    spare *= spare
    distance *= 2 * ease
    distance += spare
    return distance


def _smooth_s(distance: Floats, speed: Value, accel: Value, jerk: Value) -> Floats:
    """The same with limited jerk: up to the boundary distance two ramps, the rest at full speed.

    A ramp that does not reach the acceleration goes with the cube root of the distance.
    """
    lag = accel / jerk
    ramp_s = np.where(speed >= accel * lag, speed / accel + lag, 2 * np.sqrt(speed / jerk))
    ramped = np.asarray(np.minimum(distance, speed * ramp_s))
    seconds = np.asarray(ramped * (4 / accel))
    seconds += lag**2
    np.sqrt(seconds, out=seconds)
    seconds += lag
    np.cbrt(ramped * (32 / jerk), out=seconds, where=ramped < 2 * accel * lag**2)
    cruise = np.asarray(distance - ramped)
    cruise *= 1.0 / speed
    seconds += cruise
    return seconds
