"""Sheets as they are built: cells, rows that run over the years, and where they stand.

On every sheet with years the columns are the same: label, unit, one value or sum, note, an empty opening column,
then year 0 and on.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Any

import numpy as np

from simkit.report.workbook.expr import Expr, as_expr, plain, prefix, total

LABEL, UNIT, VALUE, NOTE, OPENING, FIRST_YEAR = range(6)
"""Columns of a sheet with years."""

YEAR_ROW = 4
"""Row of the years."""


@cache
def column_name(column: int) -> str:
    """Letters of a column counted from 0."""
    letters = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


Entry = tuple[Any, str, str]
"""What stands in a cell: its value, the text of its formula or nothing, and the name of its format."""


@dataclass
class Sheet:
    """A sheet under construction; ``next_row`` is where the next row goes."""

    name: str
    years: int = 0
    cells: dict[tuple[int, int], Entry] = field(default_factory=dict)
    widths: dict[int, float] = field(default_factory=dict)
    next_row: int = 0
    freeze: tuple[int, int] = (5, 1)
    lists: list[tuple[int, int, dict[str, Any]]] = field(default_factory=list)
    """Cells with a validation: row, column, rule."""

    def put(self, row: int, column: int, content: Any, look: str = "text") -> Expr:
        """Fill a cell and return a fixed reference to it; a formula without a value is refused."""
        return fixed(self.name, row, column, self._fill(row, column, content, look))

    def _fill(self, row: int, column: int, content: Any, look: str) -> Any:
        """Fill a cell and return its value."""
        value, formula = content, ""
        if isinstance(content, Expr):
            value, formula = content.value, content.text(self.name)
        if isinstance(value, float) and not math.isfinite(value):
            raise ValueError(f"{self._address(row, column)} would show an error: {formula or value}")
        if (row, column) in self.cells:
            raise ValueError(f"{self._address(row, column)} is written twice")
        self.cells[row, column] = (value, formula, look)
        return value

    def _address(self, row: int, column: int) -> str:
        return f"{self.name}!{column_name(column)}{row + 1}"

    def row(self, *contents: Any, look: str = "text", looks: Sequence[str] = ()) -> int:
        """Fill the next row from the left; ``None`` leaves a cell empty. Returns the row."""
        row = self.next_row
        for column, content in enumerate(contents):
            if content is not None:
                self._fill(row, column, content, looks[column] if column < len(looks) else look)
        self.next_row += 1
        return row

    def heading(self, text: str, note: str = "") -> None:
        """A section: an empty row, then its heading."""
        self.next_row += 1
        self.row(text, *([None, None, note] if note else []), looks=("section", "text", "text", "note"))

    def scalar(self, label: str, unit: str, content: Any, look: str = "number", note: str = "") -> Expr:
        """A row with one value; returns a fixed reference to it."""
        row = self.next_row
        self.row(label, unit, None, note or None, looks=("text", "unit", look, "note"))
        return self.put(row, VALUE, content, look)

    def line(
        self,
        label: str,
        unit: str,
        formula: Callable[[int], Any],
        look: str = "number",
        note: str = "",
        *,
        summed: bool = False,
        total_look: str = "",
    ) -> Series:
        """A row over the years, one formula copied across; ``summed`` puts its sum into the value column."""
        row = self.next_row
        bold = look.startswith("total")
        self.row(label, unit, None, note or None, looks=("total_text" if bold else "text", "unit", look, "note"))
        series = Series(self.name, row, [])
        for year in range(self.years + 1):
            series.values.append(self._fill(row, FIRST_YEAR + year, as_expr(formula(year)), look))
        if summed:
            series.sum = self.put(row, VALUE, total(series.all), total_look or look)
        return series

    def run(
        self, label: str, unit: str, formula: Callable[[int, Expr], Any], look: str = "number", note: str = ""
    ) -> Series:
        """A row whose formula also reads the cell to its left, 0 before the first year."""
        series = Series(self.name, self.next_row, [])

        def of_year(year: int) -> Any:
            content = as_expr(formula(year, series.before(year)))
            series.values.append(content.value)
            return content

        self.line(label, unit, of_year, look, note)
        return series

    def numbers(
        self,
        label: str,
        unit: str,
        values: Iterable[Any],
        look: str = "pasted",
        note: str = "",
        *,
        summed: bool = False,
    ) -> Series:
        """A row of typed-in values over the years."""
        row = self.next_row
        self.row(label, unit, None, note or None, looks=("text", "unit", "text", "note"))
        series = Series(self.name, row, list(values))
        for year, value in enumerate(series.values):
            self._fill(row, FIRST_YEAR + year, value, look)
        if summed:
            series.sum = self.put(row, VALUE, total(series.all), look.removeprefix("pasted_"))
        return series


@dataclass
class Series:
    """A row over the years; ``sum`` is its total where it has one."""

    sheet: str
    row: int
    values: list[Any]
    sum: Expr | None = None

    def __getitem__(self, year: int) -> Expr:
        return moving(self.sheet, self.row, FIRST_YEAR + year, self.values[year])

    def before(self, year: int) -> Expr:
        """The cell to the left: the year before, or the empty opening cell."""
        value = self.values[year - 1] if year else 0.0
        return moving(self.sheet, self.row, FIRST_YEAR + year - 1, value)

    @property
    def all(self) -> Expr:
        """All years; does not move when copied across."""
        return span(self.sheet, (self.row, FIRST_YEAR), (self.row, FIRST_YEAR + len(self.values) - 1), self.values)

    @property
    def later(self) -> Expr:
        """Year 1 and on; does not move when copied across."""
        end = FIRST_YEAR + len(self.values) - 1
        return span(self.sheet, (self.row, FIRST_YEAR + 1), (self.row, end), self.values[1:])

    def fixed(self, year: int) -> Expr:
        """One year; does not move when copied across."""
        return fixed(self.sheet, self.row, FIRST_YEAR + year, self.values[year])

    @property
    def last(self) -> Expr:
        """The last year; does not move when copied across."""
        return fixed(self.sheet, self.row, FIRST_YEAR + len(self.values) - 1, self.values[-1])


def fixed(sheet: str, row: int, column: int, value: Any) -> Expr:
    """Reference to one cell that does not move when copied."""
    return Expr(plain(value), f"'{sheet}'!${column_name(column)}${row + 1}")


def moving(sheet: str, row: int, column: int, value: Any) -> Expr:
    """Reference to one cell whose column moves when copied across."""
    return Expr(plain(value), f"'{sheet}'!{column_name(column)}{row + 1}")


def span(
    sheet: str, start: tuple[int, int], end: tuple[int, int], values: Sequence[Any], *, down: bool = False
) -> Expr:
    """Reference to cells from start to end (row, column), fixed; ``down`` lets columns move when copied across."""
    mark = "" if down else "$"
    rows = ("$", "$") if down else ("", "")
    if start[0] != end[0] and not down:
        rows = ("$", "$")
    first = f"{mark}{column_name(start[1])}{rows[0]}{start[0] + 1}"
    last = f"{mark}{column_name(end[1])}{rows[1]}{end[0] + 1}"
    kind = object if any(isinstance(v, str) for v in values) else float
    return Expr(np.asarray(values, dtype=kind), f"{prefix(sheet)}{first}:{last}")


def stacked(rows: Sequence[Series], year: int) -> Expr:
    """Sum of one year over rows that stand under each other; 0 without rows."""
    if not rows:
        return as_expr(0)
    first, last = rows[0], rows[-1]
    if last.row - first.row != len(rows) - 1:
        raise ValueError(f"{first.sheet}: rows {first.row} to {last.row} do not stand under each other")
    column = FIRST_YEAR + year
    return total(
        span(first.sheet, (first.row, column), (last.row, column), [row.values[year] for row in rows], down=True)
    )
