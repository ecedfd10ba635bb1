"""Reading and writing ``plant.toml`` and ``options.toml``: every fault with its place in the file, all at once."""

from __future__ import annotations

import datetime as dt
import json
import re
import tomllib
import types
import typing
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from simkit.base.messages import Finding
from simkit.plant.csv_files import read_text, unseen
from simkit.plant.options import Option
from simkit.plant.settings import WITHDRAWN, Settings
from simkit.plant.settings_base import LARGEST
from simkit.plant.values import near

Model = TypeVar("Model", bound=BaseModel)
Where = tuple[int | str, ...]
DEEPEST = 20
"""Brackets inside each other in a settings file; none of a plant needs half of them."""
UNKNOWN_KEY = "is not a known key"
MISSING_KEY = "is required but missing"


def read_toml(path: Path) -> tuple[dict[str, Any] | None, str, list[Finding]]:
    """Return the content of a TOML file, its text, and why it cannot be read."""
    text, findings = read_text(path)
    if findings:
        return None, text, findings
    for number, line in enumerate(text.split("\n"), 1):
        if why := unseen(line.removesuffix("\r")):
            return None, text, [Finding(path.name, why, "Type the line anew", row=number, value=line.strip())]
    try:
        return tomllib.loads(text), text, []
    except RecursionError:
        return None, text, [Finding(path.name, "nests brackets too deep", f"Write at most {DEEPEST} inside each other")]
    except ValueError as error:
        at = re.search(r"\(at line (\d+), column (\d+)\)", str(error))
        row = int(at[1]) if at else text.count("\n") + 1
        line = text.splitlines()[row - 1].strip() if text.splitlines()[row - 1 : row] else ""
        told = re.sub(r" .at .*$", "", str(error)).lower() if at else "ends too early, or a number has too many digits"
        why = f"is not valid TOML: {told}"
        mend = "Write key = value; texts in quotation marks, lists in [ ], numbers with a decimal point"
        return None, text, [Finding(path.name, why, mend, row=row, value=line)]


def read_settings(path: Path) -> tuple[Settings | None, list[Finding]]:
    """Return the settings of ``plant.toml``, or what is wrong with them."""
    content, text, findings = read_toml(path)
    if content is None:
        return None, findings
    settings, faults = validate(Settings, content)
    return settings, [located(path.name, text, where, fault) for where, fault in faults]


def read_options(path: Path) -> tuple[tuple[Option, ...], list[Finding]]:
    """Return the options of ``options.toml`` that can be read, and what is wrong with the others."""
    content, text, findings = read_toml(path)
    if content is None:
        return (), findings
    for name in content.keys() - {"option"}:
        mend = "Write each option under its own line [[option]]"
        findings.append(Finding(path.name, "is not known here", mend, column=name, row=line_of(text, (name,))))
    entries = content.get("option", [])
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        mend = "Write each option under its own line [[option]], with double brackets"
        return (), [*findings, Finding(path.name, "option is not a list of options", mend)]
    options = []
    for index, entry in enumerate(entries):
        option, faults = validate(Option, entry)
        options += [option] if option else []
        for where, fault in faults:
            column = f"option {entry.get('id') or index + 1} {dotted(where)}".rstrip()
            findings.append(located(path.name, text, ("option", index, *where), fault, column))
    return tuple(options), findings


def validate(model: type[Model], content: dict[str, Any]) -> tuple[Model | None, list[tuple[Where, Finding]]]:
    """Return a checked model, or every fault with its place inside the content.

    Values are taken as they are written: a number in quotation marks is a text, true is not 1.
    """
    unfit = list(_unfit(content, ()))
    if unfit:
        return None, unfit
    try:
        return model.model_validate_json(json.dumps(content, default=str), strict=True), []
    except ValidationError as errors:
        return None, _once([(tuple(e["loc"]), _model_fault(model, e)) for e in errors.errors(include_url=False)])


