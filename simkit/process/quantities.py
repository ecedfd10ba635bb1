"""Numbers that come into a formula: as arrays of floats, inside their valid range, or refused by name.

The formulas of this package take a number or an array of numbers and return the same shape; arguments of
one call are broadcast against each other.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simkit.base.arrays import Floats, Ints

MOST_WHOLE = 2.0**53
"""Largest size up to which every whole number is a float."""


def finite(values: ArrayLike, name: str) -> Floats:
    """Return the values; raises ValueError, naming the argument, unless all are finite."""
    return _within(values, name, np.greater, -np.inf, "finite")


def above_zero(values: ArrayLike, name: str) -> Floats:
    """Return the values; raises ValueError, naming the argument, unless all are finite and above zero."""
    return _within(values, name, np.greater, 0.0, "above zero")


def not_below_zero(values: ArrayLike, name: str) -> Floats:
    """Return the values; raises ValueError, naming the argument, unless all are finite and zero or more."""
    return _within(values, name, np.greater_equal, 0.0, "zero or more")


def not_below_one(values: ArrayLike, name: str) -> Floats:
    """Return the values; raises ValueError, naming the argument, unless all are finite and one or more."""
    return _within(values, name, np.greater_equal, 1.0, "one or more")


def share(values: ArrayLike, name: str) -> Floats:
    """Return the values; raises ValueError, naming the argument, unless all lie between 0 and 1."""
    return _within(not_below_zero(values, name), name, np.less_equal, 1.0, "at most 1")


def share_above_zero(values: ArrayLike, name: str) -> Floats:
    """Return the values; raises ValueError, naming the argument, unless all are above 0 and at most 1."""
    return above_zero(share(values, name), name)


def whole(values: ArrayLike, name: str, least: float = -MOST_WHOLE) -> Ints:
    """Return whole numbers as such; raises ValueError, naming the argument, for a fraction or one below ``least``."""
    numbers = finite(values, name)
    words = "a whole number" if least == -MOST_WHOLE else f"a whole number, {least:g} or more"
    good = (numbers == np.rint(numbers)) & (numbers >= least) & (numbers <= MOST_WHOLE)
    return _refused_unless(good, numbers, name, words).astype(np.int64)


def _within(values: ArrayLike, name: str, compare: np.ufunc, limit: float, words: str) -> Floats:
    numbers = np.asarray(values, dtype=np.float64)
    return _refused_unless(np.isfinite(numbers) & compare(numbers, limit), numbers, name, words)


def _refused_unless(good: NDArray[np.bool_], numbers: Floats, name: str, words: str) -> Floats:
    if not np.all(good):
        raise ValueError(f"{name} must be {words}, not {numbers[~good].flat[0]:g}")
    return numbers
