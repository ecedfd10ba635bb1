"""What the hours that an option changes in a year of use are worth, by the value rules; gains and losses alike.

Hours are differences of simulated totals. In the simulation an order is made in house, given out or refused,
and overtime lies in house, so no hour is counted twice. Subcontracted hours and unmet are standard hours of
today's plant: an option that is faster does not make the same order cheaper to give out.

A :class:`Pair` is a scenario beside today; a :class:`Gain` is what one rule finds in it.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from simkit.finance.casearrays import PerCase, or_else, ratio
from simkit.finance.inputs import Prices, ScenarioTotals, WeeklyAmounts
from simkit.finance.ledger import Factor, product


@dataclass(frozen=True, eq=False)
class Gain:
    """Money of a full year of use at prices of year 1: a gain, or a loss where ``full`` is negative.

    ``released`` is the share of it that lies within ``budget``, what today's book costs on this budget line a year;
    the rest is avoided. None: no budget limits the line, all is released. ``years`` are those in which it counts.
    """

    line: str
    factors: Sequence[Factor]
    item: str = ""
    note: str = ""
    released: PerCase = 1.0
    budget: PerCase = None
    years: PerCase = field(default=True)

    @cached_property
    def full(self) -> PerCase:
        """Money per full year, 0 in years in which it does not count."""
        return product(self.factors) * self.years


@dataclass(frozen=True, eq=False)
class Spending:
    """Hours a week at a price an hour."""

    hours: PerCase
    price: PerCase

    @property
    def per_week(self) -> PerCase:
        """Money a week."""
        return self.hours * self.price


def released_share(today: PerCase, option: PerCase, budget: PerCase) -> PerCase:
    """Share within the budget of a change in spending: min(today, budget) - min(option, budget) of it; 0 for none.

    The rest is avoided, or spent, above what is planned for.
    """
    within = np.minimum(today, budget) - np.minimum(option, budget)
    return np.clip(ratio(within, today - option), 0.0, 1.0)


@dataclass(frozen=True, eq=False)
class Pair:
    """Weekly amounts ``before``, today, and ``after``, with a scenario, at one demand, with prices and weeks a year.

    ``book`` are those of today at the demand of today's book, which budgets are made for.
    """

    before: WeeklyAmounts
    after: WeeklyAmounts
    book: WeeklyAmounts
    prices: Prices
    weeks: float

    def to(self, option: ScenarioTotals) -> Pair:
        """Another scenario beside the same today."""
        return dataclasses.replace(self, after=WeeklyAmounts(option, self.before.demand))

    @property
    def totals(self) -> tuple[ScenarioTotals, ScenarioTotals]:
        """Totals of today and of the scenario."""
        return self.before.totals, self.after.totals

    @property
    def per_h(self) -> str:
        """Unit of an hourly price."""
        return f"{self.prices.currency}/h"

    @property
    def weeks_factor(self) -> Factor:
        """Production weeks as a factor."""
        return Factor(self.weeks, "weeks")

    def knows(self, measure: str) -> bool:
        """Whether either of the two knows a measure."""
        return self.before.has(measure) or self.after.has(measure)

    @cached_property
    def same_parts(self) -> PerCase:
        """Mass of parts the option makes in house relative to today's; 1 where it is not known."""
        return self._relative("parts_kg", 1.0)

    @cached_property
    def same_span_work(self) -> PerCase:
        """Sheets the option makes in the measured span relative to today's, for what is measured in the span."""
        return self._relative("sheets_in_span", self.same_parts)

    def _relative(self, measure: str, otherwise: PerCase) -> PerCase:
        if not self.knows(measure):
            return otherwise
        before, after = self.before(measure), self.after(measure)
        return np.where(before > 0, ratio(after, before), otherwise)

    def less(self, measure: str) -> PerCase:
        """Weekly amount of today less that of the option."""
        return self.before(measure) - self.after(measure)

    def less_spent(
        self, line: str, today: Spending, option: Spending, hours: str, price: str, *, item: str = "",
        shown: tuple[PerCase, ...] = (), budget: Spending | None = None,
    ) -> Gain:  # fmt: skip
        """What the option spends less than today on a line; ``hours`` and ``price`` say what the two factors are.

        ``shown`` are values that ``price`` has places for. Within the budget lies min(today, budget) - min(option,
        budget): the classes then add up over scenarios.
        """
        seen, both = f"{hours} ({{:.4g}} today, {{:.4g}} with it)", (today.hours, option.hours)
        if np.all(today.price == option.price):
            fewer = Factor(today.hours - option.hours, f"h/week {seen}", both)
            factors = [fewer, self.weeks_factor, Factor(today.price, f"{self.per_h} {price}", shown)]
        else:
            unit = f"{self.prices.currency}/week {seen}, at {{:.4g}} and {{:.4g}} {self.per_h}"
            less = Factor(today.per_week - option.per_week, unit, (*both, today.price, option.price))
            factors = [less, self.weeks_factor]
        if budget is None:
            return Gain(line, factors, item)
        share = released_share(today.per_week, option.per_week, budget.per_week)
        return Gain(line, factors, item, released=share, budget=budget.per_week * self.weeks)


def today_at(today: ScenarioTotals, prices: Prices, weeks: float, demand: PerCase, book: PerCase) -> Pair:
    """Today beside itself at a demand, and at that of today's ``book``; :meth:`Pair.to` sets a scenario beside it."""
    weekly = WeeklyAmounts(today, demand)
    return Pair(weekly, weekly, WeeklyAmounts(today, book), prices, weeks)


# --- the rules ---


def hour_gains(pair: Pair) -> Iterator[Gain]:
    """What the hours of machine and orders are worth in a full year of use, at the demand of each year."""
    yield _overtime(pair)
    if pair.knows("person_overrun_h"):
        yield _overrun(pair)
    yield _subcontract(pair)
    yield _sales(pair)


def _overtime(pair: Pair) -> Gain:
    """Overtime hours of those who come, at their loaded rates with the premium."""

    def spent(weekly: WeeklyAmounts) -> Spending:
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


def own_cost_per_h(today: WeeklyAmounts, prices: Prices) -> PerCase:
    """Energy and gas that an hour in house uses today, money/h; 0 where the measures are missing.

    Where energy and gas are measured in the span alone, the hours in house are scaled by its share of the sheets.
    """
    if not today.has("inhouse_h"):
        return 0.0
    per_unit = {"energy_kwh": prices.money.energy_per_kwh, "gas_m3": prices.money.gas_per_m3}
    cost = sum(today(name) * price for name, price in per_unit.items() if today.has(name))
    return ratio(cost, np.maximum(today("inhouse_h"), 0.0) * _share_in_span(today))


def _share_in_span(today: WeeklyAmounts) -> PerCase:
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
