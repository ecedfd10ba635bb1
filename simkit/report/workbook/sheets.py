"""Sheets under construction: cells with their values and formulas, and the names by which formulas find them."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from xlsxwriter.utility import xl_cell_to_rowcol, xl_rowcol_to_cell

from simkit.base.files import no_formula
from simkit.report.workbook.formula import TOKEN, CellRange, compiled, evaluate, reference

LABEL, UNIT, VALUE, PRESENT, OPENING, FIRST_YEAR = range(6)
"""Columns of a sheet with years; the opening column stays empty, so that year 0 has a year before it."""

ALLOWED = re.compile(r"^(?:0|1|0\.5)$")
_NAMES = re.compile(r'"[^"]*"|\[[^\]]*\]')
"""What in a template is no number, whatever digits it holds: texts and names."""
_LITERAL = re.compile(r"(?<![\w$.\"!])\d+(?:\.\d+)?(?![\w.\"!])")


def filled(template: str, **values: str) -> str:
    """A template with ``{key}`` replaced by the value of each key; references to columns stay."""
    for key, value in values.items():
        template = template.replace(f"{{{key}}}", value)
    return template


@dataclass(frozen=True)
class SheetCell:
    """Content of a cell: what it shows, its formula or nothing, and the name of its format."""

    value: Any
    formula: str
    look: str


@dataclass
class FormulaSheet:
    """One sheet; ``suffix`` tells names of one part of the year from those of another."""

    book: LiveWorkbook
    name: str
    years: int
    cells: dict[tuple[int, int], SheetCell] = field(default_factory=dict)
    names: dict[str, CellRange] = field(default_factory=dict)
    widths: dict[int, float] = field(default_factory=dict)
    rules: list[tuple[int, int, dict[str, Any]]] = field(default_factory=list)
    end: int = 0
    """Where what is printed ends and workings begin; 0: all is printed."""
    freeze: tuple[int, int] = (0, 0)
    row: int = 0
    suffix: str = ""

    @property
    def last_year(self) -> int:
        """Column of the last year."""
        return FIRST_YEAR + self.years

    def put(self, row: int, column: int, content: Any, look: str = "text") -> None:
        """Fill a cell; a text that begins with ``=`` is a formula of ours, see :meth:`data` for a plant's text."""
        if isinstance(content, str) and content.startswith("="):
            text, value = self._formula(content[1:], row, column)
            self._store(row, column, SheetCell(value, text, look))
        else:
            self._store(row, column, SheetCell(content, "", look))

    def data(self, row: int, column: int, content: Any, look: str = "text") -> None:
        """Fill a cell with what a plant gave: never a formula, whatever it begins with."""
        self._store(row, column, SheetCell(no_formula(content) if isinstance(content, str) else content, "", look))

    def _store(self, row: int, column: int, cell: SheetCell) -> None:
        where = f"{self.name}!{xl_rowcol_to_cell(row, column)}"
        if isinstance(cell.value, float) and not math.isfinite(cell.value):
            raise ValueError(f"{where} would show an error: {cell.formula}")
        if (row, column) in self.cells:
            raise ValueError(f"{where} is written twice")
        self.cells[row, column] = cell
        self.row = max(self.row, row + 1)

    def area(self, row: int, column: int, last_row: int | None = None, last_column: int | None = None) -> CellRange:
        """Cells of this sheet; by default one alone."""
        return CellRange(self.name, row, column, row if last_row is None else last_row,
                     column if last_column is None else last_column)  # fmt: skip

    def years_of(self, row: int, last_row: int | None = None) -> CellRange:
        """The years of some rows, by default of one: what reads them in a year means that year's column."""
        return replace(self.area(row, FIRST_YEAR, last_row, self.last_year), yearly=True)

    def line(self, label: str, unit: str, template: str, look: str, name: str, *, total: bool = False) -> None:
        """A row over the years, one formula copied across; ``total`` adds its sum and its present value."""
        at = self.row
        self.data(at, LABEL, label, "text" if not look.startswith("total") else "total_text")
        self.data(at, UNIT, unit, "unit")
        self.names[name + self.suffix] = self.years_of(at)  # first, for a row may read its own year before
        for year in range(self.years + 1):
            self.put(at, FIRST_YEAR + year, f"={template}", look)
        if total:
            self.names["own row"] = self.years_of(at)
            self.put(at, VALUE, "=SUM([own row:])", look)
            self.put(at, PRESENT, "=SUMPRODUCT([own row:],[discount:])", look)

    def scalar(self, label: str, unit: str, template: str, look: str, name: str) -> None:
        """A single value in the column of values."""
        at = self.row
        self.data(at, LABEL, label)
        self.data(at, UNIT, unit, "unit")
        self.put(at, VALUE, f"={template}", look)
        self.names[name + self.suffix] = self.area(at, VALUE)

    def rows(self, table: str, **fill: str) -> None:
        """Rows of a table in text: ``kind name | unit | format | label | formula``, lines indented are continued.

        Kinds: ``#`` a heading (title | note), ``1`` one value, ``y`` a row over the years, ``s`` one with its sums.
        ``{key}`` is replaced by what ``fill`` gives for it.
        """
        table = filled(table, **{key: value.replace("|", "/") for key, value in fill.items()})
        for text in re.sub(r"\n +", "", table.strip()).splitlines():
            kind, rest = text[0], re.split(r" *\| *", text[1:])
            if kind == "#":
                self.heading(*rest)
                continue
            name, unit, look, label, formula = rest
            if kind == "1":
                self.scalar(label, unit, formula, look, name)
            else:
                self.line(label, unit, formula, look, name, total=kind == "s")

    def heading(self, title: str, note: str = "") -> None:
        """A heading after an empty row."""
        at = self.row + 1
        self.data(at, LABEL, title, "section")
        if note:
            self.put(at, UNIT, note, "note")

    def header(self, row: int, *titles: str, numbers: Sequence[int] = ()) -> None:
        """Titles of columns; those of ``numbers`` stand to the right."""
        for column, title in enumerate(titles):
            if title:
                self.put(row, column, title, "head_right" if column in numbers else "head")

    def year_header(self, row: int) -> None:
        """The row of years, with the titles of the other columns."""
        self.header(row, "", "unit", "value, sum", "present value", numbers=(VALUE, PRESENT))
        for year in range(self.years + 1):
            self.put(row, FIRST_YEAR + year, year, "head_right")
        self.names["y"] = self.years_of(row)
        self.widths |= {LABEL: 48, UNIT: 11, VALUE: 13, PRESENT: 13, OPENING: 1.5}
        self.widths |= {FIRST_YEAR + year: 11 for year in range(self.years + 1)}

    def find(self, name: str) -> CellRange:
        """Where a name stands: of this part of the year, of this sheet, or of the book."""
        for known, key in ((self.names, name + self.suffix), (self.names, name), (self.book.names, name)):
            if key in known:
                return known[key]
        raise KeyError(f"no cell is named '{name}' on {self.name}")

    def value(self, name: str) -> Any:
        """What a single cell shows."""
        place = self.find(name)
        return self.book.sheets[place.sheet].cells[place.row, place.column].value

    def _formula(self, template: str, row: int, column: int) -> tuple[str, Any]:
        code, tokens = compiled(template)
        texts, operands = [], []
        for token in tokens:
            if token["column"]:
                at, to = row - len(token["up"]), xl_cell_to_rowcol(f"{token['column']}1")[1]
                texts.append(f"${token['column']}{at + 1}")
                operands.append(self._content(self.name, at, to))
            else:
                place = self.find(token["name"])
                text, cells = reference(place, self.name, column, token["how"])
                texts.append(text)
                operands.append(self._contents(place.sheet, *cells))
        typed = [number for number in _LITERAL.findall(_NAMES.sub("", template)) if not ALLOWED.match(number)]
        if typed:
            raise ValueError(f"{', '.join(typed)} may not stand in a formula, give it a cell: {template}")
        remaining = iter(texts)
        return TOKEN.sub(lambda _: next(remaining), template), evaluate(code, operands)

    def _contents(self, sheet: str, row: int, column: int, last_row: int, last_column: int) -> Any:
        if (row, column) == (last_row, last_column):
            return self._content(sheet, row, column)
        key = (sheet, row, column, last_row, last_column)
        if key in self.book.read:
            return self.book.read[key]
        cells = [[self._content(sheet, r, c) for c in range(column, last_column + 1)] for r in range(row, last_row + 1)]
        texts = any(isinstance(one, str) for line in cells for one in line)
        found = np.array(cells, dtype=object if texts else float)
        if sheet in self.book.complete:
            self.book.read[key] = found
        return found

    def _content(self, sheet: str, row: int, column: int) -> Any:
        cell = self.book.sheets[sheet].cells.get((row, column))
        value = 0.0 if cell is None else cell.value
        return value if isinstance(value, str) else np.float64(value)


@dataclass
class LiveWorkbook:
    """All sheets, and the names that every sheet may use."""

    sheets: dict[str, FormulaSheet] = field(default_factory=dict)
    names: dict[str, CellRange] = field(default_factory=dict)
    complete: set[str] = field(default_factory=set)
    """Sheets that change no more, whose ranges are read once."""
    read: dict[tuple[str, int, int, int, int], Any] = field(default_factory=dict)

    def sheet(self, name: str, title: str, about: Sequence[str], years: int = 0) -> FormulaSheet:
        """Start a sheet with its title and what it is for."""
        made = self.sheets[name] = FormulaSheet(self, name, years)
        made.put(0, LABEL, title, "title")
        for row, text in enumerate(about, 1):
            made.data(row, LABEL, text, "note")
        return made

    def name(self, name: str, place: CellRange, alias: str = "") -> None:
        """Let every sheet use a name; ``alias`` is shown in formulas instead of the address."""
        self.names[name] = replace(place, alias=alias)
