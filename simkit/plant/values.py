"""The text of one cell of a table: how it is read, how it is written, and what is said when it is wrong.

Nothing is guessed: a decimal comma, a date that is not ISO or a unit in the cell is named and refused.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from simkit.base.fields import MISSING, Column
from simkit.base.messages import nearest

NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
ISO_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")
ISO_TIME = re.compile(r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}(:\d{2})?")
WALL_TIME = re.compile(r"([01]\d|2[0-3]):[0-5]\d")
LONGEST_LIST = 15
SPREADSHEET_EPOCH = dt.date(1899, 12, 30)
SPREADSHEET_DAYS = range(36526, 73051)
"""Day numbers of the years 2000 to 2099 in common spreadsheet programs."""


@dataclass(eq=False)
class Fault(Exception):
    """Why a value is refused and how to mend it; ``kind`` groups like faults of a column."""

    kind: str
    why: str
    mend: str


def near(name: str, known: Iterable[str]) -> str:
    """Return the nearest known name as a question, or the known names if they are few."""
    names = list(known)
    hint = nearest(name, names)
    if hint.startswith("did you mean") or len(names) <= LONGEST_LIST:
        return hint
    return f"known names: {', '.join(names[:LONGEST_LIST])} and {len(names) - LONGEST_LIST} more"


def read_value(text: str, kind: str, spec: Column, default: Any = MISSING) -> Any:
    """Return the value of a cell of type ``kind``; raise :class:`Fault` when it cannot be one.

    An empty cell takes ``default``; without one it is refused.
    """
    text = text.strip()
    if text == "":
        if default is MISSING:
            raise Fault("empty", "is empty but must have a value", f"Write {what(kind, spec)}")
        return default
    if spec.is_list:
        items = [_read_one(item.strip(), item_kind(kind), spec) for item in text.split(";") if item.strip()]
        return tuple(items)
    return _read_one(text, kind.removesuffix(" | None"), spec)


def item_kind(kind: str) -> str:
    """Return the type of one item of a list column."""
    return {"Numbers": "float", "Words": "str"}[kind]


def _read_one(text: str, kind: str, spec: Column) -> Any:
    value = READERS[kind](text, spec)
    check_limits(value, spec)
    return value


def check_limits(value: Any, spec: Column) -> None:
    """Raise :class:`Fault` when a value is out of its range or not among its choices."""
    if spec.choices and value not in spec.choices:
        raise Fault("choice", "is not one of the known words", f"Write one of them; {near(str(value), spec.choices)}")
    if not isinstance(value, int | float) or isinstance(value, bool):
        return
    if (spec.low is not None and value < spec.low) or (spec.high is not None and value > spec.high):
        raise Fault("range", f"is out of range, it must be {limits(spec)}{_unit(spec)}", "Correct the value")


def limits(spec: Column) -> str:
    """Return the legal range in words, or nothing."""
    if spec.low is not None and spec.high is not None:
        return f"{spec.low:g} to {spec.high:g}"
    if spec.low is not None:
        return f"{spec.low:g} or more"
    return f"{spec.high:g} or less" if spec.high is not None else ""


def what(kind: str, spec: Column) -> str:
    """Return what belongs into a cell, in words."""
    words = {
        "int": "a whole number",
        "float": "a number",
        "bool": "true or false",
        "dt.date": "a date as YYYY-MM-DD",
        "dt.datetime": "a time as YYYY-MM-DD HH:MM",
    }
    text = words.get(kind.removesuffix(" | None"), "a list separated by ;" if spec.is_list else "a text")
    if spec.choices:
        text = ("a list, separated by ;, of " if spec.is_list else "one of ") + ", ".join(spec.choices)
    return f"{text}{_unit(spec)}: {spec.meaning}"


def _unit(spec: Column) -> str:
    return f" {spec.unit}" if spec.unit else ""


def _text(text: str, spec: Column) -> str:
    return text


def _float(text: str, spec: Column) -> float:
    if NUMBER.fullmatch(text) and math.isfinite(float(text)):
        return float(text)
    raise _number_fault(text, spec)


def _int(text: str, spec: Column) -> int:
    number = _float(text, spec)
    if number != int(number):
        raise Fault("whole", "is not a whole number", f"Write a whole number{_of(spec)}")
    return int(number)


def _of(spec: Column) -> str:
    return f" of {spec.unit}" if spec.unit else ""


def _number_fault(text: str, spec: Column) -> Fault:
    """Name what the text looks like."""
    if re.fullmatch(r"[+-]?\d{1,3}(\.\d{3})+,\d+", text):
        plain = text.replace(".", "").replace(",", ".")
        return Fault("comma", "has points for thousands and a decimal comma", f"Write {plain}; nothing was converted")
    if re.fullmatch(r"[+-]?[1-9]\d{0,2}(,\d{3})+", text):
        one, two = text.replace(",", "."), text.replace(",", "")
        choice = two if text.count(",") > 1 else f"{one} or {two}"
        why = "has a comma, which may be a decimal comma or mark thousands"
        return Fault("comma", why, f"Write {choice}; nothing was converted")
    if re.fullmatch(r"[+-]?\d*,\d+", text):
        return Fault("comma", "has a decimal comma", f"Write {text.replace(',', '.')}; nothing was converted")
    percent = re.fullmatch(r"([+-]?\d+(?:\.\d+)?)\s*%", text)
    if percent:
        return Fault("percent", "is a percentage", f"Write it as a fraction, {float(percent[1]) / 100:g}")
    led = re.match(r"([+-]?\d+(?:\.\d+)?)\s+?(\D+)$", text) or re.match(r"([+-]?\d+(?:\.\d+)?)([A-Za-z]+\d?)$", text)
    if led:
        unit = f"the unit of this column is {spec.unit}" if spec.unit else "this column has no unit"
        return Fault("unit", f"has text after the number; {unit}", f"Write {led[1]} if that is its unit, else convert")
    return Fault("number", "is not a number", f"Write a number with a decimal point{_in(spec)}")


def _in(spec: Column) -> str:
    return f", in {spec.unit}" if spec.unit else ""


def _bool(text: str, spec: Column) -> bool:
    word = text.lower()
    if word in ("true", "false"):
        return word == "true"
    yes = word in ("yes", "y", "1", "x", "on")
    no = word in ("no", "n", "0", "-", "off")
    hint = "true" if yes else "false" if no else "true or false"
    raise Fault("bool", "is not true or false", f"Write {hint}")


def _date(text: str, spec: Column) -> dt.date:
    if ISO_DATE.fullmatch(text):
        try:
            return dt.date.fromisoformat(text)
        except ValueError as error:
            raise Fault("date", "is no day of the calendar", "Write a day that exists, as YYYY-MM-DD") from error
    raise _date_fault(text)


def _date_fault(text: str) -> Fault:
    """Name the dates that the text may mean."""
    if ISO_TIME.fullmatch(text):
        return Fault("date", "has a time of day where only a date belongs", f"Write {text[:10]}")
    if text.isdigit() and len(text) == 5 and int(text) in SPREADSHEET_DAYS:
        day = SPREADSHEET_EPOCH + dt.timedelta(int(text))
        return Fault("date", f"looks like a spreadsheet's day number for {day}", f"Write {day} if that is right")
    parts = re.fullmatch(r"(\d{1,2})[./-](\d{1,2})[./-](\d{4}|\d{2})", text)
    meant = _meant_dates(*(int(part) for part in parts.groups())) if parts else []
    if len(meant) == 2:
        why = f"is not an ISO date; it could be {_spoken(meant[0])} or {_spoken(meant[1])}"
        return Fault("date", why, f"Write {meant[0]} or {meant[1]}; nothing was guessed")
    if meant:
        return Fault("date", f"is not an ISO date; it looks like {_spoken(meant[0])}", f"Write {meant[0]}")
    return Fault("date", "is not a date", "Write it as YYYY-MM-DD")


def _meant_dates(first: int, second: int, year: int) -> list[dt.date]:
    """Return the days that day-first and month-first reading give, without doubles."""
    year += 2000 if year < 100 else 0
    days = []
    for day, month in ((first, second), (second, first)):
        try:
            days.append(dt.date(year, month, day))
        except ValueError:
            continue
    return list(dict.fromkeys(days))


def _spoken(day: dt.date) -> str:
    return f"{day.day} {day:%B %Y}"


def _datetime(text: str, spec: Column) -> dt.datetime:
    if ISO_TIME.fullmatch(text):
        try:
            return dt.datetime.fromisoformat(text)
        except ValueError as error:
            raise Fault("time", "is no time of the calendar", "Write a time that exists") from error
    raise Fault("time", "is not an ISO time", "Write it as YYYY-MM-DD HH:MM, wall time of the plant")


READERS: dict[str, Callable[[str, Column], Any]] = {
    "str": _text, "float": _float, "int": _int, "bool": _bool, "dt.date": _date, "dt.datetime": _datetime,
}  # fmt: skip


def write_value(value: Any) -> str:
    """Return a value as the text that :func:`read_value` reads back to the same value."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, tuple):
        return ";".join(write_value(item) for item in value)
    if isinstance(value, float):
        return str(int(value)) if value == int(value) and abs(value) < 1e15 else repr(value)
    return str(value)


