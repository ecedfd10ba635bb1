"""Exhibits about money and of a decision, each drawn from a table onto matplotlib axes."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import fill
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from simkit.analysis.verdicts import CANNOT_TELL, DO_IT, LOSES, NOT_NOW
from simkit.base.messages import BadInput, Finding
from simkit.desk.axes import beside, new_axes, require_column, told_by
from simkit.report import palette
from simkit.report.figures.style import LONGEST_NAME, SMALL, bare_rows, legend_above
from simkit.report.pictures import told
from simkit.report.words import number, percent, plural, signed

ROW_IN = 0.36
MOST_BARS = 12
SMALLEST_SHARE = 0.02
"""Bars of less than this share of the longest are left out and counted."""
ROOM = 0.16
"""Share of the axis kept free at its ends for numbers."""
ON_PAPER = {"facecolor": palette.PAPER, "edgecolor": "none", "pad": 1.0}


def cash(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Cumulative headline cash by year, one line a case with the band of 8 in 10, from :meth:`CashFlow.by_year`."""
    axes = ax or new_axes(3.8)
    said = _lines(axes, require_column(table, "cumulative"), "year", "cumulative", markersize=4)
    axes.set_xlabel("year (0: payments before the first year); band: 8 in 10 samples of all ranges")
    axes.set_ylabel("cumulative cash")
    return told_by(axes, table, f"Lines of cumulative cash by year: {said}.", "Cumulative cash")


def _lines(axes: Axes, table: pd.DataFrame, across: str, up: str, markersize: float) -> str:
    """One line a case, named at its end, with the band of 8 in 10 where the table has one; return it in words."""
    axes.axhline(0, color=palette.INK, linewidth=1)
    ends, said = [], []
    for place, (name, own) in enumerate(table.groupby("scenario", sort=False)):
        colour, marker = palette.LINES[place % len(palette.LINES)], palette.MARKERS[place % len(palette.MARKERS)]
        axes.plot(own[across], own[up], color=colour, marker=marker, markersize=markersize)
        if f"{up}_p10" in own:
            axes.fill_between(own[across], own[f"{up}_p10"], own[f"{up}_p90"], color=colour, alpha=0.12)
        ends.append((float(own[up].iloc[-1]), str(name), colour))
        said.append(f"{name} from {number(own[up].iloc[0], 0)} to {number(own[up].iloc[-1], 0)}")
    _name_ends(axes, ends, float(table[across].max()))
    _money_axis(axes.yaxis)
    return "; ".join(said)


def _name_ends(axes: Axes, ends: Sequence[tuple[float, str, str]], at: float) -> None:
    """Names at the ends of lines, pushed apart so that none covers another."""
    bottom, top = axes.get_ylim()
    least, height = 0.055 * (top - bottom), -np.inf
    for value, name, colour in sorted(ends):
        height = max(value, height + least)
        beside(axes, fill(name, LONGEST_NAME), (at, height), 8, color=colour, annotation_clip=False, fontsize=SMALL)
    axes.margins(x=0.02)


