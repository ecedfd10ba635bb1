"""What the study of parts needs simulated: its own cases, and a few cases counted by hour, night and sheet."""

from __future__ import annotations

from collections.abc import Callable, Collection
from typing import Any

from simkit.analysis.cases import Simulated, with_physics
from simkit.analysis.hand_over import HandOver
from simkit.analysis.low_capital import Options
from simkit.analysis.part_cases import FAIL, SIZING, part_cases
from simkit.analysis.record_tables import counted_tables
from simkit.experiment.runner import run_scenarios
from simkit.plant.plant import Plant
from simkit.plant.scenarios import make_scenario


def simulate_parts(
    plant: Plant,
    package: Options,
    known: Collection[Options],
    demand_factor: float,
    say: Callable[[str], None],
    **run: Any,
) -> Simulated:
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
    tables = counted_tables(["parts"], today, counted, demand_factor, **run)
    return Simulated(results, with_physics(cases, scenarios), tables)


def counted_options(over: HandOver) -> list[Options]:
    """Today, removal alone, and the night with each way to hand over, as far as they are legal."""
    wanted: list[Options] = [(), *([over.roles.removal] if over.roles.removal else []), *over.nights]
    return [options for options in dict.fromkeys(wanted) if over.legal(options)]
