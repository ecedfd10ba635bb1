"""A Gantt chart of a simulated week: one row a resource, one colour a state."""

from __future__ import annotations

from typing import Any

import pandas as pd
from matplotlib.axes import Axes

from simkit.base.units import HOURS_PER_DAY
from simkit.base.vocabulary import WEEKDAYS
from simkit.report.figures.style import bare_rows, legend_above
from simkit.report.palette import (
    BREAK_HATCH,
    MUTED,
    NIGHT_SHADE,
    OVERTIME_SHADE,
    PERSON_COLOURS,
    RULE,
    SHIFT_SHADE,
    STATE_COLOURS,
    STATE_LABELS,
    TASK_LABELS,
)

ROW_HEIGHT = 0.72
CLOSED = "closed"
CALENDAR = "calendar"
"""The resource whose states are the shifts, breaks and nights."""
COLOURS, LABELS = STATE_COLOURS | PERSON_COLOURS, TASK_LABELS | STATE_LABELS


def draw_week(axes: Axes, intervals: pd.DataFrame, calendar: pd.DataFrame) -> None:
    """Draw a week on given axes, with a legend of its states; ``intervals`` has columns resource, state, start_h,
    end_h, ``calendar`` state (shift, overtime, break, night), start_h, end_h; hours from Monday 00:00.
    """
    resources = list(dict.fromkeys(intervals["resource"]))
    days = int(-(-max(intervals["end_h"].max(), HOURS_PER_DAY) // HOURS_PER_DAY))
    draw_calendar(axes, calendar, len(resources))
    for row, resource in enumerate(resources):
        _draw_row(axes, row, intervals[intervals["resource"] == resource])
    _label_week(axes, resources, days)
    used = set(intervals["state"]) - {CLOSED}
    legend_above(axes, {LABELS[state]: colour for state, colour in COLOURS.items() if state in used})


def draw_calendar(axes: Axes, calendar: pd.DataFrame, rows: int) -> None:
    """Shade shifts, overtime, nights and breaks behind so many rows."""
    looks: dict[str, dict[str, Any]] = {
        "shift": {"color": SHIFT_SHADE},
        "overtime": {"color": OVERTIME_SHADE},
        "night": {"color": NIGHT_SHADE},
        "break": {"facecolor": "none", "edgecolor": BREAK_HATCH, "hatch": "//////", "linewidth": 0},
    }
    for state, look in looks.items():
        own = calendar[calendar["state"] == state]
        spans = list(zip(own["start_h"], own["end_h"] - own["start_h"], strict=True))
        if spans:
            axes.broken_barh(spans, (-0.6, rows + 0.2), zorder=2.5 if state == "break" else 0, **look)


def _draw_row(axes: Axes, row: int, own: pd.DataFrame) -> None:
    for state, pieces in own[own["state"] != CLOSED].groupby("state", sort=True):
        spans = list(zip(pieces["start_h"], pieces["end_h"] - pieces["start_h"], strict=True))
        axes.broken_barh(
            spans, (row - ROW_HEIGHT / 2, ROW_HEIGHT), facecolor=COLOURS.get(str(state), MUTED), linewidth=0, zorder=2
        )


def _label_week(axes: Axes, resources: list[str], days: int) -> None:
    bare_rows(axes, resources)
    axes.set_xlim(0, days * HOURS_PER_DAY)
    axes.set_xticks([day * HOURS_PER_DAY for day in range(days + 1)], labels=[])
    axes.set_xticks([(day + 0.5) * HOURS_PER_DAY for day in range(days)], minor=True,
                    labels=[WEEKDAYS[day % 7] for day in range(days)])  # fmt: skip
    axes.tick_params(axis="x", which="minor", length=0)
    axes.grid(axis="x", color=RULE)
