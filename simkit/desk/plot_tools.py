"""Exhibits about tools and about how parts leave the machine, each drawn from a table of the desk."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

import pandas as pd
from matplotlib.axes import Axes

from simkit.desk.axes import beside, new_axes, nothing_drawn, require_column, told_by
from simkit.experiment.intervals import Estimate
from simkit.report import palette
from simkit.report.figures.bars import draw_difference, draw_stacked
from simkit.report.figures.style import SMALL, bare_rows
from simkit.report.pictures import told
from simkit.report.words import number, percent

ROW_IN = 0.36
MOST_TOOLS = 15
SET_UP = {
    "exchanges": ("exchanges_h_per_week", palette.STATE_COLOURS["changeover"]),
    "fixed minutes per order": ("fixed_minutes_h_per_week", palette.MUTED),
    "first pieces": ("first_pieces_h_per_week", palette.STATE_COLOURS["first_piece"]),
}
CLOCKS = {
    "machine_min": ("machine today", palette.STATE_COLOURS["punching"], True),
    "person_min": ("person at the bench today", palette.LINES[1], True),
    "machine_with_removal_min": ("machine with removal", palette.LINES[5], False),
    "picker_min": ("picker", palette.LINES[3], False),
}
LOOK_AHEAD = {
    "the machine stands": ("visible_min_per_week", palette.EXCHANGE_COLOURS["magazine_exchange"]),
    "hidden behind cutting": ("hidden_min_per_week", palette.HIDDEN_COLOUR),
}


def freed(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Machine hours a week that each case frees, with 95 % intervals, grey where nothing can be told."""
    own = require_column(table, "freed_h_per_week").dropna(subset=["freed_h_per_week"])
    if own.empty:
        return nothing_drawn(table, ax)
    axes = ax or new_axes(1.3 + ROW_IN * len(own))
    rows = zip(own["freed_h_per_week"], own["freed_h_per_week_half_width"], strict=True)
    for place, (mean, half) in enumerate(rows):
        draw_difference(axes, place, Estimate(mean, half, 2), "higher")
    bare_rows(axes, list(map(str, own["scenario"])))
    axes.axvline(0, color=palette.INK, linewidth=1)
    axes.set_xlabel("machine hours freed a week (mean and 95 % interval; grey: cannot be told from nothing)")
    axes.margins(x=0.16)
    alt = _listed(own["scenario"], own["freed_h_per_week"], "h a week")
    return told(axes, str(table.attrs.get("picture", "")), alt)


def exchanges(table: pd.DataFrame, ax: Axes | None = None, most: int = MOST_TOOLS) -> Axes:
    """Minutes a week in which the machine stands for each tool, the most first, with their running share."""
    own = require_column(table, "standing_min_per_week").head(most)
    if own.empty:
        return nothing_drawn(table, ax)
    axes = ax or new_axes(1.1 + 0.28 * len(own))
    minutes, shares = own["standing_min_per_week"], own["standing_share"].cumsum()
    axes.barh(range(len(own)), minutes, color=palette.STATE_COLOURS["changeover"], height=0.66)
    for row, (each, share) in enumerate(zip(minutes, shares, strict=True)):
        text = f"{number(each, 0)} min; {percent(share)} so far"
        beside(axes, text, (each, row), 5, fontsize=SMALL, color=palette.MUTED)
    bare_rows(axes, list(map(str, own["tool"])))
    axes.margins(x=0.2)
    axes.set_xlim(left=0)
    left = len(table) - len(own)
    axes.set_xlabel(f"minutes a week in which the machine stands{f' ({left} more tools not drawn)' if left else ''}")
    return told_by(axes, table, _listed(own["tool"], own["standing_min_per_week"], "min a week"))


