"""Manual lifting: the revised NIOSH lifting equation, who lifts a sheet, and what is handled in a shift.

The equation compares the load of a two-handed lift with a recommended weight limit; the ratio is the lifting
index. It is a screening figure for planning and declares no task acceptable. Source of formulas, limits and
tables: NIOSH publication 94-110, Applications Manual for the Revised NIOSH Lifting Equation, revision of
September 2021, read in a retyped copy. The manual rounds its multipliers to two decimals, so that its printed
results differ from these by up to about 2.5 %. The composite index of several tasks is left out: its formula was
not at hand. Positions take numbers or arrays that broadcast against each other; what is negative or not finite is
refused with a ValueError that names it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simkit.base.arrays import Floats, Ints
from simkit.base.messages import nearest
from simkit.base.units import M3_PER_MM3
from simkit.process.quantities import above_zero, not_below_zero


@dataclass(frozen=True)
class EquationUnits:
    """Constants of the equation in one system of units; lengths and masses as ``length`` and ``mass`` say."""

    length: str
    mass: str
    load_constant: float
    reach_least: float
    reach_most: float
    height_ideal: float
    height_slope: float
    height_most: float
    travel_term: float
    travel_least: float
    travel_most: float


METRIC = EquationUnits("cm", "kg", 23.0, 25.0, 63.0, 75.0, 0.003, 175.0, 4.5, 25.0, 175.0)
US = EquationUnits("in", "lb", 51.0, 10.0, 25.0, 30.0, 0.0075, 70.0, 1.8, 10.0, 70.0)

ASYMMETRY_MOST_DEG = 135.0
LEAST_FREQUENCY = 0.2
"""Lifts per minute below which the equation counts no less."""

DURATIONS = ("short", "moderate", "long")
"""Up to 1, 2 and 8 hours of lifting, with the recovery that :func:`duration_class` asks for."""
SHORT_RECOVERY = 1.0
"""Recovery over work time for short duration, text of 2021; the 1994 text asks for 1.2."""
MODERATE_RECOVERY = 0.3
REFERENCE_KG = 25.0
"""Mass of one lift for 95 % of adult men and about 70 % of women; 15 kg for 95 % of all adults: ISO 11228-1, from
memory, check the edition."""

_FREQUENCIES = (LEAST_FREQUENCY, 0.5, *(float(number) for number in range(1, 16)))
_LOW = {
    "short": (1.00, 0.97, 0.94, 0.91, 0.88, 0.84, 0.80, 0.75, 0.70, 0.60, 0.52, 0.45, 0.41, 0.37, 0.0, 0.0, 0.0),
    "moderate": (0.95, 0.92, 0.88, 0.84, 0.79, 0.72, 0.60, 0.50, 0.42, 0.35, 0.30, 0.26, 0.0, 0.0, 0.0, 0.0, 0.0),
    "long": (0.85, 0.81, 0.75, 0.65, 0.55, 0.45, 0.35, 0.27, 0.22, 0.18, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0),
}
"""Frequency multipliers for hands below the ideal height at the origin."""
_HIGH = {
    "short": (*_LOW["short"][:14], 0.34, 0.31, 0.28),
    "moderate": (*_LOW["moderate"][:12], 0.23, 0.21, 0.0, 0.0, 0.0),
    "long": (*_LOW["long"][:10], 0.15, 0.13, 0.0, 0.0, 0.0, 0.0, 0.0),
}
"""The same at or above it."""
COUPLINGS = {"good": (1.00, 1.00), "fair": (0.95, 1.00), "poor": (0.90, 0.90)}
"""Coupling multiplier below, and at or above, the ideal height."""


def horizontal_multiplier(reach: ArrayLike, units: EquationUnits = METRIC) -> Floats:
    """HM of the hands' distance from the ankles: 25 cm over it, zero beyond 63 cm (10 and 25 in)."""
    reach = not_below_zero(reach, "reach")
    full = units.reach_least / np.maximum(reach, units.reach_least)
    return np.where(reach > units.reach_most, 0.0, full)


def vertical_multiplier(height: ArrayLike, units: EquationUnits = METRIC) -> Floats:
    """VM of the hands' height above the floor, zero above 175 cm (70 in)."""
    height = not_below_zero(height, "height")
    sloped = 1.0 - units.height_slope * np.abs(height - units.height_ideal)
    return np.where(height > units.height_most, 0.0, sloped)


