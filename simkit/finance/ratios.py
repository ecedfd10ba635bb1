"""Ratios of benefit to cost, life-cycle measures of public buyers, and the static measures of European accounting.

They stand beside the net present value as supplementary lines and never choose between options that exclude each
other. Money in one currency, rates as fractions per year. No tax or investment advice.
"""

from __future__ import annotations

from dataclasses import dataclass

from simkit.finance.measures import Flows, Timing, npv


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
