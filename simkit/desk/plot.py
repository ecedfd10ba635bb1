"""The usual exhibits, each drawn from a table of the desk onto matplotlib axes; never a whole page.

Every function takes a table, which may be filtered and sorted before, and ``ax``; without one a new figure is made. It
returns the axes, titled by what they show, for the analyst to change. The figures of an uncalibrated cell are drawn
pale or with dashed edges.
"""

from __future__ import annotations

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from simkit.base.messages import BadInput, Finding
from simkit.desk import plot_decision
from simkit.desk.plot_tools import clocks, exchanges, freed, look_ahead, picks, set_up, sizes
from simkit.experiment.glossary import NEEDED, UNATTENDED, describe
from simkit.experiment.intervals import Estimate
from simkit.report.figures.bars import draw_difference, draw_stacked
from simkit.report.figures.ribbon import draw_week
from simkit.report.figures.style import bare_rows
from simkit.report.palette import ACCENT, GREY_MARK, INK, LINES, LOSS, MARKERS, STATE_COLOURS, STATE_LABELS, WITHIN
from simkit.report.studydata import CALENDAR
from simkit.report.words import number

__all__ = [
    "cash", "causes", "clocks", "differences", "exchanges", "flips", "freed", "look_ahead", "nights", "orders", "picks",
    "replications",
    "risk", "set_up", "sizes", "time_split", "values", "week",
]  # fmt: skip

MORE_IS_BETTER = (UNATTENDED, "machine_utilisation", "machine_availability", "orders_finished", "sheets", "parts")
WIDTH_IN = 9.2
ROW_IN = 0.42


