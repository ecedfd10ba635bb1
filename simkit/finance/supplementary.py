"""Measures of a scenario that stand beside the headline: ratios, static measures, ways of paying, interaction.

All read the cash-flow table; none chooses between options that exclude each other. No tax or investment advice.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from simkit.finance.cashflow import CashFlow
from simkit.finance.depreciation import charged
from simkit.finance.evaluate import MoneyResult
from simkit.finance.financing import WayOfPaying, lease_flows, loan_flows, loan_of, ways_of_paying
from simkit.finance.lines import CAPITAL_LINES, COST, HEADLINE_CLASSES, TAX_LINES, UNSIGNED
from simkit.finance.measures import Rate, npv
from simkit.finance.ratios import (
    StaticMeasures,
    adjusted_rate,
    benefit_cost_ratio,
    savings_to_investment,
    static_measures,
)
from simkit.finance.tax import shares_of
from simkit.plant.settings_money import Financing

INVESTMENT = (*CAPITAL_LINES, "grant", "replacement", "residual")


@dataclass(frozen=True)
class Supplementary:
    """Ratios after tax, benefit-cost ratios and static measures before tax; None where nothing is invested."""

    savings_to_investment: float | None
    adjusted_rate: Rate
    benefit_cost: float | None
    benefit_cost_modified: float | None
    static: StaticMeasures | None


def supplementary(cashflow: CashFlow, scenario: str) -> Supplementary:
    """Supplementary measures of one scenario, on the headline.

    Savings to investment: investment, replacement, grant and residual on one side, everything else after tax on the
    other. Benefit to cost: released and single amounts over purchase and running cost, before tax. Static measures: a
    mean year before tax, residual as in the table.
    """
    finance = cashflow.finance
    rate, timing, years = finance.discount_rate, finance.timing, finance.horizon_years
    capital = -float(cashflow.flows(scenario, lines=CAPITAL_LINES).sum())
    if capital <= 0:
        return Supplementary(None, adjusted_rate(rate, None, years), None, None, None)
    invested = -cashflow.flows(scenario, HEADLINE_CLASSES, lines=INVESTMENT)
    saved = cashflow.flows(scenario, HEADLINE_CLASSES, without=(*INVESTMENT, *UNSIGNED))
    ratio = savings_to_investment(rate, invested, saved)
    before_tax = (*INVESTMENT, *UNSIGNED, *TAX_LINES)
    benefits = npv(
        rate, cashflow.flows(scenario, [c for c in HEADLINE_CLASSES if c != COST], without=before_tax), timing
    )
    running = -npv(rate, cashflow.flows(scenario, (COST,), without=before_tax), timing)
    bought = npv(rate, invested, timing)
    surplus = float(cashflow.flows(scenario, HEADLINE_CLASSES, without=before_tax).sum()) / years
    residual = float(cashflow.flows(scenario, lines=["residual"]).sum())
    return Supplementary(
        savings_to_investment=ratio,
        adjusted_rate=adjusted_rate(rate, ratio, years),
        benefit_cost=benefit_cost_ratio(benefits, 0.0, bought, running) if bought + running > 0 else None,
        benefit_cost_modified=benefit_cost_ratio(benefits, 0.0, bought, running, modified=True) if bought > 0 else None,
        static=static_measures(capital, residual, years, surplus, rate),
    )


def ways_for(cashflow: CashFlow, scenario: str, financing: Financing) -> tuple[WayOfPaying, ...]:
    """Loan and lease of a scenario's first purchase against cash, where the plant's settings name an offer.

    Rents, buy-out and interest relieve tax in their year; the purchase brings the depreciation of the settings. The
    net present value of the investment is not in it and does not change with it.
    """
    finance = cashflow.finance
    capital = -float(cashflow.flows(scenario, lines=CAPITAL_LINES).sum())
    ways: list[tuple[str, tuple[float, ...]]] = []
    if capital > 0 and financing.loan_share > 0:
        loan = loan_of(financing.loan_share * capital, financing.loan_rate, financing.loan_years)
        name = f"loan of {100 * financing.loan_share:g} % over {financing.loan_years} years"
        ways.append((name, loan_flows(loan, finance.tax_rate)))
    if capital > 0 and financing.lease_rent_share > 0:
        rents = np.zeros(financing.lease_years + 1)
        first = 0 if financing.lease_in_advance else 1
        rents[first : first + financing.lease_years] = financing.lease_rent_share * capital
        rents[financing.lease_years] += financing.lease_end_share * capital
        shares = shares_of(finance)
        written = charged(capital, 0, shares, len(shares))
        name = f"lease over {financing.lease_years} years"
        ways.append((name, lease_flows(capital, rents, finance.tax_rate, written)))
    return ways_of_paying(ways, financing.borrowing_rate, finance.tax_rate, cashflow.currency)


def money_interaction(results: Mapping[str, MoneyResult], both: str, first: str, second: str) -> float:
    """What two options are worth together beyond the sum of both; below zero they partly earn the same money.

    Raises ``KeyError`` for a set that was not simulated: values of single options are never added.
    """
    missing = [name for name in (both, first, second) if name not in results]
    if missing:
        raise KeyError(f"{', '.join(missing)} not simulated: an interaction needs both options alone and together")
    return results[both].npv - results[first].npv - results[second].npv