def risk(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """The middle 8 in 10 of each case's value, median and as quoted, with the chance of loss, from ``risk()``."""
    own = require_column(table, "p50")
    axes = ax or new_axes(1.3 + 0.5 * len(own))
    rows = np.arange(len(own))
    axes.barh(
        rows, own["p90"] - own["p10"], left=own["p10"], color=palette.WITHIN, edgecolor=palette.ACCENT, height=0.42
    )
    axes.scatter(own["p50"], rows, color=palette.ACCENT, zorder=3)
    said = []
    for row, case in enumerate(own.to_dict("records")):
        if "npv" in case:
            axes.plot(case["npv"], row, marker="D", markersize=6, color="white", markeredgecolor=palette.INK, zorder=4)
        loss = f", {percent(case['chance_of_loss'])} below zero" if "chance_of_loss" in case else ""
        text = f"{number(case['p10'], 0)} to {number(case['p90'], 0)}{loss}"
        beside(axes, text, (case["p90"], row), 8, fontsize=SMALL, bbox=ON_PAPER)
        said.append(f"{case['scenario']} {text}, middle {number(case['p50'], 0)}")
    axes.axvline(0, color=palette.INK, linewidth=1)
    bare_rows(axes, list(own["scenario"]))
    low, high = axes.get_xlim()
    axes.set_xlim(low - 0.03 * (high - low), high + 0.34 * (high - low))
    axes.set_xlabel("net present value: bar 8 in 10, dot the middle, diamond as quoted")
    _money_axis(axes.xaxis)
    return told_by(axes, own, "Bars of net present value: " + "; ".join(said) + ".", "Range of values")


def waterfall(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Amounts one below the other, each beginning where the one before ends, sums from zero, from ``steps()``.

    Raises BadInput where a sum is not that of the amounts above it.
    """
    own = require_column(table, "is_sum")
    axes, so_far = ax or new_axes(1.0 + 0.31 * len(own)), 0.0
    said = []
    for row, (name, amount, is_sum) in enumerate(own[["step", "amount", "is_sum"]].itertuples(index=False)):
        if is_sum and abs(amount - so_far) > 1e-6 * max(1.0, abs(so_far)):
            why = f"'{name}' is {amount:g}, the amounts above it add up to {so_far:g}"
            raise BadInput([Finding("plot.waterfall", why, "Give all rows of the table")])
        start = 0.0 if is_sum else so_far
        so_far = start + amount
        colour = palette.ACCENT if is_sum else palette.GAIN if amount >= 0 else palette.LOSS
        axes.barh(row, amount, left=start, color=colour, height=0.62)
        text = number(amount, 0) if is_sum else signed(amount, 0)
        beside(axes, text, (max(start, so_far), row), 4, fontsize=SMALL, bbox=ON_PAPER)
        said.append(f"{name} {text}")
    bare_rows(axes, list(own["step"]))
    axes.axvline(0, color=palette.INK, linewidth=1)
    low, high = axes.get_xlim()
    axes.set_xlim(low, high + ROOM * (high - low))
    axes.set_xlabel("present value")
    _money_axis(axes.xaxis)
    return told_by(axes, own, "Bars that follow one another: " + "; ".join(said) + ".", "Present value by line")


def swings(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """What each input does to the value of a case at its low and its high, largest first, from ``swings()``.

    The numbers at the bars are the input's; hatched: the range is the kit's default.
    """
    reach = require_column(table, "npv_at_low")[["npv_at_low", "npv", "npv_at_high"]]
    size = reach.max(axis=1) - reach.min(axis=1)
    own = table[size >= SMALLEST_SHARE * size.max()].head(MOST_BARS)
    axes = ax or new_axes(1.3 + ROW_IN * len(own))
    for row, one in enumerate(own.to_dict("records")):
        _swing(axes, row, one)
    if len(own):
        axes.axvline(own["npv"].iloc[0], color=palette.INK, linewidth=1)
    bare_rows(axes, [_short(f"{one.title}, {one.unit}") for one in own.itertuples()])
    axes.margins(x=ROOM)
    axes.set_xlabel("net present value; the line: all inputs typical; hatched: default range")
    legend_above(axes, {"input at its low": palette.LOW_COLOUR, "input at its high": palette.HIGH_COLOUR})
    _money_axis(axes.xaxis)
    said = [
        f"{one['title']} {number(one[f'npv_at_{end}'], 0)} at {one[end]:.4g} {one['unit']}"
        for one in own.to_dict("records") for end in ("low", "high")
    ]  # fmt: skip
    rest = f" {len(table) - len(own)} more inputs move it by less." if len(own) < len(table) else ""
    return told_by(axes, table, "Bars of net present value: " + "; ".join(said) + ".", "What moves the value", rest)


def _swing(axes: Axes, row: int, one: dict[Any, Any]) -> None:
    """Both ends of an input, with its values at the bars; at the outer one where both lie on one side."""
    base, hollow = one["npv"], one["basis"] == "default"
    ends = [
        (one[f"npv_at_{end}"], one[end], colour)
        for end, colour in (("low", palette.LOW_COLOUR), ("high", palette.HIGH_COLOUR))
    ]
    for value, _, colour in ends:
        axes.barh(row, value - base, left=base, height=0.6, facecolor="white" if hollow else colour, edgecolor=colour,
                  hatch="////" if hollow else None)  # fmt: skip
    for side in (-1, 1):
        there = [(value, _written(at)) for value, at, _ in ends if (value - base) * side > 1e-9 * abs(base)]
        if there:
            outer = max(there, key=lambda pair: pair[0] * side)[0]
            beside(axes, ", ".join(text for _, text in there), (outer, row), 4 * side, fontsize=SMALL)


def _written(value: float) -> str:
    return f"{value:,.4g}" if abs(value) < 1000 else number(value, 0)


def over_demand(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Value of every case over demand, zero marked, from :meth:`CashFlow.over_demand`."""
    axes = ax or new_axes(3.8)
    said = _lines(axes, require_column(table, "demand"), "demand", "npv", markersize=0)
    axes.set_xlabel("demand of the latest signed years, times the order book")
    axes.set_ylabel("net present value")
    return told_by(axes, table, f"Lines of net present value over demand: {said}.", "Value over demand")


def _short(text: str) -> str:
    return text if len(text) <= 48 else f"{text[:46]}…"


def _money_axis(axis: Any) -> None:
    axis.set_major_formatter(lambda value, _: number(value, 0))


VERDICT_COLOURS = {DO_IT: palette.GAIN, CANNOT_TELL: palette.GREY_MARK, NOT_NOW: "#d9a441", LOSES: palette.LOSS}
MOST_MARKS = 4


def values(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Value with its range, a row a choice, from :meth:`Decision.table`; the verdict stands beside it."""
    own = require_column(table, "verdict")
    axes = ax or new_axes(1.0 + 0.42 * len(own))
    own = own[own["npv"].notna()].reset_index(drop=True)
    rows = np.arange(len(own))
    low, high = own["npv"] - own["npv_half_width"], own["npv"] + own["npv_half_width"]
    colours = [VERDICT_COLOURS.get(word, palette.GREY_MARK) for word in own["verdict"]]
    axes.barh(rows, own["npv"], color=colours, height=0.55, zorder=2)
    axes.hlines(rows, low, high, color=palette.INK, linewidth=1.4, zorder=3)
    axes.axvline(0, color=palette.INK, linewidth=1, zorder=4)
    bare_rows(axes, list(own["choice"]))
    reach = max(high.max(), 0.0) - min(low.min(), 0.0) or 1.0
    for row, word in zip(rows, own["verdict"], strict=True):
        axes.text(max(high[row], 0.0) + 0.02 * reach, float(row), word, va="center", ha="left", color=palette.INK)
    axes.set_xlim(min(low.min(), 0.0) - 0.04 * reach, max(high.max(), 0.0) + 0.24 * reach)
    axes.xaxis.set_major_formatter(lambda value, _: number(value, 0))
    axes.xaxis.set_major_locator(MaxNLocator(5))
    axes.set_xlabel("value, with its 95 % range")
    gain, lose = int((low > 0).sum()), int((high < 0).sum())
    gains, loses = "gains" if gain == 1 else "gain", "loses" if lose == 1 else "lose"
    title = f"Of {plural(len(own), 'choice')} {number(gain, 0)} clearly {gains} and {number(lose, 0)} clearly {loses}"
    parts = [f"{row['choice']} {number(row['npv'], 0)} plus or minus {number(row['npv_half_width'], 0)}, "
             f"{row['verdict']}" for row in own.to_dict("records")]  # fmt: skip
    return told(axes, title, f"Bars of value by choice: {'; '.join(parts)}.", numbers=own.drop(columns="turns"))


def causes(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Today's hours by cause as bars, and what is left of each with the choices, from :meth:`Decision.causes`."""
    states = require_column(table, "hours_per_week")["state"].nunique()
    axes = ax or new_axes(1.0 + ROW_IN * states)
    names = list(dict.fromkeys(table["scenario"]))[:MOST_MARKS]
    hours = table.pivot(index="state", columns="scenario", values="hours_per_week")[names]
    hours = hours[hours.max(axis="columns") >= 0.05].sort_values(names[0], ascending=False)
    rows = np.arange(len(hours))
    axes.barh(rows, hours[names[0]], color="#d5dbe1", height=0.66, label=names[0])
    for place, name in enumerate(names[1:]):
        axes.scatter(
            hours[name], rows, color=palette.LINES[place], marker=palette.MARKERS[place], s=38, zorder=3, label=name
        )
    bare_rows(axes, [palette.STATE_LABELS.get(str(state), str(state)) for state in hours.index])
    axes.set_xlabel("machine hours a week")
    axes.legend(frameon=False, loc="lower right")
    most = palette.STATE_LABELS.get(str(hours.index[0]), str(hours.index[0])) if len(hours) else "nothing"
    title = f"Beside cutting, the longest state of {names[0].lower()}: {most}"
    return told(axes, title, "", numbers=table)
