"""Adopting exports: messy tables become a checked plant folder, and every row that was read is accounted for.

Rows read = used + fixed + refused, table by table. *Used* is as the mapping reads it; *fixed* had blanks or letter case
mended, which changes no meaning; *refused* is whatever the mapping does not settle, with the reason. A row is never
half used: a program with a refused tool or part is refused, and with it its orders.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from simkit.base.messages import BadInput, Finding, nearest
from simkit.plant.adopting_files import CellReader, Export, native, places, read_export, reader_of
from simkit.plant.adopting_mapping import MappingOf, TableMap
from simkit.plant.csv_files import stray, unseen
from simkit.plant.fields import columns_of, key_columns
from simkit.plant.tables import TABLES
from simkit.plant.values import Refusal, folded, read_rows, write_value

CHILDREN = {"program_parts": "part", "program_tools": "tool"}
"""Tables whose rows make up a program: one of them refused, and the program would be another one."""
START_ITEMS = {"turret": "tools", "backlog": "orders"}
Outcome = Literal["used", "fixed", "refused"]
OUTCOMES: tuple[Outcome, ...] = ("used", "fixed", "refused")


@dataclass(frozen=True)
class Reason:
    """Why a row is refused; ``follows`` when only because another row was refused."""

    kind: str
    column: str
    value: str
    why: str
    mend: str = "Correct it at the source"
    follows: bool = False

    def __str__(self) -> str:
        """Return ``column "value": why``."""
        place = f'{self.column} "{self.value}": ' if self.column else ""
        return f"{place}{self.why}"


@dataclass
class AdoptedRow:
    """One row of an export on its way: the record in the plant's notation, what was mended, why it is refused."""

    line: int
    cells: tuple[str, ...]
    record: dict[str, str] = field(default_factory=dict)
    fixes: list[str] = field(default_factory=list)
    reasons: list[Reason] = field(default_factory=list)
    row: Any = None

    @property
    def outcome(self) -> Outcome:
        """What became of it."""
        return "refused" if self.reasons else "fixed" if self.fixes else "used"

    @property
    def harmless(self) -> bool:
        """Whether it is refused and nothing is missing for that: a total, a repeated line."""
        return all(reason.kind in ("no row", "repeated") for reason in self.reasons)


@dataclass
class AdoptedTable:
    """One export as a table of the plant. ``unused`` are heads that nothing was taken from."""

    table: str
    name: str
    rows: list[AdoptedRow]
    unused: tuple[str, ...] = ()

    def count(self, outcome: Outcome) -> int:
        """Rows with this outcome."""
        return sum(row.outcome == outcome for row in self.rows)

    def kept(self) -> list[AdoptedRow]:
        """Rows that are not refused."""
        return [row for row in self.rows if not row.reasons]


@dataclass(frozen=True)
class Adoption:
    """What became of all exports, and the mapping by which they were read."""

    tables: Mapping[str, AdoptedTable]
    mapping: MappingOf
    left: tuple[str, ...] = ()
    """Exports that no table was made of."""

    def refused(self) -> list[tuple[AdoptedTable, AdoptedRow]]:
        """Every refused row with its table, in the order of the exports."""
        return [(table, row) for table in self.tables.values() for row in table.rows if row.reasons]


def read_exports(exports: Path, mapping: MappingOf | None = None) -> Adoption:
    """Read exports by a mapping, and by the plant's own names what is not mapped; raises BadInput.

    ``exports`` is a folder of CSV and XLSX files, or one workbook.
    """
    found = places(exports)
    named = {table: native(found, table) for table in TABLES if table not in (mapping or {})}
    whole: MappingOf = {**(mapping or {}), **{table: how for table, how in named.items() if how is not None}}
    tables: dict[str, AdoptedTable] = {}
    problems: list[Finding] = []
    for table in (table for table in TABLES if table in whole):
        try:
            tables[table] = _table(table, read_export(found, whole[table]), whole[table])
        except BadInput as error:
            problems += error.findings
    if problems:
        raise BadInput(problems)
    _settle(tables)
    taken = {(how.file, how.sheet) for how in whole.values()} | {
        (how.file, "") for how in whole.values() if not how.sheet
    }
    left = tuple(
        f"{file} {sheet}".strip() for file, sheet in found if (file, sheet) not in taken and (file, "") not in taken
    )
    return Adoption(tables, whole, left)


