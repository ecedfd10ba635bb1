"""Measures of a scenario that stand beside the headline: ratios, static measures, ways of paying, interaction.

All read the cash-flow table; none chooses between options that exclude each other. No tax or investment advice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from simkit.finance.arrays import Array
from simkit.finance.cashflow import CashFlow, figure_flows, lost_beside
from simkit.finance.depreciation import charged
from simkit.finance.financing import WayOfPaying, lease_flows, loan_flows, loan_of, ways_of_paying
from simkit.finance.lines import CAPITAL_LINES, COST, HEADLINE_CLASSES, TAX_LINES
from simkit.finance.ratios import (
    StaticMeasures,
    adjusted_rate,
    benefit_cost_ratio,
    savings_to_investment,
    static_measures,
)
from simkit.finance.tax import depreciation, shares_of, taxed_result
from simkit.finance.timeline import present_value
from simkit.plant.settings_money import Finance, Financing

PURCHASE = (*CAPITAL_LINES, "grant")
INVESTMENT = (*PURCHASE, "replacement", "residual")


@dataclass(frozen=True)
class Supplementary:
    """Ratios after tax, benefit-cost ratios and static measures before tax; None where nothing is invested."""

    savings_to_investment: float | None
    adjusted_rate: float | None
    benefit_cost: float | None
    benefit_cost_modified: float | None
    static: StaticMeasures | None


def supplementary(cashflow: CashFlow, scenario: str) -> Supplementary:
    """Supplementary measures of one scenario, on the headline.

    Savings to investment: investment, replacement, grant and residual on one side, everything else after tax on the
    other. Benefit to cost: released and single amounts over purchase and running cost, before tax. Static measures: a
    mean year from the first payment on, before tax, of the capital less its grant, with what is bought again and the
    residual of the table. All fall where the timing of the settings puts them.
    """
    finance = cashflow.finance
    rate, timing, first = finance.discount_rate, finance.timing, finance.start_after_years
    years = finance.horizon_years - first
    if not cashflow.capital(scenario) > 0:
        return Supplementary(None, adjusted_rate(rate, None, years), None, None, None)
    invested = -cashflow.flows(scenario, HEADLINE_CLASSES, lines=INVESTMENT)
    saved = figure_flows(cashflow, scenario) + invested
    ratio = savings_to_investment(rate, invested, saved, timing, first)
    before_tax = (*INVESTMENT, *TAX_LINES)
    lost = lost_beside(cashflow, scenario, without=TAX_LINES)[:, 0]
    gains = [kind for kind in HEADLINE_CLASSES if kind != COST]
    benefits = present_value(finance, cashflow.flows(scenario, gains, without=before_tax) + lost)
    running = -present_value(finance, cashflow.flows(scenario, (COST,), without=before_tax))
    bought = present_value(finance, invested)
    surplus = float((cashflow.flows(scenario, HEADLINE_CLASSES, without=before_tax) + lost).sum()) / years
    return Supplementary(
        savings_to_investment=ratio,
        adjusted_rate=adjusted_rate(rate, ratio, years),
        benefit_cost=benefit_cost_ratio(benefits, 0.0, bought, running) if bought + running > 0 else None,
        benefit_cost_modified=benefit_cost_ratio(benefits, 0.0, bought, running, modified=True) if bought > 0 else None,
        static=static_measures(
            _paid(cashflow, scenario, PURCHASE), -_paid(cashflow, scenario, ("residual",)), years, surplus, rate,
            replaced=_paid(cashflow, scenario, ("replacement",)),
        ),
    )  # fmt: skip


def _paid(cashflow: CashFlow, scenario: str, lines: Sequence[str]) -> float:
    """What is paid on some lines over the horizon, less what is received on them."""
    return -float(cashflow.flows(scenario, lines=lines).sum())


@dataclass(frozen=True)
class _Purchase:
    """A purchase in cash by year from its first payment on, in money of each year: what a way of paying replaces.

    ``paid`` is net of the grant, ``written_off`` its depreciation, ``result`` the taxable result of the case before
    it, ``residual`` what is left at the horizon of what is not bought again; ``use`` is the year in which it is paid
    in full.
    """

    paid: Array
    written_off: Array
    result: Array
    residual: float
    use: int


def _purchase(cashflow: CashFlow, scenario: str) -> _Purchase:
    finance, first, own = cashflow.finance, cashflow.finance.start_after_years, cashflow.of(scenario)
    bought = [entry for entry in own.entries if entry.line in PURCHASE]
    again = {entry.item for entry in own.entries if entry.line == "replacement"}
    written = depreciation(bought, finance, own.start)[:, 0]
    left = sum(entry.amounts[-1, 0] for entry in own.entries if entry.line == "residual" and entry.item not in again)
    result = taxed_result(own.entries, finance.horizon_years + 1)[:, 0] - (own.written[:, 0] - written)
    paid = -np.sum([entry.amounts for entry in bought], axis=0)[:, 0]
    use = max(int(np.flatnonzero(entry.present)[-1]) for entry in bought) - first
    return _Purchase(paid[first:], written[first:], result[first:], float(left), use)


def ways_for(cashflow: CashFlow, scenario: str, financing: Financing) -> tuple[WayOfPaying, ...]:
    """Loan and lease of a scenario's first purchase against cash, where the plant's settings name an offer.

    Cash pays the stages where they fall, less the grant, and brings the depreciation of the table; loan and lease are
    of that net price. Rents begin where the purchase would be paid in full; a lease has no grant. What is kept after
    it for a price is written off from then on; what goes back takes its residual value along. Interest, rents and
    depreciation relieve tax by the loss rule, within the taxable result of the case. The net present value of the
    investment is not in it and does not change with it.
    """
    finance = cashflow.finance
    if not cashflow.capital(scenario) > 0:
        return ()
    cash, ways = _purchase(cashflow, scenario), []
    if financing.loan_share > 0:
        principal = financing.loan_share * float(cash.paid.sum())
        loan = loan_of(principal, financing.loan_rate, financing.loan_years)
        name = f"loan of {100 * financing.loan_share:g} % over {financing.loan_years} years"
        taxed = cash.result - cash.written_off
        ways.append((name, loan_flows(loan, finance.tax_rate, taxed=taxed, losses=finance.losses)))
    if financing.lease_rent_share > 0:
        ways.append(_lease(cash, finance, financing))
    return ways_of_paying(ways, financing.borrowing_rate, finance.tax_rate, cashflow.currency)


def _lease(cash: _Purchase, finance: Finance, financing: Financing) -> tuple[str, tuple[float, ...]]:
    """Name and flows of the lease that the settings offer, less a purchase in cash."""
    price, end, horizon = float(cash.paid.sum()), cash.use + financing.lease_years, len(cash.paid) - 1
    rents = np.zeros(max(end, horizon) + 1)
    begin = cash.use + (0 if financing.lease_in_advance else 1)
    rents[begin : begin + financing.lease_years] = financing.lease_rent_share * price
    deducted, residual = rents.copy(), 0.0
    if financing.lease_then == "returned":
        residual = cash.residual
        deducted[horizon] += residual
    else:
        kept_for = financing.lease_end_share * price
        rents[end] += kept_for
        deducted += charged(kept_for, end, shares_of(finance), len(rents) - 1)
    flows = lease_flows(
        cash.paid, rents, finance.tax_rate, cash.written_off, residual=residual, residual_year=horizon,
        deducted=deducted, taxed=cash.result, losses=finance.losses,
    )  # fmt: skip
    returned = ", then returned" if financing.lease_then == "returned" else ""
    return f"lease over {financing.lease_years} years{returned}", flows
