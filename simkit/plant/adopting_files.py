"""Exports as they lie there, files of text and sheets of workbooks, and their cells in the plant's notation."""

from __future__ import annotations

import datetime as dt
import io
import re
import zipfile
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

from simkit.base.gauges import gauge_mm
from simkit.base.messages import BadInput, Finding, nearest
from simkit.base.units import MM_PER_INCH
from simkit.plant.adopting_mapping import DATE_FORMS, TableMap
from simkit.plant.calibration_file import LOG_FILE
from simkit.plant.csv_files import csv_records
from simkit.plant.fields import InputColumn
from simkit.plant.values import NUMBER, Refusal, write_value

INCH_MARK = re.compile(r"\s*(?:\"|″|''|in\.?|inch(?:es)?)$", re.IGNORECASE)
MM_MARK = re.compile(r"\s*mm$", re.IGNORECASE)
FRACTION = re.compile(r"(?:(\d+)[ -])?(\d+)/(\d+)")
GAUGE = re.compile(r"(?:ga(?:uge)?\.?\s*)?(\d{1,2})(?:\s*ga(?:uge)?\.?)?", re.IGNORECASE)
INCHES = {"mm": MM_PER_INCH, "mm2": MM_PER_INCH**2}
"""Units of columns that may stand in inches in an export, and what one of it is in the plant's unit."""
WORDS = "words"
"""Sheet of the kit's own workbook that holds the closed words of all columns."""


class TypedCell(str):
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
    return ((line, tuple(record)) for line, record in csv_records(path.name, text, separator))


def _sheet_records(sheet: Any) -> Iterator[tuple[int, tuple[str, ...]]]:
    for line, row in enumerate(sheet.iter_rows(values_only=True), 1):
        cells = tuple(map(_cell_text, row))
        if any(map(str.strip, cells)):
            yield line, cells


def _cell_text(value: Any) -> str:
    """A cell of a workbook as text; real dates and times as ISO, whole numbers without a point."""
    if isinstance(value, dt.datetime):
        return TypedCell(value.date() if value.time() == dt.time() else value.isoformat(" ", "seconds"))
    return value if isinstance(value, str) else TypedCell(write_value(value))


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


# ---- one cell, by the mapping alone: nothing is guessed ----


@dataclass(frozen=True)
class CellReader:
    """How the cells of a column are read. ``other_order``: its dates that fit only the other order of day and month."""

    name: str
    spec: InputColumn
    how: TableMap
    other_order: tuple[str, ...] = ()
    words: Mapping[str, str] = field(default_factory=dict)

    def read(self, cell: str, family: str = "") -> str:
        """Return a cell, blanks removed, in the plant's notation; raises Refusal where the mapping does not settle
        it."""
        if cell in self.words:
            return self.words[cell]
        if not cell:
            return cell
        if self.name in self.how.gauges:
            return _gauge(cell, family)
        if isinstance(cell, TypedCell) and not (self.spec.unit in INCHES and self.how.lengths == "inch"):
            return cell
        if self.spec.kind in (float, int) and not self.spec.is_list:
            return self._number(cell)
        if self.spec.kind in (dt.date, dt.datetime):
            return self._date(cell)
        return self._list(cell) if self.spec.is_list and self.spec.kind in (float, int) else cell

    def _list(self, cell: str) -> str:
        return ";".join(self._number(item.strip()) for item in cell.split(";") if item.strip())

    def _number(self, cell: str) -> str:
        """A number by the mapping's marks; a length that carries its unit has to carry the mapped one."""
        factor = INCHES.get(self.spec.unit) if self.how.lengths == "inch" else None
        if self.spec.unit in INCHES and (INCH_MARK.search(cell) or FRACTION.fullmatch(cell)) and factor is None:
            why = "is a size in inches in a column of mm"
            raise Refusal(
                "inch", why, "Correct it at the source, or set lengths of the mapping if all of the table is in inches"
            )
        if factor is not None and MM_MARK.search(cell):
            raise Refusal("inch", "is in mm in a table that is mapped to inches", "Correct it at the source")
        if self.spec.unit in INCHES and not isinstance(cell, TypedCell):
            cell = (MM_MARK if factor is None else INCH_MARK).sub("", cell)
        found = FRACTION.fullmatch(cell)
        if factor is not None and found and int(found[3]):
            return write_value(float(int(found[1] or 0) + Fraction(int(found[2]), int(found[3]))) * factor)
        text = cell if isinstance(cell, TypedCell) else plain_number(cell, self.how)
        return write_value(round(float(text) * factor, 6)) if factor is not None and NUMBER.fullmatch(text) else text

    def _date(self, cell: str) -> str:
        day, _, time = cell.partition(" ") if " " in cell else cell.partition("T")
        stated, swapped = _day(day, self.how.dates), _day(day, _other_order(self.how.dates))
        first, last = self.how.period.get(self.name, (dt.date.min, dt.date.max))
        if stated is None and swapped is not None:
            why = f"is a date only as {_other_order(self.how.dates)}, {swapped}, in a column of {self.how.dates}"
            raise Refusal("order of day and month", why, "Correct it at the source")
        if stated is None:
            return cell
        if not first <= stated <= last:
            other = swapped is not None and swapped != stated and first <= swapped <= last
            why = f"is {stated} as {self.how.dates}, outside the period that the mapping gives"
            raise Refusal(
                "order of day and month" if other else "period",
                f"{why}; as {_other_order(self.how.dates)} it is {swapped}" if other else why,
                "Correct it at the source",
            )
        if self.other_order and swapped not in (None, stated) and first <= swapped <= last:
            why = (f"could be {stated} or {swapped}: {len(self.other_order)} other rows of this column fit only "
                   f"{_other_order(self.how.dates)}")  # fmt: skip
            raise Refusal(
                "ambiguous date", why, "Correct it at the source, or give the period of the column in the mapping"
            )
        if self.spec.kind is dt.date:
            return stated.isoformat() if time.strip(" 0:") == "" else f"{stated} {time}"
        return f"{stated} {time or '00:00'}"


