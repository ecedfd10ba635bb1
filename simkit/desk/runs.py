"""What a study runs: numbers in force, levels of demand, and whose luck."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from simkit.base.messages import BadInput, Finding
from simkit.experiment.results import DRAWN_MEAN, Results
from simkit.experiment.runner import run_scenarios
from simkit.finance.timeline import levels_read
from simkit.plant import plant as tables
from simkit.plant.scenarios import make_scenario
from simkit.plant.settings_money import DemandYear, Finance

BOOK = re.compile(r"\s*(plant\.run\b|orders\b|start\b|history\b)")
"""Paths of changes that the draws read: what they change is drawn anew, for that scenario alone."""

MOST_DEMAND = 10.0
"""The highest factor of the order book that a plant's settings take."""


@dataclass(frozen=True)
class RunNumbers:
    """How a study is run. ``given`` is the demand asked for in every year (None: the plant's path), ``level`` the
    demand at which it answers, ``levels`` all that were simulated, as factors of the order book."""

    replications: int
    weeks: float
    seed: int
    given: float | None
    level: float
    levels: tuple[float, ...]


def numbers_of(
    plant: tables.PlantInputs, replications: int | None, weeks: float | None, demand: float | None, seed: int | None,
    further: Sequence[float] = (),
) -> RunNumbers:  # fmt: skip
    """Fill what is not given from the plant's run settings; raises BadInput with every number that cannot be run.

    Without a demand all levels are simulated that the signed years of the plant read; with one, it holds in every year.
    ``further`` demands are simulated beside these, where the plant projects its book.
    """
    run = plant.settings.run
    given = [("replications", replications), ("weeks", weeks), ("demand", demand), ("seed", seed)]
    given += [("levels", each) for each in further]
    findings = [f for name, value in given if value is not None for f in _faults(name, value)]
    if findings:
        raise BadInput(findings)
    level = float(run.demand_factor if demand is None else demand)
    projected = run.source == "project"
    levels = levels_read(finance_at(plant.settings.finance, demand), level) if projected else (level,)
    levels = tuple(sorted({*levels, *map(float, further)})) if projected else levels
    return RunNumbers(
        run.replications if replications is None else int(replications),
        float(run.weeks if weeks is None else weeks), run.seed if seed is None else int(seed),
        None if demand is None else float(demand), level, levels,
    )  # fmt: skip


def finance_at(finance: Finance, demand: float | None) -> Finance:
    """The settings of the cash flow with one signed demand in every year; as they are where none is given."""
    if demand is None:
        return finance
    return finance.model_copy(update={"demand": (DemandYear(from_year=1, factor=demand),)})


def _faults(name: str, value: Any) -> Iterable[Finding]:
    whole = name in ("replications", "seed")
    kinds = (int,) if whole else (int, float)
    if not isinstance(value, kinds) or isinstance(value, bool) or not math.isfinite(value):
        yield Finding("simulate", f"{name} is not a {'whole ' if whole else ''}number", "Write one", value=str(value))
    elif value < 0 or (value == 0 and name != "seed"):
        least = "0 or more" if name == "seed" else "more than 0"
        yield Finding("simulate", f"{name} is too small", f"Write {least}", value=str(value))
    elif name in ("demand", "levels") and value > MOST_DEMAND:
        yield Finding("simulate", f"{name} is more than {MOST_DEMAND:g} times the book", "Write less", value=str(value))


def require_projection(plant: tables.PlantInputs) -> None:
    """Refuse runs whose totals are no yearly amounts: other sources than projected weeks, and a warm-up. BadInput."""
    run = plant.settings.run
    mend = "Keep such settings to simulate and 'simkit run'; money starts from start.csv instead of a warm-up"
    findings = []
    if run.source != "project" or run.horizon_s is not None:
        why = "money projects whole release weeks until the book is done"
        findings.append(Finding("plant.toml", why, mend, column="run.source, run.horizon_s", value=run.source))
    if run.warmup_s:
        why = "totals of the whole run would not fit the weeks after the warm-up"
        findings.append(Finding("plant.toml", why, mend, column="run.warmup_s", value=f"{run.warmup_s:g}"))
    if findings:
        raise BadInput(findings)


def require_one_study(scenarios: Sequence[tables.ScenarioInputs]) -> None:
    """Refuse scenarios that share a name or differ in run settings. Raises BadInput with every problem."""
    findings = []
    names = [scenario.name for scenario in scenarios]
    for name in dict.fromkeys(name for name in names if names.count(name) > 1):
        findings.append(Finding("scenarios", "two scenarios have this name", "Name each differently", value=name))
    first = scenarios[0].plant.settings.run.model_dump()
    for scenario in scenarios[1:]:
        own = scenario.plant.settings.run.model_dump()
        keys = ", ".join(f"plant.run.{key}" for key in own if own[key] != first[key])
        if keys:
            why = f"{keys} differs from that of '{names[0]}': runs of different kinds are not compared"
            findings.append(Finding("scenarios", why, "Change it in all scenarios, or in none", value=scenario.name))
    if findings:
        raise BadInput(findings)


def luck_of(plant: tables.PlantInputs, scenario: tables.ScenarioInputs) -> tables.ScenarioInputs:
    """The scenario from whose plant orders and luck are drawn: today's, with the changes that concern the book alone.

    So all scenarios of a study meet the same orders and luck, and share kept runs with reports, whatever their changes.
    """
    return make_scenario(plant, (), tuple(text for text in scenario.overrides if BOOK.match(text)))


def run_all(
    plant: tables.PlantInputs, scenarios: Sequence[tables.ScenarioInputs], numbers: RunNumbers, **more: Any
) -> Results:
    """Simulate scenarios, those with a changed book with orders of their own; in the order given.

    Where books differ, no total is adjusted for the hours drawn: they are not the same for all scenarios.
    """
    groups: dict[str, list[tables.ScenarioInputs]] = {}
    lucks = {scenario.name: luck_of(plant, scenario) for scenario in scenarios}
    for scenario in scenarios:
        groups.setdefault(lucks[scenario.name].physics_hash, []).append(scenario)
    found = [
        run_scenarios(
            lucks[group[0].name], group, demand_factors=numbers.levels, replications=numbers.replications,
            seed=numbers.seed, weeks=numbers.weeks, **more,
        )
        for group in groups.values()
    ]  # fmt: skip
    results = found[0]
    for other in found[1:]:
        results = results.joined(other)
    if len(found) == 1:
        return results
    return Results(results.frame[results.frame["measure"] != DRAWN_MEAN].reset_index(drop=True), results.records)