def _table(table: str, export: Export, how: TableMap) -> AdoptedTable:
    """Every row of an export in the plant's notation, with what its own cells tell."""
    columns = columns_of(TABLES[table])
    heads = dict(how.columns) or {head: head for head in export.heads if head in columns}
    _require_columns(table, export, heads, how)
    at = {name: export.heads.index(head) for name, head in heads.items()}
    readers = [
        (at[name], reader_of(name, columns[name], how, (row[at[name]] for row in export.rows)))
        for name in columns if name in at
    ]  # fmt: skip
    rows = [_row(line, cells, export, readers, how) for line, cells in zip(export.lines, export.rows, strict=True)]
    unused = tuple(head for head in export.heads if head and head not in heads.values())
    return AdoptedTable(table, export.name, rows, unused)


def _require_columns(table: str, export: Export, heads: Mapping[str, str], how: TableMap) -> None:
    """Raise BadInput unless the export has the mapped heads and the table its required columns."""
    problems = [
        Finding(export.name, "is not among the heads", f"Correct it; {nearest(head, export.heads)}", 1, name, head)
        for name, head in heads.items() if head not in export.heads
    ]  # fmt: skip
    for name, spec in columns_of(TABLES[table]).items():
        if spec.required and name not in heads and name not in how.constants:
            mend = f"Map a head to it under [{table}.columns], or give a constant: {spec.meaning}"
            problems.append(Finding(export.name, f"gives no {name} for {table}", mend))
    if problems:
        raise BadInput(problems)


def _row(
    line: int, cells: tuple[str, ...], export: Export, readers: list[tuple[int, CellReader]], how: TableMap
) -> AdoptedRow:
    """One row: refused as a whole where it is none, else cell by cell."""
    row = AdoptedRow(line, cells)
    stripped = tuple(cell if type(cell) is not str else cell.strip() for cell in cells)
    if len(cells) > len(export.heads):
        row.reasons.append(Reason("cells", "", "", f"has {len(cells)} cells under {len(export.heads)} heads"))
    elif why := stray(stripped, export.heads):
        row.reasons.append(Reason("no row", "", "", why))
    elif why := unseen("\n".join(stripped)):
        row.reasons.append(Reason("sign", "", "", why))
    if row.reasons:
        return row
    row.record = {name: value for name, value in how.constants.items() if value}
    for at, reader in sorted(readers, key=lambda one: one[1].name in how.gauges):
        if stripped[at] != cells[at]:
            row.fixes.append(f"{reader.name}: blanks removed")
        _take(row, reader, stripped[at])
    return row


def _take(row: AdoptedRow, reader: CellReader, cell: str) -> None:
    """Read one cell into the record, or note why it is refused; words of a closed list may differ in case."""
    gauges = reader.how.gauges.get(reader.name)
    try:
        value = reader.read(cell, gauges.of(row.record.get(gauges.by, "")) if gauges else "")
    except Refusal as fault:
        row.reasons.append(Reason(fault.kind, reader.name, cell, fault.why, fault.mend))
        return
    choices = reader.spec.choices
    if choices and value and not reader.spec.is_list and value not in choices:
        value = _same_word(row, reader.name, value, choices)
    if value:
        row.record[reader.name] = value


def _same_word(row: AdoptedRow, name: str, value: str, known: Any) -> str:
    """Return the one known word that differs only in case or blanks, and note it; else the value."""
    alike = [word for word in known if folded(word) == folded(value)]
    if len(alike) != 1:
        return value
    row.fixes.append(f"{name}: {value} written {alike[0]}")
    return str(alike[0])


# ---- what rows of several lines and tables tell together ----


def _settle(tables: dict[str, AdoptedTable]) -> None:
    """Mend the case of references, check rows by the schema, refuse doubles, then what refers to refused rows."""
    keys = {name: _kept_keys(table) for name, table in tables.items()}
    for table in tables.values():
        for row in table.rows:
            for name, target, key in _references(table.table, row.record):
                if target in tables and key not in keys[target]:
                    row.record[name] = _same_word(row, name, key, keys[target])
    for table in tables.values():
        _by_schema(table)
        _doubles(table)
    while any(_refuse_lost(tables, table) for table in tables.values()):
        pass


