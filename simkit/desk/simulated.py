"""Scenarios simulated under the same orders and luck, and their amounts a week: what every table of a study reads."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from simkit.base.messages import BadInput, Finding, nearest
from simkit.desk.notebook_display import SIGN
from simkit.experiment.glossary import NEEDED, describe
from simkit.experiment.intervals import Estimate, t_interval
from simkit.experiment.results import Results
from simkit.plant import plant as tables
from simkit.plant.hashes import with_changes

if TYPE_CHECKING:
    from simkit.desk.plants import Plant, Scenario
    from simkit.desk.runs import RunNumbers

SPAN = "span_weeks"
HALF = "_half_width"
TODAY, PACKAGE = "Today", "Package"
"""Names of the scenario that the others are compared with, and of the low-capital package."""


@dataclass(frozen=True, eq=False, repr=False)
class Simulated:
    """Scenarios of one plant with all that was measured of them; the first is what the others are compared with.

    ``results`` holds every measure of every replication, ``numbers`` how they were run. Amounts are those of a mean
    week of the simulated span at the demand ``numbers.level``, unless another simulated ``level`` is asked for.
    """

    plant: Plant
    scenarios: tuple[Scenario, ...]
    results: Results
    numbers: RunNumbers

    @property
    def base(self) -> str:
        """Name of the first scenario."""
        return self.scenarios[0].name

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the scenarios."""
        return tuple(scenario.name for scenario in self.scenarios)

    @property
    def stamp(self) -> str:
        """Hash of the inputs: of the plant's files, and of all changes of them."""
        changes = dict.fromkeys(text for scenario in self.scenarios for text in scenario.changes)
        return with_changes(self.plant.inputs_sha256, (*self.plant.changes, *changes))

    def scenario(self, named: str | Scenario = "") -> Scenario:
        """A scenario by its name, without one the first; raises BadInput with the nearest known name."""
        name = (named if isinstance(named, str) else named.name) or self.base
        for scenario in self.scenarios:
            if scenario.name == name:
                return scenario
        raise BadInput([Finding("study", "no scenario has this name", nearest(name, self.names), value=name)])

    def inputs_of(self, named: str | Scenario = "") -> tables.PlantInputs:
        """Tables and settings of a scenario, its options and changes applied."""
        return self.scenario(named).made.plant

    def weekly_values(self, scenario: str, *measures: str, level: float | None = None) -> NDArray[np.float64]:
        """Sum of measures of one unit a week (shares and means as they are), one value a replication.

        What was not measured did not happen.
        """
        results, demand = self.results, self.numbers.level if level is None else level
        known = [results.values(scenario, name, demand) for name in measures if results.has(scenario, name, demand)]
        total = np.sum(known or [np.zeros(results.replications)], 0)
        weeks = results.raw(scenario, SPAN, demand) if describe(measures[0]).extensive else 1.0
        return np.asarray(total / weeks)

    def per_week(self, scenario: str, *measures: str, level: float | None = None) -> Estimate:
        """Mean of :meth:`weekly_values` with its 95 % interval."""
        fitted = self.results.fitted(scenario, self.numbers.level if level is None else level, measures[0])
        values = self.weekly_values(scenario, *measures, level=level)
        return t_interval(values, describe(measures[0]).unit, fitted=fitted)

    def gaps(self, names: Iterable[str] = (), against: str = "", *measures: str) -> dict[str, Estimate]:
        """What scenarios (all by default) have more a week than ``against``, by default the first; of measures of one
        unit, by default machine hours needed. Paired by replication; the intervals of all hold together."""
        base, asked = against or self.base, measures or (NEEDED,)
        others = [name for name in (names or self.names) if name != base]
        start = self.weekly_values(base, *asked)
        fitted, unit = self.results.fitted(self.base, self.numbers.level, asked[0]), describe(asked[0]).unit
        found = {name: self.weekly_values(name, *asked) - start for name in others}
        return {name: t_interval(gap, unit, intervals=len(others), fitted=fitted) for name, gap in found.items()}

    def freed(self, names: Iterable[str] = (), against: str = "", *measures: str) -> dict[str, Estimate]:
        """Hours a week that scenarios need less than ``against``: :meth:`gaps` seen from the other side."""
        gaps = self.gaps(names, against, *measures)
        return {name: dataclasses.replace(gap, mean=0.0 - gap.mean) for name, gap in gaps.items()}

    def records(self, table: str, scenario: str) -> pd.DataFrame:
        """Records of a scenario as kept with its runs, see :data:`simkit.experiment.records.ROWS`."""
        rows = self.results.rows(table, scenario, self.numbers.level)
        return rows.drop(columns=["scenario", "demand_factor"]).reset_index(drop=True)

    def records_per_week(
        self, scenario: str, records: pd.DataFrame, by: Sequence[str], amounts: Sequence[str]
    ) -> pd.DataFrame:
        """Sums of records a week by their names: columns ``by``, then each amount ``x_per_week`` with its half-width.

        ``records`` are those of all replications. What a replication does not mention did not happen in it.
        """
        runs = np.arange(self.numbers.replications)
        found = []
        for key, own in records.groupby(list(by), sort=False):
            sums = own.groupby("replication")[list(amounts)].sum().reindex(runs, fill_value=0.0)
            cells = (cell for name in amounts for cell in self._cells(scenario, name, sums[name].to_numpy(float)))
            found.append(dict(zip(by, key, strict=True)) | dict(cells))
        columns = [*by, *(f"{amount}_per_week{end}" for amount in amounts for end in ("", HALF))]
        return pd.DataFrame(found, columns=columns)

    def _cells(self, scenario: str, amount: str, total: NDArray[np.float64]) -> Iterator[tuple[str, Any]]:
        results, level = self.results, self.numbers.level
        weekly = results.adjusted(scenario, total, level) / results.raw(scenario, SPAN, level)
        yield from with_half(f"{amount}_per_week", t_interval(weekly, fitted=results.fitted(scenario, level))).items()


def with_half(name: str, known: Estimate) -> dict[str, float]:
    """An estimate as a column and that of its half-width; without one, nan."""
    half = known.half_width if math.isfinite(known.half_width) else math.nan
    return {name: known.mean, f"{name}{HALF}": half}


def gap_cells(column: str, gap: Estimate | None) -> dict[str, float | str]:
    """Cells of a paired difference: mean, half-width and what it tells; empty for the base itself."""
    if gap is None:
        return {column: math.nan, f"{column}{HALF}": math.nan, "how_sure": ""}
    return {**with_half(column, gap), "how_sure": SIGN[gap.verdict]}
