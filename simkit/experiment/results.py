"""Results: one tidy table of what every replication of every scenario measured."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from simkit.base.messages import BadInput, Finding, nearest
from simkit.experiment.cache import Run
from simkit.experiment.controlvariate import control_matrix
from simkit.experiment.glossary import describe
from simkit.experiment.intervals import (
    LEVEL,
    Estimate,
    Spread,
    against_base,
    paired_difference,
    spread,
    t_interval,
)
from simkit.experiment.tables import LazyValues

DRAWN, DRAWN_MEAN = "drawn_h", "drawn_mean_h"
"""Planned hours drawn in a replication, and their known mean: see :mod:`simkit.experiment.controlvariate`."""
KEYS = ("scenario", "demand_factor", "replication")
COLUMNS = (*KEYS, "measure", "value", "unit")

ResultKey = tuple[str, str, float]
"""Scenario, measure, demand factor."""

Sample = tuple[NDArray[np.int64], NDArray[np.float64]]
"""Numbers of the replications, ascending, and their values."""

STEADY_ENDINGS = ("_queue_mean", "_wait_mean_s", "_wait_share", "_process_mean")
"""Measures that end so describe a steady state and mean nothing while the backlog grows."""

BACKLOG_GROWS = "the backlog grows: no steady state to measure"


@dataclass(frozen=True, eq=False)
class Results:
    """The tidy table ``frame`` with columns :data:`COLUMNS`, rows in the order of the run.

    Replication k of every scenario had the same luck, so scenarios are compared pairwise. Means, differences and their
    intervals read :meth:`values`, in which the luck of the order book is taken out of totals where that helps (see
    :mod:`simkit.experiment.controlvariate`); the table itself, :meth:`raw` and :meth:`spread` hold what was simulated.
    ``records`` are the tables of single orders, nights and the like that were asked for, by name: scenario,
    demand_factor and replication, then the columns of :data:`simkit.experiment.records.ROWS`.
    """

    frame: pd.DataFrame
    records: Mapping[str, pd.DataFrame] = field(default_factory=dict)

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
    def _samples(self) -> dict[ResultKey, Sample]:
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
        """Values of one measure, one per replication in their order, adjusted for the drawn hours where that helps.

        Shares and means are as simulated, and so are totals at a demand at which :meth:`fitted` is 0. A mean of totals
        that are not negative is not adjusted below zero.
        """
        numbers, simulated = self._sample(scenario, measure, demand_factor)
        if not describe(measure).extensive:
            return simulated
        return self.adjusted(scenario, simulated, demand_factor, numbers)

    def adjusted(
        self, scenario: str, simulated: NDArray[np.float64], demand_factor: float = 1.0,
        numbers: NDArray[np.int64] | None = None,
    ) -> NDArray[np.float64]:  # fmt: skip
        """Totals of these replications (None: all of them), such as sums of records, adjusted as measures are."""
        known = np.sort(self.frame["replication"].unique()) if numbers is None else numbers
        matrix = self._control(scenario, demand_factor, tuple(known.tolist()))
        if matrix is None:
            return simulated
        adjusted = matrix @ simulated
        below = -min(float(adjusted.mean()), 0.0) if simulated.min() >= 0 else 0.0
        return np.asarray(adjusted + below)

    def raw(self, scenario: str, measure: str, demand_factor: float = 1.0) -> NDArray[np.float64]:
        """Values of one measure as simulated, one per replication: what differs between runs."""
        return self._sample(scenario, measure, demand_factor)[1]

    def fitted(self, scenario: str, demand_factor: float = 1.0, measure: str = DRAWN) -> int:
        """How many degrees of freedom the adjustment costs the intervals of a scenario at a demand: 1 or 0.

        It is 0 for a ``measure`` that is not adjusted.
        """
        if not self.has(scenario, DRAWN, demand_factor):
            return 0
        numbers = tuple(self._sample(scenario, DRAWN, demand_factor)[0].tolist())
        adjusted = self._control(scenario, demand_factor, numbers) is not None
        return int(adjusted and describe(measure).extensive)

    @cached_property
    def _controls(self) -> dict[tuple[float, tuple[int, ...]], NDArray[np.float64] | None]:
        """Matrices by demand and replications: the drawn hours of a replication are the same for all scenarios."""
        return {}

    def _control(self, scenario: str, demand_factor: float, numbers: tuple[int, ...]) -> NDArray[np.float64] | None:
        key = float(demand_factor), numbers
        if key not in self._controls and self.has(scenario, DRAWN_MEAN, demand_factor):
            of_these = np.isin(self._sample(scenario, DRAWN, demand_factor)[0], numbers)
            drawn, mean = (self.raw(scenario, name, demand_factor)[of_these] for name in (DRAWN, DRAWN_MEAN))
            self._controls[key] = control_matrix(drawn, mean)
        return self._controls.get(key)

    @cached_property
    def _measured(self) -> dict[str, list[tuple[float, str]]]:
        found: dict[str, list[tuple[float, str]]] = {}
        for scenario, measure, demand_factor in self._samples:
            found.setdefault(scenario, []).append((demand_factor, measure))
        return found

    def measured(self, scenario: str) -> list[tuple[float, str]]:
        """Every demand factor and measure of a scenario, in the order of the run."""
        return self._measured[scenario]

    def has(self, scenario: str, measure: str, demand_factor: float = 1.0) -> bool:
        """Whether the scenario measured this at this demand."""
        return (scenario, measure, float(demand_factor)) in self._samples

    def estimate(self, scenario: str, measure: str, demand_factor: float = 1.0, level: float = LEVEL) -> Estimate:
        """Mean over replications with its t interval, in the measure's unit."""
        values, fitted = self.values(scenario, measure, demand_factor), self.fitted(scenario, demand_factor, measure)
        return t_interval(values, self.units[measure], level, fitted=fitted)

    def spread(self, scenario: str, measure: str, demand_factor: float = 1.0) -> Spread:
        """Range of 8 in 10 single replications, as simulated: how much runs differ."""
        return spread(self.raw(scenario, measure, demand_factor), self.units[measure])

    def paired(
        self, scenario: str, against: str, measure: str, demand_factor: float = 1.0, level: float = LEVEL
    ) -> Estimate:
        """Mean of ``scenario - against`` over replications with its t interval on the differences."""
        first, second = self._together([scenario, against], measure, demand_factor)
        fitted = self.fitted(against, demand_factor, measure)
        return paired_difference(first, second, self.units[measure], level, fitted=fitted)

    def simultaneous(
        self, base: str, measure: str, demand_factor: float = 1.0,
        scenarios: Sequence[str] | None = None, level: float = LEVEL, *, family: int = 0,
    ) -> dict[str, Estimate]:  # fmt: skip
        """Paired differences of the scenarios (default: all others) from ``base``, together at ``level``.

        ``family`` counts the intervals of which these are some, where it is more.
        """
        names = [base, *(name for name in scenarios or self.scenarios if name != base)]
        samples = dict(zip(names, self._together(names, measure, demand_factor), strict=True))
        fitted = self.fitted(base, demand_factor, measure)
        return against_base(samples, base, self.units[measure], level, family=family, fitted=fitted)

    def refusal(self, scenario: str, measure: str, demand_factor: float = 1.0) -> str:
        """Why this measure must not be shown, or an empty text.

        A measure of a steady state is refused when the backlog grows in half of the replications or more.
        """
        steady = measure.endswith(STEADY_ENDINGS)
        if not steady or not self.has(scenario, "backlog_grows", demand_factor):
            return ""
        return BACKLOG_GROWS if self.values(scenario, "backlog_grows", demand_factor).mean() >= 0.5 else ""

    def rows(self, table: str, scenario: str, demand_factor: float = 1.0) -> pd.DataFrame:
        """Rows of one of the tables of :attr:`records`, of a scenario; raises KeyError where it was not asked for."""
        if table not in self.records:
            raise KeyError(f"the records of {table} were not asked for: {nearest(table, self.records)}")
        frame = self.records[table]
        return frame[(frame["scenario"] == scenario) & (frame["demand_factor"] == demand_factor)]

    def selected(self, scenarios: Iterable[str]) -> Results:
        """The same results, of these scenarios only."""
        wanted = set(scenarios)

        def of_these(held: pd.DataFrame) -> pd.DataFrame:
            return held[held["scenario"].isin(wanted)].reset_index(drop=True)

        found = Results(of_these(self.frame), LazyValues(self.records, lambda name: of_these(self.records[name])))
        known = {key: sample for key, sample in self._samples.items() if key[0] in wanted}
        found.__dict__["_samples"] = known  # sorting the same rows again is what takes long
        return found

    def joined(self, other: Results) -> Results:
        """Both as one; scenarios of ``other`` that are here already are left out, save from records not held here."""
        known = self.frame[list(KEYS)].drop_duplicates()

        def with_new(held: pd.DataFrame, more: pd.DataFrame) -> pd.DataFrame:
            marked = more[list(KEYS)].merge(known, how="left", indicator=True)
            return pd.concat([held, more[(marked["_merge"] == "left_only").to_numpy()]], ignore_index=True)

        def both(name: str) -> pd.DataFrame:
            if name in self.records and name in other.records:
                return with_new(self.records[name], other.records[name])
            return self.records[name] if name in self.records else other.records[name]

        return Results(with_new(self.frame, other.frame), LazyValues([*self.records, *other.records], both))

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
        return [self.values(name, measure, demand_factor) for name in scenarios]


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
    runs = list(rows)
    counts = np.array([len(totals) for *_, totals in runs], np.int64)
    measures = [measure for *_, totals in runs for measure in totals]
    known = {measure: unit_of(measure, units) for measure in dict.fromkeys(measures)}
    columns = (
        [name for name, count in zip((run[0] for run in runs), counts.tolist(), strict=True) for _ in range(count)],
        np.repeat(np.array([run[1] for run in runs], np.float64), counts),
        np.repeat(np.array([run[2] for run in runs], np.int64), counts),
        measures,
        np.array([value for *_, totals in runs for value in totals.values()], np.float64),
        [known[measure] for measure in measures],
    )
    return Results(pd.DataFrame(dict(zip(COLUMNS, columns, strict=True))))


def results_from_runs(
    runs: Sequence[tuple[str, float, int, Run]], units: Mapping[str, str], names: Iterable[str]
) -> Results:
    """The same from whole runs, with the tables of these names."""
    totals = results_from(((*key, run.totals) for *key, run in runs), units)  # type: ignore[misc]
    return Results(totals.frame, LazyValues(names, lambda name: _framed(runs, name)))


def _framed(runs: Sequence[tuple[str, float, int, Run]], name: str) -> pd.DataFrame:
    tables = [run.records[name] for *_, run in runs]
    frame = pd.DataFrame(np.concatenate(tables))
    counts = [len(table) for table in tables]
    for at, key in enumerate(KEYS):
        frame.insert(at, key, np.repeat(np.array([run[at] for run in runs]), counts))
    return frame


def unit_of(measure: str, units: Mapping[str, str]) -> str:
    """Unit of a measure; of ``material_kg_MS-1.5`` that of the longest known stem, here ``material_kg``."""
    stems = [name for name in units if measure == name or measure.startswith(f"{name}_")]
    if not stems:
        raise KeyError(f"measure {measure!r} has no unit: {nearest(measure, units)}")
    return units[max(stems, key=len)]
