"""The text of one cell of a table: how it is read, how it is written, and what is said when it is wrong.

Nothing is guessed: a decimal comma, a date that is not ISO or a unit in the cell is named and refused. The types of
this module are those of the columns: each takes a value as it is, or its text.
"""

from __future__ import annotations

import datetime as dt
import math
import re
import unicodedata
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, StringConstraints, TypeAdapter, ValidationError
from pydantic_core import PydanticCustomError

from simkit.base.messages import nearest
from simkit.plant.fields import InputColumn, columns_of, type_of
from simkit.plant.settings_base import LARGEST, in_our_time

NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
FLAG = re.compile("true|false", re.IGNORECASE)
ISO_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")
ISO_TIME = re.compile(r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}(:\d{2})?")
WALL_TIME = re.compile(r"([01]\d|2[0-3]):[0-5]\d")
ID_SIGNS = " ._+/&#():-"
"""Signs of an identifier besides letters and digits: none that means something in a path, a list or a formula."""
ID_GRAMMAR = rf"^[\p{{L}}\p{{N}}](?:[\p{{L}}\p{{N}}{ID_SIGNS}]{{0,58}}[\p{{L}}\p{{N}}{ID_SIGNS.strip()}])?$"
ID_WORDS = f"letters, digits, blanks and {' '.join(ID_SIGNS.strip())}, a letter or digit first, at most 60 signs"
KIND_WORDS = {
    str: "text", float: "number", int: "whole number", bool: "true or false", dt.date: "date as YYYY-MM-DD",
    dt.datetime: "time as YYYY-MM-DD HH:MM",
}  # fmt: skip
LONGEST_LIST = 15
SPREADSHEET_EPOCH = dt.date(1899, 12, 30)
SPREADSHEET_DAYS = range(36526, 73051)
"""Day numbers of the years 2000 to 2099 in common spreadsheet programs."""


@dataclass(eq=False)
class Refusal(ValueError):
    """Why a value is refused and how to mend it; ``kind`` groups like faults of a column."""

    kind: str
    why: str
    mend: str


LARGEST_COUNT = 10**9
"""No count of a plant is larger."""


def _refused(kind: str) -> PydanticCustomError:
    """A refusal whose words :func:`fault_of` finds; most values are sound and need none."""
    return PydanticCustomError(kind, kind)


def _number(value: Any) -> float:
    if isinstance(value, str):
        if not NUMBER.fullmatch(value):
            raise _refused("number")
    elif isinstance(value, bool):
        raise _refused("type")
    try:
        number = float(value)
    except (TypeError, ValueError):
        raise _refused("type") from None
    except OverflowError:
        raise _refused("number") from None
    if not abs(number) <= LARGEST:
        raise _refused("huge" if math.isfinite(number) else "number")
    return number


def _whole(value: Any) -> int:
    number = _number(value)
    if number != int(number):
        raise _refused("whole")
    if abs(number) > LARGEST_COUNT:
        raise _refused("huge")
    return int(number)


def _text_or(kind: type, form: re.Pattern[str], parse: Callable[[str], Any], refusal: str) -> BeforeValidator:
    """A reader of texts of one form; a value of exactly this type is taken as it is."""

    def read(value: Any) -> Any:
        if type(value) is kind:
            return value
        if not isinstance(value, str):
            raise _refused("type")
        if not form.fullmatch(value):
            raise _refused(refusal)
        try:
            return parse(value)
        except ValueError:
            raise _refused("calendar") from None

    return BeforeValidator(read)


def readable_by(parse: Callable[[str], Any]) -> AfterValidator:
    """A check of a text that is a notation of its own: ``parse`` reads it or raises ValueError in words."""

    def read(text: str) -> str:
        parse(text)
        return text

    return AfterValidator(read)


def _wall_time(text: str) -> None:
    if text and not WALL_TIME.fullmatch(text):
        raise Refusal("time", "is not a time of day", "Write HH:MM, 00:00 to 23:59")


def _items(value: Any) -> tuple[Any, ...]:
    if isinstance(value, str):
        return tuple(item.strip() for item in value.split(";") if item.strip())
    if isinstance(value, list | tuple):
        return tuple(value)
    raise _refused("type")