def _references(table: str, record: Mapping[str, str]) -> list[tuple[str, str, str]]:
    """(column, table, key) of all that a record refers to."""
    found = [
        (name, spec.refers_to, record[name])
        for name, spec in columns_of(TABLES[table]).items() if spec.refers_to and record.get(name)
    ]  # fmt: skip
    target = START_ITEMS.get(record.get("what", "")) if table == "start" else None
    return [*found, ("item", target, record["item"])] if target and record.get("item") else found


def _by_schema(table: AdoptedTable) -> None:
    """Make the rows, and refuse those whose values the plant's schema refuses."""
    sound = [row for row in table.rows if not row.reasons]
    made, faults = read_rows(TABLES[table.table], [row.record for row in sound])
    for at, row in made.items():
        sound[at].row = row
    for at, name, text, fault in faults:
        sound[at].reasons.append(Reason(fault.kind, name, str(text), fault.why, fault.mend))


def _doubles(table: AdoptedTable) -> None:
    """Refuse repeated lines but the first, and all rows of a key that stands for different things."""
    spec, names = columns_of(TABLES[table.table]), key_columns(TABLES[table.table])
    same: dict[tuple[str, ...], list[AdoptedRow]] = {}
    for row in table.rows:
        if row.record and all(row.record.get(name) or not spec[name].required for name in names):
            key = tuple(row.record.get(name) or write_value(spec[name].default) for name in names)
            same.setdefault(key, []).append(row)
    for key, rows in same.items():
        for row in rows[1:]:
            if row.record == rows[0].record and row.cells == rows[0].cells:
                row.reasons = [Reason("repeated", " + ".join(names), " | ".join(key), f"repeats row {rows[0].line}")]
        others = [row for row in rows if not row.harmless or not row.reasons]
        for row in others if len(others) > 1 else ():
            lines = ", ".join(str(other.line) for other in others)
            why = f"stands in rows {lines} with different contents"
            row.reasons.append(
                Reason("duplicate", " + ".join(names), " | ".join(key), why, "Keep one, or name them apart")
            )


def _refuse_lost(tables: Mapping[str, AdoptedTable], table: AdoptedTable) -> bool:
    """Refuse rows that refer to nothing or to what is refused, and programs that lost a row; return whether any was."""
    known: dict[str, dict[str, bool]] = {}
    changed = False
    for row in table.kept():
        for name, target, key in _references(table.table, row.record):
            if target not in tables:
                continue
            kept = known.setdefault(target, _kept_keys(tables[target]))
            if not kept.get(key, False):
                row.reasons.append(_lost(name, target, key, kept))
                changed = True
    if table.table in CHILDREN and "programs" in tables:
        changed |= _refuse_programs(tables["programs"], table)
    return changed


def _kept_keys(table: AdoptedTable) -> dict[str, bool]:
    """Every key that the export names, and whether a row of it is kept."""
    name = key_columns(TABLES[table.table])[0]
    keys: dict[str, bool] = {}
    for row in table.rows:
        key = row.record.get(name, "")
        keys[key] = keys.get(key, False) or not row.reasons
    return keys


def _lost(name: str, target: str, key: str, kept: Mapping[str, bool]) -> Reason:
    if key in kept:
        return Reason("follows", name, key, f"its row in {target} is refused", "Correct that row", follows=True)
    why = f"is not in {target}"
    return Reason(f"unknown {target}", name, key, why, f"Correct it or add the row; {_near(key, kept)}")


def _near(key: str, kept: Mapping[str, bool]) -> str:
    hint = nearest(key, kept)
    return hint if hint.startswith("did you mean") else f"{len(kept)} names are known"


def _refuse_programs(programs: AdoptedTable, children: AdoptedTable) -> bool:
    """Refuse the programs of which a row of parts or tools is refused for its own fault."""
    lost = {row.record.get("program_id", ""): row for row in children.rows if row.reasons and not row.harmless}
    changed = False
    for row in programs.kept():
        name = row.record.get("program_id", "")
        if name in lost:
            child = f"{children.name} row {lost[name].line}"
            why = f"a {CHILDREN[children.table]} of it is refused ({child})"
            row.reasons.append(Reason("follows", "program_id", name, why, "Correct that row", follows=True))
            changed = True
    return changed
