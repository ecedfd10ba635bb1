"""Depreciation and tax. A planning aid: the real treatment is the controller's. No tax advice.

Straight line from year 1 of each payment of capital; what is left at the horizon is written off there,
so depreciation always sums to the capital. Losses relieve tax at once, as in a firm that earns profit
elsewhere; without such profit the tax relief comes later than shown.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from simkit.finance.lines import UNTAXED, CashRow, basis_text
from simkit.plant.settings import Finance

LOSSES = "losses relieve tax at once"

TAX_LINE = {"residual": "tax_on_residual", "sales_unsigned": "tax_on_unsigned"}
"""Lines whose tax stands on a line of its own; the others share the line ``tax`` of their class."""


@dataclass(frozen=True)
class DepreciationRow:
    """Depreciation of a scenario in a year: money, not cash; it acts through tax alone."""

    scenario: str
    year: int
    amount: float
    basis: str


def straight_line(capital: float, bought_in: int, life_years: int, horizon: int) -> tuple[float, ...]:
    """Depreciation of years 0 to ``horizon`` for capital paid in year ``bought_in``; the last year takes the rest."""
    series = [0.0] * (horizon + 1)
    for year in range(bought_in + 1, min(bought_in + life_years, horizon) + 1):
        series[year] = capital / life_years
    series[horizon] += capital - sum(series)
    return tuple(series)


def depreciation(rows: Sequence[CashRow], finance: Finance, scenario: str) -> tuple[DepreciationRow, ...]:
    """Depreciation by year of all capital and replacements among the rows of one scenario."""
    horizon, life = finance.horizon_years, finance.depreciation_years
    total = [0.0] * (horizon + 1)
    for row in rows:
        if row.line in UNTAXED and row.line != "residual":
            for year, amount in enumerate(straight_line(-row.amount, row.year, life, horizon)):
                total[year] += amount
    basis = f"straight line over {life} years, the rest at the horizon"
    return tuple(DepreciationRow(scenario, year, amount, basis) for year, amount in enumerate(total) if year)


def tax_rows(
    rows: Sequence[CashRow], written: Sequence[DepreciationRow], finance: Finance, scenario: str
) -> list[CashRow]:
    """Tax on each class of each year, relief by depreciation, and tax on the residual value (book value 0)."""
    rate, found = finance.tax_rate, []
    bases: dict[tuple[int, str, str], float] = {}
    for row in rows:
        if row.line in UNTAXED and row.line != "residual":
            continue
        line = TAX_LINE.get(row.line, "tax")
        key = (row.year, line, row.benefit_class)
        bases[key] = bases.get(key, 0.0) + row.amount
    for (year, line, kind), amount in bases.items():
        if amount:
            basis = basis_text([(-amount, "taxed amount"), (rate, "tax rate")], LOSSES)
            found.append(CashRow(scenario, year, line, kind, -amount * rate, basis, "controller"))
    for item in written:
        if item.amount:
            basis = basis_text([(item.amount, "depreciation"), (rate, "tax rate")], LOSSES)
            amount = item.amount * rate
            found.append(CashRow(scenario, item.year, "tax_relief_depreciation", "cost", amount, basis, "controller"))
    return found
