"""The best low-capital package: the set of cheap options with the highest headline value, one for the demand path.

It is chosen on replications of its own and reported on others: choosing and reporting on the same luck would
flatter it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from simkit.analysis.option_sets import Options, low_capital_options, why_illegal
from simkit.analysis.service import ServiceCheck, recommendable
from simkit.analysis.set_search import search
from simkit.experiment.glossary import NEEDED
from simkit.experiment.intervals import Estimate, t_interval
from simkit.experiment.results import Results
from simkit.experiment.runner import run_scenarios
from simkit.finance.cashflow import build_cashflow
from simkit.finance.evaluate import MoneyResult, evaluate_one
from simkit.finance.inputs import totals_from
from simkit.finance.riskmodel import RiskModel
from simkit.plant.options import TODAY
from simkit.plant.plant import PlantInputs, ScenarioInputs
from simkit.plant.scenarios import make_scenario

SELECT_ON = 4
"""Replications of the search: common practice, no source."""
FIRST_REPLICATION = 5040
"""Number of the first of them: no report counts so far, so that what is reported is never what was chosen on. It can be
divided by 1 to 10: what is dealt out over so many consecutive replications begins anew with it."""


def best_package(plant: PlantInputs, levels: Sequence[float], *, replications: int = SELECT_ON, **run: Any) -> Options:
    """Search the best package among all low-capital options, simulated at ``levels``; in the order of the file.

    The levels are those that the years of signed demand read. ``run`` goes to
    :func:`simkit.experiment.runner.run_scenarios`: seed, weeks, workers and the like.
    """
    names = low_capital_options(plant)
    if not names:
        return ()
    runs = SetRuns(plant, levels, replications, run)
    return search(runs, names, lambda: all_that_save(runs, names))


def all_that_save(runs: SetRuns, names: Options) -> Options:
    """Every option that alone surely saves hours, as far as they go together, those that save most first."""
    alone = {name: runs.hours((name,), ()) for name in names if (name,) in runs.known}
    saving = [name for name, hours in alone.items() if hours.tells and hours.mean < 0]
    held: set[str] = set()
    for name in sorted(saving, key=lambda name: alone[name].mean):
        if not why_illegal(runs.plant, [*held, name]):
            held.add(name)
    return tuple(name for name in names if name in held)


def fading_part(plant: PlantInputs, options: Options) -> Options:
    """Those of a set whose gain fades: a set in which others do not fade reads its value from what they bring alone.

    The whole set where they do not go alone.
    """
    fading = tuple(name for name in options if plant.option_by_id[name].persistence.quoted < 1.0)
    return options if why_illegal(plant, fading) else fading


class SetRuns:
    """Sets of options simulated on the search's own replications and valued: the scores that the search reads.

    Sets of equal physics share a run.
    """

    def __init__(
        self, plant: PlantInputs, levels: Sequence[float], replications: int, run: dict[str, Any],
        first: int = FIRST_REPLICATION,
    ) -> None:  # fmt: skip
        self.plant, self.levels = plant, tuple(levels)
        self._run = {"progress": False, **run, "replications": replications, "first_replication": first}
        self._scenarios: dict[Options, ScenarioInputs] = {}
        self._money: dict[Options, _SetValue] = {}
        self._why_not: dict[Options, str] = {}
        self.results = Results(pd.DataFrame())
        self.add([()])

    @property
    def known(self) -> tuple[Options, ...]:
        """Sets that were simulated, today first."""
        return tuple(self._scenarios)

    def name(self, options: Options) -> str:
        """The scenario of a set."""
        return self._scenarios[options].name

    def add(self, sets: Iterable[Options]) -> None:
        """Simulate what is not known yet, and the sets that tell what of its gain fades."""
        wanted = dict.fromkeys(one for options in sets for one in (fading_part(self.plant, options), options))
        new = {options: make_scenario(self.plant, options) for options in wanted if options not in self._scenarios}
        known = {scenario.physics_hash: scenario.name for scenario in self._scenarios.values()}
        fresh = [scenario for scenario in new.values() if scenario.physics_hash not in known]
        frames = [self.results.frame] if self._scenarios else []
        if fresh:
            today = make_scenario(self.plant, ())
            frames.append(run_scenarios(today, fresh, demand_factors=self.levels, **self._run).frame)
        for scenario in new.values():
            if scenario.physics_hash in known:
                like = frames[0][frames[0]["scenario"] == known[scenario.physics_hash]]
                frames.append(like.assign(scenario=scenario.name))
        if new:
            self.results = Results(pd.concat(frames, ignore_index=True))
            self._scenarios |= new

    def why_not(self, options: Options) -> str:
        """Why a known set cannot be recommended, or an empty text."""
        if options not in self._why_not:
            today, own = self._scenarios[()], self._scenarios[options]
            judged = recommendable(self.results, today, own, self.levels) if options else ServiceCheck()
            self._why_not[options] = "; ".join(judged.reasons)
        return self._why_not[options]

    def worth(self, options: Options) -> _SetValue:
        """What a known set is worth, and with each replication left out."""
        if options not in self._money:
            self._money[options] = self._valued(options)
        return self._money[options]

    def _valued(self, options: Options) -> _SetValue:
        if not options:
            return _SetValue(None, np.zeros(self._run["replications"]))
        name = self.name(options)
        held = [self._scenarios[one] for one in dict.fromkeys([(), fading_part(self.plant, options), options])]
        results = self.results.selected([scenario.name for scenario in held])
        totals = totals_from(results, held)
        others = [one for other, one in totals.items() if other != TODAY]
        result = evaluate_one(build_cashflow(self.plant, totals[TODAY], others), name)
        model = RiskModel(self.plant, totals, (), TODAY, replications=results)
        return _SetValue(result, model.samples({name: result.npv})[name])

    def why_illegal(self, options: Options) -> str:
        """Why these options cannot go together, or an empty text."""
        return why_illegal(self.plant, options)

    def score(self, options: Options) -> float:
        """Headline net present value of a known set at quoted prices."""
        return self.worth(options).npv

    def gain(self, options: Options, against: Options) -> Estimate:
        """Paired difference in value of two known sets, by the jackknife."""
        unit = self.plant.settings.currency
        return self._known(self.worth(options).samples - self.worth(against).samples, unit)

    def _known(self, samples: NDArray[np.float64], unit: str) -> Estimate:
        fitted = max(self.results.fitted(TODAY, level) for level in self.levels)
        return t_interval(samples, unit, fitted=fitted)

    def cost(self, options: Options) -> tuple[float, float]:
        """Capital and hours of a known set."""
        return self.worth(options).capital, self.hours(options).mean

    def hours(self, options: Options, against: Options | None = None) -> Estimate:
        """Hours needed a week, the mean of the demand levels, of a known set or its paired difference from another."""
        values = self._weekly_hours(options)
        return self._known(values if against is None else values - self._weekly_hours(against), "h")

    def _weekly_hours(self, options: Options) -> NDArray[np.float64]:
        name, found = self.name(options), []
        for level in self.levels:
            found.append(self.results.values(name, NEEDED, level) / self.results.values(name, "span_weeks", level))
        return np.asarray(np.mean(found, axis=0))


@dataclass(frozen=True)
class _SetValue:
    """Measures of a set (None: today), and its headline value by replication."""

    result: MoneyResult | None
    samples: NDArray[np.float64]

    @property
    def npv(self) -> float:
        return self.result.npv if self.result else 0.0

    @property
    def capital(self) -> float:
        return self.result.capital if self.result else 0.0
