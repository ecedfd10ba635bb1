"""Risk: tornado with the values of its inputs, distribution of net present values, break-even map."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import TwoSlopeNorm

from simkit.analysis.flips import BreakEvenMap
from simkit.analysis.tornado import Swing
from simkit.finance.arrays import Array
from simkit.finance.risksummary import Summary
from simkit.report.exhibits import Exhibit
from simkit.report.figures.style import bare_rows, canvas, legend_above
from simkit.report.palette import ACCENT, HIGH_COLOUR, INK, LOSS, LOW_COLOUR, MUTED, PAPER, WITHIN
from simkit.report.words import capitalised, money, number, percent

MOST_BARS = 14
PALE = 0.5
BINS = 60
DEFAULT_MARK = "◇"


def tornado(
    swings: Sequence[Swing], *, name: str, base: float, currency: str, calibrated: bool, also: str = ""
) -> Exhibit:
    """Draw what each input does to the net present value at its low and its high, the others typical.

    Bars carry the low and high value of their input; a hollow mark means that the range is the kit's default. ``base``
    is the value with all inputs typical, ``also`` a sentence for the note.
    """
    shown = list(swings[:MOST_BARS])
    ends = [value for one in shown for value in (one.at_low, one.at_high)]
    with canvas(0.9 + 0.36 * len(shown)) as (figure, (axes,)):
        for row, one in enumerate(shown):
            _draw_swing(axes, row, one, base, calibrated)
        axes.axvline(base, color=INK, linewidth=1)
        if min(ends) < 0 < max(ends):
            axes.axvline(0, color=LOSS, linewidth=1.2, linestyle="--")
            axes.annotate("zero", (0, len(shown) - 0.5), xytext=(3, -2), textcoords="offset points", fontsize=8,
                          color=LOSS, va="bottom")  # fmt: skip
        bare_rows(axes, [_row_name(one) for one in shown])
        axes.margins(x=0.16)
        axes.set_xlabel(f"net present value of {name}, {currency}; line: {number(base, 0)} with all inputs typical")
        axes.xaxis.set_major_formatter(lambda value, _: number(value, 0))
        legend_above(axes, {"input at its low": LOW_COLOUR, "input at its high": HIGH_COLOUR})
    first = shown[0]
    low, high = sorted((first.at_low, first.at_high))
    title = (
        f"{capitalised(first.input.title)} moves {name} most: from {money(low, currency)} to {money(high, currency)} "
        f"over {_reach(first)}"
    )
    rest = len(swings) - len(shown)
    note = (
        f"Each input at its low and its high, the others typical; the numbers at the bars are the input's values. "
        f"{DEFAULT_MARK}: the range is the kit's default, common practice, no source."
        + (f" {rest} more inputs move the value by less." if rest else "")
        + f" {also}"
    )
    return Exhibit(figure, title, _alt_tornado(shown, currency), note)


def _row_name(one: Swing) -> str:
    mark = f" {DEFAULT_MARK}" if one.input.basis == "default" else ""
    title = one.input.title if len(one.input.title) <= 46 else f"{one.input.title[:44]}…"
    return f"{title}, {one.input.unit}{mark}"


def _reach(one: Swing) -> str:
    return f"{short(one.input.low)} to {short(one.input.high)} ({one.input.unit})"


def short(value: float) -> str:
    """A value of an input with three or four significant places."""
    return f"{value:,.4g}" if abs(value) < 1000 else number(value, 0)


def _draw_swing(axes: Axes, row: int, one: Swing, base: float, calibrated: bool) -> None:
    hollow = one.input.basis == "default"
    for value, colour, text in ((one.at_low, LOW_COLOUR, one.input.low), (one.at_high, HIGH_COLOUR, one.input.high)):
        axes.barh(
            row, value - base, left=base, height=0.62, color=PAPER if hollow else colour, edgecolor=colour,
            linewidth=1.2, alpha=1.0 if calibrated else 0.75, linestyle="-" if calibrated else "--",
            hatch="////" if hollow else None,
        )  # fmt: skip
        side = 1 if value >= base else -1
        axes.annotate(short(text), (value, row), xytext=(4 * side, 0), textcoords="offset points", fontsize=7.5,
                      ha="left" if side > 0 else "right", va="center", color=MUTED)  # fmt: skip


def _alt_tornado(shown: Sequence[Swing], currency: str) -> str:
    parts = [
        f"{one.input.title} {number(one.at_low, 0)} at {short(one.input.low)} and {number(one.at_high, 0)} at "
        f"{short(one.input.high)} {one.input.unit}"
        for one in shown
    ]
    return f"Bars of net present value in {currency} with one input changed: " + "; ".join(parts) + "."


def value_distribution(
    values: dict[str, Array], summaries: dict[str, Summary], *, currency: str, condition: str, calibrated: bool
) -> Exhibit:
    """Draw the distribution of net present values of each case with its P10, P50 and P90, losses set apart.

    ``condition`` says under which conditions it holds.
    """
    everything = np.concatenate(list(values.values()))
    low, high = (float(v) for v in np.quantile(everything, [0.002, 0.998]))
    edges = np.linspace(low, max(high, low + 1.0), BINS + 1)
    with canvas(1.1 + 1.55 * len(values), len(values)) as (figure, rows):
        for axes, (name, own) in zip(rows, values.items(), strict=True):
            _draw_distribution(axes, own, summaries[name], name, edges, calibrated)
        rows[-1].set_xlabel(f"net present value, {currency}")
        rows[-1].xaxis.set_major_formatter(lambda value, _: number(value, 0))
        for axes in rows[:-1]:
            axes.tick_params(labelbottom=False)
    name, first = next((n, s) for n, s in summaries.items() if n == list(values)[-1])
    title = (
        f"{name}: 8 cases in 10 lie between {money(first.npv.p10, currency)} and {money(first.npv.p90, currency)}, "
        f"{percent(first.chance_of_loss)} of all below zero"
    )
    points = "; ".join(
        f"{n}: P10 {number(s.npv.p10, 0)}, P50 {number(s.npv.p50, 0)}, P90 {number(s.npv.p90, 0)}"
        for n, s in summaries.items()
    )
    note = (
        f"P10, P50, P90: 10th, 50th and 90th percentile of {number(first.samples, 0)} samples, seed {first.seed}; the "
        f"two halves of the samples differ by at most {money(first.half_difference, currency)}. All this {condition}."
    )
    return Exhibit(figure, title, f"Histograms of net present value in {currency}. {points}.", note)


def _draw_distribution(axes: Axes, own: Array, summary: Summary, name: str, edges: Array, calibrated: bool) -> None:
    counts, _ = np.histogram(np.clip(own, edges[0], edges[-1]), edges)
    middle = (edges[:-1] + edges[1:]) / 2
    colours = [LOSS if x < 0 else WITHIN for x in middle]
    axes.bar(middle, counts / len(own) * 100, width=np.diff(edges), color=colours, alpha=1.0 if calibrated else PALE,
             edgecolor=PAPER, linewidth=0.4)  # fmt: skip
    axes.axvline(0, color=INK, linewidth=1.2)
    top = float(counts.max()) / len(own) * 100
    for text, value in (("P10", summary.npv.p10), ("P50", summary.npv.p50), ("P90", summary.npv.p90)):
        axes.axvline(value, color=ACCENT, linewidth=1, linestyle="--")
        axes.annotate(f"{text}\n{number(value, 0)}", (value, top * 1.42), fontsize=7.5, color=ACCENT, ha="center",
                      va="top", bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 1.0})  # fmt: skip
    axes.set_ylim(0, top * 1.45)
    axes.set_ylabel("% of cases", fontsize=8)
    axes.set_title(name, loc="left", fontsize=9, color=INK, pad=3)


def demand_wage_map(found: BreakEvenMap, *, name: str, currency: str, calibrated: bool, note: str = "") -> Exhibit:
    """Draw the value over demand and wage, with the line of zero and the plant's own point."""
    low, high = float(found.npv.min()), float(found.npv.max())
    with canvas(3.9) as (figure, (axes,)):
        norm = TwoSlopeNorm(0.0, min(low, -1.0), max(high, 1.0))
        shade = axes.contourf(found.demand, found.wage, found.npv, levels=12, cmap="PuOr", norm=norm,
                              alpha=0.85 if calibrated else PALE)  # fmt: skip
        bar = figure.colorbar(shade, ax=axes, pad=0.02)
        bar.set_label(f"net present value, {currency}")
        bar.ax.yaxis.set_major_formatter(lambda value, _: number(value, 0))
        if low < 0 < high:
            line = axes.contour(found.demand, found.wage, found.npv, levels=[0.0], colors=[INK], linewidths=1.8)
            axes.clabel(line, fmt={0.0: "zero"}, fontsize=8)
        axes.plot(*found.point, marker="D", markersize=9, color=PAPER, markeredgecolor=INK, markeredgewidth=1.8)
        axes.annotate(f"this plant: {money(found.value, currency)}", found.point, xytext=(9, 8),
                      textcoords="offset points", fontsize=8.5)  # fmt: skip
        axes.set_xlabel("latest signed demand, as a factor of the order book")
        axes.set_ylabel(f"loaded wage of an operator, {currency}/h")
    corners = (
        f"{number(found.npv[0, 0], 0)} at low demand and wage, {number(found.npv[-1, -1], 0)} at high demand and wage"
    )
    alt = f"Map of net present value in {currency} over demand and wage: {corners}, {number(found.value, 0)} today."
    return Exhibit(figure, _map_title(found, name, low, high, currency), alt, note)


def _map_title(found: BreakEvenMap, name: str, low: float, high: float, currency: str) -> str:
    reach = f"demand {found.demand[0]:g} to {found.demand[-1]:g} and wages {found.wage[0]:.3g} to {found.wage[-1]:.3g}"
    if low >= 0 or high <= 0:
        word = "gains" if low >= 0 else "loses"
        return (
            f"{name} {word} everywhere between {reach} {currency}/h: {money(low, currency)} to {money(high, currency)}"
        )
    share = float((found.npv > 0).mean())
    return f"{name} gains on {100 * share:.0f} % of the map of {reach} {currency}/h; zero on the line"
