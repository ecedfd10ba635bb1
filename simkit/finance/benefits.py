"""What the hours that an option changes in a year of use are worth, by the value rules.

Hours are differences of simulated totals. In the simulation an order is made in house, given out or refused,
and overtime lies in house, so no hour is counted twice. Hours given out and unmet are standard hours of
today's plant: an option that is faster does not make the same order cheaper to give out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from simkit.finance.cases import least, most
from simkit.finance.inputs import Prices, ScenarioTotals
from simkit.finance.lines import Factor, product
from simkit.finance.timeline import YearDemand


@dataclass(frozen=True)
class Gain:
    """Money of a full year of use at prices of year 1; a negative ``full`` is a cost.

    ``budget`` is what today's book costs on this budget line a year: more than that cannot be released,
    only avoided (None: no such limit).
    """

    line: str
    factors: tuple[Factor, ...]
    item: str = ""
    note: str = ""
    budget: float | None = None

    @property
    def full(self) -> float:
        """Money per full year."""
        return product(self.factors)


@dataclass(frozen=True)
class Pair:
    """A scenario beside today, the prices, production weeks a year and the demand of today's book."""

    today: ScenarioTotals
    option: ScenarioTotals
    prices: Prices
    weeks: float
    budget_factor: float

    @property
    def per_h(self) -> str:
        """Unit of an hourly price."""
        return f"{self.prices.currency}/h"

    @property
    def weeks_factor(self) -> Factor:
        """Production weeks as a factor."""
        return self.weeks, "weeks"

    def both(self, measure: str, factor: float) -> tuple[float, float] | None:
        """Today's and the option's weekly amount; None if neither knows the measure."""
        if not (self.today.has(measure) or self.option.has(measure)):
            return None
        return self.today.per_week(measure, factor), self.option.per_week(measure, factor)

    def same_parts(self, factor: float) -> float:
        """Mass of parts the option makes in house relative to today's; 1 where it is not known."""
        mass = self.both("parts_kg", factor)
        return mass[1] / mass[0] if mass and mass[0] > 0 else 1.0

    def share_in_span(self, factor: float) -> float:
        """Share of today's sheets made in the measured span (the rest follows after it); 1 where not known."""
        sheets, inside = self.both("sheets", factor), self.both("sheets_in_span", factor)
        return inside[0] / sheets[0] if sheets and inside and sheets[0] > 0 and inside[0] > 0 else 1.0

    def same_span_work(self, factor: float) -> float:
        """Sheets the option makes in the measured span relative to today's, for what is measured in the span."""
        inside = self.both("sheets_in_span", factor)
        return inside[1] / inside[0] if inside and inside[0] > 0 else self.same_parts(factor)

    def freed_h(self, factor: float) -> float:
        """Hours needed today less hours needed with the option, h per week."""
        return self.today.per_week("hours_needed", factor) - self.option.per_week("hours_needed", factor)


def hour_gains(pair: Pair, demand: YearDemand) -> tuple[Gain, ...]:
    """What hours are worth in a full year of use, and the labour that moves, at the demand of one year."""
    found = [
        overtime(pair, demand.factor),
        overrun(pair, demand.factor),
        subcontract(pair, demand.factor),
        *sales(pair, demand),
        *moved_labour(pair, demand.factor),
    ]
    return tuple(gain for gain in found if gain is not None)


def overtime(pair: Pair, factor: float) -> Gain:
    """Overtime hours of the crew, at its loaded rate with the premium."""
    premium = 1.0 + pair.prices.people.overtime_premium
    fallback = pair.prices.money.operator_rate_per_h
    before = (pair.today.roster.crew_rate_per_h or fallback) * premium
    after = (pair.option.roster.crew_rate_per_h or fallback) * premium
    h_before, h_after = pair.today.per_week("overtime_h", factor), pair.option.per_week("overtime_h", factor)
    budget = pair.today.per_week("overtime_h", pair.budget_factor) * before * pair.weeks
    hours = f"h/week overtime ({h_before:.4g} today, {h_after:.4g} with it)"
    if before == after:
        factors = ((h_before - h_after, hours), pair.weeks_factor, (before, f"{pair.per_h} crew with premium"))
        return Gain("overtime", factors, budget=budget)
    cost = f"{pair.prices.currency}/week ({h_before:.4g} h at {before:.4g} today, {h_after:.4g} h at {after:.4g})"
    return Gain("overtime", ((h_before * before - h_after * after, cost), pair.weeks_factor), budget=budget)


def overrun(pair: Pair, factor: float) -> Gain | None:
    """Person-hours past breaks and shift ends, at the operator's rate with the premium."""
    hours = pair.both("person_overrun_h", factor)
    if hours is None:
        return None
    rate = pair.prices.money.operator_rate_per_h * (1.0 + pair.prices.people.overtime_premium)
    budget = pair.today.per_week("person_overrun_h", pair.budget_factor) * rate * pair.weeks
    text = f"person-h/week overrun ({hours[0]:.4g} today, {hours[1]:.4g} with it)"
    factors = ((hours[0] - hours[1], text), pair.weeks_factor, (rate, f"{pair.per_h} with premium"))
    return Gain("overrun", factors, budget=budget)


