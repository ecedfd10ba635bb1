"""Bars of exchange time by tool, with marks for what other cases leave of it."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from simkit.report.exhibits import Exhibit
from simkit.report.figures.style import bare_rows, canvas
from simkit.report.palette import GREY_MARK, INK, MARKERS, PAPER
from simkit.report.words import number

ROW_IN = 0.27
LEGEND_COLUMNS = 3


def exchange_bars(
    minutes: pd.DataFrame, colours: Mapping[str, str], marks: Mapping[str, pd.Series], *, axis_label: str, title: str,
    calibrated: bool = True, note: str = "",
) -> Exhibit:  # fmt: skip
    """Draw stacked minutes, one bar a tool; ``marks`` are the sums of other cases, by case and tool.

    ``minutes`` has a row per tool and a column per kind of exchange, named as in ``colours``.
    """
    kinds = [kind for kind in colours if kind in minutes.columns and minutes[kind].max() > 0]
    rows = range(len(minutes))
    entries = len(kinds) + len(marks)
    with canvas(0.75 + ROW_IN * len(minutes) + 0.2 * -(-entries // LEGEND_COLUMNS)) as (figure, (axes,)):
        left = pd.Series(0.0, index=minutes.index)
        for kind in kinds:
            axes.barh(rows, minutes[kind], left=left, color=colours[kind], edgecolor=PAPER if calibrated else GREY_MARK,
                      linewidth=0.8, height=0.7)  # fmt: skip
            left = left + minutes[kind]
        for place, values in enumerate(marks.values()):
            axes.plot(values.reindex(minutes.index).fillna(0.0), rows, linestyle="none", marker=MARKERS[place + 1],
                      markersize=6, markerfacecolor=PAPER, markeredgecolor=INK, markeredgewidth=1.2)  # fmt: skip
        bare_rows(axes, [str(name) for name in minutes.index])
        axes.set_xlim(left=0)
        axes.set_xlabel(axis_label)
        bars = [Patch(facecolor=colours[kind], edgecolor=GREY_MARK, linewidth=0.5, label=kind) for kind in kinds]
        points = [
            Line2D([], [], linestyle="none", marker=MARKERS[place + 1], markersize=6, markerfacecolor=PAPER,
                   markeredgecolor=INK, label=f"{name}: all kinds") for place, name in enumerate(marks)
        ]  # fmt: skip
        axes.legend(handles=[*bars, *points], loc="lower left", bbox_to_anchor=(0, 1.01), ncols=LEGEND_COLUMNS,
                    frameon=False, fontsize=8, borderaxespad=0)  # fmt: skip
    return Exhibit(figure, title, _alt(minutes[kinds], marks, axis_label), note=note, marks=minutes.size)


def _alt(minutes: pd.DataFrame, marks: Mapping[str, pd.Series], axis_label: str) -> str:
    parts = []
    for name, row in minutes.iterrows():
        pieces = ", ".join(f"{kind} {number(value)}" for kind, value in row.items() if value > 0)
        others = "".join(f", with {case} {number(float(values.get(name, 0.0)))}" for case, values in marks.items())
        parts.append(f"{name}: {pieces}{others}")
    return f"Stacked bars by tool, {axis_label}. " + "; ".join(parts) + "."
