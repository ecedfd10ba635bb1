"""Measures of every scenario, read from the cash-flow table, and comparisons in order of capital.

Three net present values stand side by side, each adding a class to the one before: the headline (cash
released, single amounts, all costs), with avoided cost, and with signed sales. All other measures are
those of the headline. No tax or investment advice.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from simkit.experiment.intervals import Estimate, t_quantile
from simkit.finance.breakeven import BreakEven, break_even_capital
from simkit.finance.cashflow import CashFlow
from simkit.finance.inputs import ScenarioTotals
from simkit.finance.lines import (
    AVOIDED_CLASSES,
    CAPITAL_LINES,
    HEADLINE_CLASSES,
    SALES_CLASSES,
)
from simkit.finance.lines import UNSIGNED as UNSIGNED
from simkit.finance.measures import (
    Alternative,
    IncrementalStep,
    Irr,
    Payback,
    ProfitabilityIndex,
    Rate,
    Timing,
    discounted,
    equivalent_annual_value,
    incremental_analysis,
    irr,
    mirr,
    npv,
    payback,
    profitability_index,
)

Figure = Literal["headline", "with_avoided", "with_signed_sales"]
"""The three figures; each adds a class of benefit to the one before."""


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
    payback_from_acceptance: Payback
    discounted_payback: Payback
    irr: Irr
    mirr: Rate
    equivalent_annual_value: float
    profitability_index: ProfitabilityIndex
    break_even_capital: BreakEven
    flows: tuple[float, ...]
    flows_with_avoided: tuple[float, ...]
    flows_with_signed_sales: tuple[float, ...]
    cumulative: tuple[float, ...]
    cumulative_discounted: tuple[float, ...]
    rate: float
    timing: Timing

    def flows_of(self, figure: Figure) -> tuple[float, ...]:
        """Cash by year of one of the three figures, year 0 first."""
        chosen = {
            "headline": self.flows,
            "with_avoided": self.flows_with_avoided,
            "with_signed_sales": self.flows_with_signed_sales,
        }
        return chosen[figure]

    @property
    def avoided_share(self) -> float | None:
        """Share of avoided cost in the present value of released and avoided money; None without benefit."""
        released = self.npv_by_class["cash_releasing"] + self.npv_by_class["one_time"]
        avoided = self.npv_by_class["cost_avoided"]
        return avoided / (released + avoided) if released + avoided > 0 and avoided >= 0 else None


FIGURE_CLASSES: dict[Figure, tuple[str, ...]] = {
    "headline": HEADLINE_CLASSES,
    "with_avoided": AVOIDED_CLASSES,
    "with_signed_sales": SALES_CLASSES,
}
"""Classes that each figure counts."""


def figure_flows(cashflow: CashFlow, scenario: str, figure: Figure = "headline") -> NDArray[np.float64]:
    """Cash of a scenario by year in one of the three figures, year 0 first."""
    return cashflow.flows(scenario, FIGURE_CLASSES[figure], without=UNSIGNED)


def evaluate(cashflow: CashFlow) -> dict[str, MoneyResult]:
    """Measures of every scenario of a cash-flow table, by name, in its order."""
    return {name: evaluate_one(cashflow, name) for name in cashflow.scenarios}


def evaluate_one(cashflow: CashFlow, scenario: str) -> MoneyResult:
    """Measures of one scenario."""
    finance = cashflow.finance
    rate, timing = finance.discount_rate, finance.timing
    headline, avoided, sales = (figure_flows(cashflow, scenario, figure) for figure in FIGURE_CLASSES)
    value = npv(rate, headline, timing)
    capital = -float(cashflow.flows(scenario, lines=CAPITAL_LINES).sum())
    from_first_payment = headline[finance.start_after_years :]
    simple = payback(from_first_payment)
    return MoneyResult(
        scenario=scenario,
        currency=cashflow.currency,
        capital=capital,
        npv=value,
        npv_with_avoided=npv(rate, avoided, timing),
        npv_with_signed_sales=npv(rate, sales, timing),
        npv_by_class={
            kind: npv(rate, cashflow.flows(scenario, (kind,), without=UNSIGNED), timing) for kind in SALES_CLASSES
        },
        payback=simple,
        payback_from_acceptance=_from_acceptance(simple, cashflow.start.get(scenario, 0.0) - finance.start_after_years),
        discounted_payback=payback(from_first_payment, rate, timing),
        irr=irr(headline, timing),
        mirr=mirr(headline, rate, rate),
        equivalent_annual_value=equivalent_annual_value(value, rate, finance.horizon_years),
        profitability_index=profitability_index(headline, rate, capital, timing),
        break_even_capital=break_even_capital(cashflow, scenario),
        flows=tuple(headline.tolist()),
        flows_with_avoided=tuple(avoided.tolist()),
        flows_with_signed_sales=tuple(sales.tolist()),
        cumulative=tuple(np.cumsum(headline).tolist()),
        cumulative_discounted=tuple(np.cumsum(discounted(rate, headline, timing)).tolist()),
        rate=rate,
        timing=timing,
    )


def _from_acceptance(simple: Payback, start: float) -> Payback:
    """Payback counted from the start of use instead of the first payment."""
    if simple.years is None or simple.years == 0.0:
        return simple
    years = max(simple.years - start, 0.0)
    return Payback(years, f"{years:.1f} years after acceptance")


def incremental_chain(
    results: Sequence[MoneyResult], against: MoneyResult | None = None, figure: Figure = "headline"
) -> tuple[IncrementalStep, ...]:
    """Compare scenarios in order of capital, each with the best so far, on the headline or another figure.

    ``against`` None compares with today; give the best low-capital package to see what a bought set adds
    to it. All results must come from tables with the same rate, timing and horizon.
    """
    terms = {(r.rate, r.timing, len(r.flows)) for r in (*results, *([against] if against else []))}
    if len(terms) > 1:
        raise ValueError("results were built with different rates, timing or horizons")
    if not results:
        return ()
    others = [_alternative(r, figure) for r in results if against is None or r.scenario != against.scenario]
    base = _alternative(against, figure) if against else None
    return incremental_analysis(others, results[0].rate, base=base, timing=results[0].timing)


def _alternative(result: MoneyResult, figure: Figure) -> Alternative:
    return Alternative(result.scenario, result.capital, result.flows_of(figure))


def npv_intervals(
    whole: Mapping[str, MoneyResult],
    without_each: Sequence[dict[str, ScenarioTotals]],
    build: Callable[[dict[str, ScenarioTotals]], CashFlow],
    against: str = "",
) -> dict[str, Estimate]:
    """How well each headline value is known: the jackknife of the value of the mean hours.

    ``whole`` are the values of the means over all replications; ``without_each`` comes from
    :func:`simkit.finance.inputs.totals_without_each`, so options and today share their luck; ``build`` makes
    the table of one of them. With ``against`` the difference from that scenario is taken. Budget caps bend
    the value, so that single replications would give a biased mean; leaving out one at a time does not
    (Quenouille 1956, Tukey 1958, from memory). The interval tells how well an average is known, not how much
    weeks differ, and nothing about prices.
    """
    left = [evaluate(build(totals)) for totals in without_each]
    found = {}
    for name, result in whole.items():
        values = np.array([one[name].npv - (one[against].npv if against else 0.0) for one in left])
        found[name] = jackknife(values, result.npv - (whole[against].npv if against else 0.0), result.currency)
    return found


def jackknife(left_out: NDArray[np.float64], mean: float, unit: str) -> Estimate:
    """Interval of a value from its values with each replication left out in turn; no width from a single one."""
    count, width = len(left_out), math.inf
    if count > 1:
        error = math.sqrt((count - 1) / count * float(((left_out - left_out.mean()) ** 2).sum()))
        width = t_quantile(0.975, count - 1) * error
    return Estimate(mean, width, count, unit)


def option_table(results: dict[str, MoneyResult]) -> pd.DataFrame:
    """One row per scenario with its measures, states in words, ready to print."""
    rows = [
        {
            "scenario": r.scenario,
            "capital": r.capital,
            "npv": r.npv,
            "npv_with_avoided": r.npv_with_avoided,
            "npv_with_signed_sales": r.npv_with_signed_sales,
            "payback": r.payback.text,
            "discounted_payback": r.discounted_payback.text,
            "irr": r.irr.text,
            "equivalent_annual_value": r.equivalent_annual_value,
            "break_even_capital": r.break_even_capital.text,
        }
        for r in results.values()
    ]
    return pd.DataFrame(rows)