def _unfit(value: Any, where: Where) -> Iterator[tuple[Where, Finding]]:
    """Yield the numbers and nests that are too large for any plant, whatever they stand for."""
    inner: Iterable[tuple[int | str, Any]] = ()
    if isinstance(value, dict):
        inner = value.items()
    elif isinstance(value, list | tuple):
        inner = enumerate(value)
    elif isinstance(value, int | float) and LARGEST < abs(value) != float("inf"):
        yield where, Finding("", "is larger than any number of a plant", "Correct it", value=str(value)[:20])
    if inner and len(where) >= DEEPEST:
        yield where, Finding("", "nests brackets too deep", f"Write at most {DEEPEST} inside each other")
        return
    for step, member in inner:
        yield from _unfit(member, (*where, step))


def _once(faults: list[tuple[Where, Finding]]) -> list[tuple[Where, Finding]]:
    """Drop a missing key that a mistyped one in the same section stands for."""
    meant = {
        (*where[:-1], fault.mend.split("'")[1])
        for where, fault in faults
        if fault.why == UNKNOWN_KEY and "did you mean" in fault.mend
    }
    return [(where, fault) for where, fault in faults if not (fault.why == MISSING_KEY and where in meant)]


def _model_fault(model: type[BaseModel], error: Any) -> Finding:
    """Turn one pydantic error into our words; the place is filled in by the caller."""
    loc, kind, value = tuple(error["loc"]), error["type"], error.get("input")
    shown = "" if isinstance(value, dict | list) else str(value)
    if kind == "extra_forbidden":
        known = list(section_at(model, loc[:-1]) or ())
        return Finding("", UNKNOWN_KEY, f"Rename or remove it; {instead_of(loc) or near(str(loc[-1]), known)}")
    if kind == "missing":
        return Finding("", MISSING_KEY, f"Add it: {meaning_at(model, loc)}")
    if kind == "finite_number":
        return Finding("", "is not a finite number", "Write a number", value=shown)
    said = error["msg"].removeprefix("Input ").removeprefix("Value error, ")
    mend = f"Correct it: {meaning_at(model, loc)}"
    if kind == "literal_error":
        mend = f"Write one of them; {near(shown, literals_in(error))}"
    elif _is_fraction(error, meaning_at(model, loc)):
        mend = f"{both_readings(float(value), meaning_at(model, loc))}: {meaning_at(model, loc)}"
    elif kind.startswith("date"):
        mend = f"Write an ISO date without quotation marks, as 2026-04-03: {meaning_at(model, loc)}"
    return Finding("", said, mend, value=shown)


LIMITS = {"less_than": "lt", "less_than_equal": "le", "greater_than": "gt", "greater_than_equal": "ge"}
FRACTION_WORDS = ("share", "fraction", "factor")


def _is_fraction(error: Any, meaning: str) -> bool:
    """Whether a number beyond its limit may be a percentage where a fraction belongs."""
    if error["type"] not in LIMITS or abs(float(error["input"])) <= 1:
        return False
    limit = abs(float(error["ctx"][LIMITS[error["type"]]]))
    return 0 < limit <= 1 or (limit <= 10 and any(word in meaning for word in FRACTION_WORDS))


def both_readings(value: float, meaning: str) -> str:
    """Return what a number means as a fraction, and which fraction it is as a percentage."""
    each = " a year" if "per year" in meaning else ""
    return f"{value:g} means {100 * value:g} %{each}; {value / 100:g} is {value:g} %{each}"


def instead_of(way: Where) -> str:
    """Return which key stands in the place of a withdrawn one, in words, or nothing."""
    key = WITHDRAWN.get(way[-2:])
    return f"it is withdrawn, {key} = true stands in its place" if key else ""


def literals_in(error: Any) -> list[str]:
    """Return the known words that a failed choice names."""
    return re.findall(r"'([^']+)'", error["ctx"]["expected"])


def section_at(model: Any, loc: Where) -> dict[str, Any] | None:
    """Return the fields of the model at a place inside another model, or None where keys are free."""
    for step in loc:
        model = _inner(model, step)
    return next((dict(m.model_fields) for m in _members(model) if _is_model(m)), None)


def meaning_at(model: Any, loc: Where) -> str:
    """Return the meaning of the field at a place, from its description."""
    meaning = "see the field reference"
    for step in loc:
        fields = section_at(model, ()) or {}
        if step in fields and fields[step].description:
            meaning = str(fields[step].description)
        model = _inner(model, step)
    return meaning


