"""Field definitions: one place for the meaning, unit and legal range of every input column.

A table of the plant folder is described by a frozen pydantic dataclass whose fields are made by :func:`column`, the
sections of ``plant.toml`` by pydantic models. Checks, blank folder, field reference and labels are read from these.
"""

from __future__ import annotations

import types
import typing
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from operator import attrgetter
from typing import Annotated, Any

from pydantic import ConfigDict, Field
from pydantic.fields import FieldInfo
from pydantic_core import CoreSchema, PydanticUndefined, core_schema

ROW = ConfigDict(extra="forbid", defer_build=True)
"""Of every row type: no unknown columns; its checks are built when they are first needed, so that workers, which
only receive rows, never build them."""


@dataclass(frozen=True)
class InputColumn:
    """What one column means and which values it may hold.

    ``kind`` is the type of a value, of one item where ``is_list`` (a ``;``-separated list); ``unit`` is the unit in
    which the value is written in the file; ``limits`` is the legal range in words; ``refers_to`` names the table
    whose key the value must match; ``is_id``: an identifier, which others refer to and which has a grammar.
    """

    meaning: str
    kind: type
    unit: str = ""
    key: bool = False
    limits: str = ""
    choices: tuple[str, ...] = ()
    refers_to: str = ""
    is_list: bool = False
    optional: bool = False
    is_id: bool = False
    default: Any = PydanticUndefined

    @property
    def required(self) -> bool:
        """Whether the file must have this column, filled in each row."""
        return self.default is PydanticUndefined


def column(
    meaning: str,
    *,
    default: Any = ...,
    unit: str = "",
    key: bool = False,
    low: float | None = None,
    high: float | None = None,
    refers_to: str = "",
) -> Any:
    """Declare a table column; without ``default`` the column is required in the file."""
    more: dict[str, Any] = {"unit": unit, "key": key, "refers_to": refers_to}
    return Field(default, description=meaning, ge=low, le=high, json_schema_extra=more)


@dataclass(frozen=True)
class OneOf:
    """Marks a text that must be one of these words, as in ``Annotated[str, OneOf(SKILLS)]``."""

    words: tuple[str, ...]

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> CoreSchema:
        """Return the check, as of a Literal."""
        return core_schema.literal_schema(list(self.words))


@lru_cache
def columns_of(row_type: Any) -> Mapping[str, InputColumn]:
    """Return the columns of a row type in file order."""
    return {name: _column(field) for name, field in row_type.__pydantic_fields__.items()}


def _column(field: FieldInfo) -> InputColumn:
    more: Any = field.json_schema_extra
    return InputColumn(
        field.description or "", limits=limits(field), default=field.default, **more, **_of_type(type_of(field))
    )


def type_of(field: FieldInfo) -> Any:
    """Return the type of a field with its limits, as it was annotated."""
    return Annotated[(field.annotation, *field.metadata, None)]


def _of_type(annotation: Any) -> dict[str, Any]:
    """Return kind and choices of a value, and whether it is a list or may be missing."""
    inner: Any = annotation
    marks: list[Any] = []
    if typing.get_origin(annotation) is Annotated:
        inner, *marks = typing.get_args(annotation)
    arguments = [member for member in typing.get_args(inner) if member not in (type(None), Ellipsis)]
    if typing.get_origin(inner) in (typing.Union, types.UnionType):
        return {**_of_type(arguments[0]), "optional": True}
    if typing.get_origin(inner) is tuple:
        return {**_of_type(arguments[0]), "is_list": True}
    if typing.get_origin(inner) is typing.Literal:
        return {"kind": str, "choices": tuple(arguments)}
    words = next((mark.words for mark in marks if isinstance(mark, OneOf)), ())
    is_id = any(hasattr(mark, "pattern") for mark in marks)
    return {"kind": inner, "choices": tuple(filter(None, words)), "is_id": is_id}


def limits(field: FieldInfo) -> str:
    """Return the legal range of a field in words, or nothing."""
    marks = {name: getattr(m, name) for m in field.metadata for name in RANGE_WORDS if hasattr(m, name)}
    if marks.keys() == {"ge", "le"}:
        return f"{marks['ge']:g} to {marks['le']:g}"
    return ", ".join(RANGE_WORDS[name].format(value) for name, value in marks.items())


RANGE_WORDS = {"ge": "{:g} or more", "gt": "above {:g}", "le": "at most {:g}", "lt": "below {:g}"}


@lru_cache
def key_columns(row_type: Any) -> tuple[str, ...]:
    """Return the names of the columns that together identify a row."""
    return tuple(name for name, spec in columns_of(row_type).items() if spec.key)


RowKey = Callable[[Any], tuple[Any, ...]]


@lru_cache
def row_key(row_type: Any) -> RowKey:
    """Return a function that gives the key of a row as a tuple."""
    names = key_columns(row_type)
    get = attrgetter(*names)
    return get if len(names) > 1 else lambda row: (get(row),)
