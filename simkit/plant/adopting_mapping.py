"""The mapping of an adoption: which export is which table, and how its columns, numbers, dates and lengths are read."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from simkit.base.gauges import FAMILIES
from simkit.base.messages import BadInput, Finding, nearest
from simkit.plant.fields import OneOf, columns_of
from simkit.plant.settings_base import Section
from simkit.plant.tables import TABLES
from simkit.plant.toml_files import line_of, located, read_toml, toml_text, validate

DATE_FORMS = {
    "YYYY-MM-DD": "%Y-%m-%d", "DD.MM.YYYY": "%d.%m.%Y", "DD/MM/YYYY": "%d/%m/%Y", "DD-MM-YYYY": "%d-%m-%Y",
    "MM/DD/YYYY": "%m/%d/%Y", "MM-DD-YYYY": "%m-%d-%Y", "YYYY/MM/DD": "%Y/%m/%d", "YYYYMMDD": "%Y%m%d",
    "MM.DD.YYYY": "%m.%d.%Y",
}  # fmt: skip
"""Ways to write a date that a mapping may name, and how they are read."""

SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}


class Gauges(Section):
    """How the gauge numbers of a column are read: all of one family of metals, or by what another column says."""

    family: str = Field(default="", description=f"family of all rows: {', '.join(FAMILIES)}")
    by: str = Field(default="", description="column of the plant's table whose value decides, as metal")
    families: Mapping[str, str] = Field(default_factory=dict, description="value of that column = family")

    def of(self, value: str) -> str:
        """The family of a row whose deciding column holds this value; empty where none is named."""
        return self.family or self.families.get(value, "")


class TableMap(Section):
    """How one export becomes one table of the plant."""

    file: str = Field(description="name of the export, CSV or XLSX")
    sheet: str = Field(default="", description="sheet of a workbook; empty: its only one")
    columns: Mapping[str, str] = Field(
        default_factory=dict, description="column of the plant = head of the export; empty: heads are the plant's"
    )
    constants: Mapping[str, str] = Field(
        default_factory=dict, description="column of the plant = value of all rows, where the export has no such column"
    )
    words: Mapping[str, Mapping[str, str]] = Field(
        default_factory=dict, description="column of the plant = { word of the export = word of the plant }"
    )
    separator: Literal[",", ";", "\t", "|"] = Field(default=",", description="sign between the columns")
    encoding: str = Field(default="utf-8-sig", description="encoding of the text, as utf-8-sig or cp1252")
    decimal: Literal[".", ","] = Field(default=".", description="decimal mark")
    thousands: Literal["", ".", ",", "'", " "] = Field(default="", description="mark of thousands; empty: none")
    dates: Annotated[str, OneOf(tuple(DATE_FORMS))] = Field(
        default="YYYY-MM-DD", description="how dates are written; a time of day may stand behind"
    )
    period: Mapping[str, tuple[dt.date, dt.date]] = Field(
        default_factory=dict,
        description="column of dates = [first, last] day that it can hold; tells 03/04 and 04/03 apart",
    )
    lengths: Literal["mm", "inch"] = Field(default="mm", description="unit of columns that the plant has in mm or mm2")
    gauges: Mapping[str, Gauges] = Field(
        default_factory=dict, description="column of thicknesses that holds gauge numbers = how they are read"
    )


MappingOf = dict[str, TableMap]
"""Name of a table of the plant to how its export is read."""


def read_mapping(path: Path) -> MappingOf:
    """Return the mapping of a TOML file, one section a table; raises BadInput with every fault."""
    content, text, findings = read_toml(path)
    mapping: MappingOf = {}
    for table, section in (content or {}).items():
        if table not in TABLES:
            mend = f"Name a table of the plant; {nearest(table, TABLES)}"
            findings.append(Finding(path.name, "is not a table", mend, row=line_of(text, (table,)), column=table))
            continue
        found, faults = validate(TableMap, section if isinstance(section, dict) else {})
        findings += [located(path.name, text, (table, *at), fault) for at, fault in faults]
        if found is not None:
            mapping[table] = found
            findings += _faults(path.name, text, table, found)
    if not findings and not mapping:
        findings = [Finding(path.name, "maps nothing", "Write one section a table, as [orders]")]
    if findings:
        raise BadInput(findings)
    return mapping


def _faults(place: str, text: str, table: str, one: TableMap) -> Iterable[Finding]:
    """Columns that the table lacks or has twice, and families of gauges that are not known."""
    known = columns_of(TABLES[table])
    for key in ("columns", "constants", "words", "period", "gauges"):
        for name in getattr(one, key):
            if name not in known:
                mend = f"Name a column of {table}; {nearest(name, known)}"
                yield Finding(place, "is not a column", mend, line_of(text, (table, key)), f"{table}.{key}", name)
    for name in one.columns.keys() & one.constants.keys():
        yield Finding(place, "has a head and a constant", "Keep one of them", 0, f"{table}.constants", name)
    for name, gauges in one.gauges.items():
        named = {gauges.family, *gauges.families.values()} - {""}
        for family in sorted(named - set(FAMILIES)):
            yield Finding(place, "is no family of gauges", nearest(family, FAMILIES), 0, f"{table}.gauges", family)
        if not named or (not gauges.family and gauges.by not in known):
            mend = "Write family, or by (a column) and families"
            yield Finding(place, "does not say which metal", mend, 0, f"{table}.gauges.{name}")


def mapping_text(mapping: MappingOf) -> str:
    """Return a mapping as the TOML that :func:`read_mapping` reads."""
    head = (
        "# How exports become the tables of a plant; read again with: simkit adopt EXPORTS --into DIR --mapping FILE\n"
    )
    return head + "".join(f"\n[{table}]\n{toml_text(one, (table,))}" for table, one in mapping.items())