Id = Annotated[str, StringConstraints(pattern=ID_GRAMMAR)]
"""What rows are told apart or grouped by: others refer to it, so that it is written in one way (:data:`ID_WORDS`)."""
Number = Annotated[float, BeforeValidator(_number)]
Whole = Annotated[int, BeforeValidator(_whole)]
Flag = Annotated[bool, _text_or(bool, FLAG, lambda text: text.lower() == "true", "flag")]
Day = Annotated[dt.date, _text_or(dt.date, ISO_DATE, dt.date.fromisoformat, "day"), AfterValidator(in_our_time)]
Moment = Annotated[
    dt.datetime, _text_or(dt.datetime, ISO_TIME, dt.datetime.fromisoformat, "moment"), AfterValidator(in_our_time)
]
WallTime = Annotated[str, readable_by(_wall_time)]
LISTED = BeforeValidator(_items)
"""Marks a tuple that is written with ``;`` between its items."""
Numbers = Annotated[tuple[Number, ...], LISTED]


def folded(text: str) -> str:
    """A text without what is easily mistaken: case, blanks and other forms of one letter."""
    return "".join(unicodedata.normalize("NFKC", text).casefold().split())


def near(name: str, known: Iterable[str]) -> str:
    """Return the nearest known name as a question, or the known names if they are few."""
    names = list(known)
    hint = nearest(name, names)
    if hint.startswith("did you mean") or len(names) <= LONGEST_LIST:
        return hint
    return f"known names: {', '.join(names[:LONGEST_LIST])} and {len(names) - LONGEST_LIST} more"


def fault_of(error: Any, spec: InputColumn) -> Refusal:
    """Return in words why the schema refuses a value of a column; ``error`` is one of pydantic's list."""
    kind, value = error["type"], error["input"]
    if kind == "missing":
        return Refusal("empty", "is empty but must have a value", f"Write {what(spec)}")
    if kind == "literal_error":
        return Refusal(
            "choice", "is not one of the known words", f"Write one of them; {near(str(value), spec.choices)}"
        )
    if kind == "string_pattern_mismatch":
        strange = "".join(dict.fromkeys(sign for sign in str(value) if not (sign.isalnum() or sign in ID_SIGNS)))
        why = f"is not an identifier{f', it holds {strange}' if strange else ''}"
        return Refusal("identifier", why, f"Write {ID_WORDS}; free text belongs into a name")
    if kind in ("greater_than_equal", "less_than_equal"):
        return Refusal(
            "range", f"is out of range, it must be {spec.limits}{_unit(spec)}", f"Correct it: {spec.meaning}"
        )
    if kind == "value_error":
        raised = error["ctx"]["error"]
        why = str(raised)
        return raised if isinstance(raised, Refusal) else Refusal(why, why, "Correct it; see the field reference")
    if kind == "huge":
        return Refusal("huge", "is larger than any number of a plant", f"Write {what(spec)}")
    if kind == "whole":
        return Refusal(
            "whole", "is not a whole number", f"Write a whole number{f' of {spec.unit}' if spec.unit else ''}"
        )
    if kind == "calendar":
        part, form = ("time", "") if spec.kind is dt.datetime else ("day", ", as YYYY-MM-DD")
        return Refusal("date", f"is no {part} of the calendar", f"Write a {part} that exists{form}")
    if kind in EXPLAINED and isinstance(value, str):
        return EXPLAINED[kind](value, spec)
    return Refusal("type", "is of the wrong kind", f"Write {what(spec)}")


def what(spec: InputColumn) -> str:
    """Return what belongs into a cell, in words."""
    text = KIND_WORDS[spec.kind]
    if spec.choices:
        text = ("a list, separated by ;, of " if spec.is_list else "one of ") + ", ".join(spec.choices)
    elif spec.is_list:
        text = "a list separated by ;"
    elif spec.kind is not bool:
        text = f"an identifier of {ID_WORDS}" if spec.is_id else f"a {text}"
    return f"{text}{_unit(spec)}: {spec.meaning}"


def _unit(spec: InputColumn) -> str:
    return f" {spec.unit}" if spec.unit else ""


