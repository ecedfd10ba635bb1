"""Asking once for the mapping of exports: every answer is proposed from what lies there, and given by the user."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from simkit.base.gauges import FAMILIES
from simkit.base.messages import BadInput, Finding
from simkit.plant.adopting_files import INCHES, Export, Places, native, places, read_export
from simkit.plant.adopting_mapping import DATE_FORMS, SEPARATORS, Gauges, MappingOf, TableMap
from simkit.plant.fields import InputColumn, columns_of
from simkit.plant.tables import REQUIRED_TABLES, TABLES
from simkit.plant.values import folded

Ask = Callable[[str, str, tuple[str, ...]], str]
"""Asks a question with a proposed answer and the allowed answers (none: any), and returns the answer."""


def ask_mapping(exports: Path, ask: Ask) -> MappingOf:
    """Return the mapping of exports that do not stand under the plant's own names; raises BadInput.

    Where all required tables stand under their own names, nothing is asked.
    """
    found = places(exports)
    known = {table: how for table in TABLES if (how := native(found, table)) is not None}
    own = found if set(REQUIRED_TABLES) <= set(known) else {(how.file, how.sheet) for how in known.values()}
    mapping: MappingOf = {}
    for file, sheet in found:
        if (file, sheet) in own:
            continue
        free = tuple(table for table in TABLES if table not in mapping)
        table = ask(f"{file} {sheet}".strip() + ": which table is it? empty: none", "", ("", *free))
        if table:
            mapping[table] = _asked_table(found, TABLES[table], TableMap(file=file, sheet=sheet), ask)
    return mapping


def _asked_table(found: Places, row_type: type, how: TableMap, ask: Ask) -> TableMap:
    """Ask how one export is read: the file first, then each column, then its notations."""
    if not how.sheet:
        signs = {word: sign for sign, word in SEPARATORS.items()}
        first = found[how.file, ""].read_bytes().split(b"\n", 1)[0].decode("latin-1")
        likely = max(signs, key=lambda word: first.count(signs[word]))
        sign = signs[ask("sign between the columns", likely, tuple(signs))]
        encoding = ask("encoding, as utf-8-sig or cp1252", "utf-8-sig", ())
        how = TableMap.model_validate({**how.model_dump(), "separator": sign, "encoding": encoding})
    export = read_export(found, how)
    columns, constants = _asked_columns(export, row_type, ask)
    specs = {name: columns_of(row_type)[name] for name in columns}
    more: dict[str, Any] = {"columns": columns, "constants": constants, **_asked_marks(specs, ask)}
    more["words"] = _asked_words(export, columns, specs, ask)
    more["period"] = _asked_periods(specs, ask)
    more["gauges"] = _asked_gauges(specs, ask)
    return TableMap.model_validate({**how.model_dump(), **more})


def _asked_columns(export: Export, row_type: type, ask: Ask) -> tuple[dict[str, str], dict[str, str]]:
    columns: dict[str, str] = {}
    constants: dict[str, str] = {}
    for name, spec in columns_of(row_type).items():
        likely = next((head for head in export.heads if folded(head) == folded(name.replace("_", ""))), "")
        likely = next((head for head in export.heads if head == name), likely)
        unit = f", {spec.unit}" if spec.unit else ""
        head = ask(f"{name} ({spec.meaning}{unit}): which head? empty: none", likely, ("", *export.heads))
        if head:
            columns[name] = head
        elif spec.required:
            value = ask(f"{name}: one value for all rows", "", ())
            constants |= {name: value} if value else {}
    return columns, constants


def _asked_marks(specs: Mapping[str, InputColumn], ask: Ask) -> dict[str, str]:
    kinds = {spec.kind.__name__ for spec in specs.values()}
    marks = {}
    if kinds & {"float", "int"}:
        marks["decimal"] = ask("decimal mark", ".", (".", ","))
        marks["thousands"] = ask("mark of thousands; empty: none", "", ("", ".", ",", "'", " "))
    if kinds & {"date", "datetime"}:
        marks["dates"] = ask("how dates are written", "YYYY-MM-DD", tuple(DATE_FORMS))
    if any(spec.unit in INCHES for spec in specs.values()):
        marks["lengths"] = ask("unit of lengths", "mm", ("mm", "inch"))
    return marks


def _asked_words(
    export: Export, columns: Mapping[str, str], specs: Mapping[str, InputColumn], ask: Ask
) -> dict[str, dict[str, str]]:
    """Ask what each word means that stands in a column of closed words and is none of them."""
    words: dict[str, dict[str, str]] = {}
    for name, spec in specs.items():
        known = ("true", "false") if spec.kind is bool else spec.choices
        at = export.heads.index(columns[name])
        strange = sorted({row[at].strip() for row in export.rows} - {*known, *([""] if not spec.required else [])})
        if not known or spec.is_list or len(strange) > 2 * len(known):
            continue
        answers = {word: ask(f'{name} "{word}" means; empty: refuse such rows', "", ("", *known)) for word in strange}
        words[name] = {word: answer for word, answer in answers.items() if answer}
    return {name: of for name, of in words.items() if of}


def _asked_periods(specs: Mapping[str, InputColumn], ask: Ask) -> dict[str, list[str]]:
    periods: dict[str, list[str]] = {}
    for name, spec in specs.items():
        if spec.kind.__name__ in ("date", "datetime"):
            answer = ask(f"{name}: first and last day it can hold, YYYY-MM-DD YYYY-MM-DD; empty: not known", "", ())
            if answer and len(answer.split()) != 2:
                raise BadInput(
                    [Finding(name, "is no pair of days", "Write two days, as 2026-05-01 2026-06-30", value=answer)]
                )
            periods |= {name: answer.split()} if answer else {}
    return periods


def _asked_gauges(specs: Mapping[str, InputColumn], ask: Ask) -> dict[str, Gauges]:
    gauges: dict[str, Gauges] = {}
    for name in (name for name in specs if name == "thickness_mm"):
        question = f"{name}: family, if it holds gauge numbers; empty: it holds lengths"
        family = ask(question, "", ("", *FAMILIES))
        gauges |= {name: Gauges(family=family)} if family else {}
    return gauges
