"""Sheets become a file: formats, widths, validation, panes and print setup."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import xlsxwriter
from xlsxwriter.format import Format
from xlsxwriter.utility import xl_range_abs
from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from simkit.report.workbook.sheets import FormulaSheet, LiveWorkbook, SheetCell

INK, GREY, BLUE, PAPER, BAND = "#1A1A1A", "#595959", "#0B3D91", "#FFF8DC", "#E8EDF2"
MONEY = "#,##0;-#,##0;\u2013"
LINE_HEIGHT, TITLE_HEIGHT = 12.5, 19
CHARACTERS = 1.2
"""Characters of the font that fit into a unit of column width."""

NUMBERS = {
    "number": "#,##0.##;-#,##0.##;0",
    "money": MONEY,
    "price": "#,##0.00##",
    "factor": "0.0000",
    "percent": "0.0 %",
    "whole": "0",
    "flag": "0",
    "years": "0.00",
    "small": "0.0E+00;-0.0E+00;0",
    "words": "General",
}
TEXTS: dict[str, dict[str, Any]] = {
    "text": {},
    "title": {"bold": True, "font_size": 14},
    "note": {"font_color": GREY, "italic": True},
    "unit": {"font_color": GREY},
    "section": {"bold": True, "font_color": BLUE, "top": 1, "top_color": BLUE},
    "head": {"bold": True, "bg_color": BAND, "bottom": 1, "text_wrap": True},
    "head_right": {"bold": True, "bg_color": BAND, "bottom": 1, "text_wrap": True, "align": "right"},
    "wrapped": {"text_wrap": True},
    "total_text": {"bold": True, "top": 1},
    "check": {"align": "center", "bold": True, "num_format": "0"},
}
PLAIN = {"font_name": "Arial", "font_size": 9, "valign": "top"}
STYLES: dict[str, dict[str, Any]] = {
    "input": {"font_color": BLUE, "bg_color": PAPER, "border": 4, "border_color": "#BFBFBF", "locked": False},
    "static": {"font_color": GREY, "italic": True},
    "total": {"bold": True, "top": 1},
}
CREATED = dt.datetime(2000, 1, 1)
"""A fixed date of creation, so that the same study gives the same bytes."""


class PlainSheet(Worksheet):  # type: ignore[misc]
    """A page whose formulas stand in the file as they are written: none needs the prefix that newer functions have."""

    def _prepare_formula(self, formula: str, expand_future_functions: bool = False) -> str:
        return formula.removeprefix("=")


def look_of(name: str) -> dict[str, Any]:
    """Properties of a format by its name: a kind of number, alone or as input, static or total."""
    if name in TEXTS:
        return TEXTS[name]
    style, _, number = name.rpartition("_")
    align = {"words": "left", "flag": "center"}.get(number, "right")
    return {**STYLES.get(style, {}), "num_format": NUMBERS[number], "align": align}


def write(book: LiveWorkbook, order: Sequence[str], path: Path, title: str) -> None:
    """Write the sheets in order; the same book gives the same bytes."""
    plain = dict.fromkeys(("strings_to_numbers", "strings_to_formulas", "strings_to_urls"), False)
    with xlsxwriter.Workbook(str(path), plain) as target:
        target.set_properties({"title": title, "created": CREATED})
        target.set_calc_mode("auto")
        formats: dict[str, Format] = {}
        for name in order:
            _write_sheet(target, target.add_worksheet(name, PlainSheet), book.sheets[name], formats)
        for place in {place.alias: place for place in book.names.values() if place.alias}.values():
            cells = xl_range_abs(place.row, place.column, place.last_row, place.last_column)
            target.define_name(place.alias, f"='{place.sheet}'!{cells}")


def _write_sheet(target: Workbook, page: Worksheet, sheet: FormulaSheet, formats: dict[str, Format]) -> None:
    for column, width in sheet.widths.items():
        page.set_column(column, column, width)
    for (row, column), cell in sorted(sheet.cells.items()):
        if cell.look not in formats:
            formats[cell.look] = target.add_format({**PLAIN, **look_of(cell.look)})
        _write_cell(page, row, column, cell, formats[cell.look])
    page.set_row(0, TITLE_HEIGHT)
    for row, lines in _wrapped_rows(sheet).items():
        page.set_row(row, LINE_HEIGHT * lines)
    for row, column, rule in sheet.rules:
        page.data_validation(row, column, row, column, dict(rule))
    if sheet.freeze != (0, 0):
        page.freeze_panes(*sheet.freeze)
    red = target.add_format({"bg_color": "#F4C7C3", "font_color": "#7A1F1A", "bold": True})
    for (row, column), cell in sheet.cells.items():
        if cell.look == "check":
            page.conditional_format(row, column, row, column,
                                    {"type": "cell", "criteria": "==", "value": 0, "format": red})  # fmt: skip
    _print_setup(page, sheet)


def _wrapped_rows(sheet: FormulaSheet) -> dict[int, int]:
    """Rows whose text wraps, with the lines they need."""
    found: dict[int, int] = {}
    for (row, column), cell in sheet.cells.items():
        if cell.look in ("wrapped", "head", "head_right") and isinstance(cell.value, str) and cell.value:
            room = sheet.widths.get(column, 9.0) * CHARACTERS
            found[row] = max(found.get(row, 1), math.ceil(len(cell.value) / room))
    return {row: lines for row, lines in found.items() if lines > 1}


def _print_setup(page: Worksheet, sheet: FormulaSheet) -> None:
    """A4 landscape, as wide as the page; of a live model the statement on two pages, without its workings."""
    last_row = (sheet.end or max(row for row, _ in sheet.cells) + 1) - 1
    last_column = max(column for row, column in sheet.cells if row <= last_row)
    page.set_landscape()
    page.set_paper(9)
    page.fit_to_pages(1, 2 if sheet.end else 0)
    page.set_margins(0.4, 0.4, 0.4, 0.5)
    page.print_area(0, 0, last_row, last_column)
    page.hide_gridlines(2)
    if sheet.freeze[0]:
        page.repeat_rows(sheet.freeze[0] - 1, sheet.freeze[0] - 1)
    page.set_footer("&L&A&CPlanning aid: no tax or investment advice&RPage &P of &N")


def _write_cell(page: Worksheet, row: int, column: int, cell: SheetCell, look: Format) -> None:
    value = cell.value if isinstance(cell.value, str) else float(cell.value)
    if cell.formula:
        page.write_formula(row, column, "=" + cell.formula, look, value)
    else:
        page.write(row, column, value, look)