def time_split(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Stacked hours per week by machine state, one bar a scenario, from :meth:`Study.time_split`."""
    hours = _of(table, "hours_per_week").pivot(index="scenario", columns="state", values="hours_per_week")
    hours = hours.loc[list(dict.fromkeys(table["scenario"]))]
    states = [state for state in STATE_COLOURS if state in hours and hours[state].max() > 0]
    axes = ax or _axes(1.6 + ROW_IN * len(hours))
    colours = {STATE_LABELS[state]: STATE_COLOURS[state] for state in states}
    draw_stacked(axes, hours[states].rename(columns=STATE_LABELS), colours, "hours per week", calibrated=False)
    return axes


def differences(table: pd.DataFrame, ax: Axes | None = None, measure: str = NEEDED) -> Axes:
    """Paired differences of one measure with 95 % intervals, grey where nothing can be told, one bar a scenario."""
    own = _of(table, "sign")
    own = own[own["measure"] == measure]
    if own.empty:
        raise BadInput([Finding("plot.differences", "the table has no row of this measure", "Name another one",
                                value=measure)])  # fmt: skip
    axes = ax or _axes(1.2 + ROW_IN * len(own))
    better = "higher" if measure in MORE_IS_BETTER else "lower"
    columns = (own[name] for name in ("mean", "half_width", "replications", "unit"))
    for row, found in enumerate(zip(*columns, strict=True)):
        known = Estimate(*found)
        draw_difference(axes, row, known, better, calibrated=False)
    bare_rows(axes, list(own["scenario"]))
    axes.axvline(0, color=INK, linewidth=1)
    axes.set_xlabel(f"{describe(measure).name}, difference from {own['against'].iloc[0]}, {own['unit'].iloc[0]}")
    axes.margins(x=0.16)
    return axes


def replications(table: pd.DataFrame, ax: Axes | None = None, measure: str = NEEDED) -> Axes:
    """Every replication of one measure as a mark, one row a scenario; marks of one replication share their luck."""
    own = _of(table, "replication")
    own = own[own["measure"] == measure]
    names = list(dict.fromkeys(own["scenario"]))
    axes = ax or _axes(1.2 + ROW_IN * len(names))
    for number_, values in own.groupby("replication"):
        rows = [names.index(name) for name in values["scenario"]]
        axes.plot(values["value"], rows, color=GREY_MARK, linewidth=0.7, zorder=1)
        axes.scatter(values["value"], rows, s=16, color=LINES[int(str(number_)) % len(LINES)], zorder=2)
    bare_rows(axes, names)
    axes.set_xlabel(f"{measure}, {describe(measure).unit}; a line joins the same orders and luck")
    return axes


def week(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Who or what was in which state in a simulated week, one row a resource, from :meth:`Study.week`."""
    of_calendar = _of(table, "start_h")["resource"] == CALENDAR
    shown = table[~of_calendar]
    axes = ax or _axes(1.9 + 0.5 * shown["resource"].nunique())
    draw_week(axes, shown, table[of_calendar])
    return axes


def orders(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Days from the due date until each order is there, as a histogram; late ones to the right of zero."""
    days = (_of(table, "there_h")["there_h"] - table["due_h"]).dropna() / 24.0
    axes = ax or _axes(3.4)
    edges = np.arange(np.floor(days.min()) if len(days) else 0, (np.ceil(days.max()) if len(days) else 0) + 2)
    counts, _ = np.histogram(days, edges)
    axes.bar(edges[:-1], counts, width=1.0, align="edge", color=[LOSS if day >= 0 else WITHIN for day in edges[:-1]])
    axes.axvline(0, color=INK, linewidth=1)
    axes.set_xlabel("days from due to there")
    axes.set_ylabel("orders")
    return axes


def nights(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Hours run in each unattended night over the hours allowed, in order of time, from :meth:`Study.nights`."""
    place = np.arange(len(_of(table, "running_h")))
    axes = ax or _axes(3.0)
    axes.bar(place, table["allowed_h"], color=GREY_MARK, alpha=0.5, width=0.9, label="allowed")
    axes.bar(place, table["running_h"], color=ACCENT, width=0.9, label="run")
    axes.set_xlabel("nights in order of time")
    axes.set_ylabel("hours")
    axes.legend(frameon=False, loc="lower left", bbox_to_anchor=(0, 1.0), ncols=2)
    return axes


def cash(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Cumulative headline cash by year, one line a scenario, from :meth:`CashFlow.by_year`."""
    axes = ax or _axes(3.4)
    axes.axhline(0, color=INK, linewidth=1)
    for place, (name, own) in enumerate(_of(table, "cumulative").groupby("scenario", sort=False)):
        axes.plot(own["year"], own["cumulative"], color=LINES[place % len(LINES)],
                  marker=MARKERS[place % len(MARKERS)], markersize=4, linestyle="--", label=str(name))  # fmt: skip
    axes.set_xlabel("year (0: payments before acceptance)")
    axes.set_ylabel("cumulative cash")
    axes.yaxis.set_major_formatter(lambda value, _: number(value, 0))
    axes.legend(frameon=False, loc="lower left", bbox_to_anchor=(0, 1.0), ncols=3)
    return axes


def risk(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """The middle 8 in 10 of each scenario's value and its median, one row a scenario, from :meth:`CashFlow.risk`."""
    own = _of(table, "p50")
    axes = ax or _axes(1.2 + ROW_IN * len(own))
    rows = np.arange(len(own))
    axes.barh(rows, own["p90"] - own["p10"], left=own["p10"], color=WITHIN, alpha=0.6, edgecolor=ACCENT, height=0.5,
              linestyle="--")  # fmt: skip
    axes.scatter(own["p50"], rows, color=ACCENT, zorder=3)
    axes.axvline(0, color=INK, linewidth=1)
    bare_rows(axes, list(own["scenario"]))
    axes.set_xlabel("net present value: P10, P50, P90")
    axes.xaxis.set_major_formatter(lambda value, _: number(value, 0))
    return axes


def flips(table: pd.DataFrame, ax: Axes | None = None, most: int = 14) -> Axes:
    """Where each input's flip lies in widths of its own range from the typical value; nearest first."""
    own = _of(table, "flip").dropna(subset=["flip"])
    distance = (own["flip"] - own["typical"]) / (own["high"] - own["low"])
    nearest = distance.abs().sort_values().index[:most]
    axes = ax or _axes(1.2 + 0.36 * len(nearest))
    colours = [ACCENT if own.loc[row, "within_range"] else GREY_MARK for row in nearest]
    axes.barh(range(len(nearest)), distance[nearest], color=colours, height=0.6)
    axes.axvline(0, color=INK, linewidth=1)
    bare_rows(axes, [f"{own.loc[row, 'title']} ({own.loc[row, 'scenario']})" for row in nearest])
    axes.set_xlabel("change to a value of zero, in widths of the input's range (dark: within it)")
    return axes


def values(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Value of each choice with its range and verdict, from :meth:`Decision.table`."""
    return plot_decision.values(_of(table, "verdict"), ax or _axes(1.0 + ROW_IN * len(table)))


def causes(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Hours of the first scenario by cause, and what the others leave of them, from :meth:`Decision.causes`."""
    return plot_decision.causes(_of(table, "hours_per_week"), ax or _axes(1.0 + 0.36 * table["state"].nunique()))


def _axes(height_in: float) -> Axes:
    return plt.subplots(figsize=(WIDTH_IN, height_in), layout="constrained")[1]


def _of(table: pd.DataFrame, column: str) -> pd.DataFrame:
    """The table, if it is one that the exhibit can draw; raises BadInput otherwise."""
    if column in table.columns:
        return table
    why = f"the table has no column '{column}'; it has {', '.join(map(str, table.columns))}"
    raise BadInput([Finding("plot", why, "Give the table that is named in the function's description")])