def fit_value(value: Any, kind: str, spec: Column) -> Any:
    """Return a typed value (from TOML or arithmetic) as the type of a column; raise :class:`Fault` if it is not one."""
    optional = kind.endswith(" | None")
    if optional and value in (None, "", "none"):
        return None
    if isinstance(value, str) and (kind != "str" or spec.choices):
        return read_value(value, kind, spec)
    if spec.is_list:
        if not isinstance(value, list | tuple):
            raise Fault("list", "is not a list", f"Write {what(kind, spec)}")
        return tuple(_fit_one(item, item_kind(kind), spec) for item in value)
    return _fit_one(value, kind.removesuffix(" | None"), spec)


def _fit_one(value: Any, kind: str, spec: Column) -> Any:
    number = isinstance(value, int | float) and not isinstance(value, bool)
    fits = {
        "str": isinstance(value, str),
        "float": number,
        "int": number,
        "bool": isinstance(value, bool),
        "dt.date": isinstance(value, dt.date) and not isinstance(value, dt.datetime),
        "dt.datetime": isinstance(value, dt.datetime),
    }
    if not fits[kind]:
        raise Fault("type", "is of the wrong kind", f"Write {what(kind, spec)}")
    if number:
        return _read_one(repr(value), kind, spec)
    check_limits(value, spec)
    return value


def minutes_between(start: str, end: str) -> int:
    """Minutes of wall time from one time of day (HH:MM) to the next other one; 0 when they are equal."""
    a, b = (int(text[:2]) * 60 + int(text[3:]) for text in (start, end))
    return (b - a) % (24 * 60)
