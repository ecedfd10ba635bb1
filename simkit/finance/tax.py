"""Depreciation by year and tax. A planning aid: the real treatment is the controller's. No tax advice.

Depreciation starts in the year of use; what no year has taken is written off at the horizon, so that it always sums
to the capital less grants. What becomes of a taxable loss is a setting: relief at once, as in a firm that earns
profit elsewhere; against later profit of the same case; or none.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from functools import lru_cache
from typing import Any

import numpy as np

from simkit.base.arrays import Floats
from simkit.finance.casearrays import PerCase
from simkit.finance.depreciation import (
    charged,
    declining_balance_shares,
    straight_line_shares,
    sum_of_years_shares,
    table_shares,
)
from simkit.finance.ledger import Entry, Ledger
from simkit.finance.lines import (
    CAPACITY,
    COST,
    COST_AVOIDED,
    HEADLINE_CLASSES,
    PURCHASE,
    TAX_LINES,
    UNTAXED,
)
from simkit.finance.timeline import first_year_of_use
from simkit.plant.settings_money import Finance, LossRule

LOSSES: dict[LossRule, str] = {
    "used_at_once": "losses relieve tax at once",
    "carried_forward": "losses are set against later profit of the same case",
    "lost": "losses relieve no tax",
}
"""What becomes of a taxable loss, in words."""


METHODS: dict[str, tuple[Callable[[Finance], tuple[float, ...]], str]] = {
    "straight_line": (lambda f: straight_line_shares(f.depreciation_years), "straight line over {} years"),
    "sum_of_years": (lambda f: sum_of_years_shares(f.depreciation_years), "by the sum of the years over {} years"),
    "declining_balance": (
        lambda f: declining_balance_shares(f.depreciation_years, f.depreciation_factor),
        "declining balance at {factor:g} / life over {} years, then straight line",
    ),
    "table": (lambda f: table_shares(f.depreciation_table), "table {table}"),
}
"""Methods of depreciation: shares of the cost by year of service, and what the method is in words."""


def shares_of(finance: Finance) -> tuple[float, ...]:
    """Shares of the cost by year of service, by the plant's own table or the method of the settings."""
    if finance.depreciation_percent:
        return tuple(percent / 100.0 for percent in finance.depreciation_percent)
    return METHODS[finance.depreciation][0](finance)


def depreciation_text(finance: Finance) -> str:
    """The method in words."""
    text = METHODS[finance.depreciation][1].format(
        finance.depreciation_years, factor=finance.depreciation_factor, table=finance.depreciation_table
    )
    if finance.depreciation_percent:
        text = f"the plant's own table of {len(finance.depreciation_percent)} years"
    return f"{text}, the rest at the horizon"


def depreciation(entries: Iterable[Entry], finance: Finance, start: PerCase) -> Floats:
    """Depreciation of all capital and replacements, less grants, shape (years, cases): money, not cash.

    ``start`` is that of the use, years: what is paid at first is written off from that year on, a replacement from the
    year after it.
    """
    horizon = finance.horizon_years
    by_year = _schedules(shares_of(finance), horizon)
    bought_in = np.minimum(np.atleast_1d(first_year_of_use(start)) - 1, horizon)
    written = np.zeros((horizon + 1, 1))
    for entry in entries:
        if entry.line == "replacement":
            written = written - by_year.T @ entry.amounts
        elif entry.line in PURCHASE:
            written = written - entry.amounts.sum(axis=0) * by_year[bought_in].T
    return written


@lru_cache(maxsize=64)
def _schedules(shares: tuple[float, ...], horizon: int) -> Floats:
    """Depreciation of one unit by the year in which it is bought, and by year."""
    return np.array([charged(1.0, bought_in, shares, horizon) for bought_in in range(horizon + 1)])


def taxes(base: Any, rate: float, losses: LossRule = "used_at_once") -> Floats:
    """Tax by year on a taxable result by year (first axis); negative where a loss brings relief.

    Checked against D20, D21.
    """
    base = np.asarray(base, dtype=np.float64)
    if losses == "used_at_once":
        return np.asarray(rate * base)
    carried, paid = np.zeros(base.shape[1:]), np.empty(base.shape)
    for year, amount in enumerate(base):
        used = np.minimum(carried, np.maximum(amount, 0.0))
        paid[year] = rate * (np.maximum(amount, 0.0) - used)
        carried = carried + np.maximum(-amount, 0.0) * (losses == "carried_forward") - used
    return paid


def _is_taxed(line: str) -> bool:
    return line == "residual" or line not in (*UNTAXED, *TAX_LINES)


def taxed_result(entries: Iterable[Entry], years: int) -> Floats:
    """Taxable result of the headline by year and case before depreciation."""
    own = (entry for entry in entries if entry.benefit_class in HEADLINE_CLASSES)
    return sum((entry.amounts for entry in own if _is_taxed(entry.line)), np.zeros((years, 1)))


def add_tax(ledger: Ledger, written: Floats) -> None:
    """Write tax on each class of each year, relief by depreciation, and tax on the residual value (book value 0).

    Where losses do not relieve tax at once, a further entry per class takes back what comes later or never.
    """
    rate, words = ledger.finance.tax_rate, LOSSES["used_at_once"]
    bases: dict[tuple[str, str], PerCase] = {}
    for entry in ledger.entries:
        if _is_taxed(entry.line):
            key = ("tax_on_residual" if entry.line == "residual" else "tax", entry.benefit_class)
            bases[key] = bases.get(key, 0.0) + entry.amounts
    for (line, kind), base in bases.items():
        taxed = ((-base, "taxed amount"), (rate, "tax rate"))
        ledger.add(line, taxed, base != 0, kind=kind, owner="controller", note=words)
    relief = ((written, "depreciation"), (rate, "tax rate"))
    ledger.add("tax_relief_depreciation", relief, written != 0, owner="controller", note=words)
    if ledger.finance.losses != "used_at_once" and rate:
        _add_later_relief(ledger, bases, written)


def _add_later_relief(ledger: Ledger, bases: Mapping[tuple[str, str], PerCase], written: Floats) -> None:
    """What losses that wait or are lost add to the tax, class by class in the order of the three figures.

    The tax of the headline is right by itself; each further class bears what it adds to that.
    """
    rate, losses = ledger.finance.tax_rate, ledger.finance.losses
    total, before = -written, np.zeros(written.shape)
    for classes, kind in ((HEADLINE_CLASSES, COST), ((COST_AVOIDED,), COST_AVOIDED), ((CAPACITY,), CAPACITY)):
        total = total + sum(base for (_, of), base in bases.items() if of in classes)
        more = taxes(total, rate, losses) - rate * total
        factors = ((before - more, "tax that losses do not relieve in this year"),)
        ledger.add("tax_losses", factors, more != before, kind=kind, owner="controller", note=LOSSES[losses])
        before = more
