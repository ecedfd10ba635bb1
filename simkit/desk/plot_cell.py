"""Exhibits of the cell: hours against demand, hours by state, one day, what people do, and unattended nights."""

from __future__ import annotations

from textwrap import fill

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from simkit.base.messages import BadInput, Finding
from simkit.base.units import HOURS_PER_DAY
from simkit.base.vocabulary import STATES, WEEKDAYS
from simkit.desk.axes import beside, new_axes, nothing_drawn, require_column
from simkit.report import palette, sentences_nights
from simkit.report import sentences_cell as say
from simkit.report.figures.bars import draw_stacked
from simkit.report.figures.gantt import CALENDAR, draw_calendar
from simkit.report.figures.style import LONGEST_NAME, bare_rows, legend_above
from simkit.report.pictures import told
from simkit.report.words import number

IN_TIME, NOT_IN_TIME = "filled: orders in time", "hollow: not, or it cannot be told"


def demands(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Hours needed a week against demand, one line a scenario, and those attended, from :meth:`Study.demands`."""
    own = require_column(table, "makes_the_book")
    axes = ax or new_axes(3.6)
    for place, (name, line) in enumerate(own.groupby("scenario", sort=False)):
        colour, marker = palette.LINES[place % len(palette.LINES)], palette.MARKERS[place % len(palette.MARKERS)]
        half = line["needed_h_per_week_half_width"]
        axes.errorbar(line["demand"], line["needed_h_per_week"], yerr=half, color=colour, marker=marker, markersize=6,
                      capsize=3, linewidth=1.6)  # fmt: skip
        hollow = line[line["makes_the_book"].isin(["no", "cannot tell"])]
        axes.plot(hollow["demand"], hollow["needed_h_per_week"], linestyle="none", marker=marker, markersize=6,
                  markerfacecolor=palette.PAPER, markeredgecolor=colour, zorder=5)  # fmt: skip
        last = line.iloc[-1]
        place_of_name = last["demand"], last["needed_h_per_week"]
        beside(axes, fill(f"{name} needs", LONGEST_NAME), place_of_name, 8, color=colour)
    first = own[own["scenario"] == own["scenario"].iloc[0]]
    axes.plot(first["demand"], first["attended_h_per_week"], color=palette.MUTED, linestyle=":", linewidth=1.6)
    end = first.iloc[-1]
    beside(axes, "attended, with\novertime", (end["demand"], end["attended_h_per_week"]), 8, color=palette.MUTED)
    axes.set_xlabel(f"demand, as a factor of the order book ({IN_TIME}; {NOT_IN_TIME})")
    axes.set_ylabel("hours a week")
    axes.set_ylim(bottom=0)
    axes.margins(x=0.12)
    axes.set_xlim(right=axes.get_xlim()[1] + 0.1 * (end["demand"] - first["demand"].iloc[0]))
    return told(axes, *say.demands(first, own))


def time_split(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Hours per week by family of machine states, one bar a scenario, of :meth:`Study.time_split`, closed left out."""
    hours = require_column(table, "hours_per_week").pivot(index="state", columns="scenario", values="hours_per_week")
    hours = hours[list(dict.fromkeys(table["scenario"]))].reindex([s for s in STATES if s in hours.index])
    families = hours.groupby(hours.index.map(palette.FAMILY_OF)).sum().reindex(list(palette.FAMILIES)).dropna()
    families = families[families.max(axis=1) > 0]
    axes = ax or new_axes(1.5 + 0.42 * hours.shape[1])
    colours = {name: palette.FAMILIES[name][0] for name in families.index}
    draw_stacked(axes, families.T, colours, "hours a week")
    first = str(hours.columns[0])
    closed_h = float(hours[first].get("closed", 0.0))
    return told(axes, say.split(hours[first], first), *say.split_told(families, closed_h), hours)


def day(
    table: pd.DataFrame, ax: Axes | None = None, weekday: str = "Tue", from_h: float = 0.0, to_h: float = HOURS_PER_DAY
) -> Axes:
    """Who or what was in which state on one day between two hours, one row a resource, from :meth:`Study.week`.

    States are drawn in families; hours in which nobody is there and nothing runs are cut off at both ends.
    """
    first = HOURS_PER_DAY * WEEKDAYS.index(weekday)
    own = require_column(table, "start_h")
    hours = own[["start_h", "end_h"]].clip(first + from_h, first + to_h) - first
    own = own.assign(start_h=hours["start_h"], end_h=hours["end_h"])
    own = own[own["end_h"] > own["start_h"]]
    of_calendar = own["resource"] == CALENDAR
    shown = own[~of_calendar & (own["state"] != "closed")]
    if shown.empty:
        mend = "Choose another weekday, or other hours"
        raise BadInput([Finding("plot.day", "nothing happens then in this week", mend, value=weekday)])
    names = list(dict.fromkeys(shown["resource"]))
    axes = ax or new_axes(1.5 + 0.42 * len(names))
    draw_calendar(axes, own[of_calendar], len(names))
    shown = shown.assign(family=shown["state"].map(palette.FAMILY_OF))
    for (name, family), pieces in shown.groupby(["resource", "family"], sort=False):
        spans = list(zip(pieces["start_h"], pieces["end_h"] - pieces["start_h"], strict=True))
        axes.broken_barh(
            spans, (names.index(name) - 0.36, 0.72), facecolor=palette.FAMILIES[str(family)][0], linewidth=0, zorder=2
        )
    _clock(axes, shown, names)
    used = set(shown["family"])
    legend_above(axes, {name: colour for name, (colour, _) in palette.FAMILIES.items() if name in used}, columns=4)
    return told(axes, *say.day(shown, weekday))


def _clock(axes: Axes, shown: pd.DataFrame, names: list[str]) -> None:
    """Rows named, hours of the day as ticks, from the first to the last at which something happens."""
    busy = shown[shown["state"] != "no_work"]
    low, high = (float(busy["start_h"].min()), float(busy["end_h"].max())) if len(busy) else (0.0, HOURS_PER_DAY)
    axes.set_yticks(range(len(names)), labels=names)
    axes.set_ylim(len(names) - 0.4, -0.6)
    axes.tick_params(axis="y", length=0)
    axes.spines["left"].set_visible(False)
    ticks = range(int(low), int(-(-high // 1)) + 1, 1 if high - low <= 12 else 2)
    axes.set_xticks(list(ticks), labels=[f"{hour % 24}:00" for hour in ticks])
    axes.set_xlim(low - 0.1, high + 0.1)
    axes.set_xlabel("hour of the day")


def tasks(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """People's hours a week by task, from :meth:`Study.tasks`."""
    own = require_column(table, "task")
    if own.empty:
        return nothing_drawn(table, ax)
    axes = ax or new_axes(0.9 + 0.3 * len(own))
    axes.barh(range(len(own)), own["hours_per_week"], color=palette.ACCENT, height=0.62)
    for row, hours in enumerate(own["hours_per_week"]):
        beside(axes, number(hours, 1), (hours, row), 4, color=palette.INK)
    bare_rows(axes, list(own["task"]))
    axes.set_xlabel("people's hours a week")
    axes.margins(x=0.08)
    title = table.attrs.get("title", "People's hours a week by task")
    alt = say.rows_alt(own["task"], own["hours_per_week"], "h a week")
    return told(axes, title, alt, numbers=own)


MOST_ENDS = 10


# ---- nights ----


def night_runs(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """How many nights work how long, as a histogram, from :meth:`Study.night_runs`; the line: hours allowed."""
    own = require_column(table, "running_h")
    if own.empty:
        return nothing_drawn(table, ax)
    axes = ax or new_axes(2.8)
    allowed = float(own["allowed_h"].mean())
    edges = np.linspace(0.0, max(allowed, 1.0), 17)
    axes.hist(own["running_h"].clip(upper=edges[-1]), edges.tolist(), color=palette.ACCENT, edgecolor=palette.PAPER)
    axes.axvline(allowed, color=palette.MUTED, linestyle=":", linewidth=1.6)
    axes.annotate("allowed", (allowed, 0.92), xycoords=("data", "axes fraction"), xytext=(-6, 0), ha="right",
                  textcoords="offset points", color=palette.MUTED)  # fmt: skip
    axes.set_xlabel("hours worked in a night")
    axes.set_ylabel("nights")
    return told(
        axes, sentences_nights.runs(own), f"Histogram of hours worked in a night. {sentences_nights.runs(own)}."
    )


def night_ends(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Share of nights ended and of the hours lost by what ended them, from :meth:`Study.night_ends`."""
    own = require_column(table, "of_the_hours_lost_share").head(MOST_ENDS)
    if own.empty:
        return nothing_drawn(table, ax)
    axes = ax or new_axes(0.9 + 0.42 * len(own))
    rows = np.arange(len(own))
    shares = {"of_the_nights_share": (-0.18, palette.ACCENT, "of the nights"),
              "of_the_hours_lost_share": (0.18, palette.LOSS, "of the hours lost")}  # fmt: skip
    for column, (shift, colour, words) in shares.items():
        axes.barh(rows + shift, 100 * own[column], height=0.34, color=colour)
        beside(axes, words, (100 * own[column].iloc[0], shift), 5, color=colour)
    bare_rows(axes, list(own["ended_by"]))
    axes.set_xlabel("% of all nights, and % of all hours lost at night")
    axes.margins(x=0.2)
    left = len(table) - len(own)
    note = f"{left} further rows left out." if left else ""
    told_as = {"of_the_nights_share": "share of nights", "of_the_hours_lost_share": "share of hours lost"}
    alt = sentences_nights.bars_alt(own, "ended_by", told_as)
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
    parts = {
        "worked": (own["worked_h"], palette.GAIN),
        "lost without work": (own["lost_without_work_h"], palette.NIGHT_SHADE),
        "lost to anything else": (rest, palette.LOSS),
    }
    for hours, colour in parts.values():
        axes.barh(range(len(own)), hours, left=left, color=colour, edgecolor=palette.PAPER, height=0.62)
        left = left + hours
    for row, hours in enumerate(own["worked_h"]):
        end = own["allowed_h"].max(), row
        beside(axes, f"{number(hours, 1)} h", end, 5, color=palette.INK, annotation_clip=False)
    bare_rows(axes, [name if place == 0 else f"+ {name}" for place, name in enumerate(own["scenario"])])
    axes.set_xlim(0, own["allowed_h"].max())
    axes.set_xlabel("hours of a mean night (right: worked)")
    legend_above(axes, {name: colour for name, (hours, colour) in parts.items() if hours.any()})
    words = {"worked_h": "worked", "allowed_h": "allowed"}
    return told(axes, table.attrs.get("title", "Hours a night"), sentences_nights.bars_alt(own, "scenario", words))
