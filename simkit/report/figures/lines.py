"""Lines: hours needed against demand, and cash over the years."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pandas as pd
from matplotlib.axes import Axes

from simkit.analysis.capacity import CANNOT_TELL, EVERY_LEVEL_FITS, NO_LEVEL_FITS, Capacity
from simkit.report.exhibits import Exhibit
from simkit.report.figures.style import canvas
from simkit.report.palette import ACCENT, INK, LINES, LOSS, MARKERS, MUTED, PAPER, RULE
from simkit.report.words import money, number, percent_plus_minus, plural, years

LINE_STYLES = ("-", "--", "-.", ":")


def hours_against_demand(hours: pd.DataFrame, *, capacity: Capacity, attended_h: float, per: str) -> Exhibit:
    """Draw hours needed against demand, one line a scenario, with the capacity as a horizontal line.

    ``hours`` has columns scenario, demand_factor, hours_h and fits (whether the plant's limit on late
    and refused orders holds and the backlog does not grow). ``capacity`` is the first scenario's simulated practical
    capacity; where the simulated levels do not bracket it, the line says so.
    """
    names = list(dict.fromkeys(hours["scenario"]))
    with canvas(3.9) as (figure, (axes,)):
        for place, name in enumerate(names):
            _draw_demand_line(axes, hours[hours["scenario"] == name].sort_values("demand_factor"), name, place)
        _draw_capacity(axes, capacity, attended_h)
        axes.set_xlabel("demand, as a factor of the order book")
        axes.set_ylabel(f"hours needed, h {per}")
        axes.set_ylim(bottom=0)
        axes.margins(x=0.06)
        axes.grid(axis="y")
        axes.legend(
            loc="lower left", bbox_to_anchor=(0, 1.01), ncols=3, frameon=False, fontsize=8,
            title="hollow mark: too many orders late or refused", title_fontsize=8, alignment="left",
        )  # fmt: skip
    return Exhibit(figure, _demand_title(hours, names[0], capacity), _alt_demand(hours, names))


def _draw_demand_line(axes: Axes, line: pd.DataFrame, name: str, place: int) -> None:
    colour = LINES[place % len(LINES)]
    marker = MARKERS[place % len(MARKERS)]
    style = LINE_STYLES[place % len(LINE_STYLES)]
    axes.plot(line["demand_factor"], line["hours_h"], color=colour, linestyle=style, linewidth=1.6, marker=marker,
              markersize=6, label=name)  # fmt: skip
    hollow = line[~line["fits"].astype(bool)]
    axes.plot(hollow["demand_factor"], hollow["hours_h"], linestyle="none", marker=marker, markersize=6,
              markerfacecolor=PAPER, markeredgecolor=colour, markeredgewidth=1.4, zorder=5)  # fmt: skip


def _draw_capacity(axes: Axes, capacity: Capacity, attended_h: float) -> None:
    axes.axhline(attended_h, color=MUTED, linewidth=1, linestyle=(0, (1, 2)))
    axes.axhline(capacity.hours, color=INK, linewidth=1.4)
    higher_attended = attended_h >= capacity.hours
    _name_line(axes, f"attended {number(attended_h)} h", attended_h, above=higher_attended, colour=MUTED)
    _name_line(axes, _capacity_words(capacity), capacity.hours, above=not higher_attended, colour=INK)


def _name_line(axes: Axes, text: str, height: float, *, above: bool, colour: str) -> None:
    axes.annotate(
        text, (0.99, height), xycoords=("axes fraction", "data"), ha="right", va="bottom" if above else "top",
        xytext=(0, 2 if above else -2), textcoords="offset points", fontsize=8, color=colour,
    )  # fmt: skip


def _capacity_words(capacity: Capacity) -> str:
    words = {EVERY_LEVEL_FITS: "at least ", NO_LEVEL_FITS: "below ", CANNOT_TELL: "cannot be told, in the mean "}
    word = words.get(capacity.state, "")
    return f"simulated practical capacity {word}{number(capacity.hours)} h"


def _demand_title(hours: pd.DataFrame, name: str, capacity: Capacity) -> str:
    own = hours[hours["scenario"] == name].sort_values("demand_factor")
    low, high = own.iloc[0], own.iloc[-1]
    if capacity.state == NO_LEVEL_FITS:
        return (
            f"{name} delivers late even at demand {low['demand_factor']:g}, where it needs {number(low['hours_h'])} h"
        )
    if capacity.state == EVERY_LEVEL_FITS:
        return f"{name} delivers as promised even at demand {high['demand_factor']:g}: {number(high['hours_h'])} h"
    if (level := capacity.decisive) is not None:
        late, grows = level.late, level.backlog
        return (
            f"The runs cannot tell up to what demand {name.lower()} delivers as promised: at "
            f"{level.demand_factor:g} {percent_plus_minus(late)} % of orders are late or refused, and the backlog "
            f"grows in {number(grows.mean * grows.n, 0)} of {plural(grows.n, 'run')}"
        )
    return (
        f"{name} delivers as promised up to demand {number(capacity.demand_factor, 2)}, its practical capacity of "
        f"{number(capacity.hours)} h"
    )


def _alt_demand(hours: pd.DataFrame, names: Sequence[str]) -> str:
    parts = []
    for name in names:
        line = hours[hours["scenario"] == name].sort_values("demand_factor")
        points = ", ".join(
            f"{number(h)} h at {f:g}{'' if fits else ' (limits not held)'}"
            for f, h, fits in zip(line["demand_factor"], line["hours_h"], line["fits"], strict=True)
        )
        parts.append(f"{name}: {points}")
    return "Lines of hours needed against demand. " + ". ".join(parts) + "."


def cumulative_cash(
    cash: pd.DataFrame,
    *,
    name: str,
    currency: str,
    simple_payback_years: float | None,
    discounted_payback_years: float | None,
) -> Exhibit:
    """Draw cumulative cash, simple and discounted, with each payback marked or the word never.

    ``cash`` has columns year, simple, discounted (cumulative money at each year's end).
    """
    last = cash.iloc[-1]
    with canvas(3.4) as (figure, (axes,)):
        axes.axhline(0, color=INK, linewidth=1)
        axes.plot(cash["year"], cash["simple"], color=ACCENT, marker="o", markersize=4, linewidth=1.8)
        axes.plot(cash["year"], cash["discounted"], color=LOSS, marker="s", markersize=4, linewidth=1.8, linestyle="--")
        _name_ends(axes, last)
        _mark_payback(axes, simple_payback_years, ACCENT, "simple", 16)
        _mark_payback(axes, discounted_payback_years, LOSS, "discounted", -24)
        axes.set_xlabel("year (0: payments before acceptance)")
        axes.set_ylabel(f"cumulative cash, {currency}")
        axes.yaxis.set_major_formatter(lambda value, _: number(value, 0))
        axes.set_xlim(-0.2, float(last["year"]) * 1.22 + 0.2)
        axes.set_xticks(cash["year"])
        axes.grid(axis="y", color=RULE)
    title = (
        f"{name}: simple payback {years(simple_payback_years)}, discounted {years(discounted_payback_years)}; "
        f"after {last['year']:g} years {money(last['discounted'], currency)} in today's money"
    )
    steps = [(float(row["year"]), float(row["simple"]), float(row["discounted"])) for _, row in cash.iterrows()]
    points = ", ".join(f"year {y:g} {number(s, 0)} and {number(d, 0)}" for y, s, d in steps)
    return Exhibit(figure, title, f"Lines of cumulative cash in {currency}, simple and discounted: {points}.")


def _name_ends(axes: Axes, last: pd.Series) -> None:
    for column, colour, shift in (("simple", ACCENT, 4), ("discounted", LOSS, -4)):
        axes.annotate(column, (last["year"], last[column]), xytext=(8, shift), textcoords="offset points",
                      color=colour, va="center", fontsize=8.5)  # fmt: skip


def _mark_payback(axes: Axes, payback_years: float | None, colour: str, word: str, shift: int) -> None:
    if payback_years is None or not math.isfinite(payback_years):
        return
    axes.plot([payback_years], [0], marker="D", markersize=8, color=PAPER, markeredgecolor=colour, markeredgewidth=1.8,
              zorder=6)  # fmt: skip
    axes.annotate(f"{word} {years(payback_years)}", (payback_years, 0), xytext=(6, shift), textcoords="offset points",
                  fontsize=8, color=colour)  # fmt: skip
