"""What the study of parts needs simulated: its own cases, and a few cases counted by hour, night and sheet."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Collection
from dataclasses import dataclass
from typing import Any

import pandas as pd

from simkit.analysis.low_capital import Options, why_illegal
from simkit.analysis.part_cases import FAIL, SIZING, PartCase, combined, night_package, part_cases, roles_of, widened
from simkit.analysis.part_tables import part_table
from simkit.experiment.partcounts import PART_COUNTS
from simkit.experiment.results import Results
from simkit.experiment.runner import run_scenarios
from simkit.plant.plant import Plant
from simkit.plant.scenarios import make_scenario


@dataclass(frozen=True)
class SimulatedParts:
    """Results of the cases of the study of parts, the cases by name, and the table by hour, night and sheet."""

    results: Results
    cases: dict[str, PartCase]
    table: pd.DataFrame


def simulate_parts(
    plant: Plant,
    package: Options,
    known: Collection[Options],
    demand_factor: float,
    say: Callable[[str], None],
    **run: Any,
) -> SimulatedParts:
    """Simulate the cases that no other study has, and count today, removal and nights, at one demand level.

    ``known`` are the sets of options that were simulated already. ``run`` goes to
    :func:`simkit.experiment.runner.run_scenarios`.
    """
    today, held = make_scenario(plant, ()), {frozenset(options) for options in known}
    cases = [c for c in part_cases(plant, package) if c.overrides or frozenset(c.options) not in held]
    scenarios = [case.scenario(plant) for case in cases]
    say(f"{len(scenarios)} cases of parts")
    results = run_scenarios(today, [today, *scenarios], demand_factors=[demand_factor], **run)
    wide = widened(plant)
    counted = [make_scenario(wide, options) for options in counted_options(plant, package)]
    counted += [s for case, s in zip(cases, scenarios, strict=True) if case.group in (FAIL, SIZING)]
    counts = run_scenarios(today, counted, demand_factors=[demand_factor], model=PART_COUNTS, **run)
    named = {
        case.name: dataclasses.replace(case, physics_hash=scenario.physics_hash)
        for case, scenario in zip(cases, scenarios, strict=True)
    }
    return SimulatedParts(results, named, part_table(counts, demand_factor))


def counted_options(plant: Plant, package: Options) -> list[Options]:
    """Today, removal alone, and the night with each way to hand over, as far as they are legal."""
    roles = roles_of(plant)
    under = night_package(plant, roles, package)
    nights = [night for way in (roles.removal, roles.stack) if (night := roles.night_with(way)) is not None]
    wanted = [(), *([roles.removal] if roles.removal else []), *(combined(plant, under, night) for night in nights)]
    return list(dict.fromkeys(options for options in wanted if not why_illegal(widened(plant), options)))
