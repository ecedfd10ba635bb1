"""Formulas that carry their value: each is written once and gives both the text of a cell and what it shows.

A formula holds no typed-in number but 0, 1 and 0.5; every other number is a cell. Values follow the rules of a
spreadsheet program for the few functions used here; a division by zero is harmless only in a branch not taken.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import reduce
from typing import Any

import numpy as np
import numpy_financial as npf

from simkit.finance.measures import irr

ALLOWED = (0, 1, 0.5)
"""Numbers that a formula may hold."""

_COMPARE, _JOIN, _SUM, _PRODUCT, _POWER, _ATOM = range(6)


class Expr:
    """A formula: its value, and its text as seen from a sheet."""

    __slots__ = ("level", "render", "value")

    def __init__(self, value: Any, render: Callable[[str], str], level: int = _ATOM) -> None:
        self.value = value
        self.render = render
        self.level = level

    def text(self, sheet: str, least: int = _COMPARE) -> str:
        """Text of the formula on a sheet, in brackets if it binds less than ``least``."""
        text = self.render(sheet)
        return text if self.level >= least else f"({text})"

    def _with(self, other: Any, symbol: str, level: int, value: Callable[[Any, Any], Any]) -> Expr:
        right = as_expr(other)
        after = level + (1 if symbol in "-/^" else 0)
        before = _ATOM if symbol == "^" else level

        def render(sheet: str) -> str:
            return f"{self.text(sheet, before)}{symbol}{right.text(sheet, after)}"

        if level >= _SUM and (isinstance(self.value, str) or isinstance(right.value, str)):
            return Expr(math.nan, render, level)  # arithmetic with a text is an error of the cell
        with np.errstate(all="ignore"):
            return Expr(value(self.value, right.value), render, level)

    def __add__(self, other: Any) -> Expr:
        return self._with(other, "+", _SUM, lambda a, b: a + b)

    def __sub__(self, other: Any) -> Expr:
        return self._with(other, "-", _SUM, lambda a, b: a - b)

    def __mul__(self, other: Any) -> Expr:
        return self._with(other, "*", _PRODUCT, lambda a, b: a * b)

    def __truediv__(self, other: Any) -> Expr:
        return self._with(other, "/", _PRODUCT, lambda a, b: np.divide(a, b))

    def __rtruediv__(self, other: Any) -> Expr:
        return as_expr(other) / self

    def __pow__(self, other: Any) -> Expr:
        return self._with(other, "^", _POWER, lambda a, b: np.power(np.asarray(a, dtype=float), b)[()])

    def __rsub__(self, other: Any) -> Expr:
        return as_expr(other) - self

    def __radd__(self, other: Any) -> Expr:
        return as_expr(other) + self

    def __rmul__(self, other: Any) -> Expr:
        return as_expr(other) * self

    def __neg__(self) -> Expr:
        return Expr(-self.value, lambda sheet: f"-{self.text(sheet, _POWER)}", _PRODUCT)

    def __lt__(self, other: Any) -> Expr:
        return self._with(other, "<", _COMPARE, lambda a, b: a < b)

    def __le__(self, other: Any) -> Expr:
        return self._with(other, "<=", _COMPARE, lambda a, b: a <= b)

    def __gt__(self, other: Any) -> Expr:
        return self._with(other, ">", _COMPARE, lambda a, b: a > b)

    def __ge__(self, other: Any) -> Expr:
        return self._with(other, ">=", _COMPARE, lambda a, b: a >= b)

    def is_(self, other: Any) -> Expr:
        """Whether both are equal."""
        return self._with(other, "=", _COMPARE, lambda a, b: a == b)

    def joined(self, other: Any) -> Expr:
        """Both as one text."""
        return self._with(other, "&", _JOIN, lambda a, b: f"{_as_text(a)}{_as_text(b)}")


def as_expr(value: Any) -> Expr:
    """A formula from 0, 1, 0.5 or a text; any other number must be a cell."""
    if isinstance(value, Expr):
        return value
    if isinstance(value, str):
        quoted = '"' + value.replace('"', '""') + '"'
        return Expr(value, lambda _: quoted)
    if value not in ALLOWED:
        raise ValueError(f"{value!r} may not stand in a formula: give it a cell")
    return Expr(value, lambda _: f"{value:g}")


def _as_text(value: Any) -> str:
    return value if isinstance(value, str) else f"{value:g}"


def _function(name: str, arguments: Sequence[Any], value: Callable[..., Any]) -> Expr:
    given = [as_expr(argument) for argument in arguments]
    with np.errstate(all="ignore"):
        result = value(*(item.value for item in given))
    return Expr(result, lambda sheet: f"{name}({','.join(item.text(sheet) for item in given)})")


def _numbers(values: Sequence[Any]) -> list[float]:
    return [float(v) for value in values for v in np.atleast_1d(value)]


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
    return _function("INDEX", [cells, number], lambda v, n: v[int(n) - 1])


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
