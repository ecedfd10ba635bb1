"""Axes to draw on, and the check that a table is one that an exhibit can draw."""

from __future__ import annotations

from typing import Any

import matplotlib.pyplot as plt
import pandas as pd
from matplotlib.axes import Axes

from simkit.base.messages import BadInput, Finding
from simkit.report.figures.style import SMALL
from simkit.report.palette import MUTED
from simkit.report.pictures import told

WIDTH_IN = 8.4


def new_axes(height_in: float) -> Axes:
    """Axes of a new figure of a page's width."""
    return plt.subplots(figsize=(WIDTH_IN, height_in), layout="constrained")[1]


def nothing_drawn(table: pd.DataFrame, ax: Axes | None) -> Axes:
    """Axes that say that there is nothing to draw, under the sentence of the table."""
    axes = ax or new_axes(0.7)
    axes.set_axis_off()
    axes.annotate("nothing to draw", (0.0, 0.5), xycoords="axes fraction", fontsize=SMALL, color=MUTED)
    return told(axes, table.attrs.get("title", ""), "Nothing is drawn.", table.attrs.get("note", ""))


def told_by(axes: Axes, table: pd.DataFrame, alt: str, otherwise: str = "", more: str = "") -> Axes:
    """Axes with title and note of their table, a description of what is drawn, and the table as their numbers.

    ``otherwise`` is the title where the table has none, ``more`` goes behind the note.
    """
    return told(axes, table.attrs.get("title", otherwise), alt, table.attrs.get("note", "") + more, table)


def beside(axes: Axes, text: str, at: tuple[Any, Any], by: int, **look: Any) -> None:
    """Write a text beside a point: so many points to its right, or to its left where that is negative."""
    side = "left" if by > 0 else "right"
    axes.annotate(text, at, xytext=(by, 0), textcoords="offset points", va="center", ha=side, **look)


def require_column(table: pd.DataFrame, column: str) -> pd.DataFrame:
    """The table, if it has the column by which an exhibit knows it; raises BadInput otherwise."""
    if column in table.columns:
        return table
    why = f"the table has no column '{column}'; it has {', '.join(map(str, table.columns))}"
    raise BadInput([Finding("plot", why, "Give the table that is named in the function's description")])
