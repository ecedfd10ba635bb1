"""The simulate step of a report: run every set, and keep what the studies read."""

from __future__ import annotations

import dataclasses
import platform
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from importlib.metadata import version
from itertools import combinations
from pathlib import Path
from typing import Any

import pandas as pd

from simkit.analysis.bought_sets import BoughtSet, bought_sets, cheaper_variants
from simkit.analysis.low_capital import Options, low_capital_options, why_illegal
from simkit.analysis.package import Package, best_package, fading_part
from simkit.analysis.responses import measure_responses, promise_probes, time_probes
from simkit.base.messages import BadInput, Finding
from simkit.cell.run import simulate
from simkit.experiment.kept import Keep, runs_folder
from simkit.experiment.results import Results
from simkit.experiment.ribbon import Row, ribbon_rows
from simkit.experiment.runner import make_scenarios, run_scenarios
from simkit.experiment.task import draw_luck
from simkit.finance.guards import require_sound_money
from simkit.finance.riskinputs import last_signed
from simkit.finance.timeline import levels_read
from simkit.plant.changes import changed_plant, idle_changes, one_demand
from simkit.plant.hashes import inputs_sha256
from simkit.plant.options import capital_of
from simkit.plant.plant import Plant, Scenario
from simkit.plant.prices import without_prices
from simkit.plant.reading import read_plant
from simkit.plant.scenarios import make_scenario
from simkit.process.workload import make_workload
from simkit.report.folder import claim_folder
from simkit.report.reuse import asked, card_that_holds, leading_sets
from simkit.report.simulate_nights import simulate_nights
from simkit.report.studydata import (
    RIBBON_COLUMNS,
    TODAY,
    RunCard,
    StudyFolder,
    write_card,
    write_study,
)

PACKAGES = ("simkit", "numpy", "scipy", "pandas", "simpy", "matplotlib")
RESULTS_FOLDER = "results"
RIBBON_WEEK = 1
"""The week of the ribbon: the second, so that it does not begin with the start."""


def simulate_study(
    plant_folder: Path,
    out_dir: Path,
    *,
    workers: int | None = None,
    say: Callable[[str], None] = print,
    sets: Sequence[Options] = (),
    changes: Sequence[str] = (),
    demand: float | None = None,
    keep: Keep = None,
    **numbers: Any,
) -> RunCard:
    """Simulate everything that the studies of a plant read, and write the study folder ``out_dir/results``.

    ``sets`` are sets of options that stand beside those of the report, at every level of demand that money reads;
    ``numbers`` may give seed, replications and weeks in place of the plant's own. ``changes`` (``path=value``) hold for
    the plant before any option acts; ``demand`` is the level of the run and of every year. Runs are kept in ``keep``,
    see :mod:`simkit.experiment.kept`. Where nothing but prices has changed since the folder was written, it holds: only
    its run card is written anew. Raises BadInput for a plant folder that cannot be read (then nothing is written) and
    for an output folder that is not ours.
    """
    texts = (*changes, *one_demand(demand))
    read = read_plant(plant_folder)
    plant = changed_plant(read, texts)
    for note in idle_changes(read, changes):
        say(note)
    _require_projection(plant)
    require_sound_money(plant)
    make_scenarios(plant, sets)
    claim_folder(out_dir, plant.settings.name, say)
    chosen = {
        name: getattr(plant.settings.run, name) if numbers.get(name) is None else numbers[name]
        for name in ("seed", "replications", "weeks")
    }
    versions = {"python": platform.python_version(), **{name: version(name) for name in PACKAGES}}
    run = {**chosen, "workers": workers, "cache_dir": runs_folder(keep)}
    plan = make_plan(plant, say, sets, **run)
    folder = out_dir / RESULTS_FOLDER
    named = {**chosen, "sets": sets, "package": plan.package, "fewest_hours": plan.chosen.fewest_hours}
    question = asked(without_prices(plant), named, versions)
    card = card_that_holds(folder, question, plant)
    if card is not None:
        say("nothing that is simulated has changed: the tables of the earlier report hold")
        card = _signed(card, plant_folder, plant, plan, texts)
        write_card(folder, card)
        return card
    study = _simulated(plant, plan, say, **run)
    card = dataclasses.replace(study.run, versions=versions, asked=question)
    card = _signed(card, plant_folder, plant, plan, texts)
    write_study(folder, dataclasses.replace(study, run=card))
    return card


