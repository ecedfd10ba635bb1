"""In what order to buy under a budget, and what a later start is worth. The cell is not run again.

A set of options is worth what its own simulation says: values of single options are never added. A path begins with
today's cell and adds options year by year, through simulated sets alone; each set is valued as if first paid in its
year, to the same end of the horizon. What is bought stays. No investment advice.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from simkit.base.arrays import Floats
from simkit.experiment.best import named_best
from simkit.experiment.results import Results
from simkit.finance.cashflow import CashFlowTable, build_cashflow, figure_flows
from simkit.finance.inputs import ScenarioTotals
from simkit.finance.riskmodel import RiskModel
from simkit.finance.timeline import present_value
from simkit.plant.options import TODAY
from simkit.plant.plant import PlantInputs
from simkit.plant.settings_money import Finance


@dataclass(frozen=True)
class BuyingStep:
    """What is bought in a year: the set that stands then, what is paid for it, and the value of the path so far."""

    year: int
    scenario: str
    added: tuple[str, ...]
    capital: float
    value_so_far: float


@dataclass(frozen=True)
class BuyingPath:
    """A path through simulated sets. ``regret`` is what the best path without budget limit is worth beyond it."""

    steps: tuple[BuyingStep, ...]
    value: float
    capital: float
    regret: float

    @property
    def first(self) -> str:
        """The set that is bought first; today's cell if nothing is bought at once."""
        return self.steps[0].scenario if self.steps and self.steps[0].year == 0 else TODAY

    def regret_of_stopping(self, count: int) -> float:
        """What is missed if nothing more is bought after the first ``count`` steps."""
        return self.value - (self.steps[count - 1].value_so_far if count else 0.0) + self.regret


@dataclass(frozen=True)
class SetsOnOffer:
    """Simulated sets by name: their options, and capital and value if first paid in year 0, 1, ...

    ``samples`` are those values by replication, see :func:`simkit.experiment.intervals.pseudo_values`; without them
    only equal values are ties.
    """

    options: Mapping[str, frozenset[str]]
    capital: Mapping[str, Sequence[float]]
    value: Mapping[str, Sequence[float]]
    samples: Mapping[str, Sequence[Floats]] = field(default_factory=dict)
    fitted: int = 0

    @property
    def years(self) -> int:
        """Years in which something may be bought."""
        return min((len(values) for values in self.value.values()), default=0)


def buying_paths(offers: SetsOnOffer, budgets: Sequence[float] = ()) -> tuple[BuyingPath, ...]:
    """Best path for each first step; without ``budgets`` nothing limits the capital.

    The path to name stands first: of those that may be the best, the cheapest; the others follow by value. ``budgets``
    holds the capital of year 0, 1, ...; what is left is kept for the next year. A path may start with
    nothing, and may buy nothing in a year.
    """
    free = max(_paths(offers, ()), key=lambda path: path.value)
    best: dict[str, BuyingPath] = {}
    for path in _paths(offers, budgets):
        known = best.get(path.first)
        if known is None or _order(path) < _order(known):
            best[path.first] = path
    samples = {first: _sample(offers, path) for first, path in best.items()}
    named = named_best(samples, {f: _cost(p) for f, p in best.items()}, largest=True, fitted=offers.fitted)
    ordered = sorted(best.values(), key=lambda path: (path.first != named, *_order(path)))
    return tuple(BuyingPath(p.steps, p.value, p.capital, max(free.value - p.value, 0.0)) for p in ordered)


def _cost(path: BuyingPath) -> tuple[float, ...]:
    return path.capital, sum(len(step.added) for step in path.steps)


def _order(path: BuyingPath) -> tuple[float, ...]:
    """The most valuable first, of equal ones the cheapest; values are told apart to a thousandth."""
    return -round(path.value, 3), *_cost(path)


def _sample(offers: SetsOnOffer, path: BuyingPath) -> Floats:
    """Value of a path by replication; the value itself, twice, where no replications are known."""
    if not offers.samples:
        return np.full(2 + offers.fitted, round(path.value, 3))
    total, held = np.zeros_like(next(iter(offers.samples.values()))[0]), ""
    for step in path.steps:
        gain = offers.samples[step.scenario][step.year]
        total = total + gain - (offers.samples[held][step.year] if held else 0.0)
        held = step.scenario
    return total


