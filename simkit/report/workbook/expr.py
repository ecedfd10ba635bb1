"""Formulas that carry their value: each is written once and gives both the text of a cell and what it shows.

A formula holds no typed-in number but 0, 1 and 0.5; every other number is a cell. Values follow the rules of a
spreadsheet program for the few functions used here; a division by zero is harmless only in a branch not taken.
"""

from __future__ import annotations

import math
import operator
from collections.abc import Callable, Sequence
from functools import reduce
from typing import Any

import numpy as np
import numpy_financial as npf

from simkit.finance.measures import irr

ALLOWED = {0: "0", 1: "1", 0.5: "0.5"}
"""Numbers that a formula may hold, with their text."""

_COMPARE, _JOIN, _SUM, _PRODUCT, _POWER, _ATOM = range(6)


class Expr:
    """A formula: its value, its text with the sheet before every reference, and how tightly its outer sign binds."""

    __slots__ = ("formula", "level", "value")

    def __init__(self, value: Any, formula: str, level: int = _ATOM) -> None:
        self.value = value
        self.formula = formula
        self.level = level

    def text(self, sheet: str) -> str:
        """Text of the formula as it stands on a sheet: without that sheet before its references."""
        return self.formula.replace(prefix(sheet), "")

    def _within(self, least: int) -> str:
        """Text as part of a formula, in brackets if it binds less than ``least``."""
        return self.formula if self.level >= least else f"({self.formula})"

    def _with(self, other: Any, symbol: str, level: int, value: Callable[[Any, Any], Any]) -> Expr:
        right = other if isinstance(other, Expr) else as_expr(other)
        a, b = self.value, right.value
        before = _ATOM if level == _POWER else level
        text = f"{self._within(before)}{symbol}{right._within(level + 1 if symbol in '-/^' else level)}"
        if level >= _SUM and (isinstance(a, str) or isinstance(b, str)):
            return Expr(math.nan, text, level)  # arithmetic with a text is an error of the cell
        if isinstance(a, np.ndarray) or isinstance(b, np.ndarray):
            with np.errstate(all="ignore"):
                return Expr(value(a, b), text, level)
        return Expr(value(a, b), text, level)

    def __add__(self, other: Any) -> Expr:
        return self._with(other, "+", _SUM, operator.add)

    def __sub__(self, other: Any) -> Expr:
        return self._with(other, "-", _SUM, operator.sub)

    def __mul__(self, other: Any) -> Expr:
        return self._with(other, "*", _PRODUCT, operator.mul)

    def __truediv__(self, other: Any) -> Expr:
        return self._with(other, "/", _PRODUCT, _divided)

    def __rtruediv__(self, other: Any) -> Expr:
        return as_expr(other) / self

    def __pow__(self, other: Any) -> Expr:
        return self._with(other, "^", _POWER, _power)

    def __rsub__(self, other: Any) -> Expr:
        return as_expr(other) - self

    def __radd__(self, other: Any) -> Expr:
        return as_expr(other) + self

    def __rmul__(self, other: Any) -> Expr:
        return as_expr(other) * self

    def __neg__(self) -> Expr:
        return Expr(-self.value, f"-{self._within(_POWER)}", _PRODUCT)

    def __lt__(self, other: Any) -> Expr:
        return self._with(other, "<", _COMPARE, operator.lt)

    def __le__(self, other: Any) -> Expr:
        return self._with(other, "<=", _COMPARE, operator.le)

    def __gt__(self, other: Any) -> Expr:
        return self._with(other, ">", _COMPARE, operator.gt)

    def __ge__(self, other: Any) -> Expr:
        return self._with(other, ">=", _COMPARE, operator.ge)

    def is_(self, other: Any) -> Expr:
        """Whether both are equal."""
        return self._with(other, "=", _COMPARE, operator.eq)

    def joined(self, other: Any) -> Expr:
        """Both as one text."""
        return self._with(other, "&", _JOIN, lambda a, b: f"{_as_text(a)}{_as_text(b)}")


def prefix(sheet: str) -> str:
    """What stands before a reference to a cell of a sheet; no sheet's name holds a quote mark."""
    return f"'{sheet}'!"


def as_expr(value: Any) -> Expr:
    """A formula from 0, 1, 0.5 or a text; any other number must be a cell."""
    if isinstance(value, Expr):
        return value
    if isinstance(value, str):
        if "'!" in value:
            raise ValueError(f"{value!r} would be read as a sheet")
        return Expr(value, '"' + value.replace('"', '""') + '"')
    if value not in ALLOWED:
        raise ValueError(f"{value!r} may not stand in a formula: give it a cell")
    return Expr(value, ALLOWED[value])


def plain(value: Any) -> Any:
    """A number of NumPy as one of Python, which is quicker alone; all else as it is."""
    return value.item() if isinstance(value, np.generic) else value


def _as_text(value: Any) -> str:
    return value if isinstance(value, str) else f"{value:g}"