def sizes(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Machine hours a week that a smaller or larger magazine needs beyond all places on offer."""
    own = require_column(table, "more_h_per_week").fillna({"more_h_per_week": 0.0, "more_h_per_week_half_width": 0.0})
    if own.empty:
        return nothing_drawn(table, ax)
    axes = ax or new_axes(3.4)
    places = own["places"].astype(float)
    _line(axes, places, own["more_h_per_week"], own["more_h_per_week_half_width"])
    for place, more, by_hand, enough in zip(places, own["more_h_per_week"], own["by_hand_per_week"], own["enough"],
                                            strict=True):  # fmt: skip
        words = f"{number(by_hand, 0)} by hand" + ("\nenough" if enough else "")
        axes.annotate(words, (place, more), xytext=(6, 8), textcoords="offset points", fontsize=SMALL,
                      color=palette.INK if enough else palette.MUTED)  # fmt: skip
    axes.set_xticks(list(places))
    axes.set_xlabel("places of the magazine, all sizes together; at each point: exchanges by hand a week")
    axes.set_ylabel("hours a week more\nthan with all places")
    return told_by(
        axes, table, _listed((f"{place:g} places" for place in places), own["more_h_per_week"], "h a week more")
    )


def look_ahead(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Exchange minutes a week by family of programs: visible, and hidden behind cutting."""
    own = require_column(table, "hidden_min_per_week")
    names = [
        f"{family} ({percent(share)} laser)" for family, share in zip(own["family"], own["laser_share"], strict=True)
    ]
    return _stacked(own, names, LOOK_AHEAD, "exchange minutes a week, by family of programs", ax)


def set_up(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Hours a week of set-up in each case, by what takes them."""
    own = require_column(table, "fixed_minutes_h_per_week")
    return _stacked(own, list(own["scenario"]), SET_UP, "hours a week in which the machine stands for set-up", ax)


def clocks(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Mean minutes a sheet by family of programs: machine and person, today and with removal."""
    own = require_column(table, "person_min")
    if own.empty:
        return nothing_drawn(table, ax)
    axes = ax or new_axes(1.3 + ROW_IN * len(own))
    for place, (column, (label, colour, filled)) in enumerate(CLOCKS.items()):
        if column in own:
            axes.plot(own[column].where(own[column] > 0), range(len(own)), linestyle="none", label=label, markersize=7,
                      marker=palette.MARKERS[place], markeredgecolor=colour, markeredgewidth=1.5,
                      markerfacecolor=colour if filled else palette.PAPER)  # fmt: skip
    bare_rows(axes, ["all sheets" if name == "all" else str(name) for name in own["family"]])
    axes.set_xlim(left=0)
    axes.set_xlabel("mean minutes a sheet")
    axes.legend(loc="lower left", bbox_to_anchor=(0, 1.01), ncols=4, frameon=False, fontsize=SMALL, borderaxespad=0)
    shown = [column for column in CLOCKS if column in own]
    parts = (f"{CLOCKS[column][0]}: {_listed(own['family'], own[column], 'min')}" for column in shown)
    return told_by(axes, table, "; ".join(parts))


def picks(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Machine hours a week that removal frees over the time of a pick, simulated and by the closed form."""
    own = require_column(table, "pick_s")
    if own.empty:
        return nothing_drawn(table, ax)
    axes = ax or new_axes(3.4)
    _line(axes, own["pick_s"], own["freed_h_per_week"], own["freed_h_per_week_half_width"])
    axes.plot(own["pick_s"], own["closed_form_h_per_week"], color=palette.LINES[1], linestyle="--", linewidth=1.5)
    last = own.iloc[-1]
    for column, words, colour in (("freed_h_per_week", "simulated", palette.ACCENT),
                                  ("closed_form_h_per_week", "closed form", palette.LINES[1])):  # fmt: skip
        beside(axes, words, (float(last["pick_s"]), float(last[column])), 8, fontsize=SMALL, color=colour)
    axes.margins(x=0.14)
    axes.set_xticks(list(own["pick_s"]))
    axes.set_xlabel("seconds a pick")
    axes.set_ylabel("machine hours freed a week")
    return told_by(axes, table, _listed((f"{pick:g} s" for pick in own["pick_s"]), own["freed_h_per_week"], "h a week"))


def _stacked(
    table: pd.DataFrame, names: list[str], columns: Mapping[str, tuple[str, str]], label: str, ax: Axes | None
) -> Axes:
    if table.empty:
        return nothing_drawn(table, ax)
    axes = ax or new_axes(1.4 + ROW_IN * len(table))
    amounts = pd.DataFrame(
        {name: table[column].to_numpy(float) for name, (column, _) in columns.items()}, list(map(str, names))
    )
    draw_stacked(axes, amounts, {name: colour for name, (_, colour) in columns.items()}, label)
    parts = "; ".join(f"{name}: {_listed(names, amounts[name], '')}" for name in amounts)
    return told_by(axes, table, parts)


def _line(axes: Axes, places: pd.Series, means: pd.Series, halves: pd.Series) -> None:
    finite = [half if math.isfinite(half) else 0.0 for half in halves]
    axes.axhline(0, color=palette.INK, linewidth=1)
    axes.errorbar(places, means, yerr=finite, color=palette.ACCENT, ecolor=palette.INK, capsize=3, linewidth=1.7,
                  marker="o", markersize=5, markeredgecolor=palette.PAPER)  # fmt: skip
    axes.margins(0.08, 0.22)
    axes.grid(axis="y")


def _listed(names: Iterable[object], values: Iterable[float], unit: str) -> str:
    """Names with their values, for a description in words."""
    return ", ".join(f"{name} {number(float(value))} {unit}".strip() for name, value in zip(names, values, strict=True))
