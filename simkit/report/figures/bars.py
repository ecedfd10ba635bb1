"""Bars: where the time goes, and what differs between scenarios."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import pandas as pd
from matplotlib.axes import Axes

from simkit.experiment.intervals import Estimate
from simkit.report.exhibits import Exhibit
from simkit.report.figures.style import bare_rows, canvas, legend_above, readable_on
from simkit.report.palette import GAIN, GREY_MARK, INK, LOSS, MUTED, PAPER, STATE_COLOURS, STATE_LABELS
from simkit.report.words import capitalised, number, percent, plural, plus_minus, signed

NARROWEST_LABEL = 0.045
"""A bar piece below this share of the axis carries no number of its own."""

SUM_TOLERANCE_H = 0.01
HOUR_DIGITS = 1
PALE = 0.5


def time_in_state(hours: pd.DataFrame, per: str, *, calibrated: bool = True) -> Exhibit:
    """Draw hours by machine state, one bar a scenario; all bars have the same length, the calendar.

    ``hours`` has a row per scenario and a column per state, in hours; ``per`` says of what, as in
    ``per week``. Raises ValueError when the rows do not sum to the same hours.
    """
    totals = hours.sum(axis="columns")
    if (totals - totals.iloc[0]).abs().max() > SUM_TOLERANCE_H:
        raise ValueError(f"states do not sum to the same calendar hours: {totals.to_dict()}")
    states = [s for s in STATE_COLOURS if s in hours.columns and hours[s].max() > 0]
    colours = {STATE_LABELS[s]: STATE_COLOURS[s] for s in states}
    drawn = hours[states].rename(columns=STATE_LABELS)
    first = hours.iloc[0]
    open_h = float(totals.iloc[0] - first.get("closed", 0.0))
    process = float(sum(first.get(s, 0.0) for s in ("punching", "forming", "cutting")))
    setup = float(sum(first.get(s, 0.0) for s in ("changeover", "first_piece", "waiting_material")))
    title = (
        f"{hours.index[0]}: of {number(open_h)} h {per} in which the cell is open or running, "
        f"{percent(process / open_h)} process sheets and {percent(setup / open_h)} go to set-up"
    )
    return _stacked(drawn, colours, f"hours {per}", title, calibrated)


def stacked_hours(
    hours: pd.DataFrame, colours: Mapping[str, str], axis_label: str, title: str, *, calibrated: bool = True
) -> Exhibit:
    """Draw stacked hours, one bar a row; ``colours`` gives the columns' names, colours and order."""
    shown = {name: colour for name, colour in colours.items() if name in hours.columns and hours[name].max() > 0}
    return _stacked(hours[list(shown)], shown, axis_label, title, calibrated)


def _stacked(hours: pd.DataFrame, colours: dict[str, str], axis_label: str, title: str, calibrated: bool) -> Exhibit:
    legend_rows = -(-len(colours) // 5)
    with canvas(0.85 + 0.42 * len(hours) + 0.2 * legend_rows) as (figure, (axes,)):
        draw_stacked(axes, hours, colours, axis_label, calibrated)
    return Exhibit(figure, title, _alt_stacked(hours, axis_label), marks=hours.size)


def draw_stacked(axes: Axes, hours: pd.DataFrame, colours: dict[str, str], axis_label: str, calibrated: bool) -> None:
    """Draw stacked hours on given axes, one bar a row, one piece a column, with a legend."""
    widest = float(hours.sum(axis="columns").max())
    left = pd.Series(0.0, index=hours.index)
    for name, colour in colours.items():
        edge = PAPER if calibrated else GREY_MARK
        axes.barh(range(len(hours)), hours[name], left=left, color=colour, edgecolor=edge, linewidth=0.8, height=0.66)
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
                fontsize=7.5,
                color=readable_on(colour),
            )


