"""Unit conversions and the time grid. The only module that converts."""

from __future__ import annotations

from typing import TypeVar, overload

import numpy as np
from numpy.typing import ArrayLike

from simkit.base.arrays import Floats

SECONDS_PER_MINUTE = 60.0
SECONDS_PER_HOUR = 3600.0
MINUTES_PER_HOUR = SECONDS_PER_HOUR / SECONDS_PER_MINUTE
HOURS_PER_DAY = 24.0
SECONDS_PER_DAY = 86400.0
SECONDS_PER_WEEK = 7 * SECONDS_PER_DAY

MM_PER_M = 1000.0
MM_PER_CM = 10.0
MM2_PER_M2 = MM_PER_M**2
M3_PER_MM3 = 1e-9
MM_PER_INCH = 25.4
"""Millimetres in an inch (exact)."""
M_PER_FT = 0.3048
"""Metres in a foot (exact)."""
M3_PER_FT3 = M_PER_FT**3

KG_PER_LB = 0.45359237
"""Kilograms in a pound (exact)."""

GRAVITY_M_S2 = 9.80665
"""Standard gravity (exact), for forces named by a weight."""
N_PER_KN = 1000.0
W_PER_KW = 1000.0
KN_PER_METRIC_TON = 1000 * GRAVITY_M_S2 / N_PER_KN
"""Weight of 1000 kg."""
KN_PER_US_TON = 2000 * KG_PER_LB * GRAVITY_M_S2 / N_PER_KN
"""Weight of 2000 lb: 8.896443."""

PA_PER_BAR = 1e5
BAR_PER_PSI = KG_PER_LB * GRAVITY_M_S2 / (MM_PER_INCH / MM_PER_M) ** 2 / PA_PER_BAR
"""Pound-force per square inch in bar: 0.0689476."""
ZERO_C_IN_K = 273.15
"""0 degrees Celsius in K (exact)."""

TIME_UNIT_S = {"s": 1.0, "min": SECONDS_PER_MINUTE, "h": SECONDS_PER_HOUR}
"""Seconds in each time unit that an input may use."""

MPA_PER_KSI = BAR_PER_PSI * PA_PER_BAR / 1000
"""Thousand pound-force per square inch in MPa: 6.894757."""

OTHER_UNITS: dict[str, dict[str, float]] = {
    "mm": {"inches": MM_PER_INCH, "cm": MM_PER_CM, "m": MM_PER_M, "micrometres": 1 / MM_PER_M},
    "mm2": {"square inches": MM_PER_INCH**2, "cm2": MM_PER_CM**2, "m2": MM2_PER_M2},
    "kg": {"pounds": KG_PER_LB, "g": 1 / 1000, "t": 1000.0},
    "kg/m3": {"g/cm3": 1000.0, "pounds per cubic inch": KG_PER_LB / MM_PER_INCH**3 / M3_PER_MM3},
    "MPa": {"ksi": MPA_PER_KSI, "psi": MPA_PER_KSI / 1000, "GPa": 1000.0},
    "s": {"min": SECONDS_PER_MINUTE, "h": SECONDS_PER_HOUR, "ms": 1 / 1000},
    "min": {"s": 1 / SECONDS_PER_MINUTE, "h": SECONDS_PER_HOUR / SECONDS_PER_MINUTE},
    "h": {"min": SECONDS_PER_MINUTE / SECONDS_PER_HOUR, "s": 1 / SECONDS_PER_HOUR},
    "m/min": {"mm/s": SECONDS_PER_MINUTE / MM_PER_M, "mm/min": 1 / MM_PER_M, "m/s": SECONDS_PER_MINUTE,
              "inches per minute": MM_PER_INCH / MM_PER_M},
    "m/s": {"m/min": 1 / SECONDS_PER_MINUTE, "mm/s": 1 / MM_PER_M},
    "m/s2": {"g": GRAVITY_M_S2, "mm/s2": 1 / MM_PER_M},
    "kW": {"W": 1 / W_PER_KW},
    "kN": {"metric tons": KN_PER_METRIC_TON, "US tons": KN_PER_US_TON, "N": 1 / N_PER_KN},
    "bar": {"psi": BAR_PER_PSI, "kPa": 1000 / PA_PER_BAR, "MPa": 1e6 / PA_PER_BAR},
    "m3/h": {"cubic feet per hour": M3_PER_FT3, "l/min": SECONDS_PER_HOUR / SECONDS_PER_MINUTE / 1000},
    "weeks": {"days": 1 / 7},
    "days": {"hours": 1 / HOURS_PER_DAY, "weeks": 7.0},
    "years": {"months": 1 / 12},
    "months": {"years": 12.0},
    "fraction": {"percent": 1 / 100, "per mille": 1 / 1000},
    "hits": {"thousands": 1000.0},
}  # fmt: skip
"""For a unit of an input, what one of another unit is in it: the readings of a number that is not usual."""

TIME_GRID_PER_S = 2.0**20
"""Every duration is a whole number of 2^-20 s, so that sums are exact and equal times are equal."""

Number = TypeVar("Number", float, Floats)


def on_grid(duration_s: Number) -> Number:
    """Round a duration in seconds to the time grid (once, when it is made)."""
    return np.rint(np.multiply(duration_s, TIME_GRID_PER_S)) / TIME_GRID_PER_S  # type: ignore[no-any-return]


def on_grid_s(duration_s: float) -> float:
    """Round one duration in seconds to the time grid, as a plain float (hot path)."""
    return round(duration_s * TIME_GRID_PER_S) / TIME_GRID_PER_S


def hours(seconds: Number) -> Number:
    """Seconds to hours."""
    return seconds / SECONDS_PER_HOUR


@overload
def sheet_mass_kg(length_mm: float, width_mm: float, thickness_mm: float, density_kg_m3: float) -> float: ...
@overload
def sheet_mass_kg(
    length_mm: ArrayLike, width_mm: ArrayLike, thickness_mm: ArrayLike, density_kg_m3: ArrayLike
) -> float | Floats: ...
def sheet_mass_kg(
    length_mm: ArrayLike, width_mm: ArrayLike, thickness_mm: ArrayLike, density_kg_m3: ArrayLike
) -> float | Floats:
    """Mass of flat sheets in kg (volume times density): a float of floats, an array where any is an array."""
    values = (length_mm, width_mm, thickness_mm, density_kg_m3)
    length, width, thickness, density = (np.asarray(value, float) for value in values)
    mass = np.asarray(length * width * thickness * M3_PER_MM3 * density)
    return mass if mass.ndim else float(mass)
