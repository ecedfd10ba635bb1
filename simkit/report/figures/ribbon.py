"""The ribbon: a simulated week, one row a resource, one colour a state."""

from __future__ import annotations

from typing import Any

import pandas as pd
from matplotlib.axes import Axes

from simkit.base.units import HOURS_PER_DAY
from simkit.base.vocabulary import WEEKDAYS
from simkit.report.figures.style import legend_above
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
)

ROW_HEIGHT = 0.72
CLOSED = "closed"
CALENDAR = "calendar"
"""The resource whose states are the shifts, breaks and nights."""
TASK_LABELS = {
    "clear": "clearing a stop", "load": "loading", "unload": "pulling out", "first_piece": "first piece",
    "changeover": "changeover", "preparation": "preparing tools", "material": "fetching material",
    "pallet": "pallets", "bench": "bench work", "upkeep": "upkeep", "second_person": "second pair of hands",
    "technician": "technician", "programming": "programming",
}  # fmt: skip


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
    used = [s for s in dict.fromkeys([*STATE_COLOURS, *PERSON_COLOURS]) if s in set(intervals["state"]) - {CLOSED}]
    legend_above(axes, {_label(s): _colour(s) for s in used})


def _label(state: str) -> str:
    return STATE_LABELS.get(state) or TASK_LABELS.get(state, state)


def _colour(state: str) -> str:
    return STATE_COLOURS.get(state) or PERSON_COLOURS.get(state, MUTED)


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
            spans, (row - ROW_HEIGHT / 2, ROW_HEIGHT), facecolor=_colour(str(state)), linewidth=0, zorder=2
        )


def _label_week(axes: Axes, resources: list[str], days: int) -> None:
    axes.set_yticks(range(len(resources)), labels=resources)
    axes.set_ylim(len(resources) - 0.4, -0.6)
    axes.tick_params(axis="y", length=0)
    axes.set_xlim(0, days * HOURS_PER_DAY)
    axes.set_xticks([day * HOURS_PER_DAY for day in range(days + 1)], labels=[])
    axes.set_xticks([(day + 0.5) * HOURS_PER_DAY for day in range(days)], minor=True,
                    labels=[WEEKDAYS[day % 7] for day in range(days)])  # fmt: skip
    axes.tick_params(axis="x", which="minor", length=0)
    axes.grid(axis="x", color=RULE)
    axes.spines["left"].set_visible(False)
