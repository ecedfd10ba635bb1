"""Thirty experiments on the demo that change one thing: the sign, and roughly the size, of what follows from it.

Two weeks, four replications, all with the same luck. Overtime, giving out and refusal are off, so that every order
stays in the house. A change must move its measure in the direction that the trade tells, with the paired 95 % interval
on one side of zero, and the mean between two bounds that are wide: they catch a rule that does nothing, or everything
twice. Of thirty bounds written before the first run twenty-five held. The others were wrong about the demo: hours count
inside the two weeks, so that longer handling pushes some of it out of them; hardly a tool wears out today, so that a
fifth of the life is more than thirty times as many; sheets wait at the bench for people on their breaks more than for
people at work, so that a second person there saves a twentieth; and a larger stack finds no more work at night in this
book, which is why a smaller one is asked about.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pytest

from simkit.experiment.intervals import t_interval
from simkit.experiment.results import Results
from simkit.experiment.runner import run_scenarios
from simkit.plant.plant import PlantInputs, ScenarioInputs
from simkit.plant.scenarios import make_scenario
from tests.must_lose.changed import TODAY, demo

REPLICATIONS, WEEKS = 4, 2


class Direction(NamedTuple):
    """A change, the measure it moves, and between which shares of today's mean its difference lies.

    Where today has none of it, the bounds are in the measure's own unit.
    """

    overrides: tuple[str, ...]
    measure: str
    low: float
    high: float
    options: tuple[str, ...] = ()


HOURS, SETUP, BENCH = "hours_needed", "state_changeover_h", "person_bench_h"
DIRECTIONS: dict[str, Direction] = {
    "twice the fitting time": Direction(("elements[tool_fit].typical*=2",), SETUP, 0.05, 0.5),
    "half the fitting time": Direction(("elements[tool_fit].typical*=0.5",), SETUP, -0.25, -0.03),
    "twice the search": Direction(("elements[tool_search].typical*=2",), SETUP, 0.03, 0.4),
    "twice the fixed minutes of an order": Direction(("elements[order_fixed].typical*=2",), SETUP, 0.15, 0.7),
    "twice the time of a die change": Direction(("elements[die_change].typical*=2",), SETUP, 0.02, 0.4),
    "three times the fetch": Direction(("elements[material_fetch].typical*=3",), HOURS, 0.03, 0.4),
    "no fetch at all": Direction(("elements[material_fetch].typical=0",), HOURS, -0.2, -0.01),
    "twice the first piece": Direction(("elements[first_piece].typical*=2",), "state_first_piece_h", 0.9, 1.1),
    "no first piece": Direction(("plant.rules.first_piece=never",), HOURS, -0.15, -0.01),
    "sheets loaded in no time": Direction(("elements[load].typical=0",), HOURS, -0.25, -0.03),
    "twice the loading": Direction(("elements[load].typical*=2",), "state_loading_h", 0.7, 1.1),
    "twice the pulling out": Direction(("elements[pull_out].typical*=2",), "state_unloading_h", 0.7, 1.1),
    "three times the time of a hit": Direction(("elements[hit].typical*=3",), "state_punching_h", 0.5, 2.1),
    "cutting twice as fast": Direction(("materials[*].cutting_speed_m_min*=2",), "state_cutting_h", -0.6, -0.1),
    "twice the contours' moves": Direction(("elements[contour_move].typical*=2",), "state_cutting_h", 0.03, 0.6),
    "run times a tenth longer": Direction(("elements[run_time_ratio].typical=1.1",), "state_cutting_h", 0.09, 0.11),
    "breaking out twice as long, with its tabs and kilograms": Direction(
        ("elements[break_out].typical*=2", "elements[micro_joint].typical*=2", "elements[heavy_part].typical*=2"),
        BENCH, 0.2, 0.7),
    "two seconds a tab": Direction(("elements[micro_joint].typical=2",), BENCH, 0.1, 3.0),
    "ten seconds a kilogram in place of those of a part": Direction(
        ("elements[break_out].unit=s/kg", "elements[break_out].typical=10"), BENCH, 0.3, 1.5),
    "one bench place": Direction(("plant.bench.places=1",), "state_blocked_h", 0.2, 50.0),
    "no lifter, and a helper for heavy sheets": Direction(("plant.machine.lifter=false",), "state_waiting_person_h",
                                                          0.2, 50.0),
    "no short stops": Direction(("stops[short_stop].rate=0",), "state_stopped_h", -0.9, -0.1),
    "eight times the breakdowns": Direction(("stops[breakdown].rate*=8",), "state_stopped_h", 0.5, 12.0),
    "repairs that take twice as long": Direction(("stops[*].repair_min*=2",), "state_stopped_h", 0.6, 1.5),
    "tools that last a fifth": Direction(("tools[*].life_hits*=0.2",), "tools_reground", 4.0, 200.0),
    "every third tool loaded wrongly": Direction(("load_faults[*].rate*=30",), "state_stopped_h", 0.3, 30.0),
    "one bench post in place of two": Direction((), "bench_wait_mean_s", 0.05, 50.0, ("N14",)),
    "a third attended shift": Direction((), "orders_in_process_mean", -0.9, -0.02, ("C3",)),
    "room for one whole sheet at night": Direction(("plant.stack.places=1",), "night_running_h", -1.0, -0.2,
                                                   ("C1", "A1", "A5b", "A8", "A7", "N8", "N12")),
    "sequencing by material and clearance": Direction((), SETUP, -0.5, -0.01, ("N1",)),
}  # fmt: skip
"""Thirty; each is one change of today, or of the set of options named."""


@pytest.fixture(scope="module")
def results() -> Results:
    plant = demo()
    scenarios = [make_scenario(plant), *(_scenario(plant, *pair) for pair in DIRECTIONS.items())]
    scenarios += [_base(plant, name, row) for name, row in DIRECTIONS.items() if row.options and row.overrides]
    return run_scenarios(scenarios[0], scenarios, replications=REPLICATIONS, weeks=WEEKS, workers=1, progress=False,
                         demand_factors=(1.0,))  # fmt: skip


def _scenario(plant: PlantInputs, name: str, row: Direction) -> ScenarioInputs:
    return make_scenario(plant, row.options, row.overrides, name=name)


def _base(plant: PlantInputs, name: str, row: Direction) -> ScenarioInputs:
    return make_scenario(plant, row.options, name=f"before {name}")


def test_there_are_thirty() -> None:
    assert len(DIRECTIONS) == 30


@pytest.mark.parametrize("name", DIRECTIONS)
def test_a_change_moves_its_measure_as_the_trade_tells(name: str, results: Results) -> None:
    row = DIRECTIONS[name]
    base = f"before {name}" if row.options and row.overrides else TODAY
    before, after = results.values(base, row.measure), results.values(name, row.measure)
    found = t_interval(after - before, "as the measure")
    mean = float(np.mean(before)) or 1.0
    assert found.low > 0 or found.high < 0
    assert row.low * mean <= found.mean <= row.high * mean
