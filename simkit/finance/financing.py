"""Paying by cash, loan or lease: a decision of its own, after the investment has been judged at its own rate.

Every series here is the way of paying alone, less a purchase paid in cash: no benefit, no saving. It is discounted at
the borrowing rate after tax. No tax or investment advice: what a lease may be deducted for is the controller's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from simkit.finance.measures import Flows, equivalent_annual_value, npv


def level_payment(principal: float, rate: float, periods: int) -> float:
    """Equal payment at the end of each period that repays a principal, interest included. Checked against D29."""
    return equivalent_annual_value(principal, rate, periods)


@dataclass(frozen=True)
class Loan:
    """Interest and repayment of a level-payment loan, year 1 first."""

    principal: float
    interest: tuple[float, ...]
    repayment: tuple[float, ...]

    @property
    def payments(self) -> tuple[float, ...]:
        """Interest and repayment together, year 1 first."""
        return tuple(np.add(self.interest, self.repayment).tolist())


def loan_of(principal: float, rate: float, years: int) -> Loan:
    """Return the plan of a loan repaid in equal yearly payments. Checked against D21."""
    payment, owed = level_payment(principal, rate, years), principal
    interest, repayment = [], []
    for _ in range(years):
        interest.append(owed * rate)
        repayment.append(payment - interest[-1])
        owed -= repayment[-1]
    return Loan(principal, tuple(interest), tuple(repayment))


def loan_flows(loan: Loan, tax_rate: float) -> tuple[float, ...]:
    """Cash of a loan after tax, year 0 first: received, then paid less the tax relief of the interest."""
    paid = (-(part + back) + tax_rate * part for part, back in zip(loan.interest, loan.repayment, strict=True))
    return (loan.principal, *paid)


def lease_flows(
    price: float, rents: Flows, tax_rate: float, write_off: Flows = (), *, residual: float = 0.0,
    residual_year: int = 0, rent_relief_after: int = 0, write_off_relief_after: int = 0,
) -> tuple[float, ...]:  # fmt: skip
    """Cash of a lease less that of a purchase, year 0 first: what leasing saves (+) or costs (-).

    ``rents`` are paid from year 0 on (a rent in arrears has a first entry of 0), ``write_off`` is the depreciation
    that the purchase would have brought, both year 0 first; ``residual`` is what the owner would have kept, after
    tax, in ``residual_year``. Tax relief comes so many years after the rent or the depreciation. Checked against
    D24, D25.
    """
    last = max(len(rents) - 1 + rent_relief_after, len(write_off) - 1 + write_off_relief_after, residual_year)
    flows = np.zeros(last + 1)
    flows[0] += price
    flows[residual_year] -= residual
    for year, rent in enumerate(rents):
        flows[year] -= rent
        flows[year + rent_relief_after] += tax_rate * rent
    for year, amount in enumerate(write_off):
        flows[year + write_off_relief_after] -= tax_rate * amount
    return tuple(flows.tolist())


@dataclass(frozen=True)
class WayOfPaying:
    """One way of paying beside a purchase in cash: its flows less those of the purchase, and their value today."""

    name: str
    flows: tuple[float, ...]
    value: float
    text: str


def ways_of_paying(ways: Sequence[tuple[str, Sequence[float]]], borrowing_rate: float, tax_rate: float,
                   currency: str) -> tuple[WayOfPaying, ...]:  # fmt: skip
    """Value of ways of paying against cash, at the borrowing rate after tax; the investment itself is not in it."""
    rate = borrowing_rate * (1.0 - tax_rate)
    found = []
    for name, flows in ways:
        value = npv(rate, flows)
        side = "cheaper" if value > 0 else "dearer" if value < 0 else "neither cheaper nor dearer"
        text = f"{name}: {abs(value):,.0f} {currency} {side} than cash at {100 * rate:.2f} % after tax"
        found.append(WayOfPaying(name, tuple(flows), value, text))
    return tuple(found)
