"""Results: one tidy table of what every replication of every scenario measured."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from simkit.base.messages import BadInput, Finding, nearest
from simkit.experiment.intervals import (
    LEVEL,
    Estimate,
    Spread,
    against_base,
    paired_difference,
    spread,
    t_interval,
)

COLUMNS = ("scenario", "demand_factor", "replication", "measure", "value", "unit")

Key = tuple[str, str, float]
"""Scenario, measure, demand factor."""

Sample = tuple[NDArray[np.int64], NDArray[np.float64]]
"""Numbers of the replications, ascending, and their values."""

STEADY_ENDINGS = ("_queue_mean", "_wait_mean_s", "_wait_share", "_process_mean")
"""Measures that end so describe a steady state and mean nothing while the backlog grows."""

BACKLOG_GROWS = "the backlog grows: no steady state to measure"


@dataclass(frozen=True, eq=False)
class Results:
    """The tidy table ``frame`` with columns :data:`COLUMNS`, rows in the order of the run.

    Replication k of every scenario had the same luck, so scenarios are compared pairwise.
    """

    frame: pd.DataFrame

    @property
    def scenarios(self) -> tuple[str, ...]:
        """Names of the scenarios, in the order of the run."""
        return tuple(str(name) for name in self.frame["scenario"].unique())

    @property
    def demand_factors(self) -> tuple[float, ...]:
        """Demand levels, ascending."""
        return tuple(sorted(float(level) for level in self.frame["demand_factor"].unique()))

    @property
    def measures(self) -> tuple[str, ...]:
        """Names of the measures, in the order of the run."""
        return tuple(str(name) for name in self.frame["measure"].unique())

    @property
    def replications(self) -> int:
        """How many replications there are."""
        return int(self.frame["replication"].nunique())

    @cached_property
    def units(self) -> dict[str, str]:
        """Unit of each measure."""
        first = self.frame.drop_duplicates("measure")
        return dict(zip(first["measure"], first["unit"], strict=True))

    @cached_property
    def _samples(self) -> dict[Key, Sample]:
        keys = ["scenario", "measure", "demand_factor"]
        group = self.frame.groupby(keys, sort=False).ngroup().to_numpy()
        replication = self.frame["replication"].to_numpy()
        order = np.lexsort((replication, group))
        starts = np.flatnonzero(np.diff(group[order], prepend=-1))
        names = self.frame[keys].iloc[order[starts]].itertuples(index=False, name=None)
        replications = np.split(replication[order], starts[1:])
        values = np.split(self.frame["value"].to_numpy(dtype=np.float64)[order], starts[1:])
        return dict(zip(names, zip(replications, values, strict=True), strict=True))

    def values(self, scenario: str, measure: str, demand_factor: float = 1.0) -> NDArray[np.float64]:
        """Values of one measure, one per replication, in order of replication."""
        return self._sample(scenario, measure, demand_factor)[1]

    def has(self, scenario: str, measure: str, demand_factor: float = 1.0) -> bool:
        """Whether the scenario measured this at this demand."""
        return (scenario, measure, float(demand_factor)) in self._samples

    def estimate(self, scenario: str, measure: str, demand_factor: float = 1.0, level: float = LEVEL) -> Estimate:
        """Mean over replications with its t interval, in the measure's unit."""
        return t_interval(self.values(scenario, measure, demand_factor), self.units[measure], level)

    def spread(self, scenario: str, measure: str, demand_factor: float = 1.0) -> Spread:
        """Range of 8 in 10 single replications: how much such stretches of weeks differ."""
        return spread(self.values(scenario, measure, demand_factor), self.units[measure])

    def paired(
        self, scenario: str, against: str, measure: str, demand_factor: float = 1.0, level: float = LEVEL
    ) -> Estimate:
        """Mean of ``scenario - against`` over replications with its t interval on the differences."""
        first, second = self._together([scenario, against], measure, demand_factor)
        return paired_difference(first, second, self.units[measure], level)

    def simultaneous(
        self, base: str, measure: str, demand_factor: float = 1.0,
        scenarios: Sequence[str] | None = None, level: float = LEVEL,
    ) -> dict[str, Estimate]:  # fmt: skip
        """Paired differences of the scenarios (default: all others) from ``base``, together at ``level``."""
        names = [base, *(name for name in scenarios or self.scenarios if name != base)]
        samples = self._together(names, measure, demand_factor)
        return against_base(dict(zip(names, samples, strict=True)), base, self.units[measure], level)

    def combined(self, weights: Mapping[str, float], measure: str, demand_factor: float = 1.0) -> Estimate:
        """Weighted sum of scenarios, replication by replication, with its t interval."""
        samples = self._together(list(weights), measure, demand_factor)
        total = np.sum([weight * values for weight, values in zip(weights.values(), samples, strict=True)], axis=0)
        return t_interval(total, self.units[measure])

    def refusal(self, scenario: str, measure: str, demand_factor: float = 1.0) -> str:
        """Why this measure must not be shown, or an empty text.

        A measure of a steady state is refused when the backlog grows in half of the replications or more.
        """
        steady = measure.endswith(STEADY_ENDINGS)
        if not steady or not self.has(scenario, "backlog_grows", demand_factor):
            return ""
        return BACKLOG_GROWS if self.values(scenario, "backlog_grows", demand_factor).mean() >= 0.5 else ""

    def selected(self, scenarios: Iterable[str]) -> Results:
        """The same results, of these scenarios only."""
        return Results(self.frame[self.frame["scenario"].isin(list(scenarios))].reset_index(drop=True))

    def joined(self, other: Results) -> Results:
        """Both tables as one; scenarios of ``other`` that are here already are left out."""
        known = self.frame[["scenario", "demand_factor", "replication"]].drop_duplicates()
        marked = other.frame.merge(known, how="left", indicator=True)
        new = other.frame[(marked["_merge"] == "left_only").to_numpy()]
        return Results(pd.concat([self.frame, new], ignore_index=True))

    def to_csv(self, path: Path) -> None:
        """Write the table; the same results give the same bytes."""
        self.frame.to_csv(path, index=False, lineterminator="\n", encoding="utf-8", na_rep="nan")

    @classmethod
    def from_csv(cls, path: Path) -> Results:
        """Read a table written by :meth:`to_csv`; raises BadInput if it is not one."""
        frame = pd.read_csv(path, keep_default_na=False, dtype=str)
        problems = _column_findings(path, list(frame.columns))
        if problems:
            raise BadInput(problems)
        numbers = {"demand_factor": float, "replication": int, "value": float}
        return cls(frame.astype(numbers))

    def _sample(self, scenario: str, measure: str, demand_factor: float) -> Sample:
        key = (scenario, measure, float(demand_factor))
        if key not in self._samples:
            raise KeyError(self._missing(*key))
        return self._samples[key]

    def _missing(self, scenario: str, measure: str, demand_factor: float) -> str:
        if scenario not in self.scenarios:
            return f"no scenario {scenario!r}: {nearest(scenario, self.scenarios)}"
        if measure not in self.measures:
            return f"no measure {measure!r}: {nearest(measure, self.measures)}"
        if demand_factor not in self.demand_factors:
            return f"demand factor {demand_factor:g} was not run; run were {self.demand_factors}"
        return f"{scenario} did not measure {measure} at demand {demand_factor:g}"

    def _together(self, scenarios: Sequence[str], measure: str, demand_factor: float) -> list[NDArray[np.float64]]:
        samples = [self._sample(name, measure, demand_factor) for name in scenarios]
        for name, sample in zip(scenarios[1:], samples[1:], strict=True):
            if not np.array_equal(sample[0], samples[0][0]):
                raise ValueError(f"{name} and {scenarios[0]} do not have the same replications of {measure}")
        return [values for _, values in samples]


