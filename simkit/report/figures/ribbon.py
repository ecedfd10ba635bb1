"""The ribbon: a simulated week, one row a resource, one colour a state."""

from __future__ import annotations

from typing import Any

import pandas as pd
from matplotlib.axes import Axes

from simkit.base.units import HOURS_PER_DAY
from simkit.base.vocabulary import WEEKDAYS
from simkit.report.exhibits import Exhibit
from simkit.report.figures.style import canvas, legend_above
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
from simkit.report.words import number, percent

ROW_HEIGHT = 0.72
CLOSED = "closed"
TASK_LABELS = {
    "clear": "clearing a stop", "load": "loading", "unload": "pulling out", "first_piece": "first piece",
    "changeover": "changeover", "preparation": "preparing tools", "material": "fetching material",
    "pallet": "pallets", "bench": "bench work", "upkeep": "upkeep", "second_person": "second pair of hands",
    "technician": "technician", "programming": "programming",
}  # fmt: skip


def week_ribbon(intervals: pd.DataFrame, calendar: pd.DataFrame, *, name: str) -> Exhibit:
    """Draw who and what was in which state from when to when.

    ``intervals`` has columns resource, state, start_h, end_h; ``calendar`` state (shift, overtime,
    break, night), start_h, end_h. Hours count from Monday 00:00.
    """
    resources = list(dict.fromkeys(intervals["resource"]))
    with canvas(1.5 + 0.5 * len(resources)) as (figure, (axes,)):
        draw_week(axes, intervals, calendar)
    title = _ribbon_title(intervals, calendar, resources[0], name)
    return Exhibit(figure, title, _alt_ribbon(intervals, resources, name), marks=len(intervals) + len(calendar), note=(
        "Light ground: shift. Hatched: break. Dark ground: night. White: nobody there, nothing running."))  # fmt: skip


def draw_week(axes: Axes, intervals: pd.DataFrame, calendar: pd.DataFrame) -> None:
    """Draw a week on given axes, with a legend of the states in it; columns as of :func:`week_ribbon`."""
    resources = list(dict.fromkeys(intervals["resource"]))
    days = int(-(-max(intervals["end_h"].max(), HOURS_PER_DAY) // HOURS_PER_DAY))
    _draw_calendar(axes, calendar, len(resources))
    for row, resource in enumerate(resources):
        _draw_row(axes, row, intervals[intervals["resource"] == resource])
    _label_week(axes, resources, days)
    used = [s for s in dict.fromkeys([*STATE_COLOURS, *PERSON_COLOURS]) if s in set(intervals["state"]) - {CLOSED}]
    legend_above(axes, {_label(s): _colour(s) for s in used})


def _label(state: str) -> str:
    return STATE_LABELS.get(state) or TASK_LABELS.get(state, state)


def _colour(state: str) -> str:
    return STATE_COLOURS.get(state) or PERSON_COLOURS.get(state, MUTED)


def _draw_calendar(axes: Axes, calendar: pd.DataFrame, rows: int) -> None:
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


def _ribbon_title(intervals: pd.DataFrame, calendar: pd.DataFrame, resource: str, name: str) -> str:
    shifts = calendar[calendar["state"].isin(["shift", "overtime"])]
    breaks = calendar[calendar["state"] == "break"]
    attended = float((shifts["end_h"] - shifts["start_h"]).sum() - (breaks["end_h"] - breaks["start_h"]).sum())
    own = intervals[(intervals["resource"] == resource) & intervals["state"].isin(["punching", "forming", "cutting"])]
    process = float((own["end_h"] - own["start_h"]).sum())
    return (
        f"A simulated week, {name}: {resource} processes sheets for {number(process)} h, "
        f"{percent(process / attended) if attended else 'outside'} of {number(attended)} attended hours"
    )


def _alt_ribbon(intervals: pd.DataFrame, resources: list[str], name: str) -> str:
    parts = []
    for resource in resources:
        own = intervals[(intervals["resource"] == resource) & (intervals["state"] != CLOSED)]
        sums = (own["end_h"] - own["start_h"]).groupby(own["state"]).sum().sort_values(ascending=False)
        parts.append(f"{resource}: " + ", ".join(f"{_label(str(s))} {number(h)} h" for s, h in sums.items()))
    return f"Timeline of a simulated week ({name}), one row a resource. Hours in it: " + "; ".join(parts) + "."
