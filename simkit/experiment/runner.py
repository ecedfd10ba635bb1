"""Run scenarios over replications and demand levels, on one core or on all of them, with equal results."""

from __future__ import annotations

import dataclasses
import os
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

from simkit.base.messages import BadInput, Finding
from simkit.experiment.cache import Run, open_cache
from simkit.experiment.progress import shown
from simkit.experiment.replication import CELL, Design, Replicated, RunSteps, kept_replication, run_replication
from simkit.experiment.results import Results, results_from_runs
from simkit.experiment.workers import on_processes
from simkit.plant.plant import PlantInputs, ScenarioInputs
from simkit.plant.scenarios import make_scenario

PATIENCE_S = 30
"""Seconds in which a scheduler has to answer, and a worker to be there."""
INSTALL = "Install it: pip install 'simkit[cluster]'"


def run_experiment(
    plant: PlantInputs,
    combinations: Sequence[Sequence[str]],
    *,
    demand_factors: Sequence[float] | None = None,
    replications: int | None = None,
    seed: int | None = None,
    weeks: float | None = None,
    workers: int | None = None,
    overrides: Sequence[str] = (),
    progress: bool = True,
    **more: Any,
) -> Results:
    """Simulate combinations of options: ``()`` is today, ``("A1", "N2")`` both of these.

    Unset numbers are those of the plant's ``run`` settings. ``overrides`` hold for every combination.
    For the other arguments see :func:`run_scenarios`. Raises BadInput if a combination is not legal,
    with the problems of all of them.
    """
    today = make_scenario(plant, (), overrides)
    scenarios = make_scenarios(plant, combinations, overrides)
    return run_scenarios(
        today, scenarios, demand_factors=demand_factors, replications=replications, seed=seed, weeks=weeks,
        workers=workers, progress=progress, **more,
    )  # fmt: skip


def make_scenarios(
    plant: PlantInputs, combinations: Iterable[Sequence[str]], overrides: Sequence[str] = ()
) -> tuple[ScenarioInputs, ...]:
    """One scenario per combination; raises BadInput with the problems of all illegal ones."""
    scenarios: list[ScenarioInputs] = []
    findings: list[Finding] = []
    for options in combinations:
        try:
            scenarios.append(make_scenario(plant, options, overrides))
        except BadInput as error:
            findings += [finding for finding in error.findings if finding not in findings]
    if findings:
        raise BadInput(findings)
    return tuple(scenarios)


def run_scenarios(
    today: ScenarioInputs,
    scenarios: Sequence[ScenarioInputs],
    *,
    demand_factors: Sequence[float] | None = None,
    replications: int | None = None,
    seed: int | None = None,
    weeks: float | None = None,
    workers: int | None = None,
    progress: bool = True,
    first_replication: int = 0,
    cache_dir: Path | None = None,
    scheduler: str = "",
    records: Sequence[str] = (),
    model: RunSteps = CELL,
) -> Results:
    """Simulate scenarios that may differ in options and in overrides.

    Orders and luck are drawn from ``today``'s plant, whose ``run`` settings also fill what is unset.
    Replications are numbered from ``first_replication``, and number k is the same whoever runs it.
    ``workers`` counts processes (default: one per core). ``scheduler`` is the address of a running Dask cluster that
    takes their place. ``cache_dir`` keeps runs on disk, but for those of a cluster. ``records`` names the tables of
    :data:`simkit.experiment.records.ROWS` to be held beside the measures. Scenarios of equal physics are simulated
    once. Raises ScenarioFailed, which names the inputs, if a run breaks off.
    """
    run = today.plant.settings.run
    named = _distinct(scenarios)
    physics = {scenario.physics_hash: scenario for scenario in named}
    design = Design(
        today=today,
        scenarios=tuple(physics.values()),
        demand_factors=tuple(dict.fromkeys(map(float, demand_factors or (run.demand_factor,)))),
        seed=run.seed if seed is None else seed,
        weeks=float(run.weeks if weeks is None else weeks),
        model=model,
        cache=open_cache(cache_dir) if cache_dir else None,
        records=tuple(records),
    )
    count = run.replications if replications is None else replications
    numbers = range(first_replication, first_replication + count)
    kept = dict(filter(None, (kept_replication(number, design) for number in ([] if scheduler else numbers))))
    left = [number for number in numbers if number not in kept]
    done = _on_cluster(design, left, scheduler) if scheduler else _on_cores(design, left, workers or usable_cores())
    measured = kept | dict(shown(done, len(left), f"{len(physics)} scenarios", quiet=not progress or not left))
    return _tabulated(named, design, measured)


def usable_cores() -> int:
    """Cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _distinct(scenarios: Sequence[ScenarioInputs]) -> tuple[ScenarioInputs, ...]:
    """Scenarios by name without repeats; one name for two different scenarios is refused."""
    by_name: dict[str, ScenarioInputs] = {}
    for scenario in scenarios:
        if not scenario.physics_hash:
            raise ValueError(f"scenario {scenario.name} has no physics hash; make it with make_scenario")
        known = by_name.setdefault(scenario.name, scenario)
        if known.physics_hash != scenario.physics_hash:
            raise ValueError(f"two different scenarios are both named {scenario.name}")
    return tuple(by_name.values())


def _on_cores(design: Design, numbers: Sequence[int], workers: int) -> Iterator[Replicated]:
    if min(workers, len(numbers)) > 1:
        return on_processes(design, numbers, workers)
    packed = design.packed()
    return (run_replication(number, packed) for number in numbers)


def _on_cluster(design: Design, numbers: Sequence[int], address: str) -> Iterator[Replicated]:
    """Replications as they get done on a Dask cluster; those of a worker that dies are given to others.

    The design goes along with each of them, so that none rests on what one worker holds. Runs are not kept: a worker's
    disk is not this computer's.
    """
    try:
        from distributed import Client, as_completed
    except ImportError as error:
        raise BadInput([_no_cluster(address, "a Dask cluster needs the package distributed", INSTALL)]) from error
    try:
        client = Client(address, timeout=PATIENCE_S)
    except (OSError, ValueError) as error:
        raise BadInput([_no_cluster(address, f"no scheduler answers there ({error})", "Start it")]) from error
    with client:
        try:
            client.wait_for_workers(1, timeout=PATIENCE_S)
        except TimeoutError as error:
            raise BadInput([_no_cluster(address, "the scheduler has no worker", "Start one")]) from error
        packed = dataclasses.replace(design, cache=None).packed()
        futures = client.map(run_replication, list(numbers), packed=packed, pure=False)
        yield from (result for _, result in as_completed(futures, with_results=True))


def _no_cluster(address: str, why: str, mend: str) -> Finding:
    return Finding("--scheduler", why, f"{mend}, or leave --scheduler out to run on this computer", value=address)


def _tabulated(named: Sequence[ScenarioInputs], design: Design, measured: dict[int, list[list[Run]]]) -> Results:
    place = {scenario.physics_hash: at for at, scenario in enumerate(design.scenarios)}
    runs = [
        (scenario.name, demand_factor, number, measured[number][level][place[scenario.physics_hash]])
        for scenario in named
        for level, demand_factor in enumerate(design.demand_factors)
        for number in sorted(measured)
    ]
    return results_from_runs(runs, design.model.units(), design.records)
