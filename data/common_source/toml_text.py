"""Writes nested settings as TOML text that a person can read and edit."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

WIDTH = 110


def dump(settings: Mapping[str, Any]) -> str:
    """Return the TOML text of nested dictionaries; lists of dictionaries become tables in an array."""
    return "\n".join(_section(settings, ())).strip() + "\n"


def _section(values: Mapping[str, Any], path: tuple[str, ...]) -> list[str]:
    plain = {k: v for k, v in values.items() if not (_is_section(v, path) or _is_tables(v))}
    lines = [f"{_key(key)} = {inline(value)}" for key, value in plain.items()]
    for key, value in values.items():
        if _is_section(value, path):
            lines += ["", f"[{'.'.join((*path, _key(key)))}]", *_section(value, (*path, _key(key)))]
        elif _is_tables(value):
            for row in value:
                lines += ["", f"[[{'.'.join((*path, _key(key)))}]]", *_section(row, (*path, _key(key)))]
    return lines


def _is_section(value: Any, path: tuple[str, ...]) -> bool:
    """Whether a dictionary gets its own head; short ones below the first level stay in one line."""
    return isinstance(value, Mapping) and not (path and _short([value]) and len(inline(value)) <= WIDTH)


def _is_tables(value: Any) -> bool:
    """Whether a list is written as an array of tables; short plain rows stay in one line each."""
    return isinstance(value, list) and bool(value) and isinstance(value[0], Mapping) and not _short(value)


def _short(rows: Sequence[Mapping[str, Any]]) -> bool:
    return all(not isinstance(v, Mapping | list) for row in rows for v in row.values()) or "path" in rows[0]


def _key(key: str) -> str:
    return key if key.replace("_", "").replace("-", "").isalnum() else f'"{key}"'


def inline(value: Any) -> str:
    """Return one TOML value; long lists go over several lines."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{_key(k)} = {inline(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list | tuple):
        items = [inline(item) for item in value]
        one_line = f"[{', '.join(items)}]"
        if len(one_line) <= WIDTH and not (items and isinstance(value[0], Mapping)):
            return one_line
        return "[\n" + "".join(f"  {item},\n" for item in items) + "]"
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    return repr(value)
