"""The risk of the cases that matter: built once from a money study, read by every section about risk."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from simkit.analysis.flips import BreakEvenMap, Flip, break_even_map, flip_values
from simkit.analysis.responses import PROMISE, TIME
from simkit.analysis.tornado import TOP_INPUTS, SobolEffect, Swing, sobol_effects, swings
from simkit.experiment.glossary import UNATTENDED
from simkit.finance.arrays import Array
from simkit.finance.evaluate import MoneyResult
from simkit.finance.riskinputs import RiskInput, bundle_name, line_name, register
from simkit.finance.riskmodel import RiskModel, Slopes, companions
from simkit.finance.risksummary import Sampled, Summary, condition, default_share, lopsided, sample, summary
from simkit.plant.settings_risk import RangeLaw, Risk
from simkit.report.studydata import TODAY

if TYPE_CHECKING:
    from simkit.report.moneystudy import MoneyStudy

WAGE_REACH = (0.6, 1.8)
"""Wages of the break-even map, as factors on the plant's: common practice, no source."""


@dataclass(frozen=True, eq=False)
class RiskStudy:
    """Risk of the low-capital package and of the bought sets with the highest value, alone and on top of it."""

    cash: MoneyStudy

    @property
    def risk(self) -> Risk:
        """The plant's settings of risk."""
        return self.cash.study.plant.settings.risk

    @cached_property
    def names(self) -> tuple[str, ...]:
        """The cases: the package, and of the bought sets to be recommended the best on it and of all, each once."""
        bought = self.cash.study.recommendable(name for name in self.cash.study.bought if name in self.cash.results)
        on_top = [name for name in bought if self.cash.study.holds_package(name)]
        best = [named.name for group in (on_top, bought) if (named := self.cash.best(group))]
        package = [self.cash.package.scenario] if self.cash.package else []
        return tuple(dict.fromkeys([*package, *best]))

    @property
    def main(self) -> MoneyResult | None:
        """The case that is taken apart: the bought set with the highest value, else the package."""
        return self.cash.best_bought or self.cash.package

    @cached_property
    def demand(self) -> tuple[float, float]:
        """Lowest and highest demand at which all cases were simulated."""
        levels = [self.cash.totals[name].factors for name in (TODAY, *self.names)]
        return max(min(one) for one in levels), min(max(one) for one in levels)

    @cached_property
    def model(self) -> RiskModel:
        """The value of the cases as a function of their uncertain inputs."""
        study = self.cash.study
        totals = companions(study.plant, self.cash.totals, self.names, TODAY)
        options = [option for name in self.names for option in study.run.scenarios[name]]
        times = responses_of(study.table("responses"), TIME, self.risk.law)
        measured = {scenario for _, slopes in times.values() for scenario in slopes}
        if not {TODAY, *totals} <= measured:
            times = {}
        inputs = (*register(study.plant, options, self.demand), *(one for one, _ in times.values() if not one.fixed))
        slopes = {name: slope for name, (_, slope) in times.items()}
        return RiskModel(study.plant, totals, inputs, TODAY, study.results, slopes)

    @property
    def times_known(self) -> bool:
        """Whether the response of all cases to times of elements was simulated; otherwise no time is in the range."""
        return bool(self.model.slopes)

    @cached_property
    def promises(self) -> tuple[Promise, ...]:
        """What a supplier must keep to for a net present value of zero, through the simulated slopes."""
        return tuple(self._promise(one, slopes) for one, slopes in self._promised())

    def _promised(self) -> list[tuple[RiskInput, Slopes]]:
        found = responses_of(self.cash.study.table("responses"), PROMISE, self.risk.law).values()
        return [(one, slopes) for one, slopes in found if next(iter(slopes)) in self.cash.results]

    def _promise(self, one: RiskInput, slopes: Slopes) -> Promise:
        name = next(iter(slopes))
        study = self.cash.study
        totals = companions(study.plant, self.cash.totals, [name], TODAY)
        model = RiskModel(study.plant, totals, (one,), TODAY, slopes={one.name: slopes})
        (flip,) = flip_values(model, name, self.demand)
        perfect = float(model.values({one.name: np.array([0.0])}, [name]).npv[name][0])
        return Promise(
            one, name, self.cash.results[name].npv, perfect, flip, self._night_hours(name, one, slopes, flip)
        )

    def _night_hours(self, name: str, one: RiskInput, slopes: Slopes, flip: Flip) -> tuple[float, float | None] | None:
        """Hours run per unattended night as simulated, and at the flip; None where there are no nights."""
        totals, level = self.cash.totals[name], self.demand[0]
        if one.name != "promise night" or not totals.has(UNATTENDED) or not totals.has("nights"):
            return None
        nights = totals.per_week("nights", level)
        hours = totals.per_week(UNATTENDED, level)
        if not nights:
            return None
        change = slopes[name].get(UNATTENDED, 0.0) * level
        at = None if flip.value is None else (hours + change * (flip.value - one.typical)) / nights
        return hours / nights, at

    @cached_property
    def sampled(self) -> Sampled:
        """The samples of all cases."""
        return sample(self.model, self.names, self.risk)

    @cached_property
    def summaries(self) -> Mapping[str, Summary]:
        """What the samples of each case say."""
        limit = self.risk.payback_limit_years
        return {name: summary(self.sampled, name, limit) for name in self.names}

    def _main_name(self) -> str:
        return self.main.scenario if self.main else ""

    @cached_property
    def swings(self) -> tuple[Swing, ...]:
        """Swing of every input that moves the main case, largest first."""
        found = swings(self.model, self._main_name())
        return tuple(one for one in found if one.size >= 0.5)

    @cached_property
    def effects(self) -> tuple[SobolEffect, ...]:
        """Total effects of the inputs with the largest swings."""
        top = [one.input for one in self.swings[:TOP_INPUTS]]
        return sobol_effects(self.model, self._main_name(), top, self.risk.seed)

    @cached_property
    def flips(self) -> tuple[Flip, ...]:
        """Flip value of every input of the main case that moves it, in order of swing."""
        order = {one.input.name: place for place, one in enumerate(self.swings)}
        found = [flip for flip in flip_values(self.model, self._main_name(), self.demand) if flip.input.name in order]
        return tuple(sorted(found, key=lambda flip: order[flip.input.name]))

    @cached_property
    def nearest_flip(self) -> Flip | None:
        """The flip that lies nearest to its typical value, measured in widths of the input's range."""
        there = [flip for flip in self.flips if flip.value is not None]
        return min(there, key=flip_distance, default=None)

    @cached_property
    def map(self) -> BreakEvenMap:
        """Value of the main case over demand and wage."""
        wage = self.cash.study.plant.settings.money.operator_rate_per_h
        return break_even_map(self.model, self._main_name(), self.demand, (WAGE_REACH[0] * wage, WAGE_REACH[1] * wage))

    @cached_property
    def condition(self) -> str:
        """Under which conditions chances and percentiles hold."""
        return condition(self.cash.study.calibrated, self.default_share, self.model.runs > 1)

    @cached_property
    def lopsided(self) -> Mapping[str, float]:
        """What each input alone does to the expected value of the main case, by its title, largest first."""
        titles = {one.name: one.title for one in self.model.inputs}
        return {titles[name]: value for name, value in lopsided(self.model, self._main_name()).items()}

    @property
    def default_share(self) -> float:
        """Share of the summed swings that rests on default ranges."""
        return default_share([(one.input, one.size) for one in self.swings])

    def with_uplifts(self, capital: float, benefit: float) -> Mapping[str, float]:
        """Value of each case with its capital times ``capital`` and all its other cash times ``benefit``.

        Replacement, residual value and relief of tax move with the capital.
        """
        own = self._capital_times(capital)
        nothing = {name: values * 0.0 for name, values in own.items()}
        dear, free = (self.model.values(values, self.names).npv for values in (own, nothing))
        return {name: float(dear[name][0] + (benefit - 1.0) * free[name][0]) for name in self.names}

    def _capital_times(self, factor: float) -> dict[str, Array]:
        """All that the cases pay at first times a factor, as inputs of one case."""
        known = self.cash.study.plant.option_by_id
        options = [known[one] for name in self.names for one in self.cash.study.run.scenarios[name]]
        amounts = {f"capital {option.id}": option.capital.quoted for option in options}
        amounts |= {bundle_name(option): option.bundle_adjustment for option in options}
        amounts |= {line_name(option, line): line.quoted for option in options for line in option.capital_lines}
        return {name: np.array([amount * factor]) for name, amount in amounts.items()}


