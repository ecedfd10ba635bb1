"""Edits: what options and overrides do to a plant.

Rows are removed and added first. Then every value that edits name is worked out as set, multiply, add,
whatever the order of the options: multiplies multiply, adds sum, and two different sets of one value by
different options conflict unless one option names the other in ``overrides``. Selectors look at the
plant before any value changed. When only ``typical`` of an element changes, its ``low`` and ``high``
change in proportion, so that the relative uncertainty is kept.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import partial
from typing import Any

from simkit.base.messages import BadInput, Finding
from simkit.plant.equal_rows import EqualRows
from simkit.plant.fields import columns_of, row_key
from simkit.plant.option_changes import changed_options, names_option, reckoned, unset
from simkit.plant.options import Edit
from simkit.plant.paths import (
    SETTINGS,
    PathKey,
    Target,
    holder_of,
    select,
    settings_way,
    split_path,
    table_targets,
    unknown,
)
from simkit.plant.plant import PlantInputs
from simkit.plant.settings import Settings
from simkit.plant.tables import TABLES, MachineRow
from simkit.plant.toml_files import dotted, validate
from simkit.plant.values import Refusal, fit_value, near, read_rows

Sourced = tuple[str, Edit]
"""(who makes the edit: an option's id, or ``--set``; the edit)."""

OVERRIDE = "--set"
OPERATORS = {"=": "set", "*=": "multiply", "+=": "add"}
_same = EqualRows()
ASSIGNMENT = re.compile(r"(?P<path>\s*\w+(?:\.[\w-]+|\[[^\]]*\])*)\s*(?P<op>[*+]?=)(?P<value>.*)", re.DOTALL)


def apply_edits(
    plant: PlantInputs, edits: Iterable[Sourced], replaces: Mapping[str, frozenset[str]] | None = None
) -> PlantInputs:
    """Return the plant with all edits applied; raise BadInput with every problem.

    ``replaces`` says, per option, whose set edits it replaces.
    """
    work = _Work(plant, replaces or {})
    sourced = list(edits)
    if not sourced:
        return plant
    for op in ("remove_row", "add_row"):
        for source, edit in sourced:
            if edit.op == op:
                work.guarded(source, edit, work.remove_rows if op == "remove_row" else work.add_row)
    for source, edit in sourced:
        if edit.op in ("set", "multiply", "add"):
            work.guarded(source, edit, work.collect)
    edited = work.finished()
    if work.findings:
        raise BadInput(work.findings)
    return edited


class _Work:
    """The tables and settings under edit, what is asked of each value, and the problems met."""

    def __init__(self, plant: PlantInputs, replaces: Mapping[str, frozenset[str]]) -> None:
        self.plant, self.replaces = plant, replaces
        self.rows: dict[str, tuple[Any, ...]] = {table: getattr(plant, table) for table in TABLES}
        self.content: dict[str, Any] = plant.settings.model_dump(mode="json")
        self.asked: dict[Target, list[Sourced]] = {}
        self.index: dict[str, dict[PathKey, Any]] = {}
        self.added: dict[tuple[str, PathKey], str] = {}
        self.findings: list[Finding] = []

    def guarded(self, source: str, edit: Edit, action: Any) -> None:
        """Run one step and keep its fault as a finding."""
        try:
            action(source, edit)
        except Refusal as fault:
            self.report(source, edit.path, fault, edit.value)

    def report(self, source: str, path: str, fault: Refusal, value: Any = None) -> None:
        """Keep a fault as a finding about an option's edit or an override."""
        place = source if source == OVERRIDE else f"option {source}"
        shown = "" if value is None or isinstance(value, dict | list) else str(value)
        self.findings.append(Finding(place, fault.why, fault.mend, column=path, value=shown))

    def remove_rows(self, source: str, edit: Edit) -> None:
        """Remove the rows that a path names, or a member of a list in the settings."""
        if edit.path.split(".")[0].strip() == SETTINGS:
            way = settings_way(edit.path, self.content)
            if not isinstance(way[-1], int):
                raise unknown("does not name a member of a list", "write plant.section.list[name]")
            del holder_of(self.content, way)[way[-1]]
            return
        table, selector, field = split_path(edit.path)
        if selector is None or field:
            raise unknown("does not name rows", f"write {table}[key]")
        gone = {id(row) for row in select(table, selector, getattr(self.plant, table))}
        self.rows[table] = tuple(row for row in self.rows[table] if id(row) not in gone)

    def add_row(self, source: str, edit: Edit) -> None:
        """Add a row to a table, or a member to a list in the settings."""
        if edit.path.split(".")[0].strip() == SETTINGS:
            way = settings_way(edit.path, self.content)
            members = _value_at(self.content, way)
            if not isinstance(members, list):
                raise unknown("is not a list", "write the path of a list, as plant.calendar.shifts")
            members.append(edit.value)
            return
        table, selector, field = split_path(edit.path)
        if selector is not None or field:
            raise unknown("names more than a table", f"write {table}")
        row = make_row(table, edit.value)
        key = row_key(TABLES[table])(row)
        at = next((i for i, other in enumerate(self.rows[table]) if row_key(TABLES[table])(other) == key), None)
        owner = self.added.get((table, key), "")
        if at is None:
            self.rows[table] = (*self.rows[table], row)
        elif owner and owner in self.replaces.get(source, ()):
            self.rows[table] = (*self.rows[table][:at], row, *self.rows[table][at + 1 :])
        elif not owner or (self.rows[table][at] != row and source not in self.replaces.get(owner, ())):
            whose = f"option {owner} adds it with other values" if owner else "the plant has it"
            mend = "Remove that row first, give the new one another key, or name the weaker option in 'overrides'"
            raise Refusal("row", f"adds a row that is there already ({whose})", mend)
        else:
            return
        self.added[table, key] = source

    def collect(self, source: str, edit: Edit) -> None:
        """Note what an edit asks of each value that its path names."""
        if edit.path.split(".")[0].strip() == SETTINGS:
            targets = [Target(SETTINGS, settings_way(edit.path, self.content))]
        else:
            targets = table_targets(edit.path, self.rows)
        for target in targets:
            self.asked.setdefault(target, []).append((source, edit))

    def finished(self) -> PlantInputs:
        """Work out every value and return the checked plant."""
        for table in {target.table for target in self.asked} - {SETTINGS}:
            self.index[table] = {row_key(TABLES[table])(row): row for row in self.rows[table]}
        changes: dict[str, dict[PathKey, dict[str, Any]]] = {}
        self.refuse_overlaps()
        for target, asked in sorted(self.asked.items(), key=lambda item: len(item[0].key)):
            try:
                value = self.worked_out(target, asked)
            except Refusal as fault:
                source, edit = asked[-1]
                self.report(source, edit.path, fault, edit.value)
                continue
            if target.table == SETTINGS:
                holder_of(self.content, target.key)[target.key[-1]] = value
            else:
                changes.setdefault(target.table, {}).setdefault(target.key, {})[target.field] = value
        tables: dict[str, Any] = {
            table: _same.table(_changed(table, rows, changes.get(table, {})))
            for table, rows in self.rows.items()
            if table in changes or rows is not getattr(self.plant, table)
        }
        return replace(self.plant, settings=self.settings(), **tables)

    def worked_out(self, target: Target, asked: list[Sourced]) -> Any:
        """Return set, then multiply, then add, as the type of the value."""
        edits = [edit for _, edit in asked]
        if target.table == SETTINGS:
            return reckoned(_value_at(self.content, target.key), self.decided(target, asked), edits, unset)
        row = self.index[target.table][target.key]
        fit = partial(fit_value, TABLES[target.table], target.field)
        return fit(reckoned(getattr(row, target.field), self.decided(target, asked), edits, fit))

    def refuse_overlaps(self) -> None:
        """Report settings that one option changes as a whole and another one in part."""
        ours = [(target, asked) for target, asked in self.asked.items() if target.table == SETTINGS]
        for whole, whole_asked in ours:
            for part, part_asked in ours:
                inside = len(part.key) > len(whole.key) and part.key[: len(whole.key)] == whole.key
                others = {source for source, _ in part_asked} - {source for source, _ in whole_asked}
                if inside and others:
                    why = f"{whole} is changed as a whole by {whole_asked[0][0]} and in part by {', '.join(others)}"
                    fault = Refusal("conflict", why, "Choose one of the options, or let both change the same values")
                    self.report(part_asked[-1][0], part_asked[-1][1].path, fault)

    def decided(self, target: Target, asked: list[Sourced]) -> Edit | None:
        """Return the set edit that holds, or None; raise Refusal when options contradict each other."""
        sets = [(source, edit) for source, edit in asked if edit.op == "set"]
        replaced = {name for source, _ in sets for name in self.replaces.get(source, ())}
        left = [(source, edit) for source, edit in sets if source not in replaced]
        if sets and not left:
            raise Refusal("conflict", f"{target} is set by options that override each other", "Drop one 'overrides'")
        last = dict(left)
        if len({repr(edit.value) for edit in last.values()}) > 1:
            said = " and ".join(f"{source} sets {edit.value!r}" for source, edit in last.items())
            mend = "Choose one of the options, or name the weaker one in 'overrides' of the other"
            raise Refusal("conflict", f"{target} is set to different values: {said}", mend)
        return left[-1][1] if left else None

    def settings(self) -> Settings:
        """Return the edited settings, checked again; the plant's own where no edit touches them."""
        if self.content == self.plant.settings.model_dump(mode="json"):
            return self.plant.settings
        settings, faults = validate(Settings, self.content)
        for where, fault in faults:
            asked = next((a for t, a in self.asked.items() if t.table == SETTINGS and _meets(t.key, where)), None)
            source, path = (asked[-1][0], asked[-1][1].path) if asked else ("", dotted(where))
            self.report(source or "edits", path, Refusal("value", fault.why, fault.mend), fault.value)
        return settings or self.plant.settings


def _meets(way: PathKey, where: PathKey) -> bool:
    return way == where[: len(way)] or where == way[: len(where)]


def _value_at(content: Any, way: PathKey) -> Any:
    """Return the value at a way; a free key that is not there yet gives None."""
    holder = holder_of(content, way)
    return holder[way[-1]] if isinstance(way[-1], int) else holder.get(way[-1])


def _changed(table: str, rows: tuple[Any, ...], changes: dict[PathKey, dict[str, Any]]) -> list[Any]:
    key_of = row_key(TABLES[table])
    changed = []
    for row in rows:
        fields = changes.get(key_of(row), {})
        if table == "elements" and "typical" in fields:
            fields = {**_scaled_range(row, fields["typical"]), **fields}
        changed.append(_same.row(replace(row, **fields)) if fields else row)
    return changed


def _scaled_range(row: Any, typical: float) -> dict[str, float | None]:
    """Return low and high in proportion to a new mean; without a mean to scale from they become empty."""
    if not row.typical:
        return {"low": None, "high": None}
    factor = typical / row.typical
    return {end: None if getattr(row, end) is None else getattr(row, end) * factor for end in ("low", "high")}


def make_row(table: str, cells: Any) -> Any:
    """Return a row from its columns as written in TOML; raise Refusal for the first thing that is wrong."""
    columns = columns_of(TABLES[table])
    if not isinstance(cells, dict):
        raise Refusal("row", "the value of add_row is not a set of columns", "Write { column = value, ... }")
    for name in cells:
        if name not in columns:
            raise Refusal("row", f"'{name}' is not a column of {table}", f"Correct it; {near(name, columns)}")
    row_type = TABLES[table]
    given = {name: value for name, value in cells.items() if not (columns[name].optional and value in ("", "none"))}
    rows, faults = read_rows(row_type, [given])
    lacking = [name for _, name, _, _ in faults if name not in given]
    if lacking:
        raise Refusal("row", f"the new row lacks {', '.join(lacking)}", "Add these columns")
    for _, name, value, fault in faults:
        raise Refusal("row", f"{name} {value!r} {fault.why}", fault.mend)
    return _same.row(rows[0])


def parse_override(text: str) -> Edit:
    """Return the edit of ``path=value``, ``path*=factor`` or ``path+=summand``; raise Refusal.

    The value is read as TOML; what is no TOML value is a bare word, as in ``plant.rules.dispatch=due``.
    """
    match = ASSIGNMENT.fullmatch(text)
    if match is None:
        raise Refusal(
            "override", "is not of the form path=value", "Write plant.section.key=value or table[key].field=value"
        )
    op = OPERATORS[match["op"]]
    return Edit.model_validate({"path": match["path"].strip(), "op": op, "value": literal(match["value"].strip())})


def literal(text: str) -> Any:
    """Return a TOML value, or the text itself when it is none."""
    try:
        content = tomllib.loads(f"value = {text}")
    except (ValueError, RecursionError):
        return text
    return content["value"] if content.keys() == {"value"} else text


def parse_overrides(texts: Iterable[str]) -> tuple[list[Sourced], list[Finding]]:
    """Return the overrides as edits, a later one of the same path last, and what is wrong with the others."""
    edits: list[Sourced] = []
    findings = []
    for text in texts:
        try:
            edits.append((OVERRIDE, parse_override(text)))
        except Refusal as fault:
            findings.append(Finding(OVERRIDE, fault.why, fault.mend, value=text))
    return edits, findings


def override_plant(plant: PlantInputs, overrides: Iterable[str]) -> PlantInputs:
    """Return the plant with ``path=value`` overrides applied; raise BadInput with every problem."""
    asked, findings = parse_overrides(overrides)
    edits = [(source, edit) for source, edit in asked if not names_option(edit.path)]
    options, faults = changed_options(plant.options, [edit for _, edit in asked if names_option(edit.path)])
    findings += [replace(fault, place=OVERRIDE) for fault in faults]
    try:
        edited = apply_edits(plant if options == plant.options else replace(plant, options=options), edits)
    except BadInput as error:
        raise BadInput([*findings, *error.findings]) from error
    if findings:
        raise BadInput(findings)
    return edited


def with_machine_overrides(plant: PlantInputs, machine_row: MachineRow) -> PlantInputs:
    """Return the plant as this machine sees it: its ``overrides`` (path=value separated by ;) applied."""
    pieces = re.findall(r"(?:[^;\[\"']|\[[^\]]*\]|\"[^\"]*\"|'[^']*')+", machine_row.overrides)
    return override_plant(plant, [piece.strip() for piece in pieces if piece.strip()])
