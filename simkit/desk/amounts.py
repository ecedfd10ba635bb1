"""Amounts a week of the simulated span: means over replications with 95 % half-widths, of measures and of records."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from simkit.desk.shown import titled
from simkit.experiment.glossary import describe
from simkit.experiment.intervals import Estimate, t_interval
from simkit.report.columns import measure_name
from simkit.report.words import plural, scaled

if TYPE_CHECKING:
    from simkit.desk.study import Study

SPAN = "span_weeks"
HALF = "_half_width"


def weekly_values(study: Study, scenario: str, *measures: str, level: float | None = None) -> NDArray[np.float64]:
    """Sum of measures of one unit a week (shares and means as they are), one value a replication.

    At the demand of the study or at ``level``. What was not measured did not happen.
    """
    results, demand = study.results, study.numbers.level if level is None else level
    known = [results.values(scenario, name, demand) for name in measures if results.has(scenario, name, demand)]
    total = np.sum(known or [np.zeros(results.replications)], 0)
    return np.asarray(total / (results.raw(scenario, SPAN, demand) if describe(measures[0]).extensive else 1.0))


def per_week(study: Study, scenario: str, *measures: str, level: float | None = None) -> Estimate:
    """Mean of :func:`weekly_values` with its 95 % interval."""
    fitted = study.results.fitted(scenario, study.numbers.level if level is None else level, measures[0])
    values = weekly_values(study, scenario, *measures, level=level)
    return t_interval(values, describe(measures[0]).unit, fitted=fitted)


def rows_per_week(
    study: Study, scenario: str, rows: pd.DataFrame, by: Sequence[str], amounts: Sequence[str]
) -> pd.DataFrame:
    """Sums of records a week by their names: columns ``by``, then each amount ``x_per_week`` with its half-width.

    ``rows`` are records of all replications of the scenario. What a replication does not mention did not happen in it.
    """
    runs = np.arange(study.numbers.replications)
    found = []
    for key, own in rows.groupby(list(by), sort=False):
        sums = own.groupby("replication")[list(amounts)].sum().reindex(runs, fill_value=0.0)
        named = dict(zip(by, key, strict=True))
        found.append(named | {k: v for a in amounts for k, v in _columns(study, scenario, a, sums[a].to_numpy(float))})
    columns = [*by, *(f"{amount}_per_week{end}" for amount in amounts for end in ("", HALF))]
    return pd.DataFrame(found, columns=columns)


def _columns(study: Study, scenario: str, amount: str, total: NDArray[np.float64]) -> Iterator[tuple[str, Any]]:
    level = study.numbers.level
    weekly = study.results.adjusted(scenario, total, level) / study.results.raw(scenario, SPAN, level)
    known = t_interval(weekly, fitted=study.results.fitted(scenario, level))
    yield from with_half(f"{amount}_per_week", known).items()


def with_half(name: str, known: Estimate) -> dict[str, float]:
    """An estimate as a column and that of its half-width; without one, nan."""
    half = known.half_width if np.isfinite(known.half_width) else float("nan")
    return {name: known.mean, f"{name}{HALF}": half}


def beside_table(study: Study, measures: Sequence[str]) -> pd.DataFrame:
    """A row a measure; shares in per cent, what grows with the weeks as of one week."""
    rows = []
    for name in measures:
        known, share = describe(name), describe(name).unit == "1"
        unit = "%" if share else f"{known.unit} a week" if known.extensive else known.unit
        row: dict[str, object] = {"measure": f"{measure_name(name)}, {unit}"}
        for scenario in study.names:
            row |= with_half(scenario, scaled(per_week(study, scenario, name), 100.0 if share else 1.0))
        rows.append(row)
    note = "Mean and its 95 % range; all cases meet the same orders and the same chance events."
    return titled(pd.DataFrame(rows).set_index("measure"), f"{plural(len(study.names), 'case')} side by side", note)
