"""Break-evens after tax: the most that may be paid for a purchase, and the least that it must bring."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from scipy.optimize import brentq

from simkit.finance.cashflow import CashFlow
from simkit.finance.depreciation import charged
from simkit.finance.figures import figure_flows
from simkit.finance.lines import (
    CAPITAL_LINES,
    CASH_RELEASING,
    COST,
    PROPORTIONAL_TO_CAPITAL,
    TAX_LINES,
    CashRow,
)
from simkit.finance.tax import DepreciationRow, shares_of, tax_rows
from simkit.finance.timeline import deflator, first_year_of_use, present_value

DOUBLINGS = 60
"""How often a bound is doubled in the search for a zero: more is no number that a plant knows."""


@dataclass(frozen=True)
class BreakEven:
    """The most that may be paid for a net present value of zero, money; None: not even a gift pays."""

    capital: float | None
    text: str


@dataclass(frozen=True)
class BreakEvenBenefit:
    """Share of the benefit at which the headline is worth zero after tax; None: at no share, the text says why.

    It is the financial break-even: the accounting one, at which depreciation alone is earned, is never above it while
    the rate is above zero. 0: it pays without any benefit.
    """

    share: float | None
    text: str


def break_even_capital(cashflow: CashFlow, scenario: str) -> BreakEven:
    """Capital at which the headline is worth zero: what the option is worth at most.

    Grants, replacement, residual and tax relief move with the capital. Without capital in the scenario, one unit is
    taken as paid at first and written off by the method of the settings, without residual.
    """
    finance = cashflow.finance

    def value(capital: float) -> float:
        return present_value(finance, headline_at(cashflow, scenario, capital))

    gift = value(0.0)
    if gift < 0:
        return BreakEven(None, "worth nothing: it loses even without any capital")
    most = _falling_to_zero(value, linear=finance.losses == "used_at_once")
    if most is None:
        return BreakEven(None, "no limit: what a unit of capital costs is won back by its tax relief and residual")
    return BreakEven(most, f"worth at most {most:,.0f} {cashflow.currency}")


def break_even_benefit(cashflow: CashFlow, scenario: str) -> BreakEvenBenefit:
    """Share of the released cash, hours and all, at which the headline is worth zero after tax, all else as it is.

    Checked against D32.
    """
    finance = cashflow.finance

    def missing(share: float) -> float:
        return -present_value(finance, headline_with_benefit(cashflow, scenario, share))

    if missing(0.0) <= 0:
        return BreakEvenBenefit(0.0, "pays without any benefit")
    share = _falling_to_zero(missing, linear=finance.losses == "used_at_once")
    if share is None:
        return BreakEvenBenefit(None, "pays at no level of its benefit")
    return BreakEvenBenefit(share, f"pays from {100 * share:.0f} % of its benefit")


def _falling_to_zero(value: Callable[[float], float], linear: bool) -> float | None:
    """Where a value that is not negative at 0 falls to zero; None if it does not."""
    start = value(0.0)
    step = max(start, 1.0)
    if linear:
        slope = (value(step) - start) / step
        return -start / slope if slope < 0 else None
    high = 1.0
    for _ in range(DOUBLINGS):
        if value(high) < 0:
            return float(brentq(value, 0.0, high, xtol=1e-9))
        high *= 2.0
    return None


def headline_at(cashflow: CashFlow, scenario: str, capital: float) -> tuple[float, ...]:
    """Cash by year of the headline if the capital were another: taxed anew, all else as it is."""
    finance = cashflow.finance
    own = untaxed_rows(cashflow, scenario)
    paid = -sum(row.amount for row in own if row.line in CAPITAL_LINES)
    scale = capital / paid if paid > 0 else 0.0
    rows = [_scaled(row, scale) if row.line in PROPORTIONAL_TO_CAPITAL else row for row in own]
    written = [dataclasses.replace(row, amount=row.amount * scale) for row in _written(cashflow, scenario)]
    if paid <= 0 and capital:
        first = finance.start_after_years
        rows.append(CashRow(scenario, first, "capital", COST, -capital, "as if paid", ""))
        bought_in = min(first_year_of_use(cashflow.start[scenario]) - 1, finance.horizon_years)
        series = charged(capital, bought_in, shares_of(finance), finance.horizon_years)
        written = [DepreciationRow(scenario, year, amount, "as if paid") for year, amount in enumerate(series)]
    return _taxed_anew(cashflow, scenario, rows, written)


def headline_with_benefit(cashflow: CashFlow, scenario: str, share: float) -> tuple[float, ...]:
    """Cash by year of the headline if the released cash were this share of it: taxed anew, all else as it is."""
    rows = [
        _scaled(row, share) if row.benefit_class == CASH_RELEASING else row for row in untaxed_rows(cashflow, scenario)
    ]
    return _taxed_anew(cashflow, scenario, rows, _written(cashflow, scenario))


def untaxed_rows(cashflow: CashFlow, scenario: str) -> list[CashRow]:
    """Rows of a scenario before tax, in money of their year."""
    finance = cashflow.finance
    return [
        _scaled(row, 1.0 / deflator(finance, row.year))
        for row in cashflow.rows_of(scenario)
        if row.line not in TAX_LINES
    ]


def _written(cashflow: CashFlow, scenario: str) -> list[DepreciationRow]:
    return [row for row in cashflow.depreciation_rows if row.scenario == scenario]


def _scaled(row: CashRow, scale: float) -> CashRow:
    return row if scale == 1.0 else dataclasses.replace(row, amount=row.amount * scale)


def _taxed_anew(
    cashflow: CashFlow, scenario: str, rows: Sequence[CashRow], written: Sequence[DepreciationRow]
) -> tuple[float, ...]:
    taxed = (*rows, *tax_rows(rows, written, cashflow.finance, scenario))
    real = tuple(_scaled(row, deflator(cashflow.finance, row.year)) for row in taxed)
    return tuple(figure_flows(dataclasses.replace(cashflow, rows=real), scenario).tolist())