def _divided(a: Any, b: Any) -> Any:
    """``a / b``, infinite or not-a-number where b is 0."""
    if isinstance(a, np.ndarray) or isinstance(b, np.ndarray) or b != 0:
        return a / b
    with np.errstate(all="ignore"):
        return float(np.divide(a, b))


def _power(a: Any, b: Any) -> Any:
    with np.errstate(all="ignore"):
        return plain(np.power(np.asarray(a, dtype=float), b)[()])


def _function(name: str, arguments: Sequence[Any], value: Callable[..., Any]) -> Expr:
    given = [argument if isinstance(argument, Expr) else as_expr(argument) for argument in arguments]
    result = value(*[item.value for item in given])
    return Expr(result, f"{name}({','.join([item.formula for item in given])})")


def _numbers(values: Sequence[Any]) -> list[float]:
    found: list[float] = []
    for value in values:
        if isinstance(value, np.ndarray):
            found += [float(v) for v in value.tolist()]
        else:
            found.append(float(value))
    return found


def total(*items: Any) -> Expr:
    """``SUM``."""
    return _function("SUM", items, lambda *v: math.fsum(_numbers(v)))


def least(*items: Any) -> Expr:
    """``MIN``."""
    return _function("MIN", items, lambda *v: min(_numbers(v)))


def most(*items: Any) -> Expr:
    """``MAX``."""
    return _function("MAX", items, lambda *v: max(_numbers(v)))


def size(item: Any) -> Expr:
    """``ABS``."""
    return _function("ABS", [item], abs)


def whole(item: Any) -> Expr:
    """``INT``, towards minus infinity."""
    return _function("INT", [item], math.floor)


def if_(condition: Any, yes: Any, no: Any) -> Expr:
    """``IF``."""
    return _function("IF", [condition, yes, no], lambda c, a, b: a if c else b)


def if_error(item: Any, otherwise: Any) -> Expr:
    """``IFERROR``: a value that is no number counts as an error."""
    return _function("IFERROR", [item, otherwise], lambda a, b: a if isinstance(a, str) or np.isfinite(a) else b)


def both(*items: Any) -> Expr:
    """``AND``."""
    return _function("AND", items, lambda *v: all(bool(np.all(x)) for x in v))


def either(*items: Any) -> Expr:
    """``OR``."""
    return _function("OR", items, lambda *v: any(bool(np.any(x)) for x in v))


def choose(number: Any, *items: Any) -> Expr:
    """``CHOOSE``: the first item for 1."""
    return _function("CHOOSE", [number, *items], lambda n, *v: v[int(n) - 1])


def entry(cells: Any, number: Any) -> Expr:
    """``INDEX`` into one row or column of cells, from 1."""
    return _function("INDEX", [cells, number], lambda v, n: plain(v[int(n) - 1]))


def place_below(value: Any, cells: Any) -> Expr:
    """``MATCH(..., 1)``: place of the last of ascending cells that is not above a value; not-a-number if none is."""

    def found(x: Any, v: Any) -> float:
        count = int(np.sum(np.asarray(v, dtype=float) <= x))
        return float(count) if count else math.nan

    return _function("MATCH", [value, cells, 1], lambda x, v, _: found(x, v))


def place_of(value: Any, cells: Any) -> Expr:
    """``MATCH(..., 0)``: place of the first equal cell; not-a-number if there is none."""
    listed = _function("MATCH", [value, cells, 0], lambda x, v, _: next((i for i, y in enumerate(v, 1) if y == x), 0))
    listed.value = listed.value or math.nan
    return listed


def sum_product(item: Any) -> Expr:
    """``SUMPRODUCT`` of one array formula."""
    return _function("SUMPRODUCT", [item], lambda v: math.fsum(_numbers([v])))


def payment(rate: Any, periods: Any, value: Any) -> Expr:
    """``PMT``: the level payment at the end of each period that pays back a value."""
    return _function("PMT", [rate, periods, value], lambda r, n, v: float(npf.pmt(r, n, v)))


def internal_rate(flows: Any, guess: Any) -> Expr:
    """``IRR`` where it is unique; not-a-number otherwise."""

    def only(v: Any, _: Any) -> float:
        found = irr(v)
        return found.roots[0] if found.status == "one" else math.nan

    return _function("IRR", [flows, guess], only)


def count(item: Any) -> Expr:
    """``COUNT`` of cells with numbers."""
    return _function("COUNT", [item], lambda v: float(len(np.atleast_1d(v))))


def sum_of(items: Sequence[Expr]) -> Expr:
    """Items joined by plus; 0 if there are none."""
    return reduce(lambda a, b: a + b, items) if items else as_expr(0)


def is_number(item: Any) -> Expr:
    """``ISNUMBER``."""
    return _function("ISNUMBER", [item], lambda v: not isinstance(v, str))


def present_value(rate: Any, flows: Any) -> Expr:
    """``NPV``: its first flow is discounted by one period."""

    def value(r: float, v: Any) -> float:
        return math.fsum(x / (1.0 + r) ** period for period, x in enumerate(_numbers([v]), 1))

    return _function("NPV", [rate, flows], value)
