"""What the cash-flow table reads: simulated totals per demand level, today's prices, and what scrap earns.

Nothing here knows how the totals came about; a test writes them by hand.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from simkit.base.arrays import Floats
from simkit.base.messages import BadInput, Finding
from simkit.finance.casearrays import PerCase
from simkit.finance.roster import Roster, roster_of
from simkit.plant.options import Option
from simkit.plant.plant import PlantInputs, ScenarioInputs
from simkit.plant.settings import People, Rules
from simkit.plant.settings_money import Money

if TYPE_CHECKING:
    from simkit.experiment.results import Results  # for the type alone: a check of a plant loads no tables

Totals = Mapping[str, PerCase]
"""Measure name to its total over the span, plain or by case; ``span_weeks`` is one of them."""

REQUIRED = ("span_weeks", "hours_needed", "overtime_h", "subcontract_h", "unmet_h")
"""Measures without which no cash flow is built."""

RATIOS = ("late_share",)
"""Measures that are averages and are not divided by the span."""


class DoubleCount(ValueError):
    """The same hour would be counted twice."""


@dataclass(frozen=True)
class ScenarioTotals:
    """Simulated totals of one scenario at each demand level, its roster, and the prices that hold in it.

    ``scrap_per_kg`` is its credit by metal of scrap kept apart, ``mixing_per_kg`` what mixing adds to it,
    ``sheet_per_kg`` its sheet price by material (money/kg); prices of tools are those of the mean tool. What an option
    changes of them is its difference to the same of today. What is empty or None is as in today's prices.
    """

    name: str
    levels: Mapping[float, Totals]
    option_ids: tuple[str, ...] = ()
    roster: Roster = field(default_factory=Roster)
    scrap_per_kg: Mapping[str, float] = field(default_factory=dict)
    mixing_per_kg: Mapping[str, float] = field(default_factory=dict)
    sheet_per_kg: Mapping[str, float] = field(default_factory=dict)
    tool_price: float | None = None
    tool_life_price: float | None = None

    @cached_property
    def factors(self) -> tuple[float, ...]:
        """Simulated demand levels, ascending."""
        return tuple(sorted(self.levels))

    @cached_property
    def measures(self) -> frozenset[str]:
        """Measures that every level knows."""
        return frozenset.intersection(*map(frozenset, self.levels.values()))

    def has(self, measure: str) -> bool:
        """Whether every level knows the measure."""
        return measure in self.measures

    def covers(self, factor: float) -> bool:
        """Whether a demand factor lies within the simulated levels."""
        return self.factors[0] <= factor <= self.factors[-1]

    def per_week(self, measure: str, factor: PerCase) -> PerCase:
        """Amount per released week at a demand factor, linear between simulated levels; see :class:`WeeklyAmounts`."""
        return WeeklyAmounts(self, factor)(measure)


class WeeklyAmounts:
    """Amounts per released week of a scenario at a demand, linear between simulated levels; ratios as they are.

    The demand is a factor of the book, plain or by case, or by year and case, and so are the amounts. Raises
    :class:`BadInput` for a demand outside the simulated levels, ``KeyError`` for a measure that is not there.
    """

    def __init__(self, totals: ScenarioTotals, demand: PerCase) -> None:
        self.totals, self.has = totals, totals.has
        self.demand, self._known = demand, dict[str, PerCase]()

    def __call__(self, measure: str) -> PerCase:
        """Amount of a measure."""
        if measure not in self._known:
            amounts = (self._weekly(measure, level) for level in self.totals.factors)
            parts = (weight * amount for weight, amount in zip(self._weights, amounts, strict=True))
            self._known[measure] = sum(parts)
        return self._known[measure]

    def total(self, measures: Iterable[str]) -> PerCase:
        """Sum over measures; one that is not known counts as 0."""
        return sum(self(measure) for measure in measures if self.has(measure))

    @cached_property
    def _weights(self) -> list[PerCase]:
        """Share of each simulated level in the demand."""
        levels = self.totals.factors
        for demand in (np.min(self.demand), np.max(self.demand)):
            if not self.totals.covers(demand):
                known = ", ".join(f"{level:g}" for level in levels)
                why = f"{self.totals.name} was not simulated at demand {demand:g} (simulated: {known})"
                mend = f"add {demand:g} to run.demand_levels; nothing is extrapolated"
                raise BadInput([Finding("plant.toml finance.demand", why, mend, value=f"{demand:g}")])
        return [np.interp(self.demand, levels, own) for own in np.eye(len(levels))]

    def _weekly(self, measure: str, level: float) -> PerCase:
        totals = self.totals.levels[level]
        if measure not in totals:
            raise KeyError(f"{self.totals.name}: measure {measure} is missing at demand {level:g}")
        return totals[measure] if measure in RATIOS else totals[measure] / totals["span_weeks"]


def check_totals(scenario: ScenarioTotals) -> None:
    """Refuse totals that lack a required measure or in which an hour or scrap would count twice.

    Hours in house are part of the hours needed; where they are not known, subcontracted hours and unmet are.
    (Given out and unmet are standard hours, so all three need not add up to the hours needed.) Raises
    ``KeyError`` or :class:`DoubleCount`.
    """
    for factor, totals in scenario.levels.items():
        missing = [name for name in REQUIRED if name not in totals]
        if missing:
            raise KeyError(f"{scenario.name} at demand {factor:g}: {', '.join(missing)} missing")
        known = "inhouse_h" in totals
        parts = totals["inhouse_h"] if known else totals["subcontract_h"] + totals["unmet_h"]
        at = f"{scenario.name} at demand {factor:g}"
        if over := _exceeding(parts, totals["hours_needed"]):
            raise DoubleCount(
                f"{at}: hours {'in house' if known else 'subcontracted and unmet'} are {over[0]:.6g} h, more than the "
                f"{over[1]:.6g} h needed: an hour would count twice"
            )
        for part, whole in _parts_of(totals):
            if over := _exceeding(totals[part], totals[whole]):
                raise DoubleCount(
                    f"{at}: {part} is {over[0]:.6g}, more than {whole}, of which it is a part ({over[1]:.6g}): scrap "
                    "would count twice"
                )


def _exceeding(part: PerCase, whole: PerCase) -> tuple[float, float] | None:
    """A part and its whole in the first case in which it is more than that, beyond rounding; None without one."""
    parts, wholes = np.broadcast_arrays(np.atleast_1d(part), np.atleast_1d(whole))
    beyond = np.flatnonzero(parts > wholes * (1 + 1e-9) + 1e-6)
    return (float(parts[beyond[0]]), float(wholes[beyond[0]])) if len(beyond) else None


def _parts_of(totals: Totals) -> Iterator[tuple[str, str]]:
    """Measures that are part of another, where both are known."""
    if "parts_scrapped" in totals and "parts" in totals:
        yield "parts_scrapped", "parts"
    for name in totals:
        if name.startswith("lost_kg_") and (whole := name.replace("lost", "scrap", 1)) in totals:
            yield name, whole


@dataclass(frozen=True)
class Prices:
    """Today's prices and rules, from the plant."""

    currency: str
    money: Money
    people: People
    rules: Rules
    overtime_allowed: bool
    materials_of: Mapping[str, tuple[str, ...]]
    sheet_per_kg: Mapping[str, float]
    scrap_per_kg: Mapping[str, float]
    tool_price: float
    tool_life_price: float
    options: Mapping[str, Option]


