"""Many cases at once: a number that holds one value per sampled case and computes like a plain one.

With such numbers in the prices, the settings and the simulated totals, the cash-flow table is built once for
thousands of cases, by the same code as for one: no sum is written twice. A decision on which the cases differ
raises :class:`Divided`; :func:`in_cases` then builds the two groups apart, down to single cases if it must, so that
every case gets exactly what it would get alone. The functions :func:`least`, :func:`most`, :func:`ratio`,
:func:`below` and :func:`interpolated` decide case by case without dividing.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import reduce
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


class Divided(Exception):
    """Cases differ in a decision; ``mask`` tells the first group from the second."""

    def __init__(self, mask: NDArray[np.bool_]) -> None:
        super().__init__("cases differ in a decision: evaluate them with in_cases")
        self.mask = mask


def _plain(other: Any) -> Any:
    return other.values if isinstance(other, Cases) else other


def _common(mask: NDArray[np.bool_]) -> bool:
    """Return what all cases say; raise Divided if they differ."""
    if mask.all():
        return True
    if not mask.any():
        return False
    raise Divided(mask)


class Cases:
    """One number per case, ``values`` of shape (cases,), with the arithmetic of a float.

    Comparisons give a plain bool if all cases agree and raise :class:`Divided` otherwise. The truth of a number is
    whether any case differs from zero, since the table asks it only to leave out empty rows.
    """

    __slots__ = ("values",)
    __array_ufunc__ = None  # a NumPy number on the left leaves the operation to this class
    __hash__ = None  # type: ignore[assignment]

    def __init__(self, values: Array) -> None:
        self.values = np.asarray(values, dtype=np.float64)

    def __add__(self, other: Any) -> Cases:
        return Cases(self.values + _plain(other))

    __radd__ = __add__

    def __sub__(self, other: Any) -> Cases:
        return Cases(self.values - _plain(other))

    def __rsub__(self, other: Any) -> Cases:
        return Cases(_plain(other) - self.values)

    def __mul__(self, other: Any) -> Cases:
        return Cases(self.values * _plain(other))

    __rmul__ = __mul__

    def __truediv__(self, other: Any) -> Cases:
        return Cases(self.values / _plain(other))

    def __rtruediv__(self, other: Any) -> Cases:
        return Cases(_plain(other) / self.values)

    def __pow__(self, other: Any) -> Cases:
        return Cases(self.values ** _plain(other))

    def __rpow__(self, other: Any) -> Cases:
        return Cases(_plain(other) ** self.values)

    def __neg__(self) -> Cases:
        return Cases(-self.values)

    def __pos__(self) -> Cases:
        return self

    def __abs__(self) -> Cases:
        return Cases(np.abs(self.values))

    def __lt__(self, other: Any) -> bool:
        return _common(self.values < _plain(other))

    def __le__(self, other: Any) -> bool:
        return _common(self.values <= _plain(other))

    def __gt__(self, other: Any) -> bool:
        return _common(self.values > _plain(other))

    def __ge__(self, other: Any) -> bool:
        return _common(self.values >= _plain(other))

    def __eq__(self, other: object) -> bool:
        return _common(self.values == _plain(other))

    def __ne__(self, other: object) -> bool:
        return not self == other

    def __bool__(self) -> bool:
        return bool(self.values.any())

    def __float__(self) -> float:
        return self._single(self.values)

    def __int__(self) -> int:
        return int(self._single(np.trunc(self.values)))

    def __ceil__(self) -> int:
        return int(self._single(np.ceil(self.values)))

    def __floor__(self) -> int:
        return int(self._single(np.floor(self.values)))

    def __format__(self, spec: str) -> str:
        return format(float(self.values[0]), spec)

    def __repr__(self) -> str:
        return f"Cases({len(self.values)} from {self.values.min():.6g} to {self.values.max():.6g})"

    @staticmethod
    def _single(values: Array) -> float:
        """Return the value that all cases share; cases that differ are divided, the first one's equals apart."""
        same = values == values[0]
        if same.all():
            return float(values[0])
        raise Divided(same)


Number = float | Cases


def least(*numbers: Any) -> Any:
    """The least of some numbers, case by case."""
    return _extreme(min, np.minimum, numbers)


def most(*numbers: Any) -> Any:
    """The largest of some numbers, case by case."""
    return _extreme(max, np.maximum, numbers)


def _extreme(of_plain: Callable[[Sequence[Any]], Any], by_case: np.ufunc, numbers: Sequence[Any]) -> Any:
    for number in numbers:
        if isinstance(number, Cases):
            return Cases(reduce(by_case, map(_plain, numbers)))
    return of_plain(numbers)


def whole_up(number: Any) -> Any:
    """The least whole number that is not below a number, case by case; what exceeds a whole number by a rounding
    error of its size is that number."""
    values = np.ceil(np.asarray(_plain(number), float) - 1e-9)
    return Cases(values) if isinstance(number, Cases) else float(values)


def ratio(part: Any, whole: Any) -> Any:
    """``part / whole``; 0 in the cases whose ``whole`` is 0."""
    if not isinstance(part, Cases) and not isinstance(whole, Cases):
        return part / whole if whole else 0.0
    parts, wholes = np.broadcast_arrays(np.asarray(_plain(part), float), np.asarray(_plain(whole), float))
    return Cases(np.divide(parts, wholes, out=np.zeros(parts.shape), where=wholes != 0))


def below(number: Any, limit: Any) -> Any:
    """Whether ``number < limit``: a bool where all cases agree, otherwise 1 in the cases below and 0 in the others."""
    if not isinstance(number, Cases) and not isinstance(limit, Cases):
        return bool(number < limit)
    mask = np.asarray(_plain(number) < _plain(limit))
    if mask.all() or not mask.any():
        return bool(mask.all())
    return Cases(mask.astype(np.float64))


def interpolated(at: Any, levels: Sequence[float], values: Sequence[Any]) -> Any:
    """Linear between ``levels`` (ascending); ``at`` lies within them. Numbers or cases, both as they come."""
    if not isinstance(at, Cases) and not any(isinstance(value, Cases) for value in values):
        return float(np.interp(at, levels, values))
    found = values[0]
    for (low, below_it), (high, above_it) in zip(
        zip(levels, values, strict=True), zip(levels[1:], values[1:], strict=True), strict=False
    ):
        share = least(most((at - low) / (high - low), 0.0), 1.0)
        if isinstance(share, Cases) or share:  # a stretch beyond the place adds nothing
            found = found + share * (above_it - below_it)
    return found


def in_cases(count: int, width: int, evaluate: Callable[[NDArray[np.intp]], Array]) -> Array:
    """Rows of ``evaluate`` for all cases, shape (count, width); groups that differ in a decision apart.

    ``evaluate`` takes the numbers of some cases and returns their rows, shape (len, width).
    """
    found = np.empty((count, width))
    waiting = [np.arange(count)] if count else []
    while waiting:
        group = waiting.pop()
        try:
            found[group] = evaluate(group)
        except Divided as split:
            waiting += [group[split.mask], group[~split.mask]]
    return found


def as_number(values: Array) -> Any:
    """A plain float if all cases are equal, otherwise the cases."""
    first = float(values[0])
    return first if math.isfinite(first) and bool((values == first).all()) else Cases(values)


def as_rows(amounts: Sequence[Any], count: int) -> Array:
    """Amounts by year, plain or by case, as an array of shape (count, years)."""
    return np.stack([np.broadcast_to(_plain(amount), count) for amount in amounts], axis=1).astype(np.float64)
