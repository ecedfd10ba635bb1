"""What the hours that an option changes in a year of use are worth, by the value rules; gains and losses alike.

Hours are differences of simulated totals. In the simulation an order is made in house, given out or refused,
and overtime lies in house, so no hour is counted twice. Hours given out and unmet are standard hours of
today's plant: an option that is faster does not make the same order cheaper to give out.
"""

from __future__ import annotations

from simkit.finance.inputs import Prices, ScenarioTotals
from simkit.finance.labour import labour_gains
from simkit.finance.pairs import Gain, Pair, Spending
from simkit.finance.timeline import YearDemand


def hour_gains(pair: Pair, demand: YearDemand) -> tuple[Gain, ...]:
    """What hours are worth in a full year of use, and the labour that moves, at the demand of one year."""
    found = [
        overtime(pair, demand.factor),
        overrun(pair, demand.factor),
        subcontract(pair, demand.factor),
        *sales(pair, demand),
        *labour_gains(pair, demand.factor),
    ]
    return tuple(gain for gain in found if gain is not None)


def overtime(pair: Pair, factor: float) -> Gain:
    """Overtime hours of those who come, at their loaded rates with the premium."""

    def spent(totals: ScenarioTotals, factor: float) -> Spending:
        rate = totals.roster.crew_rate_per_h or pair.prices.money.operator_rate_per_h
        return Spending(totals.per_week("overtime_h", factor), rate * (1.0 + pair.prices.people.overtime_premium))

    return pair.less_spent(
        "overtime", spent(pair.today, factor), spent(pair.option, factor), "overtime", "crew with premium",
        budget=spent(pair.today, pair.budget_factor),
    )  # fmt: skip


def overrun(pair: Pair, factor: float) -> Gain | None:
    """Person-hours past breaks and shift ends, at the operator's rate with the premium."""
    hours = pair.both("person_overrun_h", factor)
    if hours is None:
        return None
    rate = pair.prices.money.operator_rate_per_h * (1.0 + pair.prices.people.overtime_premium)
    return pair.less_spent(
        "overrun", Spending(hours[0], rate), Spending(hours[1], rate), "of people's overrun", "operator with premium",
        budget=Spending(pair.today.per_week("person_overrun_h", pair.budget_factor), rate),
    )  # fmt: skip


def own_cost_per_h(today: ScenarioTotals, prices: Prices, factor: float) -> float:
    """Energy and gas that an hour in house uses today, money/h; 0 where the measures are missing.

    Where energy and gas are measured in the span alone, the hours in house are scaled by its share of the sheets.
    """
    if not today.has("inhouse_h") or today.per_week("inhouse_h", factor) <= 0:
        return 0.0
    per_unit = {"energy_kwh": prices.money.energy_per_kwh, "gas_m3": prices.money.gas_per_m3}
    cost = sum(today.per_week(name, factor) * price for name, price in per_unit.items() if today.has(name))
    return cost / (today.per_week("inhouse_h", factor) * share_in_span(today, factor))


def share_in_span(today: ScenarioTotals, factor: float) -> float:
    """Share of today's sheets made in the measured span (the rest follows after it); 1 where not known."""
    if not (today.has("sheets") and today.has("sheets_in_span")):
        return 1.0
    sheets, inside = today.per_week("sheets", factor), today.per_week("sheets_in_span", factor)
    return inside / sheets if sheets > 0 and inside > 0 else 1.0


def subcontract(pair: Pair, factor: float) -> Gain:
    """Hours given out, at the invoiced price less the energy and gas of doing them in house today."""
    invoiced = pair.prices.money.subcontract_per_h
    own = own_cost_per_h(pair.today, pair.prices, factor)

    def spent(totals: ScenarioTotals, factor: float) -> Spending:
        price = invoiced - own_cost_per_h(pair.today, pair.prices, factor)
        return Spending(totals.per_week("subcontract_h", factor), price)

    return pair.less_spent(
        "subcontract", spent(pair.today, factor), spent(pair.option, factor), "given out",
        f"({invoiced:.4g} invoiced less {own:.4g} own energy and gas)", budget=spent(pair.today, pair.budget_factor),
    )  # fmt: skip


def sales(pair: Pair, demand: YearDemand) -> list[Gain]:
    """Orders no longer refused, and orders refused more, at the contribution margin; hoped demand on its own line."""
    total = _sold_h(pair, demand.factor)
    signed = total if demand.signed else _sold_h(pair, demand.signed_factor)
    gains = [_sales_gain(pair, "sales", signed, "signed demand")]
    if not demand.signed:
        gains.append(_sales_gain(pair, "sales_unsigned", total - signed, f"demand {demand.factor:g} hoped for"))
    return gains


def _sold_h(pair: Pair, factor: float) -> float:
    """Hours refused today less hours refused with the option, h per week."""
    return pair.today.per_week("unmet_h", factor) - pair.option.per_week("unmet_h", factor)


def _sales_gain(pair: Pair, line: str, hours: float, what: str) -> Gain:
    margin = pair.prices.money.margin_per_h
    return Gain(line, ((hours, f"h/week less refused of {what}"), pair.weeks_factor, (margin, f"{pair.per_h} margin")))
