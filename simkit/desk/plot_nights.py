"""Exhibits of unattended nights: how long they run, what ended them, and what each step of a ladder adds."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from simkit.desk.axes import new_axes, nothing_drawn, require_column
from simkit.report import sentences_nights as say
from simkit.report.figures.style import bare_rows, legend_above
from simkit.report.palette import ACCENT, GAIN, INK, LOSS, MUTED, NIGHT_SHADE, PAPER
from simkit.report.pictures import told
from simkit.report.words import number

MOST_ENDS = 10


def night_runs(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """How many nights work how long, as a histogram, from :meth:`Study.night_runs`; the line: hours allowed."""
    own = require_column(table, "running_h")
    if own.empty:
        return nothing_drawn(table, ax)
    axes = ax or new_axes(2.8)
    allowed = float(own["allowed_h"].mean())
    edges = np.linspace(0.0, max(allowed, 1.0), 17)
    axes.hist(own["running_h"].clip(upper=edges[-1]), edges.tolist(), color=ACCENT, edgecolor=PAPER)
    axes.axvline(allowed, color=MUTED, linestyle=":", linewidth=1.6)
    axes.annotate("allowed", (allowed, 0.92), xycoords=("data", "axes fraction"), xytext=(-6, 0), ha="right",
                  textcoords="offset points", color=MUTED)  # fmt: skip
    axes.set_xlabel("hours worked in a night")
    axes.set_ylabel("nights")
    return told(axes, say.runs(own), f"Histogram of hours worked in a night. {say.runs(own)}.")


def night_ends(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Share of nights ended and of the hours lost by what ended them, from :meth:`Study.night_ends`."""
    own = require_column(table, "of_the_hours_lost_share").head(MOST_ENDS)
    if own.empty:
        return nothing_drawn(table, ax)
    axes = ax or new_axes(0.9 + 0.42 * len(own))
    rows = np.arange(len(own))
    for shift, column, colour, words in ((-0.18, "of_the_nights_share", ACCENT, "of the nights"),
                                         (0.18, "of_the_hours_lost_share", LOSS, "of the hours lost")):  # fmt: skip
        axes.barh(rows + shift, 100 * own[column], height=0.34, color=colour)
        axes.annotate(words, (100 * own[column].iloc[0], shift), xytext=(5, 0), textcoords="offset points",
                      va="center", color=colour)  # fmt: skip
    bare_rows(axes, list(own["ended_by"]))
    axes.set_xlabel("% of all nights, and % of all hours lost at night")
    axes.margins(x=0.2)
    left = len(table) - len(own)
    note = f"{left} further rows left out." if left else ""
    told_as = {"of_the_nights_share": "share of nights", "of_the_hours_lost_share": "share of hours lost"}
    alt = say.bars_alt(own, "ended_by", told_as)
    return told(axes, table.attrs.get("title", "What ended the nights"), alt, note)


def ladder(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Hours of a mean night: worked, lost without work, lost to the rest; one bar a step, from
    :meth:`Study.night_hours`."""
    own = require_column(table, "worked_h")
    if own.empty:
        return nothing_drawn(table, ax)
    axes = ax or new_axes(1.2 + 0.36 * len(own))
    rest = (own["allowed_h"] - own["worked_h"] - own["lost_without_work_h"]).clip(lower=0.0)
    left = pd.Series(0.0, index=own.index)
    parts = {"worked": (own["worked_h"], GAIN), "lost without work": (own["lost_without_work_h"], NIGHT_SHADE),
             "lost to anything else": (rest, LOSS)}  # fmt: skip
    for hours, colour in parts.values():
        axes.barh(range(len(own)), hours, left=left, color=colour, edgecolor=PAPER, height=0.62)
        left = left + hours
    for row, hours in enumerate(own["worked_h"]):
        axes.annotate(f"{number(hours, 1)} h", (own["allowed_h"].max(), row), xytext=(5, 0), va="center", color=INK,
                      textcoords="offset points", annotation_clip=False)  # fmt: skip
    bare_rows(axes, [name if place == 0 else f"+ {name}" for place, name in enumerate(own["scenario"])])
    axes.set_xlim(0, own["allowed_h"].max())
    axes.set_xlabel("hours of a mean night (right: worked)")
    legend_above(axes, {name: colour for name, (hours, colour) in parts.items() if hours.any()})
    words = {"worked_h": "worked", "allowed_h": "allowed"}
    return told(axes, table.attrs.get("title", "Hours a night"), say.bars_alt(own, "scenario", words))
