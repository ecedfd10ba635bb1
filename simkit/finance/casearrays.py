"""Numbers of many cases at once: plain, one per case, or by year and case.

A value is a number, an array of shape (cases,), or one of shape (years, cases) with year 0 first; either axis may have
length 1. Such shapes broadcast, so that a rule is written once for one case and for thousands.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np

from simkit.base.arrays import Floats

PerCase = Any
"""A number, or an array by case, or by year and case."""


def ratio(part: PerCase, whole: PerCase) -> PerCase:
    """``part / whole``; 0 where ``whole`` is 0."""
    there = np.asarray(whole) != 0
    return np.where(there, part / np.where(there, whole, 1.0), 0.0)


def whole_up(number: PerCase) -> PerCase:
    """The least whole number not below a number; what exceeds one by a rounding error of its size is that number."""
    return np.ceil(np.asarray(number, float) - 1e-9)


def over_years(values: Iterable[PerCase]) -> Floats:
    """Values of single years, each plain or by case, as an array of shape (years, cases)."""
    return np.stack(np.broadcast_arrays(*(np.atleast_1d(value) for value in values)))


def first_case(value: PerCase, year: int) -> Any:
    """What a value is in a year of the first case."""
    shape = np.shape(value)
    return value[min(year, shape[0] - 1)][0] if len(shape) == 2 else value[0] if shape else value


def or_else(value: PerCase, otherwise: PerCase) -> PerCase:
    """A value, or another one where it is zero in every case."""
    return value if np.any(value) else otherwise
