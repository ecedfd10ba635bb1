"""Unit conversions and the time grid. The only module that converts."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

SECONDS_PER_MINUTE = 60.0
SECONDS_PER_HOUR = 3600.0
HOURS_PER_DAY = 24.0
SECONDS_PER_DAY = 86400.0
SECONDS_PER_WEEK = 7 * SECONDS_PER_DAY
MM_PER_M = 1000.0

TIME_UNIT_S = {"s": 1.0, "min": SECONDS_PER_MINUTE, "h": SECONDS_PER_HOUR}
"""Seconds in each time unit that an input may use."""

TIME_GRID_PER_S = 2.0**20
"""Every duration is a whole number of 2^-20 s, so that sums are exact and equal times are equal."""

Number = TypeVar("Number", float, NDArray[np.float64])


def on_grid(duration_s: Number) -> Number:
    """Round a duration in seconds to the time grid (once, when it is made)."""
    return np.rint(np.multiply(duration_s, TIME_GRID_PER_S)) / TIME_GRID_PER_S  # type: ignore[no-any-return]


def on_grid_s(duration_s: float) -> float:
    """Round one duration in seconds to the time grid, as a plain float (hot path)."""
    return round(duration_s * TIME_GRID_PER_S) / TIME_GRID_PER_S


def hours(seconds: Number) -> Number:
    """Seconds to hours."""
    return seconds / SECONDS_PER_HOUR


def per_four_weeks(total: Number, weeks: float) -> Number:
    """A total over ``weeks`` weeks as its amount per four weeks."""
    return total * 4.0 / weeks


def sheet_mass_kg(length_mm: float, width_mm: float, thickness_mm: float, density_kg_m3: float) -> float:
    """Mass of a flat sheet in kg (volume times density)."""
    return length_mm * width_mm * thickness_mm * 1e-9 * density_kg_m3
