"""Rows from texts or typed values: the one way through the schema for files, options and overrides."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

from pydantic import TypeAdapter, ValidationError

from simkit.plant.fields import columns_of, type_of
from simkit.plant.values import Fault, fault_of

CellFault = tuple[int, str, Any, Fault]
"""(position of the row, column, the value as given, what is wrong with it)."""


def read_rows(row_type: Any, records: Sequence[Mapping[str, Any]]) -> tuple[dict[int, Any], list[CellFault]]:
    """Return the sound rows by position, and every fault of the others, by column.

    A record holds the columns that are not empty, all of them known ones.
    """
    adapter = _rows_adapter(row_type)
    try:
        return dict(enumerate(adapter.validate_python(records))), []
    except ValidationError as found:
        errors = found.errors(include_url=False)
    columns = columns_of(row_type)
    order = {name: at for at, name in enumerate(columns)}
    first = {error["loc"][:2]: error for error in reversed(errors)}
    faulty = {at for at, _ in first}
    sound = [at for at in range(len(records)) if at not in faulty]
    rows = adapter.validate_python([records[at] for at in sound])
    faults = [
        (at, name, records[at].get(name, ""), fault_of(first[at, name], columns[name]))
        for at, name in sorted(first, key=lambda place: (order[place[1]], place[0]))
    ]
    return dict(zip(sound, rows, strict=True)), faults


@lru_cache
def _rows_adapter(row_type: Any) -> TypeAdapter[Any]:
    return TypeAdapter(tuple[row_type, ...])


def fit_value(row_type: Any, name: str, value: Any) -> Any:
    """Return a value, or its text, as a value of a column; raise :class:`Fault` if it is not one.

    Where a column may be empty, ``none`` and an empty text empty it.
    """
    spec = columns_of(row_type)[name]
    if spec.optional and value in ("", "none"):
        return None
    try:
        return _value_adapter(row_type, name).validate_python(value)
    except ValidationError as found:
        raise fault_of(found.errors(include_url=False)[0], spec) from found


@lru_cache
def _value_adapter(row_type: Any, name: str) -> TypeAdapter[Any]:
    return TypeAdapter(type_of(row_type.__pydantic_fields__[name]))
