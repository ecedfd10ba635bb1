"""Curves over the size of something that can be bought larger or smaller."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes

from simkit.experiment.intervals import Estimate
from simkit.report.exhibits import Exhibit
from simkit.report.figures.style import canvas
from simkit.report.palette import INK, LINES, MARKERS, MUTED, PAPER
from simkit.report.words import number, plus_minus

PANEL_IN = 1.55


@dataclass(frozen=True)
class SizeCurve:
    """A panel: what is drawn with its unit, and a size and its value for each point; ``zero`` marks a reference."""

    label: str
    points: tuple[tuple[float, Estimate], ...]
    zero: bool = False


def size_curves(
    curves: Sequence[SizeCurve], *, axis_label: str, title: str, own: float | None = None, note: str = ""
) -> Exhibit:
    """Draw one panel per curve above the same sizes, means with 95 % intervals; ``own`` marks the size on offer."""
    with canvas(0.6 + PANEL_IN * len(curves), len(curves)) as (figure, panels):
        for place, (axes, curve) in enumerate(zip(panels, curves, strict=True)):
            _draw_curve(axes, curve, place)
            if own is not None:
                axes.axvline(own, color=MUTED, linewidth=1, linestyle=(0, (1, 2)))
            axes.set_title(curve.label, loc="left", fontsize=8.5)
            axes.grid(axis="y")
            axes.margins(y=0.18)
        sizes = sorted({size for curve in curves for size, _ in curve.points})
        for axes in panels:
            axes.set_xticks(sizes, labels=[f"{size:g}" for size in sizes] if axes is panels[-1] else [])
            axes.set_xlim(sizes[0] - 0.06 * (sizes[-1] - sizes[0]), sizes[-1] + 0.06 * (sizes[-1] - sizes[0]))
        panels[-1].set_xlabel(axis_label)
    return Exhibit(figure, title, _alt(curves, axis_label), note=note)


def _draw_curve(axes: Axes, curve: SizeCurve, place: int) -> None:
    colour, marker = LINES[place % len(LINES)], MARKERS[place % len(MARKERS)]
    sizes = [size for size, _ in curve.points]
    means = [estimate.mean for _, estimate in curve.points]
    halves = [estimate.half_width if math.isfinite(estimate.half_width) else 0.0 for _, estimate in curve.points]
    if curve.zero:
        axes.axhline(0, color=INK, linewidth=1)
    axes.errorbar(sizes, means, yerr=halves, color=colour, ecolor=INK, capsize=3, linewidth=1.6, marker=marker,
                  markersize=5, markeredgecolor=PAPER)  # fmt: skip
    if not curve.zero:
        axes.set_ylim(bottom=0)
    for size, estimate in curve.points:
        axes.annotate(number(estimate.mean), (size, estimate.mean), xytext=(6, 3), textcoords="offset points",
                      fontsize=7.5, color=MUTED)  # fmt: skip


def _alt(curves: Sequence[SizeCurve], axis_label: str) -> str:
    parts = (
        f"{curve.label}: " + ", ".join(f"{plus_minus(estimate)} at {size:g}" for size, estimate in curve.points)
        for curve in curves
    )
    return f"Curves over {axis_label}. " + ". ".join(parts) + "."
