"""The pictures of a decision: what each choice is worth, and where the hours go that it takes away."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from simkit.analysis.verdicts import CANNOT_TELL, DO_IT, LOSES, NOT_NOW
from simkit.report.figures.style import bare_rows
from simkit.report.palette import GAIN, GREY_MARK, INK, LINES, LOSS, MARKERS, STATE_LABELS
from simkit.report.pictures import told
from simkit.report.words import number, plural

VERDICT_COLOURS = {DO_IT: GAIN, CANNOT_TELL: GREY_MARK, NOT_NOW: "#d9a441", LOSES: LOSS}
MOST_MARKS = 4


def values(table: pd.DataFrame, axes: Axes) -> Axes:
    """Value with its range, a row a choice, from :meth:`Decision.table`; the verdict stands beside it."""
    own = table[table["npv"].notna()].reset_index(drop=True)
    rows = np.arange(len(own))
    low, high = own["npv"] - own["npv_half_width"], own["npv"] + own["npv_half_width"]
    colours = [VERDICT_COLOURS.get(word, GREY_MARK) for word in own["verdict"]]
    axes.barh(rows, own["npv"], color=colours, height=0.55, zorder=2)
    axes.hlines(rows, low, high, color=INK, linewidth=1.4, zorder=3)
    axes.axvline(0, color=INK, linewidth=1, zorder=4)
    bare_rows(axes, list(own["choice"]))
    reach = max(high.max(), 0.0) - min(low.min(), 0.0) or 1.0
    for row, word in zip(rows, own["verdict"], strict=True):
        axes.text(max(high[row], 0.0) + 0.02 * reach, float(row), word, va="center", ha="left", color=INK)
    axes.set_xlim(min(low.min(), 0.0) - 0.04 * reach, max(high.max(), 0.0) + 0.24 * reach)
    axes.xaxis.set_major_formatter(lambda value, _: number(value, 0))
    axes.xaxis.set_major_locator(MaxNLocator(5))
    axes.set_xlabel("value, with its 95 % range")
    gain, lose = int((low > 0).sum()), int((high < 0).sum())
    gains, loses = "gains" if gain == 1 else "gain", "loses" if lose == 1 else "lose"
    title = f"Of {plural(len(own), 'choice')} {number(gain, 0)} clearly {gains} and {number(lose, 0)} clearly {loses}"
    return told(axes, title, _said(own), numbers=own.drop(columns="turns"))


def _said(own: pd.DataFrame) -> str:
    parts = [f"{row['choice']} {number(row['npv'], 0)} plus or minus {number(row['npv_half_width'], 0)}, "
             f"{row['verdict']}" for row in own.to_dict("records")]  # fmt: skip
    return f"Bars of value by choice: {'; '.join(parts)}."


def causes(table: pd.DataFrame, axes: Axes) -> Axes:
    """Today's hours by cause as bars, and what is left of each with the choices, from :meth:`Decision.causes`."""
    names = list(dict.fromkeys(table["scenario"]))[:MOST_MARKS]
    hours = table.pivot(index="state", columns="scenario", values="hours_per_week")[names]
    hours = hours[hours.max(axis="columns") >= 0.05].sort_values(names[0], ascending=False)
    rows = np.arange(len(hours))
    axes.barh(rows, hours[names[0]], color="#d5dbe1", height=0.66, label=names[0])
    for place, name in enumerate(names[1:]):
        axes.scatter(hours[name], rows, color=LINES[place], marker=MARKERS[place], s=38, zorder=3, label=name)
    bare_rows(axes, [STATE_LABELS.get(str(state), str(state)) for state in hours.index])
    axes.set_xlabel("machine hours a week")
    axes.legend(frameon=False, loc="lower right")
    most = STATE_LABELS.get(str(hours.index[0]), str(hours.index[0])) if len(hours) else "nothing"
    title = f"Beside cutting, the longest state of {names[0].lower()}: {most}"
    return told(axes, title, "", numbers=table)
