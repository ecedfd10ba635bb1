"""Unattended nights and lateness."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from numpy.typing import NDArray

from simkit.analysis.night_tables import expected_shares
from simkit.experiment.intervals import Estimate
from simkit.report.exhibits import Exhibit
from simkit.report.figures.bars import PALE
from simkit.report.figures.style import bare_rows, canvas, legend_above
from simkit.report.palette import ACCENT, GAIN, INK, LOSS, NIGHT_SHADE, PAPER, WITHIN
from simkit.report.words import number, percent, plural, plus_minus

BINS = 32
"""Bins of the hours of a night."""

LIMIT_LABELS = {
    "stop": "a stop nobody could clear",
    "release": "first piece or program not released",
    "tool": "a tool not at hand",
    "material": "material not at hand",
    "output": "output or scrap full",
    "queue": "no more orders released",
}


def night_ends(ends: pd.DataFrame, *, name: str) -> Exhibit:
    """Draw what ended the nights: counts and hours lost, which rank differently.

    ``ends`` has columns limit, nights, lost_h (per run).
    """
    ordered = ends.sort_values("lost_h", ascending=False)
    labels = [LIMIT_LABELS.get(limit, limit) for limit in ordered["limit"]]
    with canvas(1.0 + 0.5 * len(ordered)) as (figure, (axes,)):
        rows = np.arange(len(ordered))
        axes.barh(rows - 0.18, ordered["nights"], height=0.34, color=ACCENT, label="nights ended")
        axes.barh(rows + 0.18, ordered["lost_h"], height=0.34, color=LOSS, label="hours lost")
        bare_rows(axes, labels)
        axes.set_xlabel("nights, and hours, per run")
        axes.legend(loc="lower right", frameon=False, fontsize=8)
    top = ordered.iloc[0]
    total = float(ordered["lost_h"].sum())
    share = percent(float(top["lost_h"]) / total) if total else percent(0)
    title = f"{name}: {share} of {number(total)} lost night hours are lost to {labels[0]}"
    pieces = (
        f"{label} {number(n)} nights, {number(h)} h"
        for label, n, h in zip(labels, ordered["nights"], ordered["lost_h"], strict=True)
    )
    return Exhibit(figure, title, f"Paired bars of nights ended and hours lost: {'; '.join(pieces)}.")


def night_hours(hours: Sequence[float], *, allowed_h: float, name: str, what: str = "a night") -> Exhibit:
    """Draw a histogram of unattended running hours against the hours allowed."""
    values = np.asarray(hours, dtype=float)
    short = float(np.mean(values < 0.5 * allowed_h)) if values.size else 0.0
    with canvas(2.6) as (figure, (axes,)):
        edges = np.linspace(0, max(allowed_h, float(values.max(initial=0.0))), 13)
        axes.hist(values, bins=[float(edge) for edge in edges], color=ACCENT, edgecolor=PAPER)
        axes.axvline(allowed_h, color=INK, linestyle="--", linewidth=1.2)
        axes.annotate(f"allowed {number(allowed_h)} h", (allowed_h, 0.97), xycoords=("data", "axes fraction"),
                      ha="right", va="top", xytext=(-4, 0), textcoords="offset points", fontsize=8)  # fmt: skip
        axes.set_xlabel(f"unattended running hours of {what}")
        axes.set_ylabel("runs")
        axes.grid(axis="y")
    title = (
        f"{name}: {number(float(values.mean()))} h of {number(allowed_h)} h run unattended in {what}; "
        f"{percent(short)} run less than half"
    )
    reach = f"from {number(float(values.min()))} to {number(float(values.max()))} h"
    return Exhibit(figure, title, f"Histogram of {plural(values.size, 'value')} {reach}.", marks=values.size)


def lateness_bars(late: pd.DataFrame, *, limit_share: float) -> Exhibit:
    """Draw the share of late orders, one bar a scenario, with the plant's limit.

    ``late`` has columns scenario, share, low, high (shares 0..1; low to high is 8 runs in 10).
    """
    with canvas(0.9 + 0.34 * len(late)) as (figure, (axes,)):
        rows = range(len(late))
        colours = [LOSS if share > limit_share else WITHIN for share in late["share"]]
        axes.barh(rows, 100 * late["share"], color=colours, height=0.58)
        axes.hlines(rows, 100 * late["low"], 100 * late["high"], color=INK, linewidth=1.2)
        axes.axvline(100 * limit_share, color=INK, linestyle="--", linewidth=1.2)
        axes.annotate(f"limit {percent(limit_share)}", (100 * limit_share, 1), xycoords=("data", "axes fraction"),
                      xytext=(3, 2), textcoords="offset points", fontsize=8)  # fmt: skip
        bare_rows(axes, [str(name) for name in late["scenario"]])
        axes.set_xlim(left=0)
        axes.set_xlabel("late orders, % (bar: mean, line: 8 runs in 10)")
    within = int((late["share"] <= limit_share).sum())
    title = (
        f"{within} of {plural(len(late), 'case')} keep late orders within the plant's limit of {percent(limit_share)}"
    )
    bars = zip(late["scenario"], late["share"], late["low"], late["high"], strict=True)
    parts = (f"{n} {percent(share, 1)} ({percent(low)} to {percent(high)})" for n, share, low, high in bars)
    return Exhibit(figure, title, "Bars of the share of late orders: " + "; ".join(parts) + ".", marks=len(late))


@dataclass(frozen=True)
class Nights:
    """A panel of hours per night: its name, the nights, and the stop rate of the closed form beside it, if any."""

    name: str
    nights: pd.DataFrame
    rate_per_h: float | None = None


def hours_of_nights(panels: Sequence[Nights], *, title: str, calibrated: bool = True, note: str = "") -> Exhibit:
    """Draw shares of nights by hours worked, one panel a case; dots are the shares of the closed form."""
    widest = max(float(panel.nights["allowed_h"].max()) for panel in panels)
    edges = np.linspace(0, widest, BINS + 1)
    with canvas(0.5 + 1.25 * len(panels), len(panels)) as (figure, axes):
        for place, panel in zip(axes, panels, strict=True):
            _draw_nights(place, panel, edges, calibrated)
        axes[-1].set_xlabel("hours that the machine works in a night (dashed: allowed; triangle: mean)")
    return Exhibit(figure, title, "Histograms of hours per night. " + " ".join(map(_alt_nights, panels)), note=note)


def _draw_nights(axes: Axes, panel: Nights, edges: NDArray[np.float64], calibrated: bool) -> None:
    hours, allowed = panel.nights["running_h"].to_numpy(float), float(panel.nights["allowed_h"].mean())
    shares = 100 * np.histogram(hours, edges)[0] / max(len(hours), 1)
    axes.bar(edges[:-1], shares, np.diff(edges), align="edge", color=ACCENT, alpha=1.0 if calibrated else PALE,
             edgecolor=PAPER if calibrated else INK, linewidth=0.8)  # fmt: skip
    if panel.rate_per_h is not None:
        expected = 100 * expected_shares(panel.rate_per_h, allowed, [float(edge) for edge in edges])
        axes.plot((edges[:-1] + edges[1:]) / 2, expected, linestyle="none", marker="o", color=LOSS, markersize=4)
    axes.axvline(allowed, color=INK, linestyle="--", linewidth=1)
    axes.plot(hours.mean(), 0, marker="^", color=LOSS, markersize=7, clip_on=False, zorder=5)
    axes.set_title(f"{panel.name}: mean {number(float(hours.mean()))} h", loc="left", fontsize=8.5)
    axes.set_ylabel("nights, %")
    axes.set_ylim(bottom=0)
    axes.set_xlim(0, edges[-1] * 1.01)
    axes.grid(axis="y")


def _alt_nights(panel: Nights) -> str:
    hours = panel.nights["running_h"]
    low, middle, high = (number(float(hours.quantile(q))) for q in (0.1, 0.5, 0.9))
    count = plural(len(hours), "night")
    return f"{panel.name}: {count}, mean {number(float(hours.mean()))} h, tenths at {low}, {middle} and {high} h."


def ends_of_nights(
    ends: Sequence[tuple[str, float, float]], *, title: str, calibrated: bool = True, note: str = ""
) -> Exhibit:
    """Draw what ended nights: per end its words, the share of nights and the share of hours lost, in per cent."""
    rows, alpha = np.arange(len(ends)), 1.0 if calibrated else PALE
    with canvas(0.9 + 0.42 * len(ends)) as (figure, (axes,)):
        axes.barh(
            rows - 0.18, [row[1] for row in ends], height=0.34, color=ACCENT, alpha=alpha, label="nights ended, %"
        )
        axes.barh(rows + 0.18, [row[2] for row in ends], height=0.34, color=LOSS, alpha=alpha,
                  label="of the hours lost, %")  # fmt: skip
        bare_rows(axes, [row[0] for row in ends])
        axes.set_xlim(left=0)
        axes.set_xlabel("% of nights, and % of the hours lost in all nights")
        axes.legend(loc="lower right", frameon=False, fontsize=8)
    pieces = "; ".join(f"{words} {number(n, 0)} % of nights, {number(h, 0)} % of hours" for words, n, h in ends)
    return Exhibit(figure, title, f"Paired bars: {pieces}.", note=note, marks=2 * len(ends))


@dataclass(frozen=True)
class NightStep:
    """A step of taking causes away: its name, hours worked a night, and share of the allowed hours the queue loses."""

    name: str
    hours: Estimate
    queue_share: float


def steps_of_nights(steps: Sequence[NightStep], *, allowed_h: float, title: str, calibrated: bool = True) -> Exhibit:
    """Draw hours a night step by step: worked, lost to the queue, lost to the rest; together the hours allowed."""
    alpha = 1.0 if calibrated else PALE
    with canvas(1.1 + 0.36 * len(steps)) as (figure, (axes,)):
        for row, step in enumerate(steps):
            worked, queue = step.hours.mean, step.queue_share * allowed_h
            rest = max(allowed_h - worked - queue, 0.0)
            left = 0.0
            for width, colour in ((worked, GAIN), (queue, NIGHT_SHADE), (rest, LOSS)):
                axes.barh(row, width, left=left, color=colour, alpha=alpha, edgecolor=PAPER, height=0.62)
                left += width
            axes.annotate(f"{number(worked)} h", (worked, row), xytext=(4, 0), textcoords="offset points", va="center",
                          fontsize=8, fontweight="bold")  # fmt: skip
        bare_rows(axes, [step.name for step in steps])
        axes.set_xlim(0, allowed_h)
        axes.set_xlabel("hours of a mean night")
        names = {"worked": GAIN, "lost after the queue ran out": NIGHT_SHADE, "lost after anything else": LOSS}
        legend_above(axes, names)
    pieces = "; ".join(f"{step.name}: {plus_minus(step.hours)} h worked" for step in steps)
    return Exhibit(figure, title, f"Stacked bars of the hours allowed: {pieces}.", marks=3 * len(steps))
