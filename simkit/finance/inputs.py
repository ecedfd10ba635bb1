"""What the cash-flow table reads: simulated totals per demand level, and today's prices.

Nothing here knows how the totals came about; a test writes them by hand.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TypedDict

from simkit.base.messages import BadInput, Finding
from simkit.experiment.results import Results
from simkit.finance.cases import Cases, interpolated
from simkit.finance.roster import Roster, roster_of
from simkit.finance.scrap import change_by_mixing, scrap_credit
from simkit.plant.options import Option
from simkit.plant.plant import Plant, Scenario
from simkit.plant.settings import People, Rules
from simkit.plant.settings_money import Money

Totals = Mapping[str, float]
"""Measure name to its total over the span; ``span_weeks`` is one of them."""

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

    def has(self, measure: str) -> bool:
        """Whether every level knows the measure."""
        return all(measure in totals for totals in self.levels.values())

    def covers(self, factor: float) -> bool:
        """Whether a demand factor lies within the simulated levels."""
        return self.factors[0] <= factor <= self.factors[-1]

    def per_week(self, measure: str, factor: float) -> float:
        """Amount per released week at a demand factor, linear between simulated levels.

        Ratios are read as they are. Raises :class:`BadInput` outside the simulated levels and
        ``KeyError`` for a measure that is not there.
        """
        if isinstance(factor, Cases):
            return self._between(measure, factor)
        if (measure, factor) not in self._read:
            self._read[measure, factor] = self._between(measure, factor)
        return self._read[measure, factor]

    @cached_property
    def _read(self) -> dict[tuple[str, float], float]:
        """Amounts that were asked for before: every line and year of the table asks for the same ones."""
        return {}

    def _between(self, measure: str, factor: float) -> float:
        self._require(factor)
        values = [self._weekly(measure, level) for level in self.factors]
        return interpolated(factor, self.factors, values)  # type: ignore[no-any-return]

    def _weekly(self, measure: str, level: float) -> float:
        totals = self.levels[level]
        if measure not in totals:
            raise KeyError(f"{self.name}: measure {measure} is missing at demand {level:g}")
        return totals[measure] if measure in RATIOS else totals[measure] / totals["span_weeks"]

    def _require(self, factor: float) -> None:
        if self.covers(factor):
            return
        known = ", ".join(f"{level:g}" for level in self.factors)
        raise BadInput(
            [
                Finding(
                    "plant.toml finance.demand",
                    f"{self.name} was not simulated at demand {factor:g} (simulated: {known})",
                    f"add {factor:g} to run.demand_levels; nothing is extrapolated",
                    value=f"{factor:g}",
                )
            ]
        )


def check_totals(scenario: ScenarioTotals) -> None:
    """Refuse totals that lack a required measure or in which an hour or scrap would count twice.

    Hours in house are part of the hours needed; where they are not known, hours given out and unmet are.
    (Given out and unmet are standard hours, so all three need not add up to the hours needed.) Raises
    ``KeyError`` or :class:`DoubleCount`.
    """
    for factor, totals in scenario.levels.items():
        missing = [name for name in REQUIRED if name not in totals]
        if missing:
            raise KeyError(f"{scenario.name} at demand {factor:g}: {', '.join(missing)} missing")
        known = "inhouse_h" in totals
        parts = totals["inhouse_h"] if known else totals["subcontract_h"] + totals["unmet_h"]
        if parts > totals["hours_needed"] * (1 + 1e-9) + 1e-6:
            raise DoubleCount(
                f"{scenario.name} at demand {factor:g}: hours {'in house' if known else 'given out and unmet'} are "
                f"{parts:.6g} h, more than the {totals['hours_needed']:.6g} h needed: an hour would count twice"
            )
        for part, whole in _parts_of(totals):
            if totals[part] > totals[whole] * (1 + 1e-9) + 1e-6:
                raise DoubleCount(
                    f"{scenario.name} at demand {factor:g}: {part} is {totals[part]:.6g}, more than {whole}, of which "
                    f"it is a part ({totals[whole]:.6g}): scrap would count twice"
                )


def _parts_of(totals: Totals) -> Iterator[tuple[str, str]]:
    """Measures that are part of another, where both are known."""
    if "parts_scrapped" in totals and "parts" in totals:
        yield "parts_scrapped", "parts"
    for name in totals:
        whole = name.replace("lost_kg_", "scrap_kg_")
        if whole != name and whole in totals:
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


def prices_of(plant: Plant) -> Prices:
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


class _OwnPrices(TypedDict):
    sheet_per_kg: dict[str, float]
    tool_price: float
    tool_life_price: float


def _own_prices(plant: Plant) -> _OwnPrices:
    """Sheet price by material, price of the mean tool, and of one life of the mean tool."""
    return {
        "sheet_per_kg": {material.material_id: material.price_per_kg for material in plant.materials},
        "tool_price": _mean(tool.price for tool in plant.tools),
        "tool_life_price": _mean(tool.price / (tool.grind_life + 1) for tool in plant.tools),
    }


def _mean(values: Iterable[float]) -> float:
    listed = list(values)
    return sum(listed) / len(listed) if listed else 0.0


def totals_from(results: Results, scenarios: Sequence[Scenario]) -> dict[str, ScenarioTotals]:
    """Means over replications of every scenario at every demand level, by scenario name."""
    means = results.frame.groupby(["scenario", "demand_factor", "measure"], sort=False)["value"].mean()
    return {scenario.name: _totals(scenario, means.loc[scenario.name]) for scenario in scenarios}


def totals_without_each(results: Results, scenarios: Sequence[Scenario]) -> tuple[dict[str, ScenarioTotals], ...]:
    """Means with each replication left out in turn."""
    return tuple(
        totals_from(Results(results.frame[results.frame["replication"] != replication]), scenarios)
        for replication in sorted(results.frame["replication"].unique())
    )


def _totals(scenario: Scenario, values: object) -> ScenarioTotals:
    levels: dict[float, dict[str, float]] = {}
    for (factor, measure), value in values.items():  # type: ignore[attr-defined]
        levels.setdefault(float(factor), {})[str(measure)] = float(value)
    plant = scenario.plant
    return ScenarioTotals(
        scenario.name, levels, scenario.option_ids, roster_of(plant), scrap_credit(plant),
        change_by_mixing(plant, _summed(levels.values())), **_own_prices(plant),
    )  # fmt: skip


def _summed(levels: Iterable[Totals]) -> dict[str, float]:
    """All demand levels together."""
    found: dict[str, float] = {}
    for totals in levels:
        for measure, value in totals.items():
            found[measure] = found.get(measure, 0.0) + value
    return found


@dataclass(frozen=True)
class OneTime:
    """A single amount in a named year, as stock released (positive) or bound (negative), counted by somebody.

    ``option_id`` names the option that brings it; it counts in every scenario that contains it.
    """

    option_id: str
    year: int
    amount: float
    text: str
    owner: str = ""
