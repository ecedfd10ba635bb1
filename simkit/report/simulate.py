"""The simulate step of a report: find the low-capital package, run every set, keep what the studies read."""

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

from simkit.analysis.bought_sets import BoughtSet, bought_sets, cheaper_variants, combinations_of
from simkit.analysis.low_capital import Options, best_low_capital, low_capital_options, why_illegal
from simkit.analysis.magazine_sizes import magazine_case
from simkit.analysis.responses import measure_responses, promise_probes, time_probes
from simkit.base.messages import BadInput, Finding
from simkit.cell.run import simulate
from simkit.experiment.glossary import NEEDED
from simkit.experiment.results import Results
from simkit.experiment.ribbon import Row, ribbon_rows
from simkit.experiment.runner import make_scenarios, run_scenarios
from simkit.experiment.task import draw_luck
from simkit.finance.guards import require_sound_money
from simkit.finance.riskinputs import last_signed
from simkit.plant.hashes import inputs_sha256
from simkit.plant.options import capital_of
from simkit.plant.plant import Plant, Scenario
from simkit.plant.prices import without_prices
from simkit.plant.reading import read_plant
from simkit.plant.scenarios import make_scenario
from simkit.process.workload import make_workload
from simkit.report.folder import claim_folder
from simkit.report.reuse import asked, by_price, card_that_holds
from simkit.report.simulate_calendar import simulate_calendar
from simkit.report.simulate_nights import simulate_nights
from simkit.report.simulate_parts import simulate_parts
from simkit.report.simulate_tools import simulate_tools
from simkit.report.studydata import (
    RIBBON_COLUMNS,
    TODAY,
    RunCard,
    StudyFolder,
    factor_text,
    write_card,
    write_study,
)

PACKAGES = ("simkit", "numpy", "scipy", "pandas", "simpy", "matplotlib")
RESULTS_FOLDER = "results"
MOST_SETS = 2
"""Bought sets, the cheapest on the package, whose response to times is simulated beside that of the package."""
RIBBON_WEEK = 1
"""The week of the ribbon: the second, so that it does not begin with the start."""


@dataclass(frozen=True)
class Plan:
    """What is simulated: the package at each demand level, and the sets to report.

    ``paid`` are the levels that the cash-flow table reads: the reference and the demand path.
    """

    levels: tuple[float, ...]
    paid: tuple[float, ...]
    reference: float
    packages: dict[float, Options]
    sets: tuple[BoughtSet, ...]

    @property
    def main(self) -> Options:
        """The package at the reference demand."""
        return self.packages[self.reference]


def simulate_study(
    plant_folder: Path,
    out_dir: Path,
    *,
    workers: int | None = None,
    say: Callable[[str], None] = print,
    sets: Sequence[Options] = (),
    **numbers: Any,
) -> RunCard:
    """Simulate everything that the studies of a plant read, and write the study folder ``out_dir/results``.

    ``sets`` are sets of options that stand beside those of the report, at every level of demand that money reads;
    ``numbers`` may give seed, replications and weeks in place of the plant's own. Runs are kept in
    ``out_dir/runs``. Where nothing but prices has changed since the folder was written, it holds: only its run
    card is written anew. Raises BadInput for a plant folder that cannot be read (then nothing is written) and
    for an output folder that is not ours.
    """
    plant = read_plant(plant_folder)
    _require_projection(plant)
    require_sound_money(plant)
    make_scenarios(plant, sets)
    claim_folder(out_dir, plant.settings.name, say)
    chosen = {
        name: getattr(plant.settings.run, name) if numbers.get(name) is None else numbers[name]
        for name in ("seed", "replications", "weeks")
    }
    versions = {"python": platform.python_version(), **{name: version(name) for name in PACKAGES}}
    unpriced, folder = without_prices(plant), out_dir / RESULTS_FOLDER
    question = asked(unpriced, {**chosen, "sets": [list(options) for options in sets]}, versions)
    card = card_that_holds(folder, question, plant)
    if card is not None:
        say("nothing that is simulated has changed: the tables of the earlier report hold")
        card = _signed(card, plant_folder, plant)
        write_card(folder, card)
        return card
    study = _simulated(unpriced, plant, chosen, sets, say, workers=workers, cache_dir=out_dir / "runs")
    card = _signed(dataclasses.replace(study.run, versions=versions, asked=question), plant_folder, plant)
    write_study(folder, dataclasses.replace(study, run=card))
    return card