def prices_of(plant: PlantInputs) -> Prices:
    """Prices of a plant. Scrap credit by metal is that of scrap kept apart, tool prices the mean tool's."""
    materials: dict[str, tuple[str, ...]] = {}
    for material in plant.materials:
        materials[material.metal] = (*materials.get(material.metal, ()), material.material_id)
    settings = plant.settings
    return Prices(
        currency=settings.currency,
        money=settings.money,
        people=settings.people,
        rules=settings.rules,
        overtime_allowed=bool(settings.calendar.overtime) and settings.overflow.overtime,
        materials_of=materials,
        scrap_per_kg=scrap_credit(plant),
        **_own_prices(plant),
        options=plant.option_by_id,
    )


def _own_prices(plant: PlantInputs) -> dict[str, Any]:
    """Sheet price by material, price of the mean tool, and of one life of the mean tool."""
    return {
        "sheet_per_kg": {material.material_id: material.price_per_kg for material in plant.materials},
        "tool_price": _mean(tool.price for tool in plant.tools),
        "tool_life_price": _mean(tool.price / (tool.grind_life + 1) for tool in plant.tools),
    }


def _mean(values: Iterable[float]) -> float:
    listed = list(values)
    return sum(listed) / len(listed) if listed else 0.0


def totals_from(results: Results, scenarios: Sequence[ScenarioInputs]) -> dict[str, ScenarioTotals]:
    """Means over replications of every scenario at every demand level, by scenario name."""
    return {scenario.name: _totals(scenario, results) for scenario in scenarios}


