"""Break-even volumes, and learning curves: how cost and time change with the number of pieces.

Money in one currency, volumes in pieces a year, rates as fractions per year. Kept for their published rows and for
notebooks of the plant's own: no page reads them, since the kit values a whole book of orders and no single product.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from simkit.finance.measures import equivalent_annual_value


def capital_recovery(capital: float, residual: float, rate: float, years: float) -> float:
    """Level yearly cost of a purchase that leaves a residual value after ``years``. Checked against D31."""
    return equivalent_annual_value(capital - residual / (1.0 + rate) ** years, rate, years)


def break_even_volume(fixed_a: float, unit_a: float, fixed_b: float, unit_b: float) -> float | None:
    """Volume at which two ways cost the same a year; None where the dearer fixed cost also has the dearer piece.

    ``fixed`` is cost a year, ``unit`` cost a piece. Source: textbook standard; checked against D31.
    """
    if unit_a == unit_b:
        return None
    volume = (fixed_b - fixed_a) / (unit_a - unit_b)
    return volume if volume >= 0 else None


@dataclass(frozen=True)
class BreakEvenVolumes:
    """Pieces a year at which cash, profit and net present value are zero; None: at no volume."""

    cash: float | None
    accounting: float | None
    financial: float | None


def break_even_volumes(
    price: float, unit_cost: float, fixed_cost: float, capital: float, years: int, rate: float, tax_rate: float = 0.0
) -> BreakEvenVolumes:
    """The three break-even volumes of one product, written off in a straight line to zero.

    The financial one is after tax: what is earned, taxed beyond the write-off, recovers the capital with interest. The
    others ask for no profit and pay no tax. Financial is never below accounting where the rate is above zero. Source:
    textbook standard; checked against D32.
    """
    margin = price - unit_cost
    if margin <= 0:
        return BreakEvenVolumes(None, None, None)
    written_off = capital / years
    recovered = (capital_recovery(capital, 0.0, rate, years) - tax_rate * written_off) / (1.0 - tax_rate)
    costs = (0.0, written_off, recovered)
    return BreakEvenVolumes(*((fixed_cost + cost) / margin for cost in costs))


def wright_average(first: float, share: float, count: float) -> float:
    """Cumulative average per piece after ``count`` pieces, falling to ``share`` of it at each doubling.

    The total of the first n pieces is n times it. Source: Wright's curve, textbook standard; checked against D33.
    """
    return float(first * count ** math.log2(share))


def crawford_unit(first: float, share: float, piece: float) -> float:
    """Time of one piece, falling to ``share`` of it at each doubling of its number.

    Source: Crawford's curve, textbook standard; checked against D33.
    """
    return float(first * piece ** math.log2(share))


def crawford_total(first: float, share: float, count: int, after: int = 0) -> float:
    """Total of ``count`` pieces after the first ``after`` ones, on Crawford's curve. Checked against D33."""
    return sum(crawford_unit(first, share, piece) for piece in range(after + 1, after + count + 1))
