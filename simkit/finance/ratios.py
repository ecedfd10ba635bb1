"""Measures that stand beside the headline: ratios of benefit to cost and the static ones of European accounting.

They are supplementary lines and never choose between options that exclude each other. Money in one currency, rates as
fractions per year. No tax or investment advice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from simkit.finance.cashflow import CashFlowTable, figure_flows, lost_beside
from simkit.finance.lines import COST, HEADLINE_CLASSES, PURCHASE, TAX_LINES
from simkit.finance.measures import Flows, Timing, npv
from simkit.finance.timeline import present_value

INVESTMENT = (*PURCHASE, "replacement", "residual")


def savings_to_investment(
    rate: float, investment: Flows, savings: Flows, timing: Timing = "end_year", first: int = 0
) -> float | None:
    """Present value of the savings over that of the net investment; None where nothing is invested.

    ``investment`` holds first cost, replacement and residual as costs (paid: positive), ``savings`` the yearly
    savings, both year 0 first: the sides are parted by nature, not by sign. ``timing`` and ``first`` as in
    :func:`simkit.finance.measures.npv`, so that a ratio above 1 is a value above 0. Source: definition of the
    savings-to-investment ratio, 10 CFR 436.21; checked against D35.
    """
    invested = npv(rate, investment, timing, first)
    return npv(rate, savings, timing, first) / invested if invested > 0 else None


def adjusted_rate(rate: float, ratio: float | None, years: int) -> float | None:
    """Adjusted internal rate: (1 + rate) x ratio^(1/years) - 1, savings reinvested at the discount rate.

    None where the savings or the investment are not above zero. Source: 10 CFR 436.22; checked against D35.
    """
    if ratio is None or ratio <= 0 or years <= 0:
        return None
    return float((1.0 + rate) * ratio ** (1.0 / years) - 1.0)


def benefit_cost_ratio(
    benefits: float, disbenefits: float, capital_cost: float, running_cost: float, modified: bool = False
) -> float:
    """Benefit-cost ratio of yearly (or present) amounts; above 1 accepts, in both forms alike.

    Conventional: running cost is added to the denominator; ``modified``: it is taken off the benefits.
    Source: textbook standard; checked against D34.
    """
    net = benefits - disbenefits
    return (net - running_cost) / capital_cost if modified else net / (capital_cost + running_cost)


def imputed_interest(capital: float, residual: float, rate: float) -> float:
    """Interest on the mean capital bound, a year: (capital + residual) / 2 x rate. Common practice, no source."""
    return (capital + residual) / 2.0 * rate


def yearly_write_off(capital: float, residual: float, years: float) -> float:
    """Write-off in a straight line to the residual value, a year. Common practice, no source."""
    return (capital - residual) / years


@dataclass(frozen=True)
class StaticMeasures:
    """Static comparison of a purchase in a mean year, without discounting: supplementary lines only."""

    yearly_surplus: float
    write_off: float
    interest: float
    profit: float
    return_on_mean_capital: float | None
    payback_years: float | None


def static_measures(
    capital: float, residual: float, years: float, yearly_surplus: float, rate: float, replaced: float = 0.0
) -> StaticMeasures:
    """Profit comparison, return on the mean capital and static payback of a mean year.

    Profit: surplus less write-off and imputed interest. Return: surplus less write-off over the mean capital.
    Payback: capital over the mean surplus (None where there is none). ``replaced`` is what is bought again within the
    years: it is written off too. Common practice, no source; worked by hand.
    """
    off, interest = yearly_write_off(capital + replaced, residual, years), imputed_interest(capital, residual, rate)
    mean = (capital + residual) / 2.0
    return StaticMeasures(
        yearly_surplus=yearly_surplus,
        write_off=off,
        interest=interest,
        profit=yearly_surplus - off - interest,
        return_on_mean_capital=(yearly_surplus - off) / mean if mean > 0 else None,
        payback_years=capital / yearly_surplus if yearly_surplus > 0 else None,
    )


@dataclass(frozen=True)
class Supplementary:
    """Ratios after tax, benefit-cost ratios and static measures before tax; None where nothing is invested."""

    savings_to_investment: float | None
    adjusted_rate: float | None
    benefit_cost: float | None
    benefit_cost_modified: float | None
    static: StaticMeasures | None


def supplementary(cashflow: CashFlowTable, scenario: str) -> Supplementary:
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


def _paid(cashflow: CashFlowTable, scenario: str, lines: Sequence[str]) -> float:
    """What is paid on some lines over the horizon, less what is received on them."""
    return -float(cashflow.flows(scenario, lines=lines).sum())
