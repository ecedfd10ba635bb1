"""Sheets become a file: formats, column widths, validation, panes and print setup."""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path
from typing import Any

import numpy as np
import xlsxwriter
from xlsxwriter.format import Format
from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from simkit.report.workbook.book import CHECKS, Book
from simkit.report.workbook.grid import Sheet

INK, GREY, BLUE, PAPER, BAND = "#1A1A1A", "#595959", "#0B3D91", "#FFF8DC", "#E8EDF2"
MONEY = "#,##0;-#,##0;0"
TRUTH = '"TRUE";"TRUE";"FALSE"'
"""Some programs show a truth value as 1 or 0 without it."""

LINE_HEIGHT = 12.5
CHARACTERS = 1.1
"""Characters of the font that fit into a unit of column width."""

NUMBERS = {
    "number": "#,##0.###;-#,##0.###;0",
    "number2": "#,##0.00;-#,##0.00;0.00",
    "money": MONEY,
    "price": "#,##0.00",
    "factor": "0.0000",
    "percent": "0.0 %",
    "percent2": "0.00 %",
    "year": "0",
    "years": "0.00",
    "years0": "0.00;-0.00;0",
    "small": "0.0E+00",
}
TEXTS: dict[str, dict[str, Any]] = {
    "text": {},
    "words": {"align": "left", "indent": 1},
    "title": {"bold": True, "font_size": 14},
    "note": {"font_color": GREY, "italic": True, "indent": 1},
    "unit": {"font_color": GREY},
    "section": {"bold": True, "font_color": BLUE, "top": 1, "top_color": BLUE},
    "head": {"bold": True, "bg_color": BAND, "bottom": 1, "text_wrap": True, "valign": "top"},
    "wrapped": {"text_wrap": True, "valign": "top"},
    "total_text": {"bold": True, "valign": "top"},
    "check": {"align": "center", "bold": True, "num_format": TRUTH},
    "input_text": {"font_color": BLUE, "bg_color": PAPER, "border": 4, "border_color": "#BFBFBF"},
}
INPUT = {"font_color": BLUE, "bg_color": PAPER, "border": 4, "border_color": "#BFBFBF"}
PASTED = {"font_color": GREY, "italic": True}
TOTAL = {"bold": True, "top": 1}
CREATED = dt.datetime(2000, 1, 1)
"""A fixed date of creation, so that the same study gives the same bytes."""


class PlainSheet(Worksheet):  # type: ignore[misc]
    """A page whose formulas stand in the file as they are written.

    The library looks in every formula for some fifty functions that a file must name with a prefix. This book uses
    none of them (:mod:`simkit.report.workbook.expr` holds all it uses), and the search took half of the writing.
    """

    def _prepare_formula(self, formula: str, expand_future_functions: bool = False) -> str:
        return formula.removeprefix("=")


def look_of(name: str) -> dict[str, Any]:
    """Properties of a format by its name: a kind of number, alone or as input, pasted, as built or total."""
    if name in TEXTS:
        return TEXTS[name]
    for prefix, style in (("input_", INPUT), ("pasted_", PASTED), ("built_", PASTED), ("total_", TOTAL)):
        if name.startswith(prefix):
            return {**style, "num_format": NUMBERS[name.removeprefix(prefix)]}
    plain = {
        "pasted": {**PASTED, "num_format": NUMBERS["number2"]},
        "total": {**TOTAL, "num_format": MONEY},
        "subtotal": {"top": 1, "num_format": MONEY},
    }
    return plain[name] if name in plain else {"num_format": NUMBERS[name]}


def write(book: Book, order: list[str], path: Path) -> None:
    """Write the sheets in order."""
    with xlsxwriter.Workbook(str(path), {"strings_to_numbers": False, "strings_to_formulas": False}) as target:
        title = f"{book.cash.study.plant.settings.name}: cash flow of options"
        target.set_properties({"title": title, "comments": f"run {book.run_id}", "created": CREATED})
        target.set_calc_mode("auto")
        formats: dict[str, Format] = {}
        for name in order:
            _write_sheet(target, target.add_worksheet(name, PlainSheet), book.sheets[name], formats)


def _write_sheet(target: Workbook, page: Worksheet, sheet: Sheet, formats: dict[str, Format]) -> None:
    for column, width in sheet.widths.items():
        page.set_column(column, column, width)
    for (row, column), (value, formula, look) in sorted(sheet.cells.items()):
        if look not in formats:
            formats[look] = target.add_format({"font_name": "Arial", "font_size": 9, **look_of(look)})
        _write_cell(page, row, column, value, formula, formats[look])
    for row, lines in _wrapped_rows(sheet).items():
        page.set_row(row, LINE_HEIGHT * lines)
    for row, column, rule in sheet.lists:
        page.data_validation(row, column, row, column, rule)
    if sheet.freeze != (0, 0):
        page.freeze_panes(*sheet.freeze)
    if sheet.name == CHECKS:
        red = target.add_format({"bg_color": "#F4C7C3", "font_color": "#7A1F1A", "bold": True})
        page.conditional_format(
            0, 1, sheet.next_row, 1, {"type": "cell", "criteria": "==", "value": "FALSE", "format": red}
        )
    _print_setup(page, sheet)


def _wrapped_rows(sheet: Sheet) -> dict[int, int]:
    """Rows whose text wraps, with the lines they need."""
    found: dict[int, int] = {}
    for (row, column), (content, formula, look) in sheet.cells.items():
        if look in ("wrapped", "head") and isinstance(content, str) and not formula:
            room = sheet.widths.get(column, 9.0) * CHARACTERS
            lines = max(1, math.ceil(len(content) / room)) if content else 1
            found[row] = max(found.get(row, 1), lines)
    return {row: lines for row, lines in found.items() if lines > 1}


def _print_setup(page: Worksheet, sheet: Sheet) -> None:
    last_row = max(row for row, _ in sheet.cells)
    last_column = max(column for _, column in sheet.cells)
    page.set_landscape()
    page.set_paper(9)
    page.fit_to_pages(1, 0)
    page.set_margins(0.4, 0.4, 0.6, 0.6)
    page.print_area(0, 0, last_row, last_column)
    page.hide_gridlines(2)
    if sheet.freeze[0]:
        page.repeat_rows(0, sheet.freeze[0] - 1)
    page.set_footer("&L&A&CPlanning aid: no tax or investment advice&RPage &P of &N")


def _write_cell(page: Worksheet, row: int, column: int, value: Any, formula: str, look: Format) -> None:
    if formula:
        page.write_formula(row, column, "=" + formula, look, _cached(value))
    elif not isinstance(value, str):
        page.write_number(row, column, value, look)
    elif value:
        page.write_string(row, column, value, look)
    else:
        page.write_blank(row, column, None, look)


def _cached(value: Any) -> Any:
    """The value a program shows before it calculates."""
    if isinstance(value, bool | np.bool_):
        return bool(value)
    return value if isinstance(value, str) else float(value)
