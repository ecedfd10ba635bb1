"""The exhibit of the calibration: observed weeks as dots on the bands of the simulated ones, a panel a measure."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from simkit.desk.axes import new_axes, nothing_drawn, require_column, told_by
from simkit.report import sentences_calibration as say
from simkit.report.figures.style import SMALL
from simkit.report.palette import GREY_MARK, INK, LOSS, MUTED, PAPER, RULE, WITHIN

ACROSS = 3
"""Panels in a row."""
ROW_IN, HEAD_IN = 2.0, 0.62
BAND = 0.28
ROOM = 30
"""Signs of a name beside which a panel has room for more."""
HIDDEN = ("set-up, hours",)
"""Measures that stand in the table alone: the share of the same hours is drawn."""
COLOURS = {say.MODELS["first guess"]: GREY_MARK, say.MODELS["replay"]: WITHIN}


def observed_weeks(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Observed weeks as dots on simulated bands, a panel a measure, from :meth:`PlantCalibration.weeks`; on the right
    of each panel the mean of the weeks held back with its tolerance."""
    if table.empty:
        return nothing_drawn(table, ax)
    own = require_column(table, "simulated")
    own = own[~own["measure"].isin(HIDDEN)]
    measures = list(dict.fromkeys(own["measure"]))
    rows = math.ceil(len(measures) / ACROSS)
    height_in = HEAD_IN + ROW_IN * rows
    axes = ax or new_axes(height_in)
    axes.set_xticks([])
    axes.set_yticks([])
    axes.spines[:].set_visible(False)
    _legend(axes, own)
    room, head = 1 / ACROSS, HEAD_IN / height_in
    for place, measure in enumerate(measures):
        row, column = divmod(place, ACROSS)
        tall = (1 - head) / rows
        box = (column * room + 0.05, 1 - head - (row + 1) * tall + 0.26 * tall, room - 0.07, 0.56 * tall)
        _panel(axes.inset_axes(box), own[own["measure"] == measure])
    alt = f"{len(measures)} panels, one a measure: {', '.join(measures)}. {table.attrs.get('title', '')}."
    return told_by(axes, table, alt, "Observed weeks")


def _panel(axes: Axes, own: pd.DataFrame) -> None:
    """Bands of the models, dots of the plant, week by week; the mean of the weeks held back stands last."""
    weeks = sorted(week for week in set(own["week"]) if week)
    ticks = {week: float(place) for place, week in enumerate(weeks)}
    together = own[own["week"] == 0]
    if len(together):
        ticks[0] = len(weeks) + 0.35
        axes.axvline(len(weeks) - 0.35, color=RULE, linewidth=0.8)
    models = [model for model in COLOURS if model in set(own["model"])]
    for place, model in enumerate(models):
        shift = BAND * (place - (len(models) - 1) / 2)
        part = own[own["model"] == model]
        at = part["week"].map(ticks) + shift
        axes.bar(at, part["high"] - part["low"], bottom=part["low"], width=BAND, color=COLOURS[model], linewidth=0)
        axes.hlines(part["simulated"], at - BAND / 2, at + BAND / 2, color=MUTED, linewidth=1.2)
    seen = own.drop_duplicates("week")
    held = seen["use"].eq(say.USES["validate"]).to_numpy()
    axes.scatter(seen["week"].map(ticks), seen["observed"], s=26, zorder=4, edgecolors=INK,
                 c=[INK if kept else PAPER for kept in held])  # fmt: skip
    allowed = seen[seen["tolerance"] > 0]
    axes.errorbar(allowed["week"].map(ticks), allowed["observed"], yerr=allowed["tolerance"], fmt="none", ecolor=LOSS,
                  elinewidth=1.3, capsize=5, capthick=1.3, zorder=3)  # fmt: skip
    values = np.concatenate([own["low"], own["high"], seen["observed"] - seen["tolerance"],
                             seen["observed"] + seen["tolerance"]])  # fmt: skip
    low, high = float(np.min(values)), float(np.max(values))
    room = 0.06 * (high - low or 1.0)
    axes.set_ylim(max(low - room, 0.0), high + room)
    axes.set_xlim(-0.6, max(ticks.values()) + 0.6)
    names = {**{week: str(week) for week in weeks}, weeks[0]: f"week\n{weeks[0]}", 0: "held\nback"}
    axes.set_xticks(list(ticks.values()), labels=[names[week] for week in ticks])
    axes.tick_params(labelsize=SMALL)
    axes.locator_params(axis="y", nbins=4)
    name, unit = own["measure"].iloc[0], own["unit"].iloc[0]
    axes.set_title(_short(name, unit), fontsize=SMALL, loc="left", pad=5)


def _short(name: str, unit: str) -> str:
    """Name and unit of a panel."""
    name, share, _ = name.partition(", share of")
    more = " of attended" if share and len(name) < ROOM else ""
    return name if unit == name.split(" ")[0] else f"{name}, {unit}{more}"


def _legend(axes: Axes, own: pd.DataFrame) -> None:
    dots = {say.USES["calibrate"]: PAPER, say.USES["validate"]: INK}
    handles: list[Line2D | Patch] = [
        Line2D([], [], marker="o", linestyle="", color=INK, markerfacecolor=fill, label=f"observed, {use}")
        for use, fill in dots.items()
    ]
    shown = {name: colour for name, colour in COLOURS.items() if name in set(own["model"])}
    handles += [Patch(facecolor=colour, label=f"simulated, {name}") for name, colour in shown.items()]
    handles.append(Line2D([], [], marker="_", markersize=9, linestyle="", color=LOSS, label="tolerance"))
    axes.legend(handles=handles, loc="upper left", bbox_to_anchor=(0, 1.0), ncols=3, frameon=False, fontsize=SMALL,
                borderaxespad=0, columnspacing=1.3, handletextpad=0.5)  # fmt: skip