def _column_findings(path: Path, found: list[str]) -> list[Finding]:
    if found == list(COLUMNS):
        return []
    wanted = ", ".join(COLUMNS)
    return [Finding(path.name, f"its columns are {', '.join(found)}", f"a results table has {wanted}", row=1)]


Measured = Mapping[str, float]
"""Flat totals of one run, by measure name."""


def results_from(rows: Iterable[tuple[str, float, int, Measured]], units: Mapping[str, str]) -> Results:
    """Build results from ``(scenario, demand factor, replication, totals)``, in that order of rows.

    ``units`` gives the unit of each measure; a measure per material or metal finds that of its stem.
    """
    columns: dict[str, list[object]] = {name: [] for name in COLUMNS}
    known: dict[str, str] = {}
    for scenario, demand_factor, replication, totals in rows:
        for measure, value in totals.items():
            if measure not in known:
                known[measure] = unit_of(measure, units)
            row = (scenario, float(demand_factor), replication, measure, float(value), known[measure])
            for name, item in zip(COLUMNS, row, strict=True):
                columns[name].append(item)
    return Results(pd.DataFrame(columns))


def unit_of(measure: str, units: Mapping[str, str]) -> str:
    """Unit of a measure; of ``material_kg_MS-1.5`` that of the longest known stem, here ``material_kg``."""
    stems = [name for name in units if measure == name or measure.startswith(f"{name}_")]
    if not stems:
        raise KeyError(f"measure {measure!r} has no unit: {nearest(measure, units)}")
    return units[max(stems, key=len)]
