"""Paying by cash, loan or lease: a decision of its own, after the investment has been judged at its own rate.

Every series here is the way of paying alone, less a purchase paid in cash: no benefit, no saving. It is discounted at
the borrowing rate after tax. No tax or investment advice: what a lease may be deducted for is the controller's.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from simkit.base.arrays import Floats
from simkit.finance.cashflow import CashFlowTable
from simkit.finance.depreciation import charged
from simkit.finance.lines import PURCHASE
from simkit.finance.measures import Flows, equivalent_annual_value, npv
from simkit.finance.tax import depreciation, shares_of, taxed_result, taxes
from simkit.plant.settings_money import Finance, Financing, LossRule


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


def _series(flows: Flows, length: int, delay: int = 0) -> Floats:
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
    """One way of paying beside a purchase in cash: its flows less those of the purchase, and their value today.

    Above 0 it is cheaper than cash, below dearer.
    """

    name: str
    flows: tuple[float, ...]
    value: float


@dataclass(frozen=True)
class _Purchase:
    """A purchase in cash by year from its first payment on, in money of each year: what a way of paying replaces.

    ``paid`` is net of the grant, ``written_off`` its depreciation, ``result`` the taxable result of the case before
    it, ``residual`` what is left at the horizon of what is not bought again; ``use`` is the year in which it is paid
    in full.
    """

    paid: Floats
    written_off: Floats
    result: Floats
    residual: float
    use: int


def _purchase(cashflow: CashFlowTable, scenario: str) -> _Purchase:
    finance, first, own = cashflow.finance, cashflow.finance.start_after_years, cashflow.of(scenario)
    bought = [entry for entry in own.entries if entry.line in PURCHASE]
    again = {entry.item for entry in own.entries if entry.line == "replacement"}
    written = depreciation(bought, finance, own.start)[:, 0]
    left = sum(entry.amounts[-1, 0] for entry in own.entries if entry.line == "residual" and entry.item not in again)
    result = taxed_result(own.entries, finance.horizon_years + 1)[:, 0] - (own.written[:, 0] - written)
    paid = -np.sum([entry.amounts for entry in bought], axis=0)[:, 0]
    use = max(int(np.flatnonzero(entry.present)[-1]) for entry in bought) - first
    return _Purchase(paid[first:], written[first:], result[first:], float(left), use)


def ways_for(cashflow: CashFlowTable, scenario: str, financing: Financing) -> tuple[WayOfPaying, ...]:
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
    rate = financing.borrowing_rate * (1.0 - finance.tax_rate)
    return tuple(WayOfPaying(name, flows, npv(rate, flows)) for name, flows in ways)


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
