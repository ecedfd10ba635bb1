"""Paths of edits: ``plant.section.key``, ``table``, ``table[selector]`` and ``table[selector].field``.

Selectors: ``*`` all rows; a key, its parts joined by ``|`` (the first parts alone match all rows that
share them); ``field=value``, ``field>number``, ``field<number`` the rows that compare so. Inside
settings a list of sections is entered by the name of one, as in ``plant.calendar.shifts[early].start``.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from simkit.plant.equal_rows import ByIdentity
from simkit.plant.fields import columns_of, key_columns, row_key
from simkit.plant.settings import Settings
from simkit.plant.tables import TABLES
from simkit.plant.toml_files import Where, instead_of, section_at
from simkit.plant.values import Refusal, fit_value, near, write_value

SETTINGS, OPTIONS = "plant", "options"
PATH = re.compile(r"(?P<table>\w+)(?:\[(?P<selector>[^\]]*)\])?(?:\.(?P<field>\w+))?")
COMPARISON = re.compile(r"(\w+)\s*([=<>])\s*(.*)")

PathKey = tuple[Any, ...]
Rows = Mapping[str, tuple[Any, ...]]

_written: ByIdentity[list[tuple[str, ...]]] = ByIdentity(64)
"""Written keys of tables: many edits select from the same table."""


@dataclass(frozen=True, order=True)
class Target:
    """One value of the plant: in the settings (``table`` is ``plant``, ``key`` the way to it) or in a row."""

    table: str
    key: PathKey
    field: str = ""

    def __str__(self) -> str:
        """Return the target as a path."""
        if self.table == SETTINGS:
            return ".".join([SETTINGS, *map(str, self.key)])
        return f"{self.table}[{'|'.join(write_value(part) for part in self.key)}].{self.field}"


def unknown(why: str, hint: str) -> Refusal:
    """Return the fault of a path that leads nowhere."""
    return Refusal("path", why, f"Correct the path; {hint}")


def split_path(path: str) -> tuple[str, str | None, str]:
    """Return (table, selector or None, field or empty) of a table path; raise Refusal when it has no such form."""
    match = PATH.fullmatch(path.strip())
    if match is None:
        raise unknown("is not a path", "write plant.section.key or table[key].field")
    table = match["table"]
    if table not in TABLES:
        raise unknown(f"'{table}' is not a table", near(table, [SETTINGS, OPTIONS, *TABLES]))
    if match["field"] and match["field"] not in columns_of(TABLES[table]):
        raise unknown(f"'{match['field']}' is not a column of {table}", near(match["field"], columns_of(TABLES[table])))
    return table, match["selector"], match["field"] or ""


def table_targets(path: str, rows: Rows) -> list[Target]:
    """Return the values that a path ``table[selector].field`` names."""
    table, selector, field = split_path(path)
    if selector is None or not field:
        raise unknown("does not name a value", f"write {table}[key].field or {table}[*].field")
    if field in key_columns(TABLES[table]):
        raise unknown(f"'{field}' is part of the key of {table}", "remove the row and add another one")
    key_of = row_key(TABLES[table])
    return [Target(table, key_of(row), field) for row in select(table, selector, rows[table])]


def select(table: str, selector: str, rows: tuple[Any, ...]) -> list[Any]:
    """Return the rows that a selector names; none is a fault, except of ``*``."""
    if selector.strip() == "*":
        return list(rows)
    comparison = COMPARISON.fullmatch(selector.strip())
    if comparison and comparison[1] in columns_of(TABLES[table]):
        found = [row for row in rows if _compares(table, row, *comparison.groups())]
        if not found:
            raise unknown(f"no row of {table} has {selector}", _values_hint(table, comparison[1], comparison[3], rows))
        return found
    wanted = [part.strip() for part in selector.split("|")]
    keys = _written.of(partial(_written_keys, table), rows)
    found = [row for row, key in zip(rows, keys, strict=True) if _key_matches(key, wanted)]
    if not found:
        firsts = list(dict.fromkeys("|".join(key[: len(wanted)]) for key in keys))
        raise unknown(f"'{selector}' is not a row of {table}", near(selector, firsts) if firsts else "it has no rows")
    return found


def _written_keys(table: str, rows: tuple[Any, ...]) -> list[tuple[str, ...]]:
    """Return the keys of rows as they are written in selectors."""
    key_of = row_key(TABLES[table])
    return [tuple(write_value(part) for part in key_of(row)) for row in rows]


def _key_matches(key: tuple[str, ...], wanted: list[str]) -> bool:
    """Whether the first parts of a key are the wanted ones; numbers compare as numbers."""
    return len(wanted) <= len(key) and all(_same(a, b) for a, b in zip(key, wanted, strict=False))


def _same(a: str, b: str) -> bool:
    try:
        return a == b or float(a) == float(b)
    except ValueError:
        return False


def _compares(table: str, row: Any, field: str, sign: str, text: str) -> bool:
    value = getattr(row, field)
    if sign == "=":
        return text in value if columns_of(TABLES[table])[field].is_list else _same(write_value(value), text)
    limit = fit_value(TABLES[table], field, text)
    return value is not None and bool(value > limit if sign == ">" else value < limit)


def _values_hint(table: str, field: str, text: str, rows: Sequence[Any]) -> str:
    values = list(dict.fromkeys(write_value(getattr(row, field)) for row in rows))
    return near(text, values) if values else f"{table} has no rows"


def settings_way(path: str, content: Mapping[str, Any]) -> Where:
    """Return the way to a value inside the dumped settings; raise Refusal where it leads nowhere."""
    return way_in(Settings, SETTINGS, steps_of(path)[1:], content)


def steps_of(path: str) -> list[str]:
    """Return the steps of a path: names, and selectors in their brackets."""
    return re.findall(r"[^.\[\]]+|\[[^\]]*\]", path.strip())


def way_in(model: Any, name: str, steps: Sequence[str], content: Mapping[str, Any]) -> Where:
    """Return the way to a value inside a dumped model, which messages call ``name``; raise Refusal for a dead end."""
    here: Any = content
    way: tuple[int | str, ...] = ()
    for step in steps:
        before = ".".join([name, *map(str, way)])
        if step.startswith("["):
            way, here = _enter_list(before, way, here, step[1:-1])
            continue
        fields = section_at(model, way)
        if fields is not None and step not in fields:
            raise unknown(f"'{step}' is not a key of {before}", instead_of((*way, step)) or near(step, fields))
        if fields is None and not isinstance(here, dict):
            raise unknown(f"'{step}' leads into a single value", "stop the path before it")
        way, here = (*way, step), here.get(step)
    if not way:
        raise unknown("does not name a key", f"write {name}.{'section.key' if name == SETTINGS else 'key'}")
    return way


def holder_of(content: Any, way: Where) -> Any:
    """Return the dict or list that holds the last step of a way."""
    for step in way[:-1]:
        content = content[step]
    return content


def _enter_list(where: str, way: Where, here: Any, name: str) -> tuple[Where, Any]:
    """Step into the member of a list of sections whose first field has this name."""
    members = here if isinstance(here, list | tuple) else ()
    names = [str(next(iter(member.values()))) if isinstance(member, dict) else str(member) for member in members]
    if name not in names:
        raise unknown(f"'{name}' is not in {where}", near(name, names) if names else "it is not a list with members")
    at = names.index(name)
    return (*way, at), members[at]
