"""A model in the cell's place: hours by simple arithmetic on the options, with shared luck. Fast and known."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import Any

import numpy as np

from simkit.base.messages import BadInput, Finding
from simkit.experiment.cache import Run
from simkit.experiment.replication import RunSteps
from simkit.plant.options import Edit, Option, Range, ShareRange
from simkit.plant.plant import PlantInputs, ScenarioInputs
from tests.small_plant import small_plant

WEEKLY_H = 60.0
SAVES = {"N1": 0.10, "N2": 0.08, "N3": 0.0, "N4": 0.03, "A1": 0.15, "A2": 0.0, "B1": 0.02, "C1": 0.0}
"""Share of the hours that each option saves; savings multiply, so two options save less than their sum."""

ATTENDED_H = 80.0
UNITS = {
    "hours_needed": "h", "late_share": "share", "backlog_grows": "share", "machine_queue_mean": "orders",
    "material_kg": "kg", "worker": "id",
}  # fmt: skip


def draw(today: ScenarioInputs, seed: int, replication: int, weeks: float, demand_factor: float) -> dict[str, Any]:
    """Luck of a replication: one factor on all hours, and the demand."""
    luck = np.random.default_rng([seed, replication]).normal(1.0, 0.05)
    return {"hours": WEEKLY_H * weeks * demand_factor * luck, "weeks": weeks, "seed": seed, "luck": luck}


def run(scenario: ScenarioInputs, draws: dict[str, Any]) -> Run:
    """Hours left after the options' savings; orders are late as soon as the hours do not fit."""
    hours = draws["hours"]
    for option in scenario.option_ids:
        hours *= 1 - SAVES[option] * draws["luck"]
    over = hours / (ATTENDED_H * draws["weeks"]) - 1
    totals = {
        "hours_needed": hours,
        "late_share": float(np.clip(0.5 + 2 * over, 0.0, 1.0)),
        "backlog_grows": float(over > 0.1),
        "machine_queue_mean": 1.0,
        "material_kg_MS-1.5": 100.0,
    }
    return Run(totals, {})


def units() -> dict[str, str]:
    """Unit of each measure."""
    return UNITS


def run_and_fail(scenario: ScenarioInputs, draws: dict[str, Any]) -> Run:
    """Breaks in one scenario."""
    if "A1" in scenario.option_ids:
        raise ZeroDivisionError("no tools at all")
    return run(scenario, draws)


def run_and_refuse(scenario: ScenarioInputs, draws: dict[str, Any]) -> Run:
    """Finds an input that cannot be run."""
    raise BadInput([Finding("plant.run.horizon_s", "a saturated queue needs an end", "Set it")])


def run_and_count(scenario: ScenarioInputs, draws: dict[str, Any]) -> Run:
    """Leaves a file per run in the folder named by the environment, so that a test can count runs."""
    handle, _ = tempfile.mkstemp(dir=os.environ["SIMKIT_TEST_RUNS"])
    os.close(handle)
    return run(scenario, draws)


def run_and_die(scenario: ScenarioInputs, draws: dict[str, Any]) -> Run:
    """Takes its process with it, as the system does to a process when memory runs out."""
    os._exit(1)


def runs_in(folder: Path) -> int:
    """How many runs were counted."""
    return sum(1 for _ in folder.iterdir())


FAKE = RunSteps(draw, run, units)
FAILING = RunSteps(draw, run_and_fail, units)
REFUSING = RunSteps(draw, run_and_refuse, units)
DYING = RunSteps(draw, run_and_die, units)
COUNTING = RunSteps(draw, run_and_count, units)


def option(name: str, kind: Any, search_factor: float, **more: Any) -> Option:
    """An option that changes the plant, so that its physics differ from today's."""
    edit = Edit(path="elements[tool_search].typical", op="multiply", value=search_factor)
    return Option(id=name, name=f"option {name}", kind=kind, edits=(edit,), **more)


def plant_with_options() -> PlantInputs:
    """The small plant with four low-capital options, bought ones and a night that needs one of them."""
    half_kept = ShareRange(low=0.5, quoted=0.8, high=1.0)
    return small_plant(
        options=(
            option("N1", "low_capital", 0.91, owner="works manager", persistence=half_kept, yearly_labour_h=50),
            option("N2", "low_capital", 0.92, capital=Range(low=3, quoted=5, high=9), owner="works manager"),
            option("N3", "low_capital", 0.93),
            option("N4", "low_capital", 0.94, needs=("N2",)),
            option("A1", "bought", 0.95, capital=Range(low=160, quoted=185, high=215)),
            option("A2", "bought", 0.96, excludes=("A1",)),
            option("B1", "bought", 0.97),
            option("C1", "calendar", 0.98, needs=(("A1", "A2"), "B1")),
        )
    )