def _number_fault(text: str, spec: InputColumn) -> Refusal:
    """Name what the text looks like."""
    if re.fullmatch(r"[+-]?\d{1,3}(\.\d{3})+,\d+", text):
        plain = text.replace(".", "").replace(",", ".")
        return Refusal("comma", "has points for thousands and a decimal comma", f"Write {plain}; nothing was converted")
    if re.fullmatch(r"[+-]?[1-9]\d{0,2}(,\d{3})+", text):
        one, two = text.replace(",", "."), text.replace(",", "")
        choice = two if text.count(",") > 1 else f"{one} or {two}"
        why = "has a comma, which may be a decimal comma or mark thousands"
        return Refusal("comma", why, f"Write {choice}; nothing was converted")
    if re.fullmatch(r"[+-]?\d*,\d+", text):
        return Refusal("comma", "has a decimal comma", f"Write {text.replace(',', '.')}; nothing was converted")
    percent = re.fullmatch(r"([+-]?\d+(?:\.\d+)?)\s*%", text)
    if percent:
        return Refusal("percent", "is a percentage", f"Write it as a fraction, {float(percent[1]) / 100:g}")
    led = re.match(r"([+-]?\d+(?:\.\d+)?)\s+?(\D+)$", text) or re.match(r"([+-]?\d+(?:\.\d+)?)([A-Za-z]+\d?)$", text)
    if led:
        unit = f"the unit of this column is {spec.unit}" if spec.unit else "this column has no unit"
        return Refusal(
            "unit", f"has text after the number; {unit}", f"Write {led[1]} if that is its unit, else convert"
        )
    return Refusal(
        "number", "is not a number", f"Write a number with a decimal point{f', in {spec.unit}' if spec.unit else ''}"
    )


def _flag_fault(text: str, spec: InputColumn) -> Refusal:
    word = text.lower()
    yes = word in ("yes", "y", "1", "x", "on")
    no = word in ("no", "n", "0", "-", "off")
    hint = "true" if yes else "false" if no else "true or false"
    return Refusal("bool", "is not true or false", f"Write {hint}")


def _day_fault(text: str, spec: InputColumn) -> Refusal:
    """Name the dates that the text may mean."""
    if ISO_TIME.fullmatch(text):
        return Refusal("date", "has a time of day where only a date belongs", f"Write {text[:10]}")
    if text.isdigit() and len(text) == 5 and int(text) in SPREADSHEET_DAYS:
        day = SPREADSHEET_EPOCH + dt.timedelta(int(text))
        return Refusal("date", f"looks like a spreadsheet's day number for {day}", f"Write {day} if that is right")
    parts = re.fullmatch(r"(\d{1,2})[./-](\d{1,2})[./-](\d{4}|\d{2})", text)
    meant = _meant_dates(*(int(part) for part in parts.groups())) if parts else []
    if len(meant) == 2:
        why = f"is not an ISO date; it could be {_spoken(meant[0])} or {_spoken(meant[1])}"
        return Refusal("date", why, f"Write {meant[0]} or {meant[1]}; nothing was guessed")
    if meant:
        return Refusal("date", f"is not an ISO date; it looks like {_spoken(meant[0])}", f"Write {meant[0]}")
    return Refusal("date", "is not a date", "Write it as YYYY-MM-DD")


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


def _moment_fault(text: str, spec: InputColumn) -> Refusal:
    return Refusal("time", "is not an ISO time", "Write it as YYYY-MM-DD HH:MM, wall time of the plant")


EXPLAINED = {"number": _number_fault, "flag": _flag_fault, "day": _day_fault, "moment": _moment_fault}
"""What a text looks like that is not of its kind."""


def write_value(value: Any) -> str:
    """Return a value as the text that :func:`read_rows` reads back to the same value."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, tuple):
        return ";".join(write_value(item) for item in value)
    if isinstance(value, float):
        return str(int(value)) if value == int(value) and abs(value) < 1e15 else repr(value)
    return str(value)


def minutes_between(start: str, end: str) -> int:
    """Minutes of wall time from one time of day (HH:MM) to the next other one; 0 when they are equal."""
    a, b = (int(text[:2]) * 60 + int(text[3:]) for text in (start, end))
    return (b - a) % (24 * 60)


# --- rows of a table, from files, options and overrides alike ---

CellFault = tuple[int, str, Any, Refusal]
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
    """Return a value, or its text, as a value of a column; raise :class:`Refusal` if it is not one.

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
