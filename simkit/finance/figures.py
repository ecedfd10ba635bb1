"""The three figures of a cash-flow table by year: the only place where classes are added up to a figure.

Each figure adds a class to the one before. What a class brings stands beside the headline, what it loses reduces it:
in a year in which avoided cost, or sales, are negative after the tax on them, every figure takes that, and none takes
it twice. So nothing looks good by spending more than today, or by selling less, where the headline does not look.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

import numpy as np

from simkit.finance.arrays import Array, Value
from simkit.finance.cashflow import CashFlow
from simkit.finance.lines import AVOIDED_CLASSES, HEADLINE_CLASSES, SALES_CLASSES

Figure = Literal["headline", "with_avoided", "with_signed_sales"]
"""The three figures; each adds a class of benefit to the one before."""

FIGURE_CLASSES: dict[Figure, tuple[str, ...]] = {
    "headline": HEADLINE_CLASSES,
    "with_avoided": AVOIDED_CLASSES,
    "with_signed_sales": SALES_CLASSES,
}
"""Classes that each figure counts, losses of the others apart."""


def lost(cashflow: CashFlow, scenario: str, kind: str, without: Iterable[str] = ()) -> Array:
    """A class in the years in which it is negative, 0 in the others, by year and case.

    After tax, unless ``without`` names the lines of tax.
    """
    return np.minimum(cashflow.amounts(scenario, (kind,), without=without), 0.0)


def lost_beside(cashflow: CashFlow, scenario: str, figure: Figure = "headline", without: Iterable[str] = ()) -> Value:
    """What the classes that a figure does not count lose, by year and case; see :func:`lost`."""
    left_out = (kind for kind in SALES_CLASSES if kind not in FIGURE_CLASSES[figure])
    return sum(lost(cashflow, scenario, kind, without) for kind in left_out)


def figure_amounts(cashflow: CashFlow, scenario: str, figure: Figure = "headline") -> Array:
    """Cash of a scenario by year and case in one of the three figures."""
    counted = cashflow.amounts(scenario, FIGURE_CLASSES[figure])
    return np.asarray(counted + lost_beside(cashflow, scenario, figure))


def figure_flows(cashflow: CashFlow, scenario: str, figure: Figure = "headline") -> Array:
    """The same of the first case, year 0 first."""
    return figure_amounts(cashflow, scenario, figure)[:, 0]
