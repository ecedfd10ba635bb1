"""Numbers that come into a formula: as arrays of floats, inside their valid range, or refused by name.

The formulas of this package take a number or an array of numbers and return the same shape; arguments of
one call are broadcast against each other.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
"""An array of floats; of a single number, a single float."""


def above_zero(values: ArrayLike, name: str) -> Floats:
    """Return the values; raises ValueError, naming the argument, unless all are finite and above zero."""
    return _within(values, name, np.greater, 0.0, "above zero")


def not_below_zero(values: ArrayLike, name: str) -> Floats:
    """Return the values; raises ValueError, naming the argument, unless all are finite and zero or more."""
    return _within(values, name, np.greater_equal, 0.0, "zero or more")


def share(values: ArrayLike, name: str) -> Floats:
    """Return the values; raises ValueError, naming the argument, unless all lie between 0 and 1."""
    return _within(not_below_zero(values, name), name, np.less_equal, 1.0, "at most 1")


def share_above_zero(values: ArrayLike, name: str) -> Floats:
    """Return the values; raises ValueError, naming the argument, unless all are above 0 and at most 1."""
    return above_zero(share(values, name), name)


def _within(values: ArrayLike, name: str, compare: np.ufunc, limit: float, words: str) -> Floats:
    numbers = np.asarray(values, dtype=np.float64)
    good = np.isfinite(numbers) & compare(numbers, limit)
    if not np.all(good):
        raise ValueError(f"{name} must be {words}, not {numbers[~good].flat[0]:g}")
    return numbers