def _signed(card: RunCard, plant_folder: Path, plant: Plant) -> RunCard:
    """The run card with the hashes of the inputs and scenarios as they are now, prices and all."""
    scenarios = {name: make_scenario(plant, options) for name, options in card.scenarios.items()}
    return dataclasses.replace(
        card,
        inputs_sha256=inputs_sha256(plant_folder),
        physics_hashes={name: scenario.physics_hash for name, scenario in scenarios.items()},
        money_hashes={name: scenario.money_hash for name, scenario in scenarios.items()},
    )


def _simulated(
    plant: Plant,
    priced: Plant,
    chosen: dict[str, Any],
    sets: Sequence[Options],
    say: Callable[[str], None],
    **more: Any,
) -> StudyFolder:
    """Everything that is simulated, from a plant without prices; ``priced`` only says which sets are cheapest."""
    run = {**chosen, **more}
    searching = {name: value for name, value in run.items() if name != "replications"}
    plan = make_plan(plant, say, sets, **searching)
    results = _run(plant, plan, say, **run)
    tools = simulate_tools(plant, plan.main, _night_with_magazine(plant, plan), plan.reference, say, **run)
    nights = simulate_nights(plant, results, _may_run_at_night(plan), plan.reference, say, **run)
    names = _scenario_names(plant, plan)
    at_reference = [held for name, held in names.items() if results.has(name, NEEDED, plan.reference)]
    parts = simulate_parts(plant, plan.main, at_reference, plan.reference, say, **run)
    results, pairs = simulate_calendar(plant, plan.main, results, plan.reference, say, **run)
    machines = {option.id for option in plant.options if option.kind == "bought"}
    cheapest = by_price(priced, [e.with_package or e.options for e in plan.sets if machines & set(e.options)])
    card = RunCard(
        plant=plant.settings.name, demand_factors=plan.levels, scenarios=names,
        cheap_package={factor_text(level): _name(plant, plan.packages[level]) for level in plan.levels},
        tool_cases=tools.cases, part_cases=parts.cases, night_cases=nights.cases, tool_demand=plan.reference,
        calendar_pairs=pairs, sets_by_price=tuple(cheapest), **chosen,
    )  # fmt: skip
    ribbon = _ribbon(plant, plan, chosen["seed"], chosen["weeks"])
    responses = _responses(plant, plan, cheapest, results, say, **run)
    results = results.joined(tools.results).joined(parts.results)
    results = results.joined(nights.results) if nights.results else results
    return StudyFolder(results, ribbon, card, *tools.tables, parts.table, nights.nights, responses)


def _responses(
    plant: Plant, plan: Plan, by_price: Sequence[Options], results: Results, say: Callable[[str], None], **run: Any
) -> pd.DataFrame:
    """How totals respond to times of elements and to suppliers' promises, at the demand of the last signed years."""
    level = last_signed(plant.settings.finance).factor
    on_package = [entry.with_package or entry.options for entry in plan.sets]
    sets: list[Options] = _distinct([(), plan.main, *by_price[:MOST_SETS]])
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


def make_plan(plant: Plant, say: Callable[[str], None] = print, sets: Sequence[Options] = (), **run: Any) -> Plan:
    """Choose the package at the reference demand and at each signed demand; other levels take the nearest one's."""
    settings = plant.settings
    reference = float(settings.run.demand_factor)
    signed = {year.factor for year in settings.finance.demand if year.signed}
    paid = {reference, *(year.factor for year in settings.finance.demand)}
    levels = tuple(sorted({*settings.run.demand_levels, *paid}))
    searched = sorted({reference, *signed})
    found: dict[float, Options] = {}
    for level in searched:
        found[level] = best_low_capital(plant, level, **run).option_ids if low_capital_options(plant) else ()
        say(f"best low-capital package at demand {level:g}: {'+'.join(found[level]) or 'none'}")
    packages = {level: found[min(searched, key=lambda known: (abs(known - level), known))] for level in levels}
    named = [*_pairs(plant), *sets]
    return Plan(levels, tuple(sorted(paid)), reference, packages, bought_sets(plant, packages[reference], named))


