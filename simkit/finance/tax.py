"""Depreciation by year and tax. A planning aid: the real treatment is the controller's. No tax advice.

Depreciation starts in the year of use; what no year has taken is written off at the horizon, so that it always sums
to the capital less grants. What becomes of a taxable loss is a setting: relief at once, as in a firm that earns
profit elsewhere; against later profit of the same case; or none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from simkit.finance.cases import least, most
from simkit.finance.depreciation import charged, declining_balance_shares, straight_line_shares, table_shares
from simkit.finance.lines import (
    CAPACITY,
    CAPITAL_LINES,
    COST,
    COST_AVOIDED,
    HEADLINE_CLASSES,
    TAX_LINES,
    UNSIGNED,
    UNTAXED,
    CashRow,
    basis_text,
)
from simkit.plant.settings_money import Finance, LossRule

LOSSES: dict[LossRule, str] = {
    "used_at_once": "losses relieve tax at once",
    "carried_forward": "losses are set against later profit of the same case",
    "lost": "losses relieve no tax",
}
"""What becomes of a taxable loss, in words."""

TAX_LINE = {"residual": "tax_on_residual", "sales_unsigned": "tax_on_unsigned"}
"""Lines whose tax stands on a line of its own; the others share the line ``tax`` of their class."""

WRITTEN_OFF = (*CAPITAL_LINES, "grant", "replacement")
"""Lines that are written off: a grant lowers what is."""


@dataclass(frozen=True)
class DepreciationRow:
    """Depreciation of a scenario in a year: money, not cash; it acts through tax alone."""

    scenario: str
    year: int
    amount: float
    basis: str


def shares_of(finance: Finance) -> tuple[float, ...]:
    """Shares of the cost by year of service, by the method of the settings."""
    if finance.depreciation_percent:
        return tuple(percent / 100.0 for percent in finance.depreciation_percent)
    if finance.depreciation == "table":
        return table_shares(finance.depreciation_table)
    if finance.depreciation == "declining_balance":
        return declining_balance_shares(finance.depreciation_years, finance.depreciation_factor)
    return straight_line_shares(finance.depreciation_years)


def depreciation_text(finance: Finance) -> str:
    """The method in words."""
    life, rest = f"over {finance.depreciation_years} years", "the rest at the horizon"
    if finance.depreciation_percent:
        return f"the plant's own table of {len(finance.depreciation_percent)} years, {rest}"
    if finance.depreciation == "table":
        return f"table {finance.depreciation_table}, {rest}"
    if finance.depreciation == "declining_balance":
        return f"declining balance at {finance.depreciation_factor:g} / life {life}, then straight line, {rest}"
    return f"straight line {life}, {rest}"


def depreciation(
    rows: Sequence[CashRow], finance: Finance, scenario: str, first_year: int = 1
) -> tuple[DepreciationRow, ...]:
    """Depreciation by year of all capital and replacements among the rows of one scenario, less grants.

    ``first_year`` is the year in which use starts: what is paid at first is written off from then on, a replacement
    from the year after it.
    """
    horizon, shares = finance.horizon_years, shares_of(finance)
    total = [0.0] * (horizon + 1)
    for row in rows:
        if row.line in WRITTEN_OFF:
            bought_in = row.year if row.line == "replacement" else min(first_year - 1, horizon)
            for year, amount in enumerate(charged(-row.amount, bought_in, shares, horizon)):
                total[year] += amount
    basis = depreciation_text(finance)
    return tuple(DepreciationRow(scenario, year, amount, basis) for year, amount in enumerate(total) if year)


def taxes(base: Sequence[float], rate: float, losses: LossRule = "used_at_once") -> tuple[float, ...]:
    """Tax by year on a taxable result by year; negative where a loss brings relief. Checked against D20, D21."""
    if losses == "used_at_once":
        return tuple(rate * amount for amount in base)
    carried, paid = 0.0, []
    for amount in base:
        used = least(carried, most(amount, 0.0))
        paid.append(rate * (most(amount, 0.0) - used))
        carried = carried + most(-amount, 0.0) * (losses == "carried_forward") - used
    return tuple(paid)


def after_disposal_tax(price: float, book_value: float, rate: float) -> float:
    """What a sale leaves after tax on the difference between price and book value. Checked against D18, D19.

    Kept for its published rows: the cash-flow table has written everything off when it sells, see :func:`tax_rows`.
    """
    return price - rate * (price - book_value)


def taxed_result(rows: Sequence[CashRow], horizon: int) -> tuple[float, ...]:
    """Taxable result of the headline by year before depreciation, year 0 first."""
    total = [0.0] * (horizon + 1)
    for row in rows:
        if row.benefit_class in HEADLINE_CLASSES and _is_taxed(row) and row.line not in UNSIGNED:
            total[row.year] += row.amount
    return tuple(total)


def _is_taxed(row: CashRow) -> bool:
    return row.line == "residual" or row.line not in (*UNTAXED, *TAX_LINES)


def tax_rows(
    rows: Sequence[CashRow], written: Sequence[DepreciationRow], finance: Finance, scenario: str
) -> list[CashRow]:
    """Tax on each class of each year, relief by depreciation, and tax on the residual value (book value 0).

    Where losses do not relieve tax at once, a further row per year and class takes back what comes later or never.
    """
    rate, found = finance.tax_rate, []
    words = LOSSES["used_at_once"]
    bases: dict[tuple[int, str, str], float] = {}
    for row in rows:
        if not _is_taxed(row):
            continue
        line = TAX_LINE.get(row.line, "tax")
        key = (row.year, line, row.benefit_class)
        bases[key] = bases.get(key, 0.0) + row.amount
    for (year, line, kind), amount in bases.items():
        if amount:
            basis = basis_text([(-amount, "taxed amount"), (rate, "tax rate")], words)
            found.append(CashRow(scenario, year, line, kind, -amount * rate, basis, "controller"))
    for item in written:
        if item.amount:
            basis = basis_text([(item.amount, "depreciation"), (rate, "tax rate")], words)
            amount = item.amount * rate
            found.append(CashRow(scenario, item.year, "tax_relief_depreciation", COST, amount, basis, "controller"))
    if finance.losses != "used_at_once" and rate:
        found += _later_relief(bases, written, finance, scenario)
    return found


def _later_relief(
    bases: dict[tuple[int, str, str], float], written: Sequence[DepreciationRow], finance: Finance, scenario: str
) -> list[CashRow]:
    """What losses that wait or are lost add to the tax, class by class in the order of the three figures.

    The tax of the headline is right by itself; each further class bears what it adds to that.
    """
    years = finance.horizon_years + 1
    total, before, found = [0.0] * years, [0.0] * years, []
    for item in written:
        total[item.year] -= item.amount
    steps = (
        (HEADLINE_CLASSES, False, COST, "tax_losses"),
        ((COST_AVOIDED,), False, COST_AVOIDED, "tax_losses"),
        ((CAPACITY,), False, CAPACITY, "tax_losses"),
        ((COST, CAPACITY), True, CAPACITY, "tax_on_unsigned"),
    )
    for classes, unsigned, kind, line in steps:
        for (year, taxed, of), amount in bases.items():
            if of in classes and (taxed == "tax_on_unsigned") == unsigned:
                total[year] += amount
        more = [t - finance.tax_rate * base for t, base in
                zip(taxes(total, finance.tax_rate, finance.losses), total, strict=True)]  # fmt: skip
        for year, (now, earlier) in enumerate(zip(more, before, strict=True)):
            if now - earlier:
                basis = basis_text([(earlier - now, "tax that losses do not relieve in this year")],
                                   LOSSES[finance.losses])  # fmt: skip
                found.append(CashRow(scenario, year, line, kind, earlier - now, basis, "controller"))
        before = more
    return found
