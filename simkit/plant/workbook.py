"""A plant folder as one workbook: the same tables and columns, notes on the heads, closed words as lists to pick from.

It comes back with ``simkit adopt FILE --into DIR``. Settings, options and value files stand as the lines of their text.
"""

from __future__ import annotations

import datetime as dt
import io
from pathlib import Path
from typing import Any

from simkit.base.files import write_whole
from simkit.base.messages import BadInput, Finding, refuse_to_replace
from simkit.plant.adopting_files import WORDS
from simkit.plant.fields import InputColumn, columns_of, key_columns
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import TABLES, place_of
from simkit.plant.values import what, write_value

ROWS_TO_FILL = 5000
"""Rows below the heads in which only the closed words can be picked."""
LONGEST_SHEET_NAME = 31
FIXED = dt.datetime(2026, 1, 1)
"""Date of every workbook, so that equal plants give equal files."""


def write_workbook(folder: Path, plant: PlantInputs, path: Path) -> None:
    """Write a plant, which was read from ``folder``, as one workbook; raises BadInput if the file is there already."""
    from xlsxwriter import Workbook

    refuse_to_replace(path)
    content = io.BytesIO()
    with Workbook(content, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}) as book:
        book.set_properties({"created": FIXED, "title": plant.settings.name})
        forms = {
            "head": book.add_format({"bold": True, "bottom": 1}),
            dt.date: book.add_format({"num_format": "yyyy-mm-dd"}),
            dt.datetime: book.add_format({"num_format": "yyyy-mm-dd hh:mm:ss"}),
        }  # fmt: skip
        for table, row_type in TABLES.items():
            _write_table(book.add_worksheet(table), row_type, getattr(plant, table), forms)
        _write_words(book)
        for name in _texts(folder, plant):
            _write_text(book.add_worksheet(name), (folder / name).read_text(encoding="utf-8-sig"))
    write_whole(path, content.getvalue())


def _texts(folder: Path, plant: PlantInputs) -> list[str]:
    """Settings, options and value files; raises BadInput for a name that no sheet may have."""
    files = {row.file for row in plant.elements} | {row.file for row in plant.stops}
    names = [name for name in ("plant.toml", "options.toml", *sorted(files - {""})) if (folder / name).is_file()]
    long = [name for name in names if len(name) > LONGEST_SHEET_NAME or set(name) & set("[]:*?/\\")]
    if long:
        mend = f"Rename it, at most {LONGEST_SHEET_NAME} letters without brackets"
        raise BadInput([Finding(name, "cannot be the name of a sheet", mend) for name in long])
    return names


def _write_table(sheet: Any, row_type: type, rows: tuple[Any, ...], forms: dict[Any, Any]) -> None:
    columns = columns_of(row_type)
    sheet.freeze_panes(1, 1)
    for at, (name, spec) in enumerate(columns.items()):
        sheet.write_string(0, at, name, forms["head"])
        sheet.write_comment(0, at, what(spec), {"x_scale": 2})
        sheet.set_column(at, at, max(10, len(name) + 2))
        if source := _picked_from(row_type, name, spec):
            error = {"error_title": "Not one of the words", "error_message": "Pick one from the list of this cell."}
            rule = {"validate": "list", "source": source, **error}
            sheet.data_validation(1, at, max(ROWS_TO_FILL, len(rows)), at, rule)
    for line, row in enumerate(rows, 1):
        for at, value in enumerate(vars(row).values()):
            _write_cell(sheet, line, at, value, forms)


def _write_cell(sheet: Any, line: int, at: int, value: Any, forms: dict[Any, Any]) -> None:
    """Numbers and dates as such, all else as text that no program works out."""
    if value is None or value in ("", ()):
        return
    if type(value) in (dt.date, dt.datetime):
        sheet.write_datetime(line, at, value, forms[type(value)])
    elif isinstance(value, float | int) and not isinstance(value, bool):
        sheet.write_number(line, at, value)
    else:
        sheet.write_string(line, at, write_value(value))


def _picked_from(row_type: type, name: str, spec: InputColumn) -> str:
    """Where the words of a column stand: the keys of another table, or its column on the sheet of words."""
    from xlsxwriter.utility import xl_range_abs

    if spec.refers_to:
        at = list(columns_of(TABLES[spec.refers_to])).index(key_columns(TABLES[spec.refers_to])[0])
        return f"={spec.refers_to}!{xl_range_abs(1, at, ROWS_TO_FILL, at)}"
    if not _words(spec):
        return ""
    column = _word_columns().index((row_type, name))
    return f"={WORDS}!{xl_range_abs(1, column, len(_words(spec)), column)}"


def _words(spec: InputColumn) -> tuple[str, ...]:
    if spec.is_list:
        return ()
    return ("true", "false") if spec.kind is bool else spec.choices


def _word_columns() -> list[tuple[type, str]]:
    """Every column of closed words, in the order of the sheet of words."""
    return [
        (row_type, name) for row_type in TABLES.values() for name, spec in columns_of(row_type).items() if _words(spec)
    ]


def _write_words(book: Any) -> None:
    sheet = book.add_worksheet(WORDS)
    place = {row_type: place_of(table) for table, row_type in TABLES.items()}
    for at, (row_type, name) in enumerate(_word_columns()):
        sheet.write_column(0, at, [f"{place[row_type]} {name}", *_words(columns_of(row_type)[name])])
    sheet.protect()


def _write_text(sheet: Any, text: str) -> None:
    sheet.set_column(0, 0, 120)
    for line, content in enumerate(text.removesuffix("\n").split("\n")):
        if content:
            sheet.write_string(line, 0, content)
