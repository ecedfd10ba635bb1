"""The three figures of a cash-flow table by year: the only place where classes are added up to a figure.

Each figure adds a class to the one before. Sales lost reduce the headline, sales won stand beside it: in a year in
which the class of capacity, after the tax on it, is negative, every figure takes it, and none takes it twice.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from simkit.finance.cases import Number, least
from simkit.finance.cashflow import CashFlow
from simkit.finance.lines import AVOIDED_CLASSES, CAPACITY, HEADLINE_CLASSES, SALES_CLASSES, UNSIGNED

Figure = Literal["headline", "with_avoided", "with_signed_sales"]
"""The three figures; each adds a class of benefit to the one before."""

FIGURE_CLASSES: dict[Figure, tuple[str, ...]] = {
    "headline": HEADLINE_CLASSES,
    "with_avoided": AVOIDED_CLASSES,
    "with_signed_sales": SALES_CLASSES,
}
"""Classes that each figure counts, lost sales apart."""


def lost_sales(cashflow: CashFlow, scenario: str, without: Iterable[str] = ()) -> list[Number]:
    """The class of capacity in the years in which it is negative, 0 in the others; year 0 first.

    After tax, unless ``without`` names the lines of tax.
    """
    sold = cashflow.amounts(scenario, (CAPACITY,), without=(*UNSIGNED, *without))
    return [least(amount, 0.0) for amount in sold]


def figure_amounts(cashflow: CashFlow, scenario: str, figure: Figure = "headline") -> list[Number]:
    """Cash of a scenario by year in one of the three figures; entries hold one amount per case if the table does."""
    classes = FIGURE_CLASSES[figure]
    counted = cashflow.amounts(scenario, classes, without=UNSIGNED)
    if CAPACITY in classes:
        return counted
    return [own + lost for own, lost in zip(counted, lost_sales(cashflow, scenario), strict=True)]


def figure_flows(cashflow: CashFlow, scenario: str, figure: Figure = "headline") -> NDArray[np.float64]:
    """The same as numbers, year 0 first."""
    return np.array(figure_amounts(cashflow, scenario, figure), dtype=np.float64)
