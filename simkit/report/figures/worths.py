"""What one kind of option changes beside each of another kind: a panel an option, a row each of the other kind."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

import matplotlib
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from simkit.experiment.intervals import Estimate
from simkit.report.exhibits import Exhibit
from simkit.report.figures.style import STYLE, WIDTH_IN, bare_rows
from simkit.report.palette import INK, LINES, MARKERS, MUTED, PAPER
from simkit.report.words import plus_minus

APART = 0.17
"""Distance of a mark from the middle of its row, in rows, where two groups are drawn."""

CUT_AT = 1.5
"""Intervals are drawn to so many times the largest mean; wider ones leave the picture."""


@dataclass(frozen=True)
class Worth:
    """A change with its interval: in which row it stands, and in which group of marks (0, 1)."""

    row: str
    group: int
    change: Estimate


def worth_panels(
    panels: Mapping[str, Sequence[Worth]],
    rows: Sequence[str],
    *,
    title: str,
    axis_label: str,
    groups: Sequence[str],
    calibrated: bool = True,
    note: str = "",
) -> Exhibit:
    """Draw a panel per name in ``panels``, all with the same rows and scale; hollow where zero is in the interval."""
    left, right = _reach([w.change for worths in panels.values() for w in worths])
    with _canvas(1.15 + 0.34 * len(rows), len(panels)) as (figure, axes):
        for place, (name, worths) in zip(axes, panels.items(), strict=True):
            for worth in worths:
                _draw(place, rows.index(worth.row), worth, len(groups), calibrated)
            bare_rows(place, list(rows) if place is axes[0] else [""] * len(rows))
            place.axvline(0, color=INK, linewidth=1)
            place.set_title(name, loc="left", fontsize=9, fontweight="bold")
            place.set_xlim(left, right)
        figure.supxlabel(axis_label, fontsize=9)
        figure.legend(handles=[_key(place, name) for place, name in enumerate(groups)], loc="outside upper left",
                      ncols=len(groups), frameon=False, fontsize=8)  # fmt: skip
    marks = sum(map(len, panels.values()))
    return Exhibit(figure, title, _alt(panels, groups, axis_label), note=note, marks=2 * marks)


@contextmanager
def _canvas(height_in: float, columns: int) -> Iterator[tuple[Figure, list[Axes]]]:
    with matplotlib.rc_context(STYLE):
        figure = Figure(figsize=(WIDTH_IN, height_in), layout="constrained")
        axes = figure.subplots(1, columns, squeeze=False)
        yield figure, list(axes[0])


def _reach(changes: Sequence[Estimate]) -> tuple[float, float]:
    """Ends of the scale: all means and zero, and intervals up to a size that leaves the means apart."""
    most = CUT_AT * max((abs(change.mean) for change in changes), default=0.0) or 1.0
    ends = [max(-most, min(most, end)) for change in changes for end in (change.low, change.high)]
    low, high = min([0.0, *ends]), max([0.0, *ends])
    pad = 0.06 * (high - low) or 1.0
    return low - pad, high + pad


def _look(group: int) -> tuple[str, str]:
    return LINES[group % len(LINES)], MARKERS[group % len(MARKERS)]


def _draw(axes: Axes, row: int, worth: Worth, groups: int, calibrated: bool) -> None:
    colour, marker = _look(worth.group)
    height = row + (APART * (2 * worth.group - 1) if groups > 1 else 0.0)
    change = worth.change
    if math.isfinite(change.half_width):
        ends = [change.low, change.high]
        axes.plot(ends, [height, height], color=colour if change.tells else MUTED, linewidth=1.1, zorder=2,
                  linestyle="-" if calibrated else (0, (3, 1.5)))  # fmt: skip
    axes.plot(change.mean, height, marker=marker, markersize=5.5, markeredgecolor=colour, markeredgewidth=1.3,
              markerfacecolor=colour if change.tells else PAPER, zorder=3)  # fmt: skip


def _key(group: int, name: str) -> Line2D:
    colour, marker = _look(group)
    return Line2D([], [], linestyle="none", marker=marker, color=colour, markersize=5.5, label=name)


def _alt(panels: Mapping[str, Sequence[Worth]], groups: Sequence[str], axis_label: str) -> str:
    pieces = []
    for name, worths in panels.items():
        for place, group in enumerate(groups):
            own = [f"{w.row} {plus_minus(w.change, difference=True)}" for w in worths if w.group == place]
            if own:
                pieces.append(f"{name}, {group.lower()}: " + ", ".join(own))
    return f"Marks with intervals of the {axis_label}. " + "; ".join(pieces) + "."
