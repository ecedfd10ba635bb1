"""The value of a set of options as a function of its uncertain inputs: thousands of cases in one building of years.

The cash-flow table is built by :func:`simkit.finance.cashflow.build_cashflow` itself, with one number per case in the
prices and totals. Nothing here runs the cell: simulated totals enter as means over replications, also with each
replication left out, and, for times of elements, with slopes that were measured once.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from simkit.base.arrays import Floats
from simkit.experiment.intervals import pseudo_values
from simkit.experiment.results import Results
from simkit.finance.casearrays import PerCase
from simkit.finance.cashflow import build_cashflow, figure_amounts
from simkit.finance.guards import require_counted_once
from simkit.finance.inputs import Prices, ScenarioTotals, WithoutEach, in_bounds, prices_of, totals_without_each
from simkit.finance.measures import discounted, payback
from simkit.finance.riskinputs import RiskInput, fades, with_values
from simkit.plant.options import TODAY
from simkit.plant.plant import PlantInputs
from simkit.plant.settings_money import Finance

BLOCK = 8192
"""Cases that are built together at most, so that memory stays within bounds."""

Slopes = Mapping[str, Mapping[str, float]]
"""Scenario to measure to its change per released week at demand 1 and per unit of an element's time."""


@dataclass(frozen=True)
class CaseValues:
    """Headline cash of each case by scenario, shape (cases, years), and what it is worth at each case's rate."""

    flows: Mapping[str, Floats]
    npv: Mapping[str, Floats]

    def paybacks(self, scenario: str) -> Floats:
        """Simple payback of each case, years; infinite where it never pays back."""
        found = (payback(flows).years for flows in self.flows[scenario])
        return np.array([np.inf if years is None else years for years in found])


