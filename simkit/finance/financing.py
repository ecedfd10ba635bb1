"""Paying by cash, loan or lease: a decision of its own, after the investment has been judged at its own rate.

Every series here is the way of paying alone, less a purchase paid in cash: no benefit, no saving. It is discounted at
the borrowing rate after tax. No tax or investment advice: what a lease may be deducted for is the controller's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simkit.finance.measures import Flows, equivalent_annual_value, npv
from simkit.finance.tax import taxes
from simkit.plant.settings_money import LossRule


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


def _series(flows: Flows, length: int, delay: int = 0) -> NDArray[np.float64]:
    """Flows by year in a series of some length, so many years later."""
    found = np.zeros(length)
    found[delay : delay + len(flows)] = flows
    return found


def loan_flows(
    loan: Loan, tax_rate: float, *, taxed: Flows = (), losses: LossRule = "used_at_once"
) -> tuple[float, ...]:  # fmt: skip
    """Cash of a loan after tax, year 0 first: received, then paid less the tax relief of the interest.

    ``taxed`` is the taxable result by year of what the loan pays for, with its depreciation: where losses do not
    relieve tax at once, interest relieves no more than that result allows.
    """
    length = max(len(loan.interest) + 1, len(taxed))
    result, interest = _series(taxed, length), _series(loan.interest, length, 1)
    flows = -_series(loan.payments, length, 1)
    flows[0] += loan.principal
    flows += taxes(result.tolist(), tax_rate, losses)
    flows -= taxes((result - interest).tolist(), tax_rate, losses)
    return tuple(flows.tolist())


def lease_flows(
    price: float | Flows, rents: Flows, tax_rate: float, write_off: Flows = (), *, residual: float = 0.0,
    residual_year: int = 0, rent_relief_after: int = 0, write_off_relief_after: int = 0, deducted: Flows | None = None,
    taxed: Flows = (), losses: LossRule = "used_at_once",
) -> tuple[float, ...]:  # fmt: skip
    """Cash of a lease less that of a purchase, year 0 first: what leasing saves (+) or costs (-).

    ``price`` is what the purchase would have cost, at first or by year, less its grant. ``rents`` are paid from year 0
    on (a rent in arrears has a first entry of 0), ``write_off`` is the depreciation that the purchase would have
    brought, both year 0 first; ``residual`` is what the owner would have kept, after tax, in ``residual_year``. Tax
    relief comes so many years after the rent or the depreciation. ``deducted`` is what a lease may deduct by year
    (default: its rents). ``taxed`` is the taxable result by year of what is bought or leased, before either: where
    losses do not relieve tax at once, neither relieves more than that result allows. Checked against D24, D25.
    """
    paid = [float(price)] if isinstance(price, float | int) else price
    own = rents if deducted is None else deducted
    length = max(
        len(paid), len(rents), len(own) + rent_relief_after, len(write_off) + write_off_relief_after,
        residual_year + 1, len(taxed),
    )  # fmt: skip
    flows = _series(paid, length) - _series(rents, length)
    flows[residual_year] -= residual
    result = _series(taxed, length)
    bought = result - _series(write_off, length, write_off_relief_after)
    leased = result - _series(own, length, rent_relief_after)
    flows += taxes(bought.tolist(), tax_rate, losses)
    flows -= taxes(leased.tolist(), tax_rate, losses)
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
