"""Exhibits of times: seconds of a sheet, estimate against the time in use, what a time's range changes."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from simkit.analysis.sheet_times import TOLERANCE
from simkit.desk.amounts import HALF
from simkit.desk.axes import new_axes, nothing_drawn, require_column, told_by
from simkit.report import sentences_cell
from simkit.report import sentences_times as say
from simkit.report.figures.style import SMALL, bare_rows
from simkit.report.palette import ACCENT, HIGH_COLOUR, INK, LINES, LOW_COLOUR, MARKERS, MUTED, PAPER, RULE
from simkit.report.pictures import told
from simkit.report.words import number

PLACES = {say.WHERE["run"]: ACCENT, "before it": "#c2571a", "after it": "#7cc0a6", "at the bench": "#a6c9e6"}
NAMED = 3
"""Programs that are named in the scatter: those furthest from the line, by hours of the book."""


def sheet(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Seconds of a sheet by element, from :meth:`Plant.program`; the name of an element tells where it is spent."""
    own = require_column(table, "seconds_s")
    axes = ax or new_axes(0.9 + 0.28 * len(own))
    axes.barh(range(len(own)), own["seconds_s"], color=[PLACES[where] for where in own["where"]], height=0.66)
    for row, seconds in enumerate(own["seconds_s"]):
        axes.annotate(number(seconds, 0), (seconds, row), xytext=(4, 0), textcoords="offset points", va="center",
                      color=INK)  # fmt: skip
    names = [name if where == say.WHERE["run"] else f"{name} ({where})"
             for name, where in zip(own["element"], own["where"], strict=True)]  # fmt: skip
    bare_rows(axes, names)
    axes.set_xlabel("seconds a sheet")
    axes.margins(x=0.08)
    alt = sentences_cell.rows_alt(names, own["seconds_s"], "s")
    return told_by(axes, own, alt, "Seconds of a sheet by element")


def run_times(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Estimated run time of each program against the one in use, from :meth:`Plant.run_times`; filled: measured."""
    own = require_column(table, "estimated_s")
    own = own[(own["runs_use_s"] > 0) & (own["estimated_s"] > 0)]
    if own.empty:
        return nothing_drawn(table, ax)
    axes = ax or new_axes(4.2)
    both = own[["runs_use_s", "estimated_s"]].to_numpy(float)
    line = np.array([both.min() / 1.15, both.max() * 1.15])
    axes.fill_between(line, line * (1 - TOLERANCE), line * (1 + TOLERANCE), color=RULE, alpha=0.6, linewidth=0)
    axes.plot(line, line, color=MUTED, linewidth=1)
    for place, (family, group) in enumerate(own.groupby("family", sort=False)):
        colour, marker = LINES[place % len(LINES)], MARKERS[place % len(MARKERS)]
        fills = [colour if timed else PAPER for timed in group["measured_s"].notna()]
        axes.scatter(group["runs_use_s"], group["estimated_s"], marker=marker, edgecolors=colour, s=34, zorder=3,
                     c=fills, label=str(family) or "no family")  # fmt: skip
    axes.set_xscale("log")
    axes.set_yscale("log")
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_formatter(lambda value, _: number(value, 0))
        axis.set_minor_formatter(lambda value, _: "")
    axes.set_xlabel("run time in use, s a sheet (filled: measured; hollow: rows of elements)")
    axes.set_ylabel("estimated by motion, s a sheet")
    axes.legend(frameon=False, loc="upper left", fontsize=SMALL)
    furthest = own.loc[own["apart_h"].abs().sort_values(ascending=False).index, "program"].head(NAMED)
    note = f"Band: {100 * TOLERANCE:g} %. {say.first_to_time(list(furthest))}"
    return told(
        axes, say.scatter(own, TOLERANCE), f"Points of {len(own)} programs. {say.scatter(own, TOLERANCE)}.", note
    )


def effects(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """What each time changes at its low and at its high, from :meth:`Study.effects`; input values at the bars' ends."""
    own = require_column(table, "at_low_h_per_week")
    if own.empty:
        return nothing_drawn(table, ax)
    axes = ax or new_axes(1.1 + 0.42 * len(own))
    for end, colour in (("low", LOW_COLOUR), ("high", HIGH_COLOUR)):
        hours, half = own[f"at_{end}_h_per_week"], own[f"at_{end}_h_per_week{HALF}"]
        axes.barh(range(len(own)), hours, xerr=half.where(half < 10 * hours.abs().max(), 0.0), color=colour, height=0.6,
                  ecolor=INK, capsize=2, label=f"at its {end}")  # fmt: skip
        for row, (value, size, width) in enumerate(zip(own[end], hours, half.fillna(0.0), strict=True)):
            side = -1 if size < 0 or (size == 0 and end == "low") else 1
            reach = size + side * (width if width < 10 * hours.abs().max() else 0.0)
            axes.annotate(number(value), (reach, row), xytext=(6 * side, 0), textcoords="offset points", va="center",
                          ha="left" if side > 0 else "right", fontsize=SMALL, color=MUTED)  # fmt: skip
    axes.axvline(0, color=INK, linewidth=1)
    bare_rows(axes, [f"{name} ({basis})" for name, basis in zip(own["element"], own["rests_on"], strict=True)])
    axes.set_xlabel("machine hours needed a week, difference from today (numbers: the time at that end)")
    axes.margins(x=0.14)
    axes.legend(frameon=False, loc="lower left", bbox_to_anchor=(0, 1.0), ncols=2)
    return told_by(axes, own, say.effects_alt(own), "What times change")
