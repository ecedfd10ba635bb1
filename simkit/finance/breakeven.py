"""Break-even capital: the most that may be paid for a purchase, with all that moves with its price."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from simkit.finance.cashflow import CashFlow
from simkit.finance.depreciation import charged
from simkit.finance.lines import (
    CAPITAL_LINES,
    COST,
    HEADLINE_CLASSES,
    PROPORTIONAL_TO_CAPITAL,
    TAX_LINES,
    UNSIGNED,
    CashRow,
)
from simkit.finance.measures import npv
from simkit.finance.tax import DepreciationRow, shares_of, tax_rows
from simkit.finance.timeline import deflator, first_year_of_use, in_nominal_terms


@dataclass(frozen=True)
class BreakEven:
    """The most that may be paid for a net present value of zero, money; None: not even a gift pays."""

    capital: float | None
    text: str


def break_even_capital(cashflow: CashFlow, scenario: str) -> BreakEven:
    """Capital at which the headline is worth zero: what the option is worth at most.

    Grants, replacement, residual and tax relief move with the capital. Without capital in the scenario, one unit is
    taken as paid at first and written off by the method of the settings, without residual.
    """
    rate = cashflow.finance.discount_rate

    def value(capital: float) -> float:
        return npv(rate, headline_at(cashflow, scenario, capital), cashflow.finance.timing)

    gift = value(0.0)
    if gift < 0:
        return BreakEven(None, "worth nothing: it loses even without any capital")
    most = _root(value, gift, linear=cashflow.finance.losses == "used_at_once")
    if most is None:
        return BreakEven(None, "no limit: what a unit of capital costs is won back by its tax relief and residual")
    return BreakEven(most, f"worth at most {most:,.0f} {cashflow.currency}")


def _root(value: Callable[[float], float], gift: float, linear: bool) -> float | None:
    """Where a falling value crosses zero; None if it does not fall."""
    step = max(gift, 1.0)
    if linear:
        slope = (value(step) - gift) / step
        return -gift / slope if slope < 0 else None
    high = step
    for _ in range(60):
        if value(high) < 0:
            return float(brentq(value, 0.0, high, xtol=1e-6))
        high *= 2.0
    return None


def headline_at(cashflow: CashFlow, scenario: str, capital: float) -> tuple[float, ...]:
    """Cash by year of the headline if the capital were another: taxed anew, all else as it is."""
    finance = cashflow.finance
    own = [row for row in cashflow.rows_of(scenario) if row.line not in TAX_LINES]
    paid = -sum(row.amount for row in own if row.line in CAPITAL_LINES)
    scale = capital / paid if paid > 0 else 0.0
    rows = [_nominal(row, cashflow, scale if row.line in PROPORTIONAL_TO_CAPITAL else 1.0) for row in own]
    written = [
        dataclasses.replace(row, amount=row.amount * scale)
        for row in cashflow.depreciation_rows
        if row.scenario == scenario
    ]
    if paid <= 0 and capital:
        first = finance.start_after_years
        rows.append(CashRow(scenario, first, "capital", COST, -capital, "as if paid", ""))
        bought_in = min(first_year_of_use(cashflow.start[scenario]) - 1, finance.horizon_years)
        series = charged(capital, bought_in, shares_of(finance), finance.horizon_years)
        written = [DepreciationRow(scenario, year, amount, "as if paid") for year, amount in enumerate(series)]
    rows += tax_rows(rows, written, in_nominal_terms(finance), scenario)
    flows = np.zeros(finance.horizon_years + 1)
    for row in rows:
        if row.benefit_class in HEADLINE_CLASSES and row.line not in UNSIGNED:
            flows[row.year] += row.amount * deflator(finance, row.year)
    return tuple(flows.tolist())


def _nominal(row: CashRow, cashflow: CashFlow, scale: float) -> CashRow:
    amount = row.amount * scale / deflator(cashflow.finance, row.year)
    return row if amount == row.amount else dataclasses.replace(row, amount=amount)
