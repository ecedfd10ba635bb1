"""Amounts a week of the scenarios of a study, with paired differences: what tables of single subjects read."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from simkit.desk.amounts import HALF, per_week, rows_per_week, weekly_values, with_half
from simkit.desk.shown import SIGN
from simkit.experiment.glossary import NEEDED, describe
from simkit.experiment.intervals import Estimate, t_interval
from simkit.experiment.results import DRAWN
from simkit.plant import plant as tables
from simkit.plant.options import capital_of

if TYPE_CHECKING:
    from simkit.desk.study import Study

TODAY, PACKAGE = "Today", "Package"
"""Names of the scenario that the others are compared with, and of the low-capital package."""


@dataclass(frozen=True, eq=False)
class Weekly:
    """A study by the week, at the demand of its answers."""

    study: Study

    @property
    def base(self) -> str:
        """What the scenarios are compared with."""
        return self.study.base

    def plant_of(self, name: str) -> tables.Plant:
        """Tables and settings of a scenario."""
        return self.study.scenario(name).made.plant

    def capital(self, name: str) -> float:
        """Quoted capital of the options of a scenario, before any grant."""
        known = self.study.plant.inputs.option_by_id
        return capital_of([known[option] for option in self.study.scenario(name).options])

    def values(self, name: str, *measures: str) -> NDArray[np.float64]:
        """Sum of measures a week, one value a replication, see :func:`simkit.desk.amounts.weekly_values`."""
        return weekly_values(self.study, name, *measures)

    def known(self, name: str, *measures: str) -> Estimate:
        """The same as a mean with its 95 % interval."""
        return per_week(self.study, name, *measures)

    def interval(self, values: NDArray[np.float64], measure: str = DRAWN, together: int = 1) -> Estimate:
        """Mean of one value a replication, with one of so many 95 % intervals that hold together."""
        fitted = self.study.results.fitted(self.base, self.study.numbers.level, measure)
        return t_interval(values, describe(measure).unit, intervals=max(together, 1), fitted=fitted)

    def freed(self, names: Iterable[str] = (), against: str = "", *measures: str) -> dict[str, Estimate]:
        """Hours a week that scenarios (all by default) need less than ``against``; all intervals together."""
        base = against or self.base
        others = [name for name in (names or self.study.names) if name != base]
        asked = measures or (NEEDED,)
        start = self.values(base, *asked)
        return {name: self.interval(start - self.values(name, *asked), asked[0], len(others)) for name in others}

    def rows(self, table: str, scenario: str) -> pd.DataFrame:
        """Records of a scenario as kept with its runs, see :data:`simkit.experiment.records.ROWS`."""
        return self.study.results.rows(table, scenario, self.study.numbers.level)

    def means(self, rows: pd.DataFrame, scenario: str, names: Sequence[str], amounts: Sequence[str]) -> pd.DataFrame:
        """Weekly means of records of a scenario, see :func:`simkit.desk.amounts.rows_per_week`."""
        return rows_per_week(self.study, scenario, rows, names, amounts)


def gap_cells(column: str, gap: Estimate | None) -> dict[str, float | str]:
    """Cells of a paired difference: mean, half-width and what it tells; empty for the base itself."""
    if gap is None:
        return {column: math.nan, f"{column}{HALF}": math.nan, "how_sure": ""}
    return {**with_half(column, gap), "how_sure": SIGN[gap.verdict]}


def opposite(gap: Estimate | None) -> Estimate | None:
    """A difference seen from the other side."""
    return None if gap is None else Estimate(0.0 - gap.mean, gap.half_width, gap.n, gap.unit, gap.level)
