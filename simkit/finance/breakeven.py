"""Break-evens after tax: the most that may be paid for a purchase, and the least that it must bring."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Mapping

import numpy as np
import scipy  # its heavy rooms load when they are first used

from simkit.base.arrays import Floats
from simkit.finance.cashflow import CashFlowTable, figure_flows
from simkit.finance.depreciation import charged
from simkit.finance.ledger import Ledger
from simkit.finance.lines import CASH_RELEASING, PROPORTIONAL_TO_CAPITAL, TAX_LINES
from simkit.finance.tax import add_tax, shares_of
from simkit.finance.timeline import deflator, first_year_of_use, present_value

DOUBLINGS = 60
"""How often a bound is doubled in the search for a zero: more is no number that a plant knows."""


def break_even_capital(cashflow: CashFlowTable, scenario: str) -> float | None:
    """Capital at which the headline is worth zero: what the option is worth at most, money.

    None: not even a gift pays. Infinite: what a unit of capital costs is won back by its tax relief and residual.
    Grants, replacement, residual and tax relief move with the capital. Without capital in the scenario, one unit is
    taken as paid at first and written off by the method of the settings, without residual.
    """
    finance = cashflow.finance

    def value(capital: float) -> float:
        return present_value(finance, headline_at(cashflow, scenario, capital))

    gift = value(0.0)
    if gift < 0:
        return None
    most = _falling_to_zero(value, gift, linear=finance.losses == "used_at_once")
    return math.inf if most is None else most


def break_even_benefit(cashflow: CashFlowTable, scenario: str) -> float | None:
    """Share of the released cash, hours and all, at which the headline is worth zero after tax, all else as it is.

    None: it pays at no share. 0: it pays without any benefit. It is the financial break-even: the accounting one, at
    which depreciation alone is earned, is never above it while the rate is above zero. Checked against D32.
    """
    finance = cashflow.finance

    def missing(share: float) -> float:
        taxed = _taxed_anew(cashflow, scenario, {CASH_RELEASING: share}, cashflow.of(scenario).written)
        return -present_value(finance, taxed)

    short = missing(0.0)
    return 0.0 if short <= 0 else _falling_to_zero(missing, short, linear=finance.losses == "used_at_once")


def _falling_to_zero(value: Callable[[float], float], start: float, linear: bool) -> float | None:
    """Where a value falls to zero that is ``start`` at 0, not negative; None if it does not."""
    step = max(start, 1.0)
    if linear:
        slope = (value(step) - start) / step
        return -start / slope if slope < 0 else None
    high = 1.0
    for _ in range(DOUBLINGS):
        if value(high) < 0:
            return float(scipy.optimize.brentq(value, 0.0, high, xtol=1e-9))
        high *= 2.0
    return None


def headline_at(cashflow: CashFlowTable, scenario: str, capital: float) -> Floats:
    """Cash by year of the headline if the capital, in money of the table, were another: taxed anew, all else as is."""
    own, finance, paid = cashflow.of(scenario), cashflow.finance, cashflow.capital(scenario)
    if paid > 0:
        scale = dict.fromkeys(PROPORTIONAL_TO_CAPITAL, capital / paid)
        return _taxed_anew(cashflow, scenario, scale, own.written * (capital / paid))
    capital /= deflator(finance, finance.start_after_years)
    bought_in = min(first_year_of_use(own.start) - 1, finance.horizon_years)
    written = np.array(charged(capital, bought_in, shares_of(finance), finance.horizon_years))[:, None]
    return _taxed_anew(cashflow, scenario, dict.fromkeys(PROPORTIONAL_TO_CAPITAL, 0.0), written, capital)


def _taxed_anew(
    cashflow: CashFlowTable, scenario: str, scale: Mapping[str, float], written: Floats, paid: float = 0.0
) -> Floats:
    """Cash by year of the headline with the amounts of lines and classes scaled, and with another depreciation."""
    ledger = Ledger((), cashflow.prices, cashflow.finance, "quoted")
    for entry in cashflow.of(scenario).entries:
        if entry.line not in TAX_LINES:
            own = scale.get(entry.line, 1.0) * scale.get(entry.benefit_class, 1.0)
            ledger.entries.append(dataclasses.replace(entry, amounts=entry.amounts * own))
    if paid:
        ledger.single("capital", cashflow.finance.start_after_years, ((-paid, "as if paid"),))
    add_tax(ledger, written)
    changed = dataclasses.replace(cashflow.of(scenario), entries=ledger.entries)
    return figure_flows(dataclasses.replace(cashflow, statements={scenario: changed}), scenario)
