"""Scenarios side by side: one row a measure, totals as those of a week."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import pandas as pd

from simkit.experiment.glossary import describe
from simkit.report.columns import measure_name
from simkit.report.words import plural

if TYPE_CHECKING:
    from simkit.desk.study import Study


def beside_table(study: Study, measures: Sequence[str]) -> pd.DataFrame:
    """A row a measure; shares in per cent, what grows with the weeks as of one week."""
    rows = []
    for name in measures:
        known = describe(name)
        factor = 100.0 if known.unit == "1" else 1.0 / study.numbers.weeks if known.extensive else 1.0
        unit = "%" if known.unit == "1" else f"{known.unit} a week" if known.extensive else known.unit
        row: dict[str, object] = {"measure": f"{measure_name(name)}, {unit}"}
        for scenario in study.names:
            found = study.results.estimate(scenario, name, study.numbers.level)
            row |= {scenario: factor * found.mean, f"{scenario}_half_width": factor * found.half_width}
        rows.append(row)
    frame = pd.DataFrame(rows).set_index("measure")
    frame.attrs["title"] = f"{plural(len(study.names), 'case')} side by side"
    frame.attrs["note"] = "Mean and its 95 % range; all cases meet the same orders and the same chance events."
    return frame