@dataclass(frozen=True)
class Promise:
    """What a supplier promises of a case: its value as promised and if kept perfectly (zero), and the value it takes.

    ``night_hours`` are hours run per unattended night as simulated and at the flip, where the promise is about nights.
    """

    input: RiskInput
    scenario: str
    npv: float
    npv_if_perfect: float
    flip: Flip
    night_hours: tuple[float, float | None] | None


def responses_of(table: pd.DataFrame, kind: str, law: RangeLaw) -> dict[str, tuple[RiskInput, Slopes]]:
    """Inputs of a kind that were simulated, with their slopes by scenario and measure."""
    found: dict[str, tuple[RiskInput, Slopes]] = {}
    for name, rows in table[table["kind"] == kind].groupby("input", sort=False) if len(table) else ():
        about = rows.iloc[0]
        title, unit, basis, owner, source = (
            str(about[column]) if about[column] == about[column] else ""
            for column in ("title", "unit", "basis", "owner", "source")
        )
        low, typical, high = (float(about[column]) for column in ("low", "typical", "high"))
        slopes = {
            str(scenario): dict(zip(own["measure"], own["per_unit"].astype(float), strict=True))
            for scenario, own in rows.groupby("scenario", sort=False)
        }
        found[str(name)] = RiskInput(str(name), title, unit, low, typical, high, basis, owner, source, law), slopes
    return found


def flip_distance(flip: Flip) -> float:
    """How far a flip lies from the typical value, in widths of the input's range; infinite without one."""
    if flip.value is None:
        return math.inf
    return abs(flip.value - flip.input.typical) / (flip.input.high - flip.input.low)
