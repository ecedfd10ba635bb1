"""One cell of an export as the text of the plant's own notation, by the mapping alone: nothing is guessed."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from simkit.base.gauges import gauge_mm
from simkit.base.units import MM_PER_INCH
from simkit.plant.adopting_files import Sure
from simkit.plant.adopting_mapping import DATE_FORMS, TableMap
from simkit.plant.fields import Column
from simkit.plant.values import NUMBER, Fault, write_value

INCH_MARK = re.compile(r"\s*(?:\"|″|''|in\.?|inch(?:es)?)$", re.IGNORECASE)
MM_MARK = re.compile(r"\s*mm$", re.IGNORECASE)
FRACTION = re.compile(r"(?:(\d+)[ -])?(\d+)/(\d+)")
GAUGE = re.compile(r"(?:ga(?:uge)?\.?\s*)?(\d{1,2})(?:\s*ga(?:uge)?\.?)?", re.IGNORECASE)
INCHES = {"mm": MM_PER_INCH, "mm2": MM_PER_INCH**2}
"""Units of columns that may stand in inches in an export, and what one of it is in the plant's unit."""


@dataclass(frozen=True)
class Reader:
    """How the cells of a column are read. ``other_order``: its dates that fit only the other order of day and month."""

    name: str
    spec: Column
    how: TableMap
    other_order: tuple[str, ...] = ()
    words: Mapping[str, str] = field(default_factory=dict)

    def read(self, cell: str, family: str = "") -> str:
        """Return a cell, blanks removed, in the plant's notation; raises Fault where the mapping does not settle it."""
        if cell in self.words:
            return self.words[cell]
        if not cell:
            return cell
        if self.name in self.how.gauges:
            return _gauge(cell, family)
        if isinstance(cell, Sure) and not (self.spec.unit in INCHES and self.how.lengths == "inch"):
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
            raise Fault(
                "inch", why, "Correct it at the source, or set lengths of the mapping if all of the table is in inches"
            )
        if factor is not None and MM_MARK.search(cell):
            raise Fault("inch", "is in mm in a table that is mapped to inches", "Correct it at the source")
        if self.spec.unit in INCHES and not isinstance(cell, Sure):
            cell = (MM_MARK if factor is None else INCH_MARK).sub("", cell)
        found = FRACTION.fullmatch(cell)
        if factor is not None and found and int(found[3]):
            return write_value(float(int(found[1] or 0) + Fraction(int(found[2]), int(found[3]))) * factor)
        text = cell if isinstance(cell, Sure) else plain_number(cell, self.how)
        return write_value(round(float(text) * factor, 6)) if factor is not None and NUMBER.fullmatch(text) else text

    def _date(self, cell: str) -> str:
        day, _, time = cell.partition(" ") if " " in cell else cell.partition("T")
        stated, swapped = _day(day, self.how.dates), _day(day, _other_order(self.how.dates))
        first, last = self.how.period.get(self.name, (dt.date.min, dt.date.max))
        if stated is None and swapped is not None:
            why = f"is a date only as {_other_order(self.how.dates)}, {swapped}, in a column of {self.how.dates}"
            raise Fault("order of day and month", why, "Correct it at the source")
        if stated is None:
            return cell
        if not first <= stated <= last:
            other = swapped is not None and swapped != stated and first <= swapped <= last
            why = f"is {stated} as {self.how.dates}, outside the period that the mapping gives"
            raise Fault(
                "order of day and month" if other else "period",
                f"{why}; as {_other_order(self.how.dates)} it is {swapped}" if other else why,
                "Correct it at the source",
            )
        if self.other_order and swapped not in (None, stated) and first <= swapped <= last:
            why = (f"could be {stated} or {swapped}: {len(self.other_order)} other rows of this column fit only "
                   f"{_other_order(self.how.dates)}")  # fmt: skip
            raise Fault(
                "ambiguous date", why, "Correct it at the source, or give the period of the column in the mapping"
            )
        if self.spec.kind is dt.date:
            return stated.isoformat() if time.strip(" 0:") == "" else f"{stated} {time}"
        return f"{stated} {time or '00:00'}"


def reader_of(name: str, spec: Column, how: TableMap, cells: Iterable[str]) -> Reader:
    """Return the reader of a column, which has seen all of its cells for dates in the other order of day and month."""
    other = _other_order(how.dates)
    odd: list[str] = []
    if spec.kind in (dt.date, dt.datetime) and other:
        first, last = how.period.get(name, (dt.date.min, dt.date.max))
        for cell in cells:
            day = "" if isinstance(cell, Sure) else cell.strip().split(" ")[0]
            stated, swapped = _day(day, how.dates), _day(day, other)
            inside = stated is not None and first <= stated <= last
            if swapped is not None and first <= swapped <= last and not inside:
                odd.append(day)
    return Reader(name, spec, how, tuple(odd), how.words.get(name, {}))


def plain_number(cell: str, how: TableMap) -> str:
    """Return a number with a decimal point and nothing else; raises Fault where its marks are not the mapped ones."""
    mark, thousands = re.escape(how.decimal), re.escape(how.thousands)
    if how.thousands and re.fullmatch(rf"[+-]?\d{{1,3}}({thousands}\d{{3}})+({mark}\d+)?", cell):
        cell = cell.replace(how.thousands, "")
    if how.decimal == "," and "." in cell:
        why = "has a point in a table of decimal commas"
        raise Fault("decimal mark", why, "Correct it at the source, or set decimal or thousands in the mapping")
    if how.decimal == "." and "," in cell and any(sign.isdigit() for sign in cell):
        why = "has a comma in a table of decimal points; nothing was converted"
        raise Fault("decimal mark", why, "Correct it at the source, or set decimal or thousands in the mapping")
    return cell.replace(",", ".")


def _gauge(cell: str, family: str) -> str:
    found = GAUGE.fullmatch(cell)
    if found is None:
        raise Fault("gauge", "is no gauge number", "Write a whole number, as 16 or 16 ga")
    if not family:
        raise Fault("gauge", "is a gauge number of a metal that the mapping does not name", "Name its family there")
    try:
        return write_value(round(gauge_mm(family, int(found[1])), 4))
    except ValueError as error:
        raise Fault("gauge", f"has no thickness: {error}", "Correct it at the source") from error


def _day(text: str, form: str) -> dt.date | None:
    try:
        return dt.datetime.strptime(text, DATE_FORMS[form]).date() if form else None
    except ValueError:
        return None


def _other_order(form: str) -> str:
    """The form with day and month exchanged; empty where the year stands first."""
    swapped = form.replace("DD", "?").replace("MM", "DD").replace("?", "MM")
    return "" if form.startswith("YYYY") else swapped
