"""Unattended nights and lateness."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from simkit.report.exhibits import Exhibit
from simkit.report.figures.style import bare_rows, canvas
from simkit.report.palette import ACCENT, INK, LOSS, PAPER, WITHIN
from simkit.report.words import number, percent, plural

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