def _is_model(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, BaseModel)


def _members(kind: Any) -> Sequence[Any]:
    """Return the alternatives of a union, or the type itself."""
    union = typing.get_origin(kind) in (typing.Union, types.UnionType)
    return [m for m in typing.get_args(kind) if m is not type(None)] if union else [kind]


def _inner(kind: Any, step: int | str) -> Any:
    """Return the type one step further inside."""
    for member in _members(kind):
        if _is_model(member) and step in member.model_fields:
            return member.model_fields[step].annotation
        arguments = [a for a in typing.get_args(member) if a is not Ellipsis]
        if arguments and typing.get_origin(member) in (tuple, list, dict):
            at = step if isinstance(step, int) and step < len(arguments) and len(arguments) > 1 else -1
            return arguments[at]
    return None


def dotted(where: Where) -> str:
    """Return a place as ``calendar.shifts[2].start``; list positions count from 1."""
    text = ""
    for step in where:
        text += f"[{step + 1}]" if isinstance(step, int) else f".{step}" if text else str(step)
    return text


def located(place: str, text: str, where: Where, fault: Finding, column: str = "") -> Finding:
    """Return a fault of a model with its file, its line there and its key."""
    return Finding(place, fault.why, fault.mend, line_of(text, where), column or dotted(where), fault.value)


def line_of(text: str, where: Where) -> int:
    """Return the line of a TOML text that holds the place, or of the nearest table around it; 0 if unknown."""
    best_length, best_line = 0, 0
    table: Where = ()
    counts: dict[Where, int] = {}
    for number, line in enumerate(text.splitlines(), 1):
        head = re.match(r"\s*(\[{1,2})\s*([\w.\-\"']+)\s*\]", line)
        key = re.match(r"\s*([\w.\-\"']+)\s*=", line)
        if head:
            table = _table_place(head[2], head[1] == "[[", counts)
            found = table
        elif key:
            found = (*table, *_split_key(key[1]))
        else:
            continue
        if len(found) > best_length and found == where[: len(found)]:
            best_length, best_line = len(found), number
    return best_line


def _split_key(key: str) -> Where:
    return tuple(part.strip("\"'") for part in key.split("."))


def _table_place(name: str, is_list: bool, counts: dict[Where, int]) -> Where:
    """Return the place of a table head, with the running number of each list of tables in it."""
    place: Where = ()
    plain: Where = ()
    parts = _split_key(name)
    for depth, part in enumerate(parts, 1):
        plain, place = (*plain, part), (*place, part)
        if depth == len(parts) and is_list:
            counts[plain] = counts.get(plain, -1) + 1
            for inner in [p for p in counts if p[: len(plain)] == plain and p != plain]:
                del counts[inner]
        if plain in counts:
            place = (*place, counts[plain])
    return place


def toml_text(section: BaseModel, above: tuple[str, ...] = ()) -> str:
    """Return a settings section as TOML: plain values first, then its sections; None is left out."""
    plain, sections = [], []
    for name in type(section).model_fields:
        value = getattr(section, name)
        if isinstance(value, BaseModel):
            sections.append((name, value))
        elif value is not None:
            plain.append(f"{name} = {toml_value(value)}")
    text = "\n".join(plain) + "\n"
    for name, inner in sections:
        way = (*above, name)
        text += f"\n[{'.'.join(way)}]\n{toml_text(inner, way)}"
    return text


def toml_value(value: Any) -> str:
    """Return a value as TOML on one line."""
    if isinstance(value, BaseModel):
        return toml_value({name: getattr(value, name) for name in type(value).model_fields})
    if isinstance(value, dict):
        pairs = (f"{_toml_key(key)} = {toml_value(inner)}" for key, inner in value.items() if inner is not None)
        return "{ " + ", ".join(pairs) + " }" if value else "{}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(toml_value(inner) for inner in value) + "]"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, dt.date):
        return value.isoformat()
    return json.dumps(str(value), ensure_ascii=False).replace("\x7f", "\\u007f")


def _toml_key(key: str) -> str:
    return key if key.replace("_", "").replace("-", "").isalnum() and key.isascii() else json.dumps(key)
