"""Field definitions: one place for the meaning, unit and legal range of every input column.

A table of the plant folder is described by a frozen dataclass whose fields are made by
:func:`column`. The reader builds its checks from them, the blank template its heads, the
field reference page its lines and the figures their axis labels.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

MISSING: Any = dataclasses.MISSING


@dataclass(frozen=True)
class Column:
    """What one column means and which values it may hold.

    ``unit`` is the unit in which the value is written in the file; ``refers_to`` names the
    table whose key the value must match; ``list_of`` marks a ``;``-separated list.
    """

    meaning: str
    unit: str = ""
    key: bool = False
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()
    refers_to: str = ""
    is_list: bool = False


def column(
    meaning: str,
    *,
    default: Any = MISSING,
    unit: str = "",
    key: bool = False,
    low: float | None = None,
    high: float | None = None,
    choices: tuple[str, ...] = (),
    refers_to: str = "",
    is_list: bool = False,
) -> Any:
    """Declare a table column; without ``default`` the column is required in the file."""
    described = Column(meaning, unit, key, low, high, choices, refers_to, is_list)
    return dataclasses.field(default=default, metadata={"column": described})


@lru_cache
def columns_of(row_type: type) -> Mapping[str, tuple[Column, Any, Any]]:
    """Return ``{name: (column, annotated type as text, default or MISSING)}`` in file order."""
    return {field.name: (field.metadata["column"], field.type, field.default) for field in dataclasses.fields(row_type)}


@lru_cache
def key_columns(row_type: type) -> tuple[str, ...]:
    """Return the names of the columns that together identify a row."""
    return tuple(name for name, (spec, _, _) in columns_of(row_type).items() if spec.key)


RowKey = Callable[[Any], tuple[Any, ...]]


def row_key(row_type: type) -> RowKey:
    """Return a function that gives the key of a row as a tuple."""
    names = key_columns(row_type)
    return lambda row: tuple(getattr(row, name) for name in names)
