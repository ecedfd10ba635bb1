"""What the study of nights needs simulated: one set that allows nights, and what changes when ends are taken away."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any

import pandas as pd

from simkit.analysis.cases import Case, Simulated, legal_scenarios, with_physics
from simkit.analysis.low_capital import Options
from simkit.analysis.night_cases import (
    BASE,
    MOST_IN_ORDER,
    RIVAL,
    alone_cases,
    freed_case,
    help_cases,
    more_cases,
    next_case,
    single_cases,
)
from simkit.analysis.night_tables import NIGHT_COLUMNS, ranked_wants
from simkit.experiment.glossary import UNATTENDED
from simkit.experiment.results import Results
from simkit.experiment.runner import run_scenarios
from simkit.plant.plant import Plant
from simkit.plant.scenarios import make_scenario


def simulate_nights(
    plant: Plant,
    known: Results,
    sets: Sequence[Options],
    demand_factor: float,
    say: Callable[[str], None],
    **run: Any,
) -> Simulated:
    """Simulate the cases of the set of ``sets`` whose machine works most unattended hours, at one demand level.

    ``known`` are the results of these sets. Nothing is simulated where none of them allows a night.
    """
    base = _most_hours(plant, known, sets, demand_factor)
    if base is None:
        return Simulated(known.selected([]), {}, {})
    runs = _Runs(plant, known.selected([]), demand_factor, run)
    runs.add([base])
    ranked = ranked_wants(runs.nights_of(base.name))
    runs.add([*single_cases(plant, base, ranked), *_rivals(plant, base, known, sets, demand_factor)])
    _in_order(runs, base)
    freed = freed_case(plant, base)
    more = [freed, *alone_cases(plant, base), *more_cases(plant, base), *help_cases(plant, base)]
    runs.add([*more, *_freed_rivals(plant, base, runs.cases.values())])
    say(f"{len(runs.cases)} cases of nights of {base.name}")
    return Simulated(runs.results, runs.cases, {"nights": runs.nights[list(NIGHT_COLUMNS)]})


class _Runs:
    """Cases simulated so far, in the order in which they came."""

    def __init__(self, plant: Plant, results: Results, demand_factor: float, run: dict[str, Any]) -> None:
        self.plant, self.results, self.demand_factor, self.run = plant, results, demand_factor, run
        self.today = make_scenario(plant, ())
        self.cases: dict[str, Case] = {}

    def add(self, cases: Iterable[Case]) -> None:
        """Simulate these cases; those that are not legal in this plant are left out."""
        new = legal_scenarios({case.name: case for case in cases}.values(), self.plant)
        if not new:
            return
        scenarios = [scenario for _, scenario in new]
        found = run_scenarios(
            self.today, scenarios, demand_factors=[self.demand_factor], records=["nights"], **self.run
        )
        self.cases |= with_physics([case for case, _ in new], scenarios)
        self.results = self.results.joined(found)

    @property
    def nights(self) -> pd.DataFrame:
        """Nights of all cases."""
        return self.results.records["nights"]

    def nights_of(self, name: str) -> pd.DataFrame:
        """Nights of a case."""
        return self.nights[self.nights["scenario"] == name]


def _in_order(runs: _Runs, base: Case) -> None:
    """Take away what ended most hours, look again, and so on."""
    before = base
    gone: list[str] = []
    while len(gone) < MOST_IN_ORDER:
        case = next_case(runs.plant, before, gone, ranked_wants(runs.nights_of(before.name)))
        if case is None:
            return
        runs.add([case])
        if case.name not in runs.cases:
            return
        gone.append(case.want)
        before = case


def _worked_h(plant: Plant, known: Results, options: Options, demand_factor: float) -> float:
    """Unattended hours of a set, -1 where it was not simulated or allows no night."""
    name = make_scenario(plant, options).name
    if not known.has(name, "nights", demand_factor) or known.values(name, "nights", demand_factor).mean() == 0:
        return -1.0
    return float(known.values(name, UNATTENDED, demand_factor).mean())


def _most_hours(plant: Plant, known: Results, sets: Sequence[Options], demand_factor: float) -> Case | None:
    worked = {options: _worked_h(plant, known, options, demand_factor) for options in sets}
    best = max(worked, key=lambda options: worked[options], default=None)
    if best is None or worked[best] < 0:
        return None
    return Case(make_scenario(plant, best).name, BASE, "the set as it is", best)


def _rivals(plant: Plant, base: Case, known: Results, sets: Sequence[Options], demand_factor: float) -> Iterator[Case]:
    """Sets that differ from the base in bought options alone, so in how sheets and parts leave."""
    for options in sets:
        apart = set(options) ^ set(base.options)
        bought = all(plant.option_by_id[name].kind == "bought" for name in apart)
        if apart and bought and _worked_h(plant, known, options, demand_factor) >= 0:
            yield Case(make_scenario(plant, options).name, RIVAL, "another hand-over", options)


def _freed_rivals(plant: Plant, base: Case, cases: Iterable[Case]) -> Iterator[Case]:
    for case in cases:
        if case.group == RIVAL:
            yield freed_case(plant, case, "+".join(name for name in case.options if name not in base.options))
