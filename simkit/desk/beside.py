"""Scenarios side by side: one row a measure, totals as those of a week."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import pandas as pd

from simkit.desk.amounts import per_week, with_half
from simkit.desk.shown import titled
from simkit.experiment.glossary import describe
from simkit.report.columns import measure_name
from simkit.report.words import plural, scaled

if TYPE_CHECKING:
    from simkit.desk.study import Study


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