def distance_multiplier(travel: ArrayLike, units: EquationUnits = METRIC) -> Floats:
    """DM of the vertical travel of the hands; less than 25 cm count as 25 cm, zero beyond 175 cm (10 and 70 in)."""
    travel = not_below_zero(travel, "travel")
    curved = 0.82 + units.travel_term / np.maximum(travel, units.travel_least)
    return np.where(travel > units.travel_most, 0.0, curved)


def asymmetry_multiplier(asymmetry_deg: ArrayLike) -> Floats:
    """AM of the angle by which the load lies off the body's middle plane, zero beyond 135 degrees."""
    asymmetry = not_below_zero(asymmetry_deg, "asymmetry_deg")
    return np.where(asymmetry > ASYMMETRY_MOST_DEG, 0.0, 1.0 - 0.0032 * asymmetry)


def frequency_multiplier(
    lifts_per_min: ArrayLike, duration: str, origin_height: ArrayLike, units: EquationUnits = METRIC
) -> Floats:
    """FM of lifts per minute, one of :data:`DURATIONS` and the hands' height at the origin.

    Linear between the lines of the table, 0.2 at least. Beyond the last line that is not zero the multiplier is
    zero at once: the rule to interpolate says nothing of the step to zero, so that the strict reading counts.
    """
    if duration not in DURATIONS:
        raise KeyError(f"no duration '{duration}'; {nearest(duration, DURATIONS)}")
    frequency = not_below_zero(lifts_per_min, "lifts_per_min")
    low, high = (_frequency_line(frequency, table[duration]) for table in (_LOW, _HIGH))
    return np.where(not_below_zero(origin_height, "origin_height") >= units.height_ideal, high, low)


def _frequency_line(frequency: Floats, line: tuple[float, ...]) -> Floats:
    last = max(rate for rate, factor in zip(_FREQUENCIES, line, strict=True) if factor > 0)
    return np.where(frequency > last, 0.0, np.interp(frequency, _FREQUENCIES, line))


def coupling_multiplier(coupling: str, height: ArrayLike, units: EquationUnits = METRIC) -> Floats:
    """CM of the grip (good, fair or poor) and the hands' height at the point in question."""
    if coupling not in COUPLINGS:
        raise KeyError(f"no coupling '{coupling}'; {nearest(coupling, COUPLINGS)}")
    low, high = COUPLINGS[coupling]
    return np.where(not_below_zero(height, "height") >= units.height_ideal, high, low)


def duration_class(work_h: float, recovery_h: float, short_recovery: float = SHORT_RECOVERY) -> str:
    """Class of a stretch of lifting and the light work after it: short, moderate or long.

    Short needs up to 1 h of work with recovery of ``short_recovery`` times it, moderate up to 2 h with 0.3
    times. Raises ValueError beyond 8 h, which the equation does not cover.
    """
    if not 0 <= work_h <= 8 or not recovery_h >= 0 or not short_recovery >= 0:
        raise ValueError("the equation covers 0 to 8 h of work and no negative recovery")
    if work_h <= 1 and recovery_h >= short_recovery * work_h:
        return "short"
    return "moderate" if work_h <= 2 and recovery_h >= MODERATE_RECOVERY * work_h else "long"


def recommended_weight_limit(
    reach: ArrayLike,
    height: ArrayLike,
    travel: ArrayLike,
    asymmetry_deg: ArrayLike,
    lifts_per_min: ArrayLike,
    duration: str,
    coupling: str,
    origin_height: ArrayLike | None = None,
    units: EquationUnits = METRIC,
) -> Floats:
    """Recommended weight limit at one point of a lift, in the units' mass (RWL = LC HM VM DM AM FM CM).

    ``origin_height`` is the hands' height at the origin, for the frequency, where the point is not the origin.
    """
    origin = height if origin_height is None else origin_height
    return np.asarray(
        units.load_constant
        * horizontal_multiplier(reach, units)
        * vertical_multiplier(height, units)
        * distance_multiplier(travel, units)
        * asymmetry_multiplier(asymmetry_deg)
        * frequency_multiplier(lifts_per_min, duration, origin, units)
        * coupling_multiplier(coupling, height, units)
    )


def lifting_index(load: ArrayLike, limit: ArrayLike) -> Floats:
    """Load over recommended weight limit; infinite where the limit is zero, where the manual defines none.

    Not a number where there is neither a load nor a limit: no such lift was described.
    """
    loads, limits = np.broadcast_arrays(not_below_zero(load, "load"), not_below_zero(limit, "limit"))
    index: Floats = np.where(loads > 0, math.inf, math.nan)
    np.divide(loads, limits, out=index, where=limits > 0)
    return index