@dataclass(frozen=True)
class RiskModel:
    """Sets of options beside today, with their uncertain inputs.

    ``totals`` holds today (named ``today``), the sets and the low-capital scenarios that tell what fades.
    ``replications`` are the results behind them (None: no error of simulation), ``slopes`` the response of totals to
    the times of elements, by the input's name.
    """

    plant: PlantInputs
    totals: Mapping[str, ScenarioTotals]
    inputs: tuple[RiskInput, ...]
    today: str = TODAY
    replications: Results | None = None
    slopes: Mapping[str, Slopes] = field(default_factory=dict)

    @cached_property
    def typical(self) -> dict[str, float]:
        """Typical value of every input."""
        return {one.name: one.typical for one in self.inputs}

    @cached_property
    def _left_out(self) -> Mapping[str, WithoutEach]:
        return totals_without_each(self.replications, self.totals.values()) if self.replications else {}

    @cached_property
    def _prices(self) -> Prices:
        options = {option for totals in self.totals.values() for option in totals.option_ids}
        require_counted_once(self.plant, self.plant.settings.finance, options)
        return prices_of(self.plant)

    @property
    def runs(self) -> int:
        """Replications behind the totals; 0 where their error is not asked for."""
        return self.replications.replications if self.replications else 0

    @cached_property
    def fitted(self) -> int:
        """Degrees of freedom that the adjustment for drawn hours costs an interval of a value."""
        if self.replications is None:
            return 0
        return max(self.replications.fitted(self.today, factor) for factor in self.totals[self.today].levels)

    def values(self, changes: Mapping[str, Floats], names: Sequence[str]) -> CaseValues:
        """Cash of the scenarios ``names`` in every case.

        ``changes`` maps inputs (and ``discount_rate``) to one value per case; all others are typical.
        """
        known = {name: np.asarray(values, float) for name, values in changes.items()}
        count, blocks = len(next(iter(known.values()))) if known else 1, []
        for start in range(0, count, BLOCK):
            part = {name: values[start : start + BLOCK] for name, values in known.items()}
            own = {name: values if np.ptp(values) else float(values[0]) for name, values in part.items()}
            blocks.append(self._flows(own, names, self.totals.values(), min(BLOCK, count - start)))
        return self.worth({name: np.concatenate([block[name] for block in blocks]) for name in names}, changes)

    def without_each(self, names: Sequence[str]) -> CaseValues:
        """Cash of the scenarios with each replication left out in turn, all in one building of the table.

        There are no cases where there are fewer than two replications.
        """
        if self.runs < 2:
            return self.worth(
                {name: np.empty((0, self.plant.settings.finance.horizon_years + 1)) for name in names}, {}
            )
        left = [one.at(np.arange(self.runs)) for one in self._left_out.values()]
        return self.worth(self._flows({}, names, left, self.runs), {})

    def samples(self, worth: Mapping[str, float]) -> dict[str, Floats]:
        """One value per replication of scenarios that are worth so much: their mean is that value."""
        if self.runs < 2:
            return {name: np.array([value]) for name, value in worth.items()}
        left = self.without_each(list(worth)).npv
        return {name: pseudo_values(value, left[name]) for name, value in worth.items()}

    def gain(self, changes: Mapping[str, Floats], name: str, against: str = "") -> Floats:
        """Value of a scenario in every case, beyond that of another one if it is named."""
        found = self.values(changes, [name, against] if against else [name]).npv
        return found[name] - found[against] if against else found[name]

    def one_by_one(self, name: str, points: Sequence[Floats], against: str = "") -> list[Floats]:
        """Its gain with each input in turn at its own points, the others typical, in one building."""
        if not points:
            return []
        starts = np.cumsum([0, *map(len, points)])
        cases = {one.name: np.full(starts[-1], one.typical) for one in self.inputs}
        for one, own, start in zip(self.inputs, points, starts, strict=False):
            cases[one.name][start : start + len(own)] = own
        return np.split(self.gain(cases, name, against), starts[1:-1])

    def with_finance(self, finance: Finance) -> RiskModel:
        """The same sets under other terms."""
        settings = self.plant.settings.model_copy(update={"finance": finance})
        return dataclasses.replace(self, plant=dataclasses.replace(self.plant, settings=settings))

    def worth(self, flows: Mapping[str, Floats], changes: Mapping[str, Floats]) -> CaseValues:
        """Cash of cases with what it is worth at each case's rate."""
        return CaseValues(flows, {name: self._worth(cash, changes) for name, cash in flows.items()})

    def base(self, name: str) -> float:
        """Headline net present value with every input at its typical value."""
        return float(self.values({}, [name]).npv[name][0])

    def _worth(self, flows: Floats, changes: Mapping[str, Floats]) -> Floats:
        finance = self.plant.settings.finance
        rates = np.asarray(changes.get("discount_rate", finance.discount_rate), float)
        return np.asarray(discounted(rates, flows, finance.timing, finance.start_after_years).sum(axis=1))

    def _flows(
        self, own: Mapping[str, PerCase], names: Sequence[str], simulated: Iterable[ScenarioTotals], count: int
    ) -> dict[str, Floats]:
        needed = companions(self.plant, self.totals, names, self.today)
        timed = [self._with_times(one, own) for one in simulated if one.name in needed]
        terms = self.plant.settings.finance
        prices, finance, totals = with_values(self._prices, terms, timed, own)
        by_name = {one.name: one for one in totals}
        wanted = [by_name[name] for name in names if name != self.today]
        cash = build_cashflow(
            self.plant, by_name[self.today], wanted, finance=finance, prices=prices, beside=totals
        )  # fmt: skip
        width = self.plant.settings.finance.horizon_years + 1
        return {name: np.broadcast_to(figure_amounts(cash, name), (width, count)).T for name in names}

    def _with_times(self, totals: ScenarioTotals, own: Mapping[str, PerCase]) -> ScenarioTotals:
        """Totals with the times of elements of every case."""
        times = {name: value for name, value in own.items() if name in self.slopes}
        if not times:
            return totals
        levels = {level: dict(measured) for level, measured in totals.levels.items()}
        spans = {level: measured["span_weeks"] for level, measured in levels.items()}
        for name, value in times.items():
            for measure, slope in self.slopes[name].get(totals.name, {}).items():
                for level, measured in levels.items():
                    if measure in measured:
                        more = (value - self.typical[name]) * slope * level * spans[level]
                        measured[measure] = np.maximum(measured[measure] + more, 0.0)
        # slopes of a part and of its whole are known within an error, the order between them surely
        return dataclasses.replace(totals, levels={level: in_bounds(measured) for level, measured in levels.items()})


def companions(plant: PlantInputs, totals: Mapping[str, ScenarioTotals], names: Sequence[str], today: str
               ) -> dict[str, ScenarioTotals]:  # fmt: skip
    """Today, the scenarios asked for, and those that hold just the options of one that fade: they tell what fades."""
    known = plant.option_by_id
    fading = [{option for option in totals[name].option_ids if fades(known[option])} for name in names]
    alone = [name for name, one in totals.items() if one.option_ids and set(one.option_ids) in fading]
    return {name: totals[name] for name in dict.fromkeys([today, *names, *alone])}
