"""A scenario beside today, and what changes between the two in a full year of use."""

from __future__ import annotations

from dataclasses import dataclass

from simkit.finance.cases import least, most, ratio
from simkit.finance.inputs import Prices, ScenarioTotals
from simkit.finance.lines import Factor, product


@dataclass(frozen=True)
class Gain:
    """Money of a full year of use at prices of year 1: a gain, or a loss where ``full`` is negative.

    ``released`` is the share of it that lies within ``budget``, what today's book costs on this budget line a year;
    the rest is avoided. None: no budget limits the line, all is released.
    """

    line: str
    factors: tuple[Factor, ...]
    item: str = ""
    note: str = ""
    released: float = 1.0
    budget: float | None = None

    @property
    def full(self) -> float:
        """Money per full year."""
        return product(self.factors)


@dataclass(frozen=True)
class Spending:
    """Hours a week at a price an hour."""

    hours: float
    price: float

    @property
    def per_week(self) -> float:
        """Money a week."""
        return self.hours * self.price


def released_share(today: float, option: float, budget: float) -> float:
    """Share within the budget of a change in spending: min(today, budget) - min(option, budget) of it; 0 for none.

    The rest is avoided, or spent, above what is planned for.
    """
    share = ratio(least(today, budget) - least(option, budget), today - option)
    return most(0.0, least(1.0, share))  # type: ignore[no-any-return]


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

    def same_span_work(self, factor: float) -> float:
        """Sheets the option makes in the measured span relative to today's, for what is measured in the span."""
        inside = self.both("sheets_in_span", factor)
        return inside[1] / inside[0] if inside and inside[0] > 0 else self.same_parts(factor)

    def freed_h(self, factor: float) -> float:
        """Hours needed today less hours needed with the option, h per week."""
        return self.today.per_week("hours_needed", factor) - self.option.per_week("hours_needed", factor)

    def less_spent(
        self, line: str, today: Spending, option: Spending, hours: str, price: str, *, item: str = "",
        budget: Spending | None = None,
    ) -> Gain:  # fmt: skip
        """What the option spends less than today on a line; ``hours`` and ``price`` say what the two factors are.

        Within the budget lies min(today, budget) - min(option, budget): the classes then add up over scenarios.
        """
        seen = f"{hours} ({today.hours:.4g} today, {option.hours:.4g} with it)"
        if today.price == option.price:
            factors: tuple[Factor, ...] = ((today.hours - option.hours, f"h/week {seen}"), self.weeks_factor,
                                           (today.price, f"{self.per_h} {price}"))  # fmt: skip
        else:
            unit = f"{self.prices.currency}/week {seen}, at {today.price:.4g} and {option.price:.4g} {self.per_h}"
            factors = ((today.per_week - option.per_week, unit), self.weeks_factor)
        if budget is None:
            return Gain(line, factors, item)
        share = released_share(today.per_week, option.per_week, budget.per_week)
        return Gain(line, factors, item, released=share, budget=budget.per_week * self.weeks)
