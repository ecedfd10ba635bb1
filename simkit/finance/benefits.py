"""What the hours that an option changes in a year of use are worth, by the value rules; gains and losses alike.

Hours are differences of simulated totals. In the simulation an order is made in house, given out or refused,
and overtime lies in house, so no hour is counted twice. Subcontracted hours and unmet are standard hours of
today's plant: an option that is faster does not make the same order cheaper to give out.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from simkit.finance.arrays import Value, or_else, ratio
from simkit.finance.inputs import Prices, Weekly
from simkit.finance.labour import labour_gains
from simkit.finance.lines import Factor
from simkit.finance.pairs import Gain, Pair, Spending


def hour_gains(pair: Pair) -> Iterator[Gain]:
    """What hours are worth in a full year of use, and the labour that moves, at the demand of each year."""
    yield _overtime(pair)
    if pair.knows("person_overrun_h"):
        yield _overrun(pair)
    yield _subcontract(pair)
    yield _sales(pair)
    yield from labour_gains(pair)


def _overtime(pair: Pair) -> Gain:
    """Overtime hours of those who come, at their loaded rates with the premium."""

    def spent(weekly: Weekly) -> Spending:
        rate = or_else(weekly.totals.roster.crew_rate_per_h, pair.prices.money.operator_rate_per_h)
        return Spending(weekly("overtime_h"), rate * (1.0 + pair.prices.people.overtime_premium))

    return pair.less_spent("overtime", spent(pair.before), spent(pair.after), "overtime", "crew with premium",
                           budget=spent(pair.book))  # fmt: skip


def _overrun(pair: Pair) -> Gain:
    """Person-hours past breaks and shift ends, at the operator's rate with the premium."""
    rate = pair.prices.money.operator_rate_per_h * (1.0 + pair.prices.people.overtime_premium)
    today, option, budget = (Spending(one("person_overrun_h"), rate) for one in (pair.before, pair.after, pair.book))
    words = ("of people's overrun", "operator with premium")
    return pair.less_spent("overrun", today, option, *words, budget=budget)


def own_cost_per_h(today: Weekly, prices: Prices) -> Value:
    """Energy and gas that an hour in house uses today, money/h; 0 where the measures are missing.

    Where energy and gas are measured in the span alone, the hours in house are scaled by its share of the sheets.
    """
    if not today.has("inhouse_h"):
        return 0.0
    per_unit = {"energy_kwh": prices.money.energy_per_kwh, "gas_m3": prices.money.gas_per_m3}
    cost = sum(today(name) * price for name, price in per_unit.items() if today.has(name))
    return ratio(cost, np.maximum(today("inhouse_h"), 0.0) * _share_in_span(today))


def _share_in_span(today: Weekly) -> Value:
    """Share of today's sheets made in the measured span (the rest follows after it); 1 where not known."""
    if not (today.has("sheets") and today.has("sheets_in_span")):
        return 1.0
    sheets, inside = today("sheets"), today("sheets_in_span")
    return np.where((sheets > 0) & (inside > 0), ratio(inside, sheets), 1.0)


def _subcontract(pair: Pair) -> Gain:
    """Subcontracted hours, at the invoiced price less the energy and gas of doing them in house today."""
    invoiced, own = pair.prices.money.subcontract_per_h, own_cost_per_h(pair.before, pair.prices)
    today, option = (Spending(one("subcontract_h"), invoiced - own) for one in (pair.before, pair.after))
    budget = Spending(pair.book("subcontract_h"), invoiced - own_cost_per_h(pair.book, pair.prices))
    price = "({:.4g} invoiced less {:.4g} own energy and gas)"
    return pair.less_spent("subcontract", today, option, "subcontracted", price, shown=(invoiced, own), budget=budget)


def _sales(pair: Pair) -> Gain:
    """Orders no longer refused, and orders refused more, of signed demand, at the contribution margin."""
    fewer = Factor(pair.less("unmet_h"), "h/week less refused of signed demand")
    margin = Factor(pair.prices.money.margin_per_h, f"{pair.per_h} margin")
    return Gain("sales", (fewer, pair.weeks_factor, margin))