def _pairs(plant: Plant) -> list[tuple[str, str]]:
    """Pairs of bought options whose joint effect is reported: those of the three dearest that go together."""
    variants = cheaper_variants(plant)
    whole = [option for option in plant.options if option.kind == "bought" and option.id not in variants]
    bought = sorted(whole, key=lambda option: -capital_of([option]))[:3]
    legal = [(a.id, b.id) for a, b in combinations(bought, 2) if not why_illegal(plant, (a.id, b.id))]
    order = list(plant.option_by_id)
    return [tuple(sorted(pair, key=order.index)) for pair in legal]  # type: ignore[misc]


def _run(plant: Plant, plan: Plan, say: Callable[[str], None], **run: Any) -> Results:
    """Today, single options, and sets alone and on the main package at the levels that money needs; single options
    at the others too; what stands on another level's package at that level."""
    today = make_scenario(plant, ())
    singles: list[Options] = [(name,) for name in low_capital_options(plant)]
    main = make_scenarios(plant, _distinct([*combinations_of(plan.sets), *singles]))
    say(f"{len(main)} scenarios at {len(plan.levels)} demand levels, {run['replications']} replications each")
    results = run_scenarios(today, main, demand_factors=plan.paid, **run)
    rest = [level for level in plan.levels if level not in plan.paid]
    if rest:
        alone = [entry.options for entry in plan.sets if len(entry.options) == 1]
        few = make_scenarios(plant, _distinct([(), *singles, plan.main, *alone]))
        results = results.joined(run_scenarios(today, few, demand_factors=rest, **run))
    for level, package in plan.packages.items():
        own = [s for s in make_scenarios(plant, _on(plant, package, plan.sets)) if s.name not in results.scenarios]
        if own:
            results = results.joined(run_scenarios(today, own, demand_factors=[level], **run))
    return results


def _on(plant: Plant, package: Options, sets: Iterable[BoughtSet]) -> list[Options]:
    """A package, and every set on top of it that goes with it."""
    if not package:
        return []
    return [package, *((*package, *e.options) for e in sets if not why_illegal(plant, (*package, *e.options)))]


def _distinct(options: Iterable[Options]) -> list[Options]:
    """Each set once, whatever the order of its options."""
    return list({frozenset(entry): entry for entry in reversed(list(options))}.values())[::-1]


def _scenario_names(plant: Plant, plan: Plan) -> dict[str, Options]:
    """Scenarios in the order in which reports list them: today, cheap ones, sets alone, sets on packages."""
    singles: list[Options] = [(name,) for name in low_capital_options(plant)]
    packages = [package for package in dict.fromkeys(plan.packages.values()) if package]
    on_package = [options for package in packages for options in _on(plant, package, plan.sets)]
    listed = _distinct([(), *singles, *packages, *(entry.options for entry in plan.sets), *on_package])
    return {_name(plant, options): options for options in listed}


def _name(plant: Plant, options: Options) -> str:
    return make_scenario(plant, options).name if options else TODAY


def _night_with_magazine(plant: Plant, plan: Plan) -> Options | None:
    """The first night set that holds the plant's magazine."""
    magazine = magazine_case(plant)
    nights = [entry.with_package or entry.options for entry in plan.sets if entry.why == "night"]
    return next((options for options in nights if magazine is not None and set(magazine) <= set(options)), None)


def _may_run_at_night(plan: Plan) -> list[Options]:
    """Today, the package, and the sets of nights, alone and on the package."""
    sets = [entry for entry in plan.sets if entry.why == "night"]
    return _distinct([(), plan.main, *(options for e in sets for options in (e.options, e.with_package) if options)])


def _ribbon(plant: Plant, plan: Plan, seed: int, weeks: float) -> pd.DataFrame:
    """A week of today, of the package, and of a night set, in the first replication."""
    nights = [e.with_package or e.options for e in plan.sets if e.why == "night"][:1]
    rows: list[Row] = []
    today = make_scenario(plant, ())
    luck = draw_luck(today, seed, 0, weeks, plan.reference)
    for options in dict.fromkeys([(), plan.main, *nights]):
        scenario: Scenario = make_scenario(plant, options)
        workload = make_workload(scenario, *luck)
        rows += ribbon_rows(simulate(workload), workload, scenario.name, min(RIBBON_WEEK, int(weeks) - 1))
    return pd.DataFrame(rows, columns=list(RIBBON_COLUMNS))
