"""The one renderer of tables: a DataFrame with a title sentence and a note becomes HTML, by its columns' names.

``frame.attrs`` may hold ``title`` (a sentence), ``note``, ``folded``, ``links`` (addresses by name in the first column)
and ``listed``: two columns of words that read as a list of facts and need no heads. A column ``x`` with
``x_half_width`` beside it is drawn as one, with the digits that the interval allows; so is ``mean`` with
``half_width``, and ``unit`` goes behind it. Text stands left, numbers right; long tables are folded and lie beside the
page as CSV.
"""

from __future__ import annotations

import math
from dataclasses import replace
from numbers import Integral, Real
from typing import Any

import pandas as pd

from simkit.experiment.intervals import Estimate
from simkit.report.columns import ShownColumn, column_of
from simkit.report.exhibits import environment
from simkit.report.words import LEAST_YEARS, MINUS, capitalised, figures, number, plural, plus_minus

LONGEST = 12
"""Rows of a table that is shown; a longer one is folded."""
CSV_PLACE = "href-of-this-table"
"""Stands where the page puts the name of the CSV file beside it."""
HALF = "half_width"
NOTHING = "–"
UNSEEN = ("replications", "input", "item")
"""Columns that a reader needs once a page, not in each row, or whose words stand beside; the CSV keeps them."""


def frame_html(frame: pd.DataFrame, folded: bool | None = None) -> str:
    """Return the table as HTML, all text escaped; ``folded`` forces or forbids what its length decides."""
    shown = frame.reset_index() if _has_names(frame.index) else frame
    if isinstance(shown.columns, pd.MultiIndex):
        shown = shown.set_axis([" ".join(map(str, name)).strip() for name in shown.columns], axis="columns")
    heads, cells = _columns(shown)
    rows = [[column[place] for column in cells] for place in range(len(shown))]
    texts = [not _numeric(shown[name]) for name in heads]
    return environment().get_template("blocks/frame.html.j2").render(
        title=frame.attrs.get("title", ""),
        note=frame.attrs.get("note", ""),
        heads=[(_heading(shown, name), text) for name, text in zip(heads, texts, strict=True)],
        rows=[list(zip(row, texts, strict=True)) for row in rows],
        folded=frame.attrs.get("folded", len(rows) > LONGEST) if folded is None else folded,
        count=plural(len(rows), "row"),
        csv=CSV_PLACE,
        links=frame.attrs.get("links", {}),
        listed=frame.attrs.get("listed", False),
    )  # fmt: skip


def _has_names(index: pd.Index) -> bool:
    return not isinstance(index, pd.RangeIndex) and (
        index.nlevels > 1 or index.name is not None or index.dtype == object
    )


def _heading(shown: pd.DataFrame, name: Any) -> str:
    if name == "mean":
        measures = list(shown["measure"].unique()) if "measure" in shown else []
        return capitalised(column_of("measure").word(str(measures[0]))) if len(measures) == 1 else "Mean"
    return capitalised(column_of(str(name)).heading)


def _columns(shown: pd.DataFrame) -> tuple[list[Any], list[list[str]]]:
    """Names of the columns that are drawn, and their cells as text."""
    halves = {name: _half_of(name, shown.columns) for name in shown.columns}
    taken = {half for half in halves.values() if half} | {name for name in UNSEEN if name in shown}
    if halves.get("mean") and "unit" in shown:
        taken.add("unit")
    if "measure" in shown and shown["measure"].nunique() == 1 and "mean" in shown and len(shown) > 1:
        taken.add("measure")
    names = [name for name in shown.columns if name not in taken]
    return names, [_cells(shown, name, halves[name]) for name in names]


def _half_of(name: Any, columns: pd.Index) -> str:
    half = HALF if name == "mean" else f"{name}_{HALF}" if f"{name}_{HALF}" in columns else HALF
    fits = name in ("mean", "npv", "hours_per_week") or half != HALF
    return half if fits and half in columns and name != half else ""


def _cells(shown: pd.DataFrame, name: Any, half: str) -> list[str]:
    column = column_of(str(name))
    if not half:
        whole = column.digits is None and _whole(shown[name])
        return [cell_text(value, replace(column, digits=0) if whole else column) for value in shown[name]]
    signed = "sign" in shown or "against" in shown
    units = shown["unit"] if name == "mean" and "unit" in shown else [""] * len(shown)
    return [
        _with_interval(mean, width, unit, column, signed)
        for mean, width, unit in zip(shown[name], shown[half], units, strict=True)
    ]


def _with_interval(mean: float, width: float, unit: str, column: ShownColumn, signed: bool) -> str:
    if mean != mean:
        return NOTHING
    if unit == "1":  # a share
        unit, column = "%", ShownColumn(column.label, "%", factor=100.0)
    known = Estimate(mean * column.factor, abs(width * column.factor), 2 if width == width else 1, unit)
    text = plus_minus(known, difference=signed)
    if width != width or not width:  # nothing varies, or nobody knows how much
        text = text.partition(" ± ")[0].partition(" (")[0]
    return f"{text}\u00a0{unit}" if unit else text


def cell_text(value: Any, column: ShownColumn) -> str:
    """A value as a table shows it."""
    if value is None or value is pd.NaT or (isinstance(value, float) and math.isnan(value)):
        return NOTHING
    if isinstance(value, bool) or type(value).__name__ == "bool":
        return "yes" if value else "no"
    if isinstance(value, pd.Timestamp):
        return f"{value:%Y-%m-%d %H:%M}" if value.time() != pd.Timestamp(0).time() else f"{value:%Y-%m-%d}"
    if isinstance(value, Integral):
        return str(value) if column.label == "year" else number(int(value) * column.factor, 0)
    if isinstance(value, Real):
        number_ = float(value) * column.factor
        if math.isinf(number_):
            return "never" if column.unit == "years" else "∞" if number_ > 0 else f"{MINUS}∞"
        if column.unit == "years" and number_ < LEAST_YEARS:
            return f"under {number(LEAST_YEARS, 1)}" if number_ > 0 else "at once"
        return number(figures(number_, column.figures), column.digits)
    return column.word(str(value))


def _whole(values: pd.Series) -> bool:
    """Whether a column of decimal numbers holds counts only."""
    known = values.dropna()
    return values.dtype.kind == "f" and len(known) > 0 and bool((known % 1 == 0).all())


def _numeric(values: pd.Series) -> bool:
    return pd.api.types.is_numeric_dtype(values) and not pd.api.types.is_bool_dtype(values)