def _paths(offers: SetsOnOffer, budgets: Sequence[float]) -> Iterator[BuyingPath]:
    def extend(steps: tuple[BuyingStep, ...], held: str, year: int, money: float) -> Iterator[BuyingPath]:
        if year == offers.years:
            value = steps[-1].value_so_far if steps else 0.0
            yield BuyingPath(steps, value, sum(step.capital for step in steps), 0.0)
            return
        money += budgets[year] if year < len(budgets) else 0.0
        yield from extend(steps, held, year + 1, money)
        own = offers.options.get(held, frozenset())
        for name, options in offers.options.items():
            if not own < options:
                continue
            paid = offers.capital[name][year] - (offers.capital[held][year] if held in offers.capital else 0.0)
            if budgets and paid > money + 1e-9:
                continue
            gain = offers.value[name][year] - (offers.value[held][year] if held in offers.value else 0.0)
            so_far = (steps[-1].value_so_far if steps else 0.0) + gain
            step = BuyingStep(year, name, tuple(sorted(options - own)), paid, so_far)
            yield from extend((*steps, step), name, year + 1, money - paid)

    yield from extend((), TODAY, 0, 0.0)


def offers_of(
    plant: PlantInputs, today: ScenarioTotals, scenarios: Sequence[ScenarioTotals], names: Sequence[str], years: int,
    results: Results | None = None,
) -> SetsOnOffer:  # fmt: skip
    """Capital and value of sets if first paid in each of the first ``years`` years, to the plant's horizon.

    ``scenarios`` may hold more than ``names``: the table reads from them what part of a gain fades. ``results`` are the
    replications behind their totals; with them, values that cannot be told apart are ties.
    """
    finance = plant.settings.finance
    found: dict[str, tuple[list[float], list[float]]] = {name: ([], []) for name in names}
    samples: dict[str, list[Floats]] = {name: [] for name in names}
    totals = {one.name: one for one in (today, *scenarios)}
    model = RiskModel(plant, totals, (), today.name, replications=results)
    for year in range(min(years, finance.horizon_years)):
        later = finance.model_copy(update={"start_after_years": year})
        started = _table(plant, today, scenarios, names, later)
        worth = {name: _value(started, name) for name in names}
        drawn = model.with_finance(later).samples(worth) if model.runs > 1 else {}
        for name in names:
            samples[name] += [drawn[name]] if name in drawn else []
            found[name][0].append(started.capital(name))
            found[name][1].append(worth[name])
    options = {totals.name: frozenset(totals.option_ids) for totals in scenarios if totals.name in found}
    capital, value = ({name: pair[i] for name, pair in found.items()} for i in (0, 1))
    return SetsOnOffer(options, capital, value, samples if all(samples.values()) else {}, model.fitted)


def started_later(
    plant: PlantInputs, today: ScenarioTotals, scenarios: Sequence[ScenarioTotals], names: Sequence[str], years: int = 1
) -> dict[str, float]:
    """Value today of starting ``years`` later, at the prices and the demand of those dates, by scenario.

    The horizon moves along, so that there are as many years of use as of a start now; beyond the demand path its last
    entry holds. What it is above the value of a start now is gained by waiting.
    """
    finance = plant.settings.finance
    update = {name: getattr(finance, name) + years for name in ("start_after_years", "horizon_years")}
    table = _table(plant, today, scenarios, names, finance.model_copy(update=update))
    return {name: _value(table, name) for name in names}


def _table(
    plant: PlantInputs,
    today: ScenarioTotals,
    scenarios: Sequence[ScenarioTotals],
    names: Sequence[str],
    finance: Finance,
) -> CashFlowTable:
    """The table of the scenarios named; the others are read for what fades alone."""
    named = [one for one in scenarios if one.name in names]
    return build_cashflow(plant, today, named, finance=finance, beside=scenarios)


def _value(cashflow: CashFlowTable, scenario: str) -> float:
    return present_value(cashflow.finance, figure_flows(cashflow, scenario))
