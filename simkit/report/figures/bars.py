"""Bars: where the time goes, and what differs between scenarios."""

from __future__ import annotations

import math

import pandas as pd
from matplotlib.axes import Axes

from simkit.experiment.intervals import Estimate
from simkit.report.figures.style import SMALL, bare_rows, legend_above, readable_on
from simkit.report.palette import GAIN, GREY_MARK, INK, LOSS, MUTED, PAPER
from simkit.report.words import number, signed

NARROWEST_LABEL = 0.06
"""A bar piece below this share of the axis carries no number of its own."""

HOUR_DIGITS = 1


def draw_stacked(axes: Axes, hours: pd.DataFrame, colours: dict[str, str], axis_label: str) -> None:
    """Draw stacked hours on given axes, one bar a row, one piece a column, with a legend."""
    widest = float(hours.sum(axis="columns").max())
    left = pd.Series(0.0, index=hours.index)
    for name, colour in colours.items():
        axes.barh(range(len(hours)), hours[name], left=left, color=colour, edgecolor=PAPER, linewidth=0.8, height=0.66)
        _label_pieces(axes, hours[name], left, colour, widest)
        left = left + hours[name]
    bare_rows(axes, [str(name) for name in hours.index])
    axes.set_xlim(0, widest or 1)
    axes.set_xlabel(axis_label)
    legend_above(axes, colours)


def _label_pieces(axes: Axes, pieces: pd.Series, left: pd.Series, colour: str, widest: float) -> None:
    for row, (start, size) in enumerate(zip(left, pieces, strict=True)):
        if widest and size / widest >= NARROWEST_LABEL:
            axes.text(
                start + size / 2,
                row,
                number(size, HOUR_DIGITS),
                ha="center",
                va="center",
                fontsize=SMALL,
                color=readable_on(colour),
            )


def draw_difference(axes: Axes, row: int, estimate: Estimate, better: str) -> None:
    """Draw a difference with its interval as one bar, grey where zero is inside; ``better`` is lower or higher."""
    unclear = not estimate.tells
    improves = (estimate.mean < 0) == (better == "lower")
    colour = GREY_MARK if unclear else GAIN if improves else LOSS
    axes.barh(row, estimate.mean, color=colour, height=0.58)
    if math.isfinite(estimate.half_width):
        axes.errorbar(estimate.mean, row, xerr=estimate.half_width, color=INK, capsize=3, linewidth=1.1)
    reach = estimate.half_width if math.isfinite(estimate.half_width) else 0.0
    side = 1 if estimate.mean >= 0 else -1
    axes.annotate(
        signed(estimate.mean), (estimate.mean + side * reach, row), xytext=(5 * side, 0), textcoords="offset points",
        ha="left" if side > 0 else "right", va="center", fontsize=SMALL, color=MUTED if unclear else INK,
    )  # fmt: skip
