"""Measures of every scenario, read from the cash-flow table, and comparisons in order of capital.

Three net present values stand side by side, each adding a class to the one before: the headline (cash
released, single amounts, all costs, sales lost), with avoided cost, and with signed sales. All other measures
are those of the headline. No tax or investment advice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from simkit.finance.breakeven import break_even_benefit, break_even_capital
from simkit.finance.cashflow import FIGURE_CLASSES, CashFlowTable, figure_flows
from simkit.finance.lines import CAPITAL_LINES, SALES_CLASSES
from simkit.finance.measures import (
    Alternative,
    IncrementalStep,
    Irr,
    Payback,
    Timing,
    equivalent_annual_value,
    incremental_analysis,
    irr,
    mirr,
    payback,
    profitability_index,
)
from simkit.finance.timeline import present_value


@dataclass(frozen=True)
class MoneyResult:
    """All measures of one scenario against today. Money in the plant's currency, times in years."""

    scenario: str
    currency: str
    capital: float
    npv: float
    npv_with_avoided: float
    npv_with_signed_sales: float
    npv_by_class: dict[str, float]
    payback: Payback
    payback_from_acceptance: float | None
    discounted_payback: Payback
    irr: Irr
    mirr: float | None
    equivalent_annual_value: float
    profitability_index: float | None
    break_even_capital: float | None
    break_even_benefit: float | None
    flows: tuple[float, ...]
    cumulative: tuple[float, ...]
    rate: float
    timing: Timing
    first_payment: int

    @property
    def avoided_share(self) -> float | None:
        """Share of avoided cost in the present value of released and avoided money; None without benefit."""
        released = self.npv_by_class["cash_releasing"] + self.npv_by_class["one_time"]
        avoided = self.npv_by_class["cost_avoided"]
        return avoided / (released + avoided) if released + avoided > 0 and avoided >= 0 else None


def evaluate(cashflow: CashFlowTable) -> dict[str, MoneyResult]:
    """Measures of every scenario of a cash-flow table, by name, in its order."""
    return {name: evaluate_one(cashflow, name) for name in cashflow.scenarios}


def evaluate_one(cashflow: CashFlowTable, scenario: str) -> MoneyResult:
    """Measures of one scenario."""
    finance = cashflow.finance
    rate, timing, first = finance.discount_rate, finance.timing, finance.start_after_years
    headline, avoided, sales = (figure_flows(cashflow, scenario, figure) for figure in FIGURE_CLASSES)
    value = present_value(finance, headline)
    paid = -cashflow.flows(scenario, lines=CAPITAL_LINES)
    from_first_payment = headline[first:]
    simple = payback(from_first_payment)
    return MoneyResult(
        scenario=scenario,
        currency=cashflow.currency,
        capital=cashflow.capital(scenario),
        npv=value,
        npv_with_avoided=present_value(finance, avoided),
        npv_with_signed_sales=present_value(finance, sales),
        npv_by_class={kind: present_value(finance, cashflow.flows(scenario, (kind,))) for kind in SALES_CLASSES},
        payback=simple,
        payback_from_acceptance=_from_acceptance(simple.years, float(cashflow.of(scenario).start) - first),
        discounted_payback=payback(from_first_payment, rate, timing),
        irr=irr(from_first_payment, timing),
        mirr=mirr(from_first_payment, rate, rate, timing),
        equivalent_annual_value=equivalent_annual_value(value, rate, finance.horizon_years),
        profitability_index=profitability_index(headline, rate, present_value(finance, paid), timing, first),
        break_even_capital=break_even_capital(cashflow, scenario),
        break_even_benefit=break_even_benefit(cashflow, scenario),
        flows=tuple(headline.tolist()),
        cumulative=tuple(np.cumsum(headline).tolist()),
        rate=rate,
        timing=timing,
        first_payment=first,
    )


def _from_acceptance(years: float | None, start: float) -> float | None:
    """Payback counted from the start of use instead of the first payment."""
    return max(years - start, 0.0) if years else years


def incremental_chain(
    results: Sequence[MoneyResult], against: MoneyResult | None = None
) -> tuple[IncrementalStep, ...]:
    """Compare scenarios in order of capital, each with the best so far, on the headline.

    ``against`` None compares with today; give the best low-capital package to see what a bought set adds
    to it. All results must come from tables with the same rate, timing, first payment and horizon.
    """
    terms = {(r.rate, r.timing, r.first_payment, len(r.flows)) for r in (*results, *([against] if against else []))}
    if len(terms) > 1:
        raise ValueError("results were built with different rates, timing, first payments or horizons")
    if not results:
        return ()
    others = [_alternative(r) for r in results if against is None or r.scenario != against.scenario]
    base, one = _alternative(against) if against else None, results[0]
    return incremental_analysis(others, one.rate, base=base, timing=one.timing, first=one.first_payment)


def _alternative(result: MoneyResult) -> Alternative:
    return Alternative(result.scenario, result.capital, result.flows)