def _signed(card: RunCard, plant_folder: Path, plant: Plant, plan: Plan, changes: tuple[str, ...]) -> RunCard:
    """The run card with the changes and all that depends on prices: hashes, and how the package was chosen."""
    scenarios = {name: make_scenario(plant, options) for name, options in card.scenarios.items()}
    return dataclasses.replace(
        card,
        overrides=changes,
        inputs_sha256=inputs_sha256(plant_folder),
        physics_hashes={name: scenario.physics_hash for name, scenario in scenarios.items()},
        money_hashes={name: scenario.money_hash for name, scenario in scenarios.items()},
        package_trail=plan.chosen.trail,
    )


def _simulated(priced: Plant, plan: Plan, say: Callable[[str], None], **run: Any) -> StudyFolder:
    """Everything that is simulated, from a plant without prices: they only choose the package and the leading sets."""
    plant = without_prices(priced)
    results = _run(plant, plan, say, **run)
    nights = simulate_nights(plant, results, _may_run_at_night(plan), plan.reference, say, **run)
    names = _scenario_names(plant, plan)
    card = RunCard(
        plant=plant.settings.name, demand_factors=plan.levels, scenarios=names,
        package=_name(plant, plan.package), fewest_hours=_name(plant, plan.chosen.fewest_hours),
        cases={"nights": nights.cases}, tool_demand=plan.reference,
        **{name: run[name] for name in ("seed", "replications", "weeks")},
    )  # fmt: skip
    card = dataclasses.replace(card, leading=leading_sets(priced, card, results))
    leading = [names[name] for name in card.leading]
    results = results.joined(_other_levels(plant, plan, leading, **run))
    tables = {"ribbon": _ribbon(plant, plan, run["seed"], run["weeks"])}
    tables["responses"] = _responses(plant, plan, leading, results, say, **run)
    return StudyFolder(results.joined(nights.results), card, tables | nights.tables)


def _responses(
    plant: Plant, plan: Plan, leading: Sequence[Options], results: Results, say: Callable[[str], None], **run: Any
) -> pd.DataFrame:
    """How totals respond to times of elements and to suppliers' promises, at the demand of the last signed years."""
    level = last_signed(plant.settings.finance).factor
    on_package = [entry.with_package or entry.options for entry in plan.sets]
    sets: list[Options] = _distinct([(), plan.package, *leading])
    probes = (*time_probes(plant, results, TODAY, level, sets), *promise_probes(plant, on_package))
    say(f"responses to {len(probes)} times and promises")
    return measure_responses(plant, make_scenario(plant, ()), probes, level, **run)


def _require_projection(plant: Plant) -> None:
    """The studies turn totals of projected weeks into yearly amounts; other sources and a warm-up do not fit."""
    run = plant.settings.run
    mend = "Keep such settings to 'simkit run'; a study starts from start.csv instead of a warm-up"
    findings = []
    if run.source != "project" or run.horizon_s is not None:
        why = "the studies project whole release weeks until the book is done"
        findings.append(Finding("plant.toml", why, mend, column="run.source, run.horizon_s", value=run.source))
    if run.warmup_s:
        why = "totals of the whole run would not fit the weeks after the warm-up"
        findings.append(Finding("plant.toml", why, mend, column="run.warmup_s", value=f"{run.warmup_s:g}"))
    if findings:
        raise BadInput(findings)


@dataclass(frozen=True)
class Plan:
    """What is simulated: the low-capital package, the sets to report, and the demand of each.

    ``read`` are the levels that the signed years read, and the reference: every set stands there. ``hoped`` are those
    of years that are not signed, ``side`` those that no year reads.
    """

    reference: float
    read: tuple[float, ...]
    hoped: tuple[float, ...]
    side: tuple[float, ...]
    chosen: Package
    sets: tuple[BoughtSet, ...]

    @property
    def package(self) -> Options:
        """The best low-capital package."""
        return self.chosen.options

    @property
    def levels(self) -> tuple[float, ...]:
        """All levels, ascending."""
        return tuple(sorted({*self.read, *self.hoped, *self.side}))