def reader_of(name: str, spec: InputColumn, how: TableMap, cells: Iterable[str]) -> CellReader:
    """Return the reader of a column, which has seen all of its cells for dates in the other order of day and month."""
    other = _other_order(how.dates)
    odd: list[str] = []
    if spec.kind in (dt.date, dt.datetime) and other:
        first, last = how.period.get(name, (dt.date.min, dt.date.max))
        for cell in cells:
            day = "" if isinstance(cell, TypedCell) else cell.strip().split(" ")[0]
            stated, swapped = _day(day, how.dates), _day(day, other)
            inside = stated is not None and first <= stated <= last
            if swapped is not None and first <= swapped <= last and not inside:
                odd.append(day)
    return CellReader(name, spec, how, tuple(odd), how.words.get(name, {}))


def plain_number(cell: str, how: TableMap) -> str:
    """Return a number with a decimal point and nothing else; raises Refusal where its marks are not the mapped ones."""
    mark, thousands = re.escape(how.decimal), re.escape(how.thousands)
    if how.thousands and re.fullmatch(rf"[+-]?\d{{1,3}}({thousands}\d{{3}})+({mark}\d+)?", cell):
        cell = cell.replace(how.thousands, "")
    if how.decimal == "," and "." in cell:
        why = "has a point in a table of decimal commas"
        raise Refusal("decimal mark", why, "Correct it at the source, or set decimal or thousands in the mapping")
    if how.decimal == "." and "," in cell and any(sign.isdigit() for sign in cell):
        why = "has a comma in a table of decimal points; nothing was converted"
        raise Refusal("decimal mark", why, "Correct it at the source, or set decimal or thousands in the mapping")
    return cell.replace(",", ".")


def _gauge(cell: str, family: str) -> str:
    found = GAUGE.fullmatch(cell)
    if found is None:
        raise Refusal("gauge", "is no gauge number", "Write a whole number, as 16 or 16 ga")
    if not family:
        raise Refusal("gauge", "is a gauge number of a metal that the mapping does not name", "Name its family there")
    try:
        return write_value(round(gauge_mm(family, int(found[1])), 4))
    except ValueError as error:
        raise Refusal("gauge", f"has no thickness: {error}", "Correct it at the source") from error


def _day(text: str, form: str) -> dt.date | None:
    try:
        return dt.datetime.strptime(text, DATE_FORMS[form]).date() if form else None
    except ValueError:
        return None


def _other_order(form: str) -> str:
    """The form with day and month exchanged; empty where the year stands first."""
    swapped = form.replace("DD", "?").replace("MM", "DD").replace("?", "MM")
    return "" if form.startswith("YYYY") else swapped