@dataclass(frozen=True)
class Hands:
    """Where the hands are: distance from the ankles and height in the units of the equation, angle in degrees."""

    reach: ArrayLike
    height: ArrayLike
    asymmetry_deg: ArrayLike = 0.0


@dataclass(frozen=True)
class LiftAssessment:
    """Limits and indices at both ends of a lift; ``limit`` and ``index`` are those that count."""

    limit_origin: Floats
    limit_destination: Floats
    index_origin: Floats
    index_destination: Floats
    limit: Floats
    index: Floats


def assess_lift(
    load: ArrayLike,
    origin: Hands,
    destination: Hands,
    lifts_per_min: ArrayLike,
    duration: str,
    coupling: str,
    control: bool,
    units: EquationUnits = METRIC,
) -> LiftAssessment:
    """Assess a lift at both ends; with ``control`` (placed with care) the lower limit counts, else the origin's."""
    travel = np.abs(np.asarray(destination.height, float) - np.asarray(origin.height, float))
    first, last = (
        recommended_weight_limit(
            end.reach, end.height, travel, end.asymmetry_deg, lifts_per_min, duration, coupling, origin.height, units
        )
        for end in (origin, destination)
    )
    counts = np.asarray(np.minimum(first, last)) if control else first
    return LiftAssessment(
        limit_origin=first,
        limit_destination=last,
        index_origin=lifting_index(load, first),
        index_destination=lifting_index(load, last),
        limit=counts,
        index=lifting_index(load, counts),
    )


STRESSFUL = 3.0
"""Index above which a task is highly stressful in the view of some experts."""


def index_in_words(index: float) -> str:
    """What the manual says about a lifting index; a screening, not a verdict about a task."""
    if index <= 1:
        return "at or below 1.0, the goal for the design of lifting tasks"
    if index <= STRESSFUL:
        return "above 1.0: the task asks for more than the recommended weight limit"
    return "above 3.0: highly stressful for many workers in the view of some experts"


# ---- sheets, parts and tools of a shift ----


@dataclass(frozen=True)
class SheetHandling:
    """Who handles a sheet, as arrays: persons, whether the lifter does it, and whether two persons are too few."""

    persons: Ints
    by_lifter: NDArray[np.bool_]
    beyond_two: NDArray[np.bool_]


def sheet_handling(sheet_kg: ArrayLike, one_person_kg: float, lifter: bool) -> SheetHandling:
    """Persons for sheets of a mass: above the plant's limit for one person a lifter if there is one, else two.

    ``beyond_two`` marks sheets without lifter above twice that limit: the plant's rule has no answer for them.
    """
    mass, limit_kg = not_below_zero(sheet_kg, "sheet_kg"), not_below_zero(one_person_kg, "one_person_kg")
    heavy = np.asarray(mass > limit_kg)
    by_lifter = np.asarray(heavy & lifter)
    persons = np.where(heavy & ~by_lifter, 2, 1).astype(np.int64)
    return SheetHandling(persons, by_lifter, np.asarray((mass > 2 * limit_kg) & ~by_lifter))


class ShiftLoad(NamedTuple):
    """Lifts by hand in a shift and their mass in kg."""

    lifts: float
    kg: float


def shift_load(mass_kg: ArrayLike, lifts: ArrayLike) -> ShiftLoad:
    """Lifts and kilograms of a shift: pieces of these masses (sheets, parts or tools), each lifted so often."""
    mass, count = np.broadcast_arrays(not_below_zero(mass_kg, "mass_kg"), not_below_zero(lifts, "lifts"))
    return ShiftLoad(float(count.sum()), float((mass * count).sum()))


TOOL_BODY_MM = 120.0
STEEL_KG_M3 = 7850.0


def tool_set_kg(station_size_mm: ArrayLike, body_mm: ArrayLike = TOOL_BODY_MM) -> Floats:
    """Mass (kg) of punch, die and stripper where the plant gives none: a solid steel body as wide as the station.

    The height of that body is common practice, no source: weigh a few tools instead.
    """
    area_mm2 = np.pi / 4 * above_zero(station_size_mm, "station_size_mm") ** 2
    return np.asarray(area_mm2 * above_zero(body_mm, "body_mm") * M3_PER_MM3 * STEEL_KG_M3)
