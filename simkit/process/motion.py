"""Times of machine motion: moves from rest to rest, hits, nibbling, repositions, turret turns, order of tools.

Lengths are in mm, speeds in m/s, accelerations in m/s2, jerks in m/s3, times in s. Functions take numbers
or arrays that broadcast against each other and give arrays of the common shape. They raise ValueError for a
speed, an acceleration or a jerk that is not positive and finite. Moves use textbook kinematics (from memory);
times of the ram, of clamps and of settling are inputs of the plant.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simkit.base.units import MM_PER_M, SECONDS_PER_MINUTE

Floats = NDArray[np.float64]
Value = float | Floats
Whole = NDArray[np.int64]

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
            raise ValueError("jerk_m_s3 must be positive")
        if math.isfinite(self.jerk_m_s3) and self._decel_m_s2 != self.accel_m_s2:
            raise ValueError("a limited jerk needs equal acceleration and deceleration")

    @property
    def _decel_m_s2(self) -> float:
        return self.accel_m_s2 if self.decel_m_s2 is None else self.decel_m_s2

    def move_s(self, distance_mm: ArrayLike) -> Floats:
        """Seconds from rest to rest over a distance; its sign does not matter."""
        distance = np.abs(np.asarray(distance_mm, float))
        speed, accel = self.speed_m_s * MM_PER_M, self.accel_m_s2 * MM_PER_M
        if math.isfinite(self.jerk_m_s3):
            return _smooth_s(distance, speed, accel, self.jerk_m_s3 * MM_PER_M)
        return _rest_to_rest_s(distance, speed, accel, self._decel_m_s2 * MM_PER_M)


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
    return _rest_to_rest_s(np.abs(np.asarray(distance_mm, float)), speed, accel, decel)


def peak_speed_m_s(
    distance_mm: ArrayLike, speed_m_s: ArrayLike, accel_m_s2: ArrayLike, decel_m_s2: ArrayLike | None = None
) -> Floats:
    """Highest speed (m/s) of the move of :func:`move_s`: the limit, or what a short move reaches."""
    decel = accel_m_s2 if decel_m_s2 is None else decel_m_s2
    speed, accel, decel = _check(speed_m_s=speed_m_s, accel_m_s2=accel_m_s2, decel_m_s2=decel)
    distance_m = np.abs(np.asarray(distance_mm, float)) / MM_PER_M
    return np.asarray(np.minimum(speed, np.sqrt(2 * distance_m / (1 / accel + 1 / decel))))


def jerk_limited_move_s(
    distance_mm: ArrayLike, speed_m_s: ArrayLike, accel_m_s2: ArrayLike, jerk_m_s3: ArrayLike
) -> Floats:
    """Seconds from rest to rest with limited jerk, the same acceleration at both ends.

    All cases: with or without a stretch of constant speed, with or without one of constant acceleration.
    """
    limits = _check(speed_m_s=speed_m_s, accel_m_s2=accel_m_s2, jerk_m_s3=jerk_m_s3)
    speed, accel, jerk = (limit * MM_PER_M for limit in limits)
    return _smooth_s(np.abs(np.asarray(distance_mm, float)), speed, accel, jerk)


def two_axis_move_s(x_mm: ArrayLike, y_mm: ArrayLike, x_axis: Axis, y_axis: Axis) -> Floats:
    """Seconds of a move of two axes that start together and do not wait for each other: the slower one's."""
    return np.asarray(np.maximum(x_axis.move_s(x_mm), y_axis.move_s(y_mm)))


