"""The risk of the cases that matter: built once from a money study, read by every section about risk."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from simkit.analysis.flips import BreakEvenMap, Flip, break_even_map, flip_values
from simkit.analysis.tornado import TOP_INPUTS, Swing, TotalEffect, swings, total_effects
from simkit.finance.evaluate import MoneyResult
from simkit.finance.riskinputs import line_name, register
from simkit.finance.risklaws import Array
from simkit.finance.riskmodel import RiskModel, companions
from simkit.finance.risksummary import Sampled, Summary, default_share, sample, summary, withheld
from simkit.plant.settings_risk import Risk
from simkit.report.studydata import TODAY

if TYPE_CHECKING:
    from simkit.report.moneystudy import MoneyStudy

WAGE_REACH = (0.6, 1.8)
"""Wages of the break-even map, as factors on the plant's."""


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
        """The cases: the package, the best bought set on top of it, and the best of all, each once."""
        bought = [name for name in self.cash.study.bought if name in self.cash.results]
        on_top = [name for name in bought if self.cash.study.holds_package(name)]
        best = [max(group, key=lambda n: self.cash.results[n].npv) for group in (on_top, bought) if group]
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
        return RiskModel(
            study.plant, totals, register(study.plant, options, self.demand), TODAY, replications=study.results
        )

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
    def effects(self) -> tuple[TotalEffect, ...]:
        """Total effects of the inputs with the largest swings."""
        top = [one.input for one in self.swings[:TOP_INPUTS]]
        return total_effects(self.model, self._main_name(), top, self.risk.seed)

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
    def withheld(self) -> str:
        """Why no chance of loss is told, or an empty text."""
        return withheld(self.cash.study.calibrated, self.default_share)

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
        """Every capital and capital line of the cases times a factor, as inputs of one case."""
        known = self.cash.study.plant.option_by_id
        options = [known[one] for name in self.names for one in self.cash.study.run.scenarios[name]]
        amounts = {f"capital {option.id}": option.capital.quoted for option in options}
        amounts |= {line_name(option, line): line.quoted for option in options for line in option.capital_lines}
        return {name: np.array([amount * factor]) for name, amount in amounts.items()}


def flip_distance(flip: Flip) -> float:
    """How far a flip lies from the typical value, in widths of the input's range; infinite without one."""
    if flip.value is None:
        return math.inf
    return abs(flip.value - flip.input.typical) / (flip.input.high - flip.input.low)