def own_cost_per_h(pair: Pair, factor: float) -> float:
    """Energy and gas that an hour in house uses today, money/h; 0 where the measures are missing."""
    energy, gas = pair.both("energy_kwh", factor), pair.both("gas_m3", factor)
    inhouse = pair.both("inhouse_h", factor)
    if inhouse is None or inhouse[0] <= 0:
        return 0.0
    money = pair.prices.money
    cost = (energy[0] if energy else 0.0) * money.energy_per_kwh + (gas[0] if gas else 0.0) * money.gas_per_m3
    return cost / (inhouse[0] * pair.share_in_span(factor))


def subcontract(pair: Pair, factor: float) -> Gain:
    """Hours given out, at the invoiced price less the energy and gas of doing them in house."""
    own = own_cost_per_h(pair, factor)
    price = pair.prices.money.subcontract_per_h - own
    before, after = pair.today.per_week("subcontract_h", factor), pair.option.per_week("subcontract_h", factor)
    budget = pair.today.per_week("subcontract_h", pair.budget_factor) * price * pair.weeks
    text = f"h/week given out ({before:.4g} today, {after:.4g} with it)"
    net = f"{pair.per_h} ({pair.prices.money.subcontract_per_h:.4g} invoiced less {own:.4g} own energy and gas)"
    return Gain("subcontract", ((before - after, text), pair.weeks_factor, (price, net)), budget=budget)


def sold_h(unmet_before_h: float, unmet_after_h: float, available_h: float) -> float:
    """Hours that can be sold: never more than was unmet or than is available; negative: sales are lost."""
    return least(unmet_before_h - unmet_after_h, unmet_before_h, most(available_h, 0.0))  # type: ignore[no-any-return]


def available_h(pair: Pair, factor: float) -> float:
    """Hours left for sale after those that replace overtime and take back hours given out, h per week.

    Where the hours in house were simulated, each order has one fate (in house, given out, refused), so the
    orders no longer refused are themselves the limit. Totals without them get the freed hours that are left.
    """
    if pair.today.has("inhouse_h") and pair.option.has("inhouse_h"):
        return math.inf
    taken_back = pair.today.per_week("subcontract_h", factor) - pair.option.per_week("subcontract_h", factor)
    less_overtime = pair.today.per_week("overtime_h", factor) - pair.option.per_week("overtime_h", factor)
    return pair.freed_h(factor) - less_overtime - taken_back


def sales(pair: Pair, demand: YearDemand) -> list[Gain]:
    """Unmet hours that can be made, at the contribution margin; hoped demand stands on its own line."""
    total = _sold(pair, demand.factor)
    signed = total if demand.signed else least(_sold(pair, demand.signed_factor), total)
    gains = [_sales_gain(pair, "sales", signed, "signed demand")]
    if not demand.signed:
        more = total - signed
        gains.append(_sales_gain(pair, "sales_unsigned", more, f"demand {demand.factor:g} hoped for"))
    return gains


def _sold(pair: Pair, factor: float) -> float:
    before, after = pair.today.per_week("unmet_h", factor), pair.option.per_week("unmet_h", factor)
    return sold_h(before, after, available_h(pair, factor))


def _sales_gain(pair: Pair, line: str, hours: float, what: str) -> Gain:
    margin = pair.prices.money.margin_per_h
    text = f"h/week sold of {what} (no more than is unmet today)"
    return Gain(line, ((hours, text), pair.weeks_factor, (margin, f"{pair.per_h} margin")))


def moved_labour(pair: Pair, factor: float) -> list[Gain]:
    """Preparation, programming, care by others and hours on call that an option adds, unless its own post does them.

    Hours it saves there are hours, not money. A call is paid from the ring of the telephone, at the night rate.
    """
    money, people = pair.prices.money, pair.prices.people
    added = {post.person_id for post in pair.option.roster.posts} - set(pair.today.roster.by_person)
    new_skills = {s for post in pair.option.roster.posts if post.person_id in added for s in post.skills}
    found = []
    for measure, skill, rate in (
        ("preparation_h", "preparation", money.setter_rate_per_h),
        ("programming_h", "programming", money.programmer_rate_per_h),
        ("care_by_others_h", "care by others", money.operator_rate_per_h),
        ("on_call_h", "on call", money.operator_rate_per_h * (1 + people.night_premium)),
    ):
        hours = pair.both(measure, factor)
        if hours is None or skill in new_skills:
            continue
        more = hours[1] - hours[0] * pair.same_parts(factor)
        text = f"h/week more {skill} ({hours[0]:.4g} today, {hours[1]:.4g} with it)"
        factors = ((-most(more, 0.0), text), pair.weeks_factor, (rate, f"{pair.per_h} {skill}"))
        found.append(Gain("moved_labour", factors, item=skill))
    return found