def make_plan(plant: Plant, say: Callable[[str], None] = print, sets: Sequence[Options] = (), **run: Any) -> Plan:
    """Choose the package on signed demand, and list what is simulated beside it.

    ``run`` goes to :func:`simkit.experiment.runner.run_scenarios`; the search has replications of its own.
    """
    finance, reference = plant.settings.finance, float(plant.settings.run.demand_factor)
    read = levels_read(finance, reference)
    hoped = {year.factor for year in finance.demand} - set(read)
    side = {float(level) for level in plant.settings.run.demand_levels} - set(read) - hoped
    searching = {name: value for name, value in run.items() if name != "replications"}
    chosen = best_package(plant, read, **searching)
    say(f"best low-capital package, of {len(chosen.tried)} sets tried: {'+'.join(chosen.options) or 'none'}")
    named = [*_pairs(plant), *sets]
    listed = bought_sets(plant, chosen.options, named)
    return Plan(reference, read, tuple(sorted(hoped)), tuple(sorted(side)), chosen, listed)


def _pairs(plant: Plant) -> list[tuple[str, str]]:
    """Pairs of bought options whose joint effect is reported: those of the three dearest that go together."""
    variants = cheaper_variants(plant)
    whole = [option for option in plant.options if option.kind == "bought" and option.id not in variants]
    bought = sorted(whole, key=lambda option: -capital_of([option]))[:3]
    legal = [(a.id, b.id) for a, b in combinations(bought, 2) if not why_illegal(plant, (a.id, b.id))]
    order = list(plant.option_by_id)
    return [tuple(sorted(pair, key=order.index)) for pair in legal]  # type: ignore[misc]


def _run(plant: Plant, plan: Plan, say: Callable[[str], None], **run: Any) -> Results:
    """Every scenario of the report at the levels that the signed years read."""
    scenarios = make_scenarios(plant, _scenario_names(plant, plan).values())
    say(f"{len(scenarios)} scenarios at {len(plan.read)} demand levels, {run['replications']} replications each")
    return run_scenarios(make_scenario(plant, ()), scenarios, demand_factors=plan.read, **run)


def _other_levels(plant: Plant, plan: Plan, leading: Sequence[Options], **run: Any) -> Results:
    """Today and the package at all other levels; where demand is hoped for also the sets whose risk is told."""
    today = make_scenario(plant, ())
    both = make_scenarios(plant, _distinct([(), plan.package]))
    found = run_scenarios(today, both, demand_factors=[*plan.hoped, *plan.side], **run)
    more = make_scenarios(plant, leading)
    return found.joined(run_scenarios(today, more, demand_factors=plan.hoped, **run)) if plan.hoped else found


def _distinct(options: Iterable[Options]) -> list[Options]:
    """Each set once, whatever the order of its options."""
    found: dict[frozenset[str], Options] = {}
    for entry in options:
        found.setdefault(frozenset(entry), entry)
    return list(found.values())


def _scenario_names(plant: Plant, plan: Plan) -> dict[str, Options]:
    """Scenarios in the order in which reports list them: today, cheap ones, sets alone, sets on the package."""
    singles: list[Options] = [(name,) for name in low_capital_options(plant)]
    alone = [entry.options for entry in plan.sets]
    on_package = [options for entry in plan.sets if (options := entry.with_package)]
    cheap = [*singles, plan.package, plan.chosen.fewest_hours]
    fading = [fading_part(plant, options) for options in (*cheap, *alone, *on_package)]
    listed = _distinct([(), *cheap, *fading, *alone, *on_package])
    return {_name(plant, options): options for options in listed if not why_illegal(plant, options)}


def _name(plant: Plant, options: Options) -> str:
    return make_scenario(plant, options).name if options else TODAY


def _may_run_at_night(plan: Plan) -> list[Options]:
    """Today, the package, and the sets of nights, alone and on the package."""
    sets = [entry for entry in plan.sets if entry.why == "night"]
    return _distinct([(), plan.package, *(options for e in sets for options in (e.options, e.with_package) if options)])


def _ribbon(plant: Plant, plan: Plan, seed: int, weeks: float) -> pd.DataFrame:
    """A week of today, of the package, and of a night set, in the first replication."""
    nights = [e.with_package or e.options for e in plan.sets if e.why == "night"][:1]
    rows: list[Row] = []
    today = make_scenario(plant, ())
    luck = draw_luck(today, seed, 0, weeks, plan.reference)
    for options in dict.fromkeys([(), plan.package, *nights]):
        scenario: Scenario = make_scenario(plant, options)
        workload = make_workload(scenario, *luck)
        rows += ribbon_rows(simulate(workload), workload, scenario.name, min(RIBBON_WEEK, int(weeks) - 1))
    return pd.DataFrame(rows, columns=list(RIBBON_COLUMNS))
