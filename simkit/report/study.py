"""A study: the plant, what was simulated about it, and the demand level at which it answers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from simkit.analysis.service import Verdict, recommendable
from simkit.base.messages import BadInput, Finding
from simkit.base.vocabulary import STATES
from simkit.experiment.best import Named, named_best
from simkit.experiment.glossary import NEEDED, describe
from simkit.experiment.intervals import Estimate, Spread, replications_to_tell, t_interval
from simkit.experiment.results import Results
from simkit.finance.timeline import demand_path
from simkit.plant.changes import changed_plant
from simkit.plant.hashes import inputs_sha256
from simkit.plant.options import Option, capital_of
from simkit.plant.plant import Plant, Scenario
from simkit.plant.reading import check_plant
from simkit.plant.scenarios import make_scenario
from simkit.report import cautions
from simkit.report.studydata import CALENDAR, TODAY, RunCard, StudyFolder, read_study
from simkit.report.words import listing

Kind = Literal["low_capital", "calendar", "bought"]
WHOLE_RUN = "span_weeks"
LEFT = ("subcontract_h", "unmet_h")
"""Hours of the order book that the cell does not make."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Study(StudyFolder):
    """Everything that the sections of a report read; ``demand_factor`` is the level of the answers."""

    plant: Plant
    findings: tuple[Finding, ...] = ()
    demand_factor: float
    inputs_sha256: str = ""

    @property
    def currency(self) -> str:
        """Unit of money."""
        return self.plant.settings.currency

    @property
    def calibrated(self) -> bool:
        """Whether the plant was read with a calibration that counts."""
        return self.plant.calibration is not None

    @property
    def package(self) -> str:
        """Scenario of the best low-capital package, ``today`` if there is none."""
        return self.run.package

    @property
    def scenarios(self) -> tuple[str, ...]:
        """Scenarios simulated at this demand, in the order of the run card."""
        return tuple(n for n in self.run.scenarios if self.results.has(n, WHOLE_RUN, self.demand_factor))

    @cached_property
    def weekly(self) -> Results:
        """The results with every total as its amount per week of the simulated span."""
        frame = self.results.frame
        keys = ["scenario", "demand_factor", "replication"]
        spans = frame[frame["measure"] == WHOLE_RUN].set_index(keys)["value"].rename("span")
        joined = frame.join(spans, on=keys)
        as_it_is = ~joined["measure"].map({name: describe(name).extensive for name in self.results.measures})
        value = joined["value"].where(as_it_is, joined["value"] / joined["span"])
        return Results(joined.assign(value=value).drop(columns="span"))

    @property
    def marks(self) -> tuple[str, ...]:
        """Warnings that stand at the top of every page."""
        stale = bool(self.run.inputs_sha256) and self.run.inputs_sha256 != self.inputs_sha256
        changed = f"Changed for this report: {listing(self.run.overrides)}. The plant's files hold other values."
        return (
            *([cautions.STALE] if stale else []), *([changed] if self.run.overrides else []),
            *([] if self.calibrated else [cautions.UNCALIBRATED]),
        )  # fmt: skip

    def physics(self, names: Iterable[str | None]) -> list[str]:
        """Scenarios as text, each with the hash of what was simulated; what a page reads changes with it."""
        return [f"{name} {self.run.physics_hashes.get(name or '', '')}" for name in names]

    def total(self, scenario: str, measure: str) -> Estimate:
        """Mean and 95 % interval of a measure over the whole simulated span."""
        return self.results.estimate(scenario, measure, self.demand_factor)

    def per_week(self, scenario: str, measure: str) -> Estimate:
        """Mean and 95 % interval of a measure per week (shares and means as they are)."""
        return self.weekly.estimate(scenario, measure, self.demand_factor)

    def runs(self, scenario: str, measure: str) -> Spread:
        """Range of 8 in 10 single runs."""
        return self.results.spread(scenario, measure, self.demand_factor)

    def has(self, scenario: str, measure: str) -> bool:
        """Whether a scenario measured this at this demand."""
        return self.results.has(scenario, measure, self.demand_factor)

    def weekly_values(self, scenario: str, *measures: str) -> NDArray[np.float64]:
        """Sum of measures per week (a share as it is), one value a replication."""
        found = (self.weekly.values(scenario, measure, self.demand_factor) for measure in measures)
        return np.asarray(sum(found))

    def options_of(self, scenario: str) -> tuple[Option, ...]:
        """Options of a scenario."""
        return tuple(self.plant.option_by_id[i] for i in self.run.scenarios[scenario])

    def capital(self, scenario: str) -> float:
        """Quoted capital of a scenario with its capital lines, before any grant."""
        return capital_of(self.options_of(scenario))

    def gaps(self, base: str, measure: str = NEEDED) -> dict[str, Estimate]:
        """Paired differences of all other scenarios from ``base``; the intervals hold together at 95 %."""
        return self.differences(self.results, base, measure, [name for name in self.scenarios if name != base])

    @property
    def family(self) -> int:
        """How many differences hold together at 95 % on every page: one for each scenario beside its base.

        A page that compares more cases of its own counts these.
        """
        return len(self.scenarios) - 1

    def differences(self, results: Results, base: str, measure: str, others: Sequence[str]) -> dict[str, Estimate]:
        """Paired differences of scenarios or cases from ``base``; a difference has the same interval on every page."""
        if not others:
            return {}
        return results.simultaneous(base, measure, self.demand_factor, others, family=self.family)

    def replications_to_tell(self, name: str, base: str, measure: str = NEEDED) -> int | None:
        """How many replications would give the difference of two scenarios a sure sign, if it is what it seems."""
        values, against = (self.results.values(one, measure, self.demand_factor) for one in (name, base))
        fitted = self.results.fitted(base, self.demand_factor, measure)
        return replications_to_tell(values - against, intervals=self.family, fitted=fitted)

    def known(self, values: NDArray[np.float64], unit: str, *, intervals: int = 1) -> Estimate:
        """Mean of values made from those of :attr:`results`, one a replication, with one of so many intervals."""
        fitted = self.results.fitted(TODAY, self.demand_factor)
        return t_interval(values, unit, intervals=intervals, fitted=fitted)

    def fewest_hours(self, names: Iterable[str]) -> Named:
        """The scenario to name as the one that needs the fewest hours: of those that may, the cheapest."""
        samples = {name: self.results.values(name, NEEDED, self.demand_factor) for name in names}
        cost = {name: (self.capital(name), len(self.run.scenarios[name])) for name in samples}
        return named_best(samples, cost, fitted=self.results.fitted(TODAY, self.demand_factor))

    @property
    def luck_note(self) -> str:
        """How the luck of the order book is kept out of means, in words."""
        drawn = "balanced: each week of the book is used equally often, in random order"
        drawn = drawn if self.plant.settings.run.week_draw == "balanced" else "drawn with replacement"
        if not self.results.fitted(TODAY, self.demand_factor):
            return f"Release weeks are {drawn}."
        return (
            f"Release weeks are {drawn}. Totals are adjusted for the planned hours that a run drew, whose mean is "
            "known; results.csv and ranges of single runs hold them as simulated."
        )

    @cached_property
    def leaves_more(self) -> frozenset[str]:
        """Scenarios that surely give out or refuse more work than the package: their hours are fewer for that too."""
        found = {m: self.gaps(self.package, m) for m in LEFT if self.has(self.package, m)}
        return frozenset(n for gaps in found.values() for n, gap in gaps.items() if gap.mean > 0 and gap.tells)

    def verdict(self, scenario: str) -> Verdict:
        """Whether a scenario can be recommended, judged at this demand and at each signed one it was simulated at."""
        if scenario not in self._verdicts:
            wanted = {self.demand_factor, *(year.factor for year in demand_path(self.plant.settings.finance))}
            levels = [d for d in sorted(wanted) if self.results.has(scenario, WHOLE_RUN, d)]
            self._verdicts[scenario] = recommendable(
                self.results, self._scenario(TODAY), self._scenario(scenario), levels
            )
        return self._verdicts[scenario]

    def recommendable(self, scenarios: Iterable[str]) -> tuple[str, ...]:
        """Of some scenarios, those that can be recommended: only they compete where a best one is named."""
        return tuple(name for name in scenarios if self.verdict(name).ok)

    @cached_property
    def _verdicts(self) -> dict[str, Verdict]:
        return {}

    def _scenario(self, name: str) -> Scenario:
        return make_scenario(self.plant, self.run.scenarios[name], name=name)

    def kind(self, scenario: str) -> Kind:
        """Class of a scenario: bought if any option is, else calendar if any is, else low-capital."""
        kinds = {option.kind for option in self.options_of(scenario)}
        return "bought" if "bought" in kinds else "calendar" if "calendar" in kinds else "low_capital"

    def of_kind(self, kind: Kind) -> tuple[str, ...]:
        """Scenarios of a class, today apart."""
        return tuple(n for n in self.scenarios if self.run.scenarios[n] and self.kind(n) == kind)

    @property
    def low_capital(self) -> tuple[str, ...]:
        """Scenarios of low-capital options alone."""
        return self.of_kind("low_capital")

    @property
    def calendar(self) -> tuple[str, ...]:
        """Scenarios that change working hours or buy hours, and buy no device."""
        return self.of_kind("calendar")

    @property
    def bought(self) -> tuple[str, ...]:
        """Scenarios in which a device is bought."""
        return self.of_kind("bought")

    @cached_property
    def package_options(self) -> frozenset[str]:
        """Options of the best low-capital package."""
        return frozenset(self.run.scenarios.get(self.package, ()))

    def with_package(self, scenario: str) -> str | None:
        """The scenario of the same options and the low-capital package, if it was simulated."""
        return self.run.named(frozenset(self.run.scenarios[scenario]) | self.package_options)

    def holds_package(self, scenario: str) -> bool:
        """Whether a scenario is the whole low-capital package and more."""
        return bool(self.package_options) and self.package_options < set(self.run.scenarios[scenario])

    def state_hours(self, scenarios: Iterable[str]) -> pd.DataFrame:
        """Hours per week by machine state, one row a scenario; a row sums to the calendar of all machines."""
        rows = {n: {s: self.per_week(n, f"state_{s}_h").mean for s in STATES} for n in scenarios}
        return pd.DataFrame.from_dict(rows, orient="index")

    def named(self, scenario: str) -> str:
        """Name of a scenario as readers see it: the low-capital package by that word, not by its parts."""
        if scenario in (TODAY, self.package):
            return "Today" if scenario == TODAY else "Package"
        if not self.holds_package(scenario):
            return scenario
        added = (option for option in self.run.scenarios[scenario] if option not in self.package_options)
        return "Package + " + "+".join(added)

    @property
    def package_note(self) -> str:
        """What the word package stands for."""
        return "" if self.package == TODAY else f"Package: {self.described(self.package)}."

    def described(self, scenario: str) -> str:
        """Options of a scenario in words."""
        if scenario == TODAY:
            return "today's cell"
        held = self.package_options if self.holds_package(scenario) else frozenset()
        names = [f"{option.id} {option.name}" for option in self.options_of(scenario) if option.id not in held]
        return listing(["the package", *names] if held else names)

    def week(self, scenario: str) -> tuple[pd.DataFrame, pd.DataFrame]:
        """Intervals and calendar of the simulated week of a scenario."""
        own = self.table("ribbon", scenario)
        is_calendar = own["resource"] == CALENDAR
        return own[~is_calendar], own[is_calendar]


