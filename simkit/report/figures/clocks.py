"""Clocks of a sheet by family, sheets that wait by hour of the day, counts of nights, and curves of a gain."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from matplotlib.axes import Axes

from simkit.experiment.intervals import Estimate
from simkit.report.exhibits import Exhibit
from simkit.report.figures.style import bare_rows, canvas
from simkit.report.palette import ACCENT, GAIN, INK, LINES, LOSS, MARKERS, MUTED, NIGHT_SHADE, PAPER, RULE
from simkit.report.words import number, percent, plus_minus

LINE_STYLES = ("-", "--", "-.", ":")
HOURS = 24


@dataclass(frozen=True)
class ClockRow:
    """A row of clocks: its name, minutes a sheet by clock, and the share of sheets that are slower with removal."""

    name: str
    minutes: Mapping[str, float]
    slower: float


def clock_dots(rows: Sequence[ClockRow], clocks: Mapping[str, tuple[str, bool]], *, title: str, note: str) -> Exhibit:
    """Draw the clocks of each row as marks on one line; ``clocks`` gives each one's colour and whether it is filled.

    On the right stands the share of sheets that take longer with removal.
    """
    with canvas(1.25 + 0.36 * len(rows)) as (figure, (axes,)):
        for place, row in enumerate(rows):
            shown = [value for value in row.minutes.values() if value > 0]
            axes.plot([min(shown), max(shown)], [place, place], color=RULE, linewidth=3, zorder=1)
            axes.annotate(percent(row.slower), (1.01, place), xycoords=("axes fraction", "data"), va="center",
                          fontsize=8.5, color=LOSS if row.slower > 0 else MUTED)  # fmt: skip
        for number_, (clock, (colour, filled)) in enumerate(clocks.items()):
            values = [(row.minutes.get(clock, 0.0), place) for place, row in enumerate(rows)]
            held = [(value, place) for value, place in values if value > 0]
            if held:
                axes.plot(*zip(*held, strict=True), linestyle="none", marker=MARKERS[number_], markersize=7,
                          markeredgecolor=colour, markeredgewidth=1.5, markerfacecolor=colour if filled else PAPER,
                          label=clock, zorder=3)  # fmt: skip
        bare_rows(axes, [row.name for row in rows])
        axes.set_xlim(left=0)
        axes.set_xlabel("mean minutes a sheet")
        axes.annotate("slower with\nremoval", (1.01, 1.0), xycoords="axes fraction", va="bottom", fontsize=8,
                      color=MUTED)  # fmt: skip
        axes.legend(loc="lower left", bbox_to_anchor=(0, 1.01), ncols=4, frameon=False, fontsize=8, borderaxespad=0)
    alt = "; ".join(
        f"{row.name}: " + ", ".join(f"{clock} {number(value)} min" for clock, value in row.minutes.items())
        + f", slower with removal {percent(row.slower)}"
        for row in rows
    )  # fmt: skip
    return Exhibit(figure, title, f"Marks of the clocks of a sheet. {alt}.", note=note, marks=4 * len(rows))


def hour_lines(
    lines: Mapping[str, Sequence[Estimate]], *, closed: Sequence[int], axis_label: str, title: str, note: str = ""
) -> Exhibit:
    """Draw a mean by hour of the day as steps, with its 95 % band, one line a case; ``closed`` hours are shaded."""
    with canvas(3.4) as (figure, (axes,)):
        for hour in closed:
            axes.axvspan(hour, hour + 1, color=NIGHT_SHADE, alpha=0.55, linewidth=0, zorder=0)
        for place, (name, hours) in enumerate(lines.items()):
            edges = [*range(len(hours) + 1)]
            colour = LINES[place % len(LINES)]
            means = [estimate.mean for estimate in hours]
            half = [estimate.half_width if math.isfinite(estimate.half_width) else 0.0 for estimate in hours]
            axes.stairs(means, edges, color=colour, linewidth=1.8, baseline=None, label=name,
                        linestyle=LINE_STYLES[place % len(LINE_STYLES)])  # fmt: skip
            low = [max(mean - each, 0.0) for mean, each in zip(means, half, strict=True)]
            high = [mean + each for mean, each in zip(means, half, strict=True)]
            axes.stairs(high, edges, baseline=low, fill=True, color=colour, alpha=0.16, linewidth=0)
        axes.set_xlim(0, HOURS)
        axes.set_xticks(range(0, HOURS + 1, 2))
        axes.set_ylim(bottom=0)
        axes.set_xlabel("hour of the day (dark: nobody there on working days)")
        axes.set_ylabel(axis_label)
        axes.grid(axis="y")
        axes.legend(loc="lower left", bbox_to_anchor=(0, 1.01), ncols=2, frameon=False, fontsize=8, borderaxespad=0)
    parts = (
        f"{name}: most {number(max(e.mean for e in hours))} from {_peak(hours)} o'clock, at 6 o'clock "
        f"{number(hours[6].mean)}" for name, hours in lines.items()
    )  # fmt: skip
    return Exhibit(figure, title, f"Steps by hour of the day, {axis_label}. " + "; ".join(parts) + ".", note=note)


def _peak(hours: Sequence[Estimate]) -> int:
    return max(range(len(hours)), key=lambda hour: hours[hour].mean)


@dataclass(frozen=True)
class CountPanel:
    """Share of nights (or mornings) by a count: what is counted, the shares by count, and a limit that is marked."""

    label: str
    shares: Mapping[int, float]
    limit: float | None = None


def count_bars(panels: Sequence[CountPanel], *, title: str, note: str = "") -> Exhibit:
    """Draw one panel of bars per count, shares in per cent; a limit is a dashed line."""
    with canvas(0.5 + 1.55 * len(panels), len(panels)) as (figure, all_axes):
        for axes, panel in zip(all_axes, panels, strict=True):
            axes.bar(list(panel.shares), [100 * share for share in panel.shares.values()], color=ACCENT, width=0.8)
            if panel.limit is not None:
                axes.axvline(panel.limit + 0.5, color=LOSS, linewidth=1.3, linestyle="--")
                axes.annotate(
                    f"{panel.limit:g} on offer", (panel.limit + 0.5, 0.95), fontsize=8, color=LOSS, va="top",
                    xycoords=("data", "axes fraction"), xytext=(4, 0), textcoords="offset points",
                )  # fmt: skip
            most = max(max(panel.shares, default=1), 1 if panel.limit is None else int(panel.limit) + 1)
            axes.set_xlim(-0.6, most + 0.6)
            axes.set_xticks(range(0, most + 1, max(most // 12, 1)))
            axes.set_title(panel.label, loc="left", fontsize=8.5)
            axes.set_ylabel("% of nights")
            axes.grid(axis="y")
    parts = (
        f"{panel.label}: " + ", ".join(f"{count} in {percent(share, 1)}" for count, share in panel.shares.items())
        for panel in panels
    )
    return Exhibit(figure, title, "Bars of shares of nights. " + ". ".join(parts) + ".", note=note)


@dataclass(frozen=True)
class GainCurve:
    """A gain over something that gets worse: simulated points, closed forms by name, and where it is on offer."""

    label: str
    points: tuple[tuple[float, Estimate], ...]
    closed: Mapping[str, Sequence[tuple[float, float]]] = field(default_factory=dict)
    offered: float | None = None


def gain_curves(curves: Sequence[GainCurve], *, axis_labels: Sequence[str], title: str, note: str = "") -> Exhibit:
    """Draw one panel per curve: means with 95 % intervals, the closed form dashed, the line of no gain in ink."""
    with canvas(0.9 + 2.2 * len(curves), len(curves)) as (figure, all_axes):
        for axes, curve, axis_label in zip(all_axes, curves, axis_labels, strict=True):
            _draw_gain(axes, curve)
            axes.set_title(curve.label, loc="left", fontsize=8.5, pad=20)
            axes.set_xlabel(axis_label)
            axes.margins(y=0.2)
            axes.grid(axis="y")
    parts = (
        f"{curve.label}: " + ", ".join(f"{plus_minus(e, difference=True)} at {x:g}" for x, e in curve.points)
        for curve in curves
    )
    return Exhibit(figure, title, "Curves of a gain. " + ". ".join(parts) + ".", note=note)


def _draw_gain(axes: Axes, curve: GainCurve) -> None:
    places = [place for place, _ in curve.points]
    means = [estimate.mean for _, estimate in curve.points]
    halves = [e.half_width if math.isfinite(e.half_width) else 0.0 for _, e in curve.points]
    axes.axhline(0, color=INK, linewidth=1)
    axes.errorbar(places, means, yerr=halves, color=ACCENT, ecolor=INK, capsize=3, linewidth=1.7, marker="o",
                  markersize=5, markeredgecolor=PAPER, label="through the cell, simulated")  # fmt: skip
    for number_, (name, line) in enumerate(curve.closed.items()):
        axes.plot(*zip(*line, strict=True), color=LINES[1 + number_], linewidth=1.5, label=name,
                  linestyle=LINE_STYLES[1 + number_])  # fmt: skip
    for place, mean in zip(places, means, strict=True):
        axes.annotate(number(mean), (place, mean), xytext=(6, 5), textcoords="offset points", fontsize=7.5,
                      color=GAIN if mean > 0 else LOSS)  # fmt: skip
    if curve.offered is not None:
        axes.axvline(curve.offered, color=MUTED, linewidth=1, linestyle=(0, (1, 2)), label="on offer")
    if curve.closed or curve.offered is not None:
        axes.legend(loc="lower left", bbox_to_anchor=(0, 1.0), ncols=4, frameon=False, fontsize=8, borderaxespad=0)
