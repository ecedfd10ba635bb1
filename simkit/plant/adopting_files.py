"""Exports as they lie there: files of text and sheets of workbooks, as heads and rows of text."""

from __future__ import annotations

import csv
import datetime as dt
import io
import zipfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from simkit.base.messages import BadInput, Finding, nearest
from simkit.plant.adopting_mapping import TableMap
from simkit.plant.calibration_file import LOG_FILE
from simkit.plant.values import write_value

WORDS = "words"
"""Sheet of the kit's own workbook that holds the closed words of all columns."""


class Sure(str):
    """A cell of a workbook that is a number or a date there, not a text: nothing about it has to be asked."""

    __slots__ = ()


@dataclass(frozen=True)
class Export:
    """One export: heads, and every line that holds anything with its number as an editor shows it."""

    name: str
    heads: tuple[str, ...]
    lines: tuple[int, ...]
    rows: tuple[tuple[str, ...], ...]


Places = dict[tuple[str, str], Any]
"""What lies at (file, sheet): the path of a text, whose sheet is empty, or the sheet of an open workbook."""


def places(exports: Path) -> Places:
    """Return every export of a folder, or of one file.

    Sheets named as a file, as plant.toml, hold lines of its text and are no tables.
    """
    if not exports.exists():
        raise BadInput([Finding(str(exports), "does not exist", "Name a folder of exports, or one workbook")])
    files = sorted(exports.iterdir()) if exports.is_dir() else [exports]
    found: Places = {}
    for path in files:
        if path.name == LOG_FILE:  # it travels as it is
            continue
        if path.suffix.lower() == ".csv" and path.is_file():
            found[path.name, ""] = path
        elif path.suffix.lower() == ".xlsx" and not path.name.startswith("~$"):
            sheets = (sheet for sheet in _workbook(path) if sheet.title != WORDS and "." not in sheet.title)
            found |= {(path.name, sheet.title): sheet for sheet in sheets}
    if not found:
        raise BadInput([Finding(str(exports), "holds no export", "Put CSV or XLSX files there")])
    return found


def read_export(found: Places, one: TableMap) -> Export:
    """Return the export that a mapping names; raises BadInput where there is none or it cannot be read."""
    sheets = [sheet for file, sheet in found if file == one.file]
    sheet = one.sheet or (sheets[0] if len(sheets) == 1 else "")
    if (one.file, sheet) not in found:
        why = "has several sheets" if len(sheets) > 1 and not one.sheet else "is not among the exports"
        names = sheets if sheets else [file for file, _ in found]
        mend = f"Correct the mapping; {nearest(sheet or one.file, names)}"
        raise BadInput([Finding(f"{one.file} {one.sheet}".strip(), why, mend)])
    export = found[one.file, sheet]
    name = f"{one.file} {sheet}".strip()
    records = list(_sheet_records(export) if sheet else _text_records(export, one.separator, one.encoding))
    if not records:
        raise BadInput([Finding(name, "is empty", "Export it again, with a line of heads")])
    (_, heads), *body = records
    heads = tuple(head.strip() for head in heads)
    while heads and not heads[-1]:
        heads = heads[:-1]
    twice = sorted({head for head in heads if heads.count(head) > 1})
    if twice:
        raise BadInput(
            [Finding(name, "stands twice in the heads", "Keep one of them", 1, value=head) for head in twice]
        )
    return Export(name, heads, tuple(line for line, _ in body), tuple(_fit(row, len(heads)) for _, row in body))


def _fit(row: tuple[str, ...], width: int) -> tuple[str, ...]:
    """A row as wide as the heads; filled cells beyond them stay, to be refused."""
    while len(row) > width and not row[-1].strip():
        row = row[:-1]
    return (*row, *[""] * (width - len(row)))


def _text_records(path: Path, separator: str, encoding: str) -> Iterator[tuple[int, tuple[str, ...]]]:
    try:
        text = path.read_bytes().decode(encoding)
    except (UnicodeDecodeError, LookupError) as error:
        why = f"is not text in the encoding {encoding}"
        mend = "Set encoding in the mapping, as cp1252 for older spreadsheet programs"
        raise BadInput([Finding(path.name, why, mend)]) from error
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    line = 1
    try:
        for record in reader:
            if any(map(str.strip, record)):
                yield line, tuple(record)
            line = reader.line_num + 1
    except csv.Error as error:
        why = f"has quotation marks that do not pair, or a strange sign ({error})"
        raise BadInput([Finding(path.name, why, "Close or double the quotation marks", row=line)]) from error


def _sheet_records(sheet: Any) -> Iterator[tuple[int, tuple[str, ...]]]:
    for line, row in enumerate(sheet.iter_rows(values_only=True), 1):
        cells = tuple(map(_cell_text, row))
        if any(map(str.strip, cells)):
            yield line, cells


def _cell_text(value: Any) -> str:
    """A cell of a workbook as text; real dates and times as ISO, whole numbers without a point."""
    if isinstance(value, dt.datetime):
        return Sure(value.date() if value.time() == dt.time() else value.isoformat(" ", "seconds"))
    return value if isinstance(value, str) else Sure(write_value(value))


def _workbook(path: Path) -> Any:
    from openpyxl import load_workbook

    try:
        return load_workbook(io.BytesIO(path.read_bytes()), read_only=True, data_only=True)
    except (zipfile.BadZipFile, KeyError, OSError, ValueError) as error:
        raise BadInput([Finding(path.name, "is no workbook that can be read", "Save it again as XLSX")]) from error


def native(found: Iterable[tuple[str, str]], table: str) -> TableMap | None:
    """How a table is read that stands under the plant's own name, as a file or as a sheet; None if there is none."""
    for file, sheet in found:
        if (sheet or file.removesuffix(".csv")) == table:
            return TableMap(file=file, sheet=sheet)
    return None


def text_of(exports: Path, name: str) -> str | None:
    """Return a text beside the tables, as plant.toml: a file of the folder, or a sheet that holds its lines."""
    if exports.is_dir():
        path = exports / name
        return path.read_text(encoding="utf-8-sig") if path.is_file() else None
    book = _workbook(exports) if exports.suffix.lower() == ".xlsx" else {}
    if name not in book:
        return None
    rows = book[name].iter_rows(max_col=1, values_only=True)
    return "".join(f"{'' if line is None else line}\n" for (line,) in rows)
