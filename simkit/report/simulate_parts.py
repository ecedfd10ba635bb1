"""What the study of parts needs simulated: its own cases, and a few cases counted by hour, night and sheet."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from typing import Any

import pandas as pd

from simkit.analysis.cases import with_physics
from simkit.analysis.hand_over import HandOver
from simkit.analysis.low_capital import Options
from simkit.analysis.part_cases import FAIL, SIZING, PartCase, part_cases
from simkit.analysis.part_tables import RECORDS, part_table
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
    over = HandOver(plant, package)
    cases = [c for c in part_cases(over) if c.overrides or frozenset(c.options) not in held]
    scenarios = [case.scenario(over.wide) for case in cases]
    say(f"{len(scenarios)} cases of parts")
    results = run_scenarios(today, [today, *scenarios], demand_factors=[demand_factor], **run)
    counted = [make_scenario(over.wide, options) for options in counted_options(over)]
    counted += [s for case, s in zip(cases, scenarios, strict=True) if case.group in (FAIL, SIZING)]
    counts = run_scenarios(today, counted, demand_factors=[demand_factor], records=RECORDS, **run)
    return SimulatedParts(results, with_physics(cases, scenarios), part_table(counts, demand_factor))


def counted_options(over: HandOver) -> list[Options]:
    """Today, removal alone, and the night with each way to hand over, as far as they are legal."""
    wanted: list[Options] = [(), *([over.roles.removal] if over.roles.removal else []), *over.nights]
    return [options for options in dict.fromkeys(wanted) if over.legal(options)]
