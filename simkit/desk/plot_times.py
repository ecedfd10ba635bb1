"""Exhibits of times: seconds of a sheet, estimate against the time in use, what a range changes, observed weeks."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from simkit.analysis.sheet_times import TOLERANCE
from simkit.desk.axes import beside, new_axes, nothing_drawn, require_column, told_by
from simkit.desk.simulated import HALF
from simkit.report import palette, sentences_calibration, sentences_cell
from simkit.report import sentences_times as say
from simkit.report.figures.style import SMALL, bare_rows
from simkit.report.pictures import told
from simkit.report.words import number

PLACES = {say.WHERE["run"]: palette.ACCENT, "before it": "#c2571a", "after it": "#7cc0a6", "at the bench": "#a6c9e6"}
NAMED = 3
"""Programs that are named in the scatter: those furthest from the line, by hours of the book."""


def sheet(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Seconds of a sheet by element, from :meth:`Plant.program`; the name of an element tells where it is spent."""
    own = require_column(table, "seconds_s")
    axes = ax or new_axes(0.9 + 0.28 * len(own))
    names = [name if where == say.WHERE["run"] else f"{name} ({where})"
             for name, where in zip(own["element"], own["where"], strict=True)]  # fmt: skip
    axes.barh(range(len(own)), own["seconds_s"], color=[PLACES[where] for where in own["where"]], height=0.66)
    for row, seconds in enumerate(own["seconds_s"]):
        beside(axes, number(seconds, 0), (seconds, row), 4, color=palette.INK)
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
    axes.fill_between(line, line * (1 - TOLERANCE), line * (1 + TOLERANCE), color=palette.RULE, alpha=0.6, linewidth=0)
    axes.plot(line, line, color=palette.MUTED, linewidth=1)
    for place, (family, group) in enumerate(own.groupby("family", sort=False)):
        colour, marker = palette.LINES[place % len(palette.LINES)], palette.MARKERS[place % len(palette.MARKERS)]
        fills = [colour if timed else palette.PAPER for timed in group["measured_s"].notna()]
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
    for end, colour in (("low", palette.LOW_COLOUR), ("high", palette.HIGH_COLOUR)):
        hours, half = own[f"at_{end}_h_per_week"], own[f"at_{end}_h_per_week{HALF}"]
        axes.barh(range(len(own)), hours, xerr=half.where(half < 10 * hours.abs().max(), 0.0), color=colour, height=0.6,
                  ecolor=palette.INK, capsize=2, label=f"at its {end}")  # fmt: skip
        for row, (value, size, width) in enumerate(zip(own[end], hours, half.fillna(0.0), strict=True)):
            side = -1 if size < 0 or (size == 0 and end == "low") else 1
            reach = size + side * (width if width < 10 * hours.abs().max() else 0.0)
            beside(axes, number(value), (reach, row), 6 * side, fontsize=SMALL, color=palette.MUTED)
    axes.axvline(0, color=palette.INK, linewidth=1)
    bare_rows(axes, [f"{name} ({basis})" for name, basis in zip(own["element"], own["rests_on"], strict=True)])
    axes.set_xlabel("machine hours needed a week, difference from today (numbers: the time at that end)")
    axes.margins(x=0.14)
    axes.legend(frameon=False, loc="lower left", bbox_to_anchor=(0, 1.0), ncols=2)
    return told_by(axes, own, say.effects_alt(own), "What times change")


ACROSS = 3
"""Panels in a row."""
ROW_IN, HEAD_IN = 2.0, 0.62
BAND = 0.28
ROOM = 30
"""Signs of a name beside which a panel has room for more."""
HIDDEN = ("set-up, hours",)
"""Measures that stand in the table alone: the share of the same hours is drawn."""
COLOURS = {
    sentences_calibration.MODELS["first guess"]: palette.GREY_MARK,
    sentences_calibration.MODELS["replay"]: palette.WITHIN,
}


# ---- observed weeks ----


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
        axes.axvline(len(weeks) - 0.35, color=palette.RULE, linewidth=0.8)
    models = [model for model in COLOURS if model in set(own["model"])]
    for place, model in enumerate(models):
        shift = BAND * (place - (len(models) - 1) / 2)
        part = own[own["model"] == model]
        at = part["week"].map(ticks) + shift
        axes.bar(at, part["high"] - part["low"], bottom=part["low"], width=BAND, color=COLOURS[model], linewidth=0)
        axes.hlines(part["simulated"], at - BAND / 2, at + BAND / 2, color=palette.MUTED, linewidth=1.2)
    seen = own.drop_duplicates("week")
    held = seen["use"].eq(sentences_calibration.USES["validate"]).to_numpy()
    axes.scatter(seen["week"].map(ticks), seen["observed"], s=26, zorder=4, edgecolors=palette.INK,
                 c=[palette.INK if kept else palette.PAPER for kept in held])  # fmt: skip
    allowed = seen[seen["tolerance"] > 0]
    axes.errorbar(allowed["week"].map(ticks), allowed["observed"], yerr=allowed["tolerance"], fmt="none", zorder=3,
                  ecolor=palette.LOSS, elinewidth=1.3, capsize=5, capthick=1.3)  # fmt: skip
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
    dots = {sentences_calibration.USES["calibrate"]: palette.PAPER, sentences_calibration.USES["validate"]: palette.INK}
    handles: list[Line2D | Patch] = [
        Line2D([], [], marker="o", linestyle="", color=palette.INK, markerfacecolor=fill, label=f"observed, {use}")
        for use, fill in dots.items()
    ]
    shown = {name: colour for name, colour in COLOURS.items() if name in set(own["model"])}
    handles += [Patch(facecolor=colour, label=f"simulated, {name}") for name, colour in shown.items()]
    handles.append(Line2D([], [], marker="_", markersize=9, linestyle="", color=palette.LOSS, label="tolerance"))
    axes.legend(handles=handles, loc="upper left", bbox_to_anchor=(0, 1.0), ncols=3, frameon=False, fontsize=SMALL,
                borderaxespad=0, columnspacing=1.3, handletextpad=0.5)  # fmt: skip
