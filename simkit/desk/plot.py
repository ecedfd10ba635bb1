"""The usual exhibits, each drawn from a table of the desk onto matplotlib axes; never a whole page.

Every function takes a table, which may be filtered and sorted before, and ``ax``; without one a new figure is made. It
returns the axes, titled by what they show, for the analyst to change.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from simkit.base.messages import BadInput, Finding
from simkit.base.units import HOURS_PER_DAY
from simkit.desk.axes import new_axes, require_column
from simkit.desk.plot_cell import day, demands, ladder, night_ends, night_runs, tasks, time_split
from simkit.desk.plot_money import cash, causes, over_demand, risk, swings, values, waterfall
from simkit.desk.plot_times import effects, observed_weeks, run_times, sheet
from simkit.desk.plot_tools import clocks, exchanges, freed, look_ahead, picks, set_up, sizes
from simkit.experiment.glossary import NEEDED, UNATTENDED
from simkit.experiment.intervals import Estimate
from simkit.report import sentences
from simkit.report import sentences_cell as say
from simkit.report.columns import measure_name
from simkit.report.figures.bars import draw_difference
from simkit.report.figures.gantt import CALENDAR, draw_week
from simkit.report.figures.style import bare_rows
from simkit.report.palette import INK, LOSS, PAPER, WITHIN
from simkit.report.pictures import told

__all__ = [
    "cash", "causes", "clocks", "day", "demands", "differences", "effects", "exchanges", "freed", "ladder",
    "look_ahead", "night_ends", "night_runs", "observed_weeks", "orders", "over_demand", "picks", "risk", "run_times",
    "set_up", "sheet", "sizes", "swings", "tasks", "time_split", "values", "waterfall", "week",
]  # fmt: skip

MORE_IS_BETTER = (UNATTENDED, "machine_utilisation", "machine_availability", "orders_finished", "sheets", "parts")
ROW_IN = 0.42


def differences(table: pd.DataFrame, ax: Axes | None = None, measure: str = NEEDED) -> Axes:
    """Paired differences of one measure with 95 % intervals, grey where nothing can be told, one bar a scenario."""
    own = require_column(table, "sign")
    own = own[own["measure"] == measure]
    if own.empty:
        raise BadInput([Finding("plot.differences", "the table has no row of this measure", "Name another one",
                                value=measure)])  # fmt: skip
    axes = ax or new_axes(1.2 + ROW_IN * len(own))
    better = "higher" if measure in MORE_IS_BETTER else "lower"
    columns = (own[name] for name in ("mean", "half_width", "replications", "unit"))
    for row, found in enumerate(zip(*columns, strict=True)):
        known = Estimate(*found)
        draw_difference(axes, row, known, better)
    bare_rows(axes, list(own["scenario"]))
    axes.axvline(0, color=INK, linewidth=1)
    axes.set_xlabel(f"{measure_name(measure)}, difference from {own['against'].iloc[0]}, {own['unit'].iloc[0]}")
    axes.margins(x=0.16)
    return told(axes, sentences.differences(own), numbers=table)


def week(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Who or what was in which state in a simulated week, one row a resource, from :meth:`Study.week`."""
    of_calendar = require_column(table, "start_h")["resource"] == CALENDAR
    shown = table[~of_calendar]
    axes = ax or new_axes(1.9 + 0.5 * shown["resource"].nunique())
    draw_week(axes, shown, table[of_calendar])
    return axes


def orders(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Days from the due date until each order is there, as a histogram; late ones to the right of zero."""
    days = (require_column(table, "there_h")["there_h"] - table["due_h"]).dropna() / HOURS_PER_DAY
    axes = ax or new_axes(3.0)
    edges = np.arange(np.floor(days.min()) if len(days) else 0, (np.ceil(days.max()) if len(days) else 0) + 2)
    counts, _ = np.histogram(days, edges)
    axes.bar(edges[:-1], counts, width=1.0, align="edge", edgecolor=PAPER,
             color=[LOSS if day >= 0 else WITHIN for day in edges[:-1]])  # fmt: skip
    axes.axvline(0, color=INK, linewidth=1)
    axes.set_xlabel("days from due to there; after zero: late")
    axes.set_ylabel("orders")
    late = int((days > 0).sum())
    return told(axes, say.late(late, len(days), days), f"Histogram of {len(days)} orders by days from due to there.")