def travel_s(x_mm: ArrayLike, y_mm: ArrayLike, x_axis: Axis, y_axis: Axis) -> Floats:
    """Seconds of travel along hit positions in the order given, with a rest at each hit.

    The last dimension counts the hits of a sheet; the result has the others. Sheets of unlike counts share
    an array when the last position of the shorter ones is repeated, since no move takes no time. Raises
    ValueError for positions that are not finite.
    """
    x, y = np.broadcast_arrays(np.asarray(x_mm, float), np.asarray(y_mm, float))
    rows_x, rows_y = x.reshape(-1, x.shape[-1]), y.reshape(-1, y.shape[-1])
    total = np.empty(len(rows_x))
    step = max(1, BLOCK // x.shape[-1])
    for first in range(0, len(total), step):
        rows = slice(first, first + step)
        x_s = x_axis.move_s(rows_x[rows, 1:] - rows_x[rows, :-1])
        y_s = y_axis.move_s(rows_y[rows, 1:] - rows_y[rows, :-1])
        total[rows] = np.maximum(x_s, y_s, out=x_s).sum(axis=-1)
    if not np.isfinite(total).all():
        raise ValueError("positions must be finite")
    return total.reshape(x.shape[:-1])


def hits_per_min(pitch_mm: ArrayLike, axis: Axis, ram_s: ArrayLike) -> Floats:
    """Hits per minute of a row of holes: a move of one pitch, then ``ram_s`` seconds of ram and settling.

    The ram time is an input (common practice, no source): headline rates hold at small pitch only.
    """
    return np.asarray(SECONDS_PER_MINUTE / (axis.move_s(pitch_mm) + np.asarray(ram_s, float)))


def nibbling_hits(length_mm: ArrayLike, tool_mm: ArrayLike, overlap_mm: ArrayLike) -> Whole:
    """Hits of a slot of a length, made by a tool of a length along it, each hit overlapping the one before.

    ``ceil((length - tool) / (tool - overlap)) + 1`` (common practice, no source). Raises ValueError for a
    tool longer than the slot, or an overlap that is not below the tool.
    """
    length, tool, overlap = (np.asarray(value, float) for value in (length_mm, tool_mm, overlap_mm))
    if not ((length >= tool) & (tool > overlap) & (overlap >= 0)).all():
        raise ValueError("needs length >= tool > overlap >= 0")
    return np.asarray(np.ceil((length - tool) / (tool - overlap) - ROUNDING).astype(np.int64) + 1)


def scallop_mm(radius_mm: ArrayLike, pitch_mm: ArrayLike) -> Floats:
    """Height of the ridges (mm) that a round tool of this radius leaves between hits at this pitch.

    Geometry of two circles; for pitches from 0 to the diameter, else ValueError.
    """
    radius, pitch = np.asarray(radius_mm, float), np.asarray(pitch_mm, float)
    if not ((pitch >= 0) & (pitch <= 2 * radius)).all():
        raise ValueError("the pitch must lie between 0 and the diameter")
    return np.asarray(radius - np.sqrt(radius**2 - pitch**2 / 4))


def reposition_s(distance_mm: ArrayLike, axis: Axis, clamping_s: ArrayLike) -> Floats:
    """Seconds of a reposition: the carriage moves along the held sheet, plus ``clamping_s`` seconds.

    ``clamping_s`` is opening and closing of clamps and of the hold-down (common practice, no source).
    """
    return np.asarray(axis.move_s(distance_mm) + np.asarray(clamping_s, float))


def ring_steps(from_station: ArrayLike, to_station: ArrayLike, stations: int) -> Whole:
    """Steps between stations of a ring of ``stations`` by the shorter way round."""
    if stations < 1:
        raise ValueError("a ring has at least one station")
    ahead = np.mod(np.asarray(to_station, np.int64) - np.asarray(from_station, np.int64), stations)
    return np.asarray(np.minimum(ahead, stations - ahead))


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
    before forming is common practice, no source.
    """
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
    arrays = {name: np.asarray(value, float) for name, value in limits.items()}
    for name, array in arrays.items():
        if not ((array > 0) & np.isfinite(array)).all():
            raise ValueError(f"{name} must be positive and finite")
    return tuple(arrays.values())


def _rest_to_rest_s(distance: Floats, speed: Value, accel: Value, decel: Value) -> Floats:
    """Seconds, in units that agree: up to the boundary distance a triangle, the rest at full speed.

    Works in place on arrays of its own, since the moves of a year are many.
    """
    ease = 1.0 / accel + 1.0 / decel
    seconds = np.asarray(np.minimum(distance, speed**2 * ease / 2))
    cruise = np.asarray(distance - seconds)
    cruise *= 1.0 / speed
    seconds *= 2 * ease
    np.sqrt(seconds, out=seconds)
    seconds += cruise
    return seconds


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
