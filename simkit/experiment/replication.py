"""What a worker does: one replication of all scenarios at all demand levels.

This module is what a worker loads: it must not import pandas.
"""

from __future__ import annotations

import dataclasses
import pickle
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from simkit.base.messages import BadInput, ScenarioFailed
from simkit.cell.run import simulate
from simkit.experiment.cache import Cache, Run, RunKey
from simkit.experiment.measures import measure_run
from simkit.experiment.records import record_run
from simkit.plant.plant import ScenarioInputs
from simkit.process.draws import Draws, make_draws
from simkit.process.workload import make_workload


@dataclass(frozen=True)
class RunSteps:
    """The steps of a run, so that a test can put a simple model in the cell's place.

    ``draw(today, seed, replication, weeks, demand_factor)`` makes the luck that all scenarios share,
    ``run(scenario, luck)`` simulates one scenario with it, ``units()`` gives the unit of each measure.
    All are functions of a module, so that they can be sent to workers.
    """

    draw: Callable[[ScenarioInputs, int, int, float, float], Any]
    run: Callable[[ScenarioInputs, Any], Run]
    units: Callable[[], Mapping[str, str]]

    @property
    def name(self) -> str:
        """What tells this model from others in a cache."""
        return ", ".join(f"{step.__module__}.{step.__qualname__}" for step in (self.draw, self.run))


def draw_luck(today: ScenarioInputs, seed: int, replication: int, weeks: float, demand_factor: float) -> Draws:
    """Orders and uniform numbers of one replication at one demand level."""
    return make_draws(today.plant, seed, replication, weeks=weeks, demand_factor=demand_factor)


def run_cell(scenario: ScenarioInputs, luck: Draws) -> Run:
    """Simulate one scenario with given luck: its totals and its records."""
    workload = make_workload(scenario, luck)
    trace = simulate(workload)
    records = record_run(trace, workload)
    totals = measure_run(trace, workload, records)
    if scenario.plant.settings.run.source == "saturated" and totals["state_no_work_h"] > 0:
        count, idle_h = len(workload.draws.book.row), totals["state_no_work_h"]
        raise RuntimeError(
            f"the saturated queue ran dry and machines stood {idle_h:.3g} h without work: its {count} orders are too "
            "few, since they take less time than planned"
        )
    return Run(totals, records)


def cell_units() -> dict[str, str]:
    """Unit of every measure of the cell, and of the stems of those per material or metal."""
    from simkit.experiment.glossary import MEASURES, PREFIXES

    stems = {prefix.rstrip("_"): measure.unit for prefix, measure in PREFIXES.items()}
    return stems | {name: measure.unit for name, measure in MEASURES.items()}


CELL = RunSteps(draw_luck, run_cell, cell_units)
"""The cell itself."""


@dataclass(frozen=True)
class Design:
    """The design of an experiment: everything its replications have in common.

    ``scenarios`` differ in physics; orders and luck are drawn from ``today``'s plant. ``records`` names the tables that
    are handed back beside the totals.
    """

    today: ScenarioInputs
    scenarios: tuple[ScenarioInputs, ...]
    demand_factors: tuple[float, ...]
    seed: int
    weeks: float
    model: RunSteps = CELL
    cache: Cache | None = None
    records: tuple[str, ...] = ()

    def packed(self) -> bytes:
        """The design as bytes, made once and sent with each replication."""
        return pickle.dumps(self)


Replicated = tuple[int, list[list[Run]]]
"""A replication's number and its runs, by demand level and then by scenario, in the order of the design."""


def run_replication(replication: int, packed: bytes) -> Replicated:
    """One replication of a packed design: the unit of work that is sent to a worker."""
    design = _unpacked(packed)
    return replication, [_run_level(design, replication, demand_factor) for demand_factor in design.demand_factors]


def kept_replication(replication: int, design: Design) -> Replicated | None:
    """One replication of a design whose runs are all kept; None where one of them has to be made."""
    if not design.cache or not all(design.cache.holds(key) for key in _keys(design, replication)):
        return None
    runs = [design.cache.load(key, records=bool(design.records)) for key in _keys(design, replication)]
    found, width = [run for run in runs if run is not None], len(design.scenarios)
    if len(found) < len(runs):
        return None
    return replication, [found[at : at + width] for at in range(0, len(found), width)]


def _keys(design: Design, replication: int) -> Iterator[RunKey]:
    """The keys of a replication's runs, by demand level and then by scenario."""
    return (
        _key(design, scenario, replication, level) for level in design.demand_factors for scenario in design.scenarios
    )


def _key(design: Design, scenario: ScenarioInputs, replication: int, demand_factor: float) -> RunKey:
    return RunKey(
        design.today.physics_hash, scenario.physics_hash, design.seed, replication, design.weeks, demand_factor,
        design.model.name,
    )  # fmt: skip


@lru_cache(maxsize=1)
def _unpacked(packed: bytes) -> Design:
    design: Design = pickle.loads(packed)
    return design


def _run_level(design: Design, replication: int, demand_factor: float) -> list[Run]:
    @lru_cache(maxsize=1)
    def draws() -> Any:
        return design.model.draw(design.today, design.seed, replication, design.weeks, demand_factor)

    runs = (_run_one(design, scenario, replication, demand_factor, draws) for scenario in design.scenarios)
    return [Run(run.totals, run.records if design.records else {}) for run in runs]


def _run_one(
    design: Design, scenario: ScenarioInputs, replication: int, demand_factor: float, draws: Callable[[], Any]
) -> Run:
    key = _key(design, scenario, replication, demand_factor)
    stored = design.cache.load(key, records=bool(design.records)) if design.cache else None
    if stored is not None:
        return stored
    try:
        run = design.model.run(scenario, draws())
    except BadInput as error:
        raise BadInput(dataclasses.replace(f, place=f"{scenario.name}: {f.place}") for f in error.findings) from error
    except Exception as error:
        raise ScenarioFailed(_failure(design, scenario, replication, demand_factor, error)) from error
    if design.cache:
        design.cache.store(key, run)
    return run


def _failure(design: Design, scenario: ScenarioInputs, replication: int, demand_factor: float, error: Exception) -> str:
    inputs = {
        "options": "+".join(scenario.option_ids) or "none",
        "overrides": "; ".join(scenario.overrides) or "none",
        "seed": design.seed,
        "replication": replication,
        "weeks": f"{design.weeks:g}",
        "demand factor": f"{demand_factor:g}",
    }
    listed = ", ".join(f"{name} {value}" for name, value in inputs.items())
    return f"scenario {scenario.name} failed ({listed}): {type(error).__name__}: {error}"