def _alt_stacked(hours: pd.DataFrame, axis_label: str) -> str:
    parts = []
    for name, row in hours.iterrows():
        pieces = ", ".join(f"{column} {number(value)}" for column, value in row.items() if value > 0)
        parts.append(f"{name}: {pieces}")
    return f"Stacked bars, {axis_label}. " + ". ".join(parts) + "."


@dataclass(frozen=True)
class Difference:
    """A scenario and its paired difference, with the bar's name; with ``marked`` a dagger, and never in the title."""

    name: str
    estimate: Estimate
    marked: bool = False

    @property
    def label(self) -> str:
        """The name as drawn."""
        return f"{self.name} †" if self.marked else self.name


def difference_bars(
    differences: Sequence[Difference],
    *,
    quantity: str,
    unit: str,
    against: str,
    better: str = "lower",
    calibrated: bool = True,
    note: str = "",
) -> Exhibit:
    """Draw paired differences with their 95 % intervals, grey where zero is inside the interval.

    ``quantity`` is what is compared (``hours needed``), ``better`` is ``lower`` or ``higher``.
    """
    with canvas(0.8 + 0.34 * len(differences)) as (figure, (axes,)):
        for row, difference in enumerate(differences):
            draw_difference(axes, row, difference.estimate, better, calibrated)
        bare_rows(axes, [d.label for d in differences])
        axes.axvline(0, color=INK, linewidth=1)
        axes.set_xlabel(f"difference in {quantity} against {against}, {unit} (mean and 95 % interval)")
        axes.margins(x=0.16)
    title = _difference_title(differences, quantity, unit, against, better)
    return Exhibit(figure, title, _alt_differences(differences, quantity, unit, against), note=note)


def draw_difference(axes: Axes, row: int, estimate: Estimate, better: str, calibrated: bool) -> None:
    """Draw a difference with its interval as one bar, grey where zero is inside; ``better`` is lower or higher."""
    unclear = not estimate.tells
    improves = (estimate.mean < 0) == (better == "lower")
    colour = GREY_MARK if unclear else GAIN if improves else LOSS
    edge = colour if calibrated else MUTED
    style = "-" if calibrated else (0, (2, 2))
    axes.barh(row, estimate.mean, color=colour, alpha=1.0 if calibrated else PALE, edgecolor=edge, linestyle=style,
              linewidth=1, height=0.58)  # fmt: skip
    if math.isfinite(estimate.half_width):
        axes.errorbar(estimate.mean, row, xerr=estimate.half_width, color=INK, capsize=3, linewidth=1.1)
    reach = estimate.half_width if math.isfinite(estimate.half_width) else 0.0
    side = 1 if estimate.mean >= 0 else -1
    axes.annotate(
        signed(estimate.mean), (estimate.mean + side * reach, row), xytext=(5 * side, 0), textcoords="offset points",
        ha="left" if side > 0 else "right", va="center", fontsize=7.5, color=MUTED if unclear else INK,
    )  # fmt: skip


def _difference_title(differences: Sequence[Difference], quantity: str, unit: str, against: str, better: str) -> str:
    clear = [d for d in differences if d.estimate.tells]
    if not clear:
        return f"None of {plural(len(differences), 'option')} differs from {against} in {quantity} beyond its interval"
    named = [d for d in clear if not d.marked] or clear
    best = (min if better == "lower" else max)(named, key=lambda d: d.estimate.mean)
    return (
        f"{capitalised(quantity)} against {against}: {best.name} {plus_minus(best.estimate, difference=True)} {unit}; "
        f"{len(differences) - len(clear)} of {len(differences)} cannot be told from zero"
    )


def _alt_differences(differences: Sequence[Difference], quantity: str, unit: str, against: str) -> str:
    marks = {True: "", False: " (interval includes zero)"}
    parts = [f"{d.label} {plus_minus(d.estimate, difference=True)}{marks[d.estimate.tells]}" for d in differences]
    return f"Bars of the difference in {quantity} against {against} in {unit}: " + "; ".join(parts) + "."