@dataclass(frozen=True)
class WithoutEach:
    """Totals of a scenario with each replication left out in turn.

    ``means`` hold one value per replication left out, by demand level and measure, where replications differ.
    """

    whole: ScenarioTotals
    means: Mapping[tuple[float, str], Floats]

    def at(self, left_out: NDArray[np.intp]) -> ScenarioTotals:
        """The totals without each of these replications, one case each."""
        levels: dict[float, dict[str, PerCase]] = {f: dict(totals) for f, totals in self.whole.levels.items()}
        for (factor, measure), values in self.means.items():
            levels[factor][measure] = values[left_out]
        return dataclasses.replace(self.whole, levels={f: in_bounds(totals) for f, totals in levels.items()})


def totals_without_each(results: Results, totals: Iterable[ScenarioTotals]) -> dict[str, WithoutEach]:
    """Totals of scenarios with each replication left out in turn."""
    return {one.name: WithoutEach(one, dict(_left_out(results, one))) for one in totals}


def _left_out(results: Results, totals: ScenarioTotals) -> Iterator[tuple[tuple[float, str], Floats]]:
    for factor, measure in results.measured(totals.name):
        values = results.values(totals.name, measure, factor)
        if np.ptp(values) == 0:
            continue
        left = (values.sum() - values) / (len(values) - 1)
        never_below = results.raw(totals.name, measure, factor).min() >= 0
        yield (factor, measure), np.maximum(left, 0.0) if never_below else left


def in_bounds(totals: Totals) -> dict[str, PerCase]:
    """Means adjusted by something that is known within an error: a part is never more than its whole."""
    found = dict(totals)
    for part, whole in [("inhouse_h", "hours_needed"), *_parts_of(totals)]:
        if part in found and whole in found:
            found[part] = np.minimum(found[part], found[whole])
    return found


def _totals(scenario: ScenarioInputs, results: Results) -> ScenarioTotals:
    levels: dict[float, dict[str, float]] = {}
    for factor, measure in results.measured(scenario.name):
        mean = float(results.values(scenario.name, measure, factor).mean())
        levels.setdefault(factor, {})[measure] = mean
    for factor in [factor for factor in levels if results.fitted(scenario.name, factor)]:
        levels[factor] = in_bounds(levels[factor])
    plant = scenario.plant
    return ScenarioTotals(
        scenario.name, levels, scenario.option_ids, roster_of(plant), scrap_credit(plant),
        change_by_mixing(plant, levels[min(levels)]), **_own_prices(plant),
    )  # fmt: skip


def scrap_credit(plant: PlantInputs) -> dict[str, float]:
    """Credit of scrap that is kept apart, money/kg by metal: the mean over its thicknesses."""
    metals: dict[str, list[float]] = {}
    for material in plant.materials:
        metals.setdefault(material.metal, []).append(material.scrap_price_per_kg)
    return {metal: sum(credits) / len(credits) for metal, credits in metals.items()}


def change_by_mixing(plant: PlantInputs, totals: Mapping[str, float]) -> dict[str, float]:
    """What mixing adds to the mean credit of a run's scrap, money/kg by metal: below 0 where mixed scrap earns less.

    ``totals`` holds ``scrap_kg_<metal>`` and, of these, ``slug_kg_<metal>``. Where ``plant.scrap`` mixes slugs or
    skeletons, but scrap of one metal alone falls there, nothing is mixed. Definition: a mean weighted by mass.
    """
    own, rule = scrap_credit(plant), plant.settings.scrap
    slugs = {metal: totals.get(f"slug_kg_{metal}", 0.0) for metal in own}
    rest = {metal: max(totals.get(f"scrap_kg_{metal}", 0.0) - slugs[metal], 0.0) for metal in own}
    mixed = dict.fromkeys(own, 0.0)
    for lot, together in ((slugs, rule.slugs == "mixed"), (rest, rule.skeletons == "mixed")):
        if together and sum(kg > 0 for kg in lot.values()) > 1:
            mixed = {metal: kg + lot[metal] for metal, kg in mixed.items()}
    share = {metal: mixed[metal] / (slugs[metal] + rest[metal]) if mixed[metal] > 0 else 0.0 for metal in own}
    return {metal: share[metal] * (rule.mixed_per_kg - credit) for metal, credit in own.items()}
