"""What the tables of calendar options need simulated: each with each bought option, at one demand level."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Any

from simkit.analysis.calendar_pairs import CalendarPair, calendar_pairs, combinations_of_pairs
from simkit.analysis.low_capital import Options
from simkit.experiment.glossary import NEEDED
from simkit.experiment.results import Results
from simkit.experiment.runner import make_scenarios, run_scenarios
from simkit.plant.plant import Plant
from simkit.plant.scenarios import make_scenario


def simulate_calendar(
    plant: Plant, package: Options, known: Results, demand_factor: float, say: Callable[[str], None], **run: Any
) -> tuple[Results, tuple[CalendarPair, ...]]:
    """Simulate what the pairs of bought and calendar options need beyond ``known``; return both together.

    At one demand level only: a pair that money is to read is named by the user, see
    :func:`simkit.report.simulate.simulate_study`. ``run`` goes to
    :func:`simkit.experiment.runner.run_scenarios`.
    """
    pairs = calendar_pairs(plant, package)
    wanted = make_scenarios(plant, combinations_of_pairs(pairs))
    new = [scenario for scenario in wanted if not known.has(scenario.name, NEEDED, demand_factor)]
    if new:
        say(f"{len(new)} sets of bought and calendar options")
        found = run_scenarios(make_scenario(plant, ()), new, demand_factors=[demand_factor], **run)
        known = known.joined(found)
    return known, tuple(_hashed(plant, pair) for pair in pairs)


def _hashed(plant: Plant, pair: CalendarPair) -> CalendarPair:
    if pair.refused:
        return pair
    return dataclasses.replace(pair, physics_hash=make_scenario(plant, pair.options).physics_hash)