def open_study(
    plant_folder: str | Path, results_dir: str | Path, demand_factor: float | None = None, as_it_was: bool = False
) -> Study:
    """Open a plant folder, with the changes of the study's run, and its study folder.

    It answers at ``demand_factor``, by default at the demand at which it was run. Raises BadInput if either folder
    cannot be read or they do not fit, and where the inputs have changed since it was simulated: old numbers are never
    shown under new inputs. ``as_it_was`` opens it all the same, marked, to look back at what was predicted.
    """
    plant, findings = check_plant(Path(plant_folder))
    if plant is None:
        raise BadInput(findings)
    data = read_study(Path(results_dir))
    plant = changed_plant(plant, data.run.overrides)
    level = data.run.tool_demand if demand_factor is None else float(demand_factor)
    _require_fit(plant, data.run, data.results, level)
    digest = inputs_sha256(Path(plant_folder))
    if data.run.inputs_sha256 not in ("", digest) and not as_it_was:
        why = "the inputs have changed since these numbers were simulated"
        raise BadInput([Finding(str(plant_folder), why, "Simulate again: simkit report")])
    return Study(**vars(data), plant=plant, findings=findings, demand_factor=level, inputs_sha256=digest)


def _require_fit(plant: Plant, run: RunCard, results: Results, demand_factor: float) -> None:
    findings = []
    if plant.settings.name != run.plant:
        why = f"the study folder is of '{run.plant}', the plant folder of '{plant.settings.name}'"
        findings.append(Finding("run.json", why, "Simulate this plant first"))
    held = {option for options in run.scenarios.values() for option in options}
    unknown = sorted(held - set(plant.option_by_id))
    if unknown:
        findings.append(Finding("run.json", f"options {listing(unknown)} are not in the plant", "Simulate again"))
    if float(demand_factor) not in results.demand_factors or TODAY not in results.scenarios:
        levels = listing(f"{level:g}" for level in results.demand_factors)
        why = f"today was not simulated at demand {demand_factor:g}; levels are {levels}"
        findings.append(Finding("results.csv", why, "Choose one of them or simulate this one"))
    if findings:
        raise BadInput(findings)
