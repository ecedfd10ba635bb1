"""What the text of a cell is read as, and what is said when it is refused."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any, Literal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError
from pydantic.dataclasses import dataclass

from simkit.plant.fields import ROW, OneOf, column
from simkit.plant.values import (
    LISTED,
    Day,
    Flag,
    Moment,
    Number,
    Numbers,
    Refusal,
    Whole,
    fit_value,
    near,
    read_rows,
    write_value,
)


@dataclass(frozen=True, kw_only=True, config=ROW)
class Cells:
    """One column of each kind."""

    name: str = column("a name", default="")
    length: Number = column("a length", unit="mm", low=0, high=100, default=3.0)
    plain: Number = column("anything", default=0.0)
    perhaps: Number | None = column("a length, if known", unit="mm", default=None)
    count: Whole = column("a count", unit="mm", default=1)
    flag: Flag = column("a flag", default=False)
    day: Day | None = column("a day", default=None)
    moment: Moment | None = column("a moment", default=None)
    sizes: Numbers = column("clearances", default=())
    skills: Annotated[tuple[Annotated[str, OneOf(("load", "unload"))], ...], LISTED] = column("skills", default=())
    kind: Literal["cutting", "forming"] = column("what it does", default="cutting")


@dataclass(frozen=True, kw_only=True, config=ROW)
class Needed:
    """A column that must be filled."""

    length: Number = column("a length", unit="mm")


def read(name: str, text: str) -> Any:
    """The value of a cell of a file; raises its Refusal."""
    rows, faults = read_rows(Cells, [{name: text} if text else {}])
    for _, column_name, value, fault in faults:
        assert (column_name, value) == (name, text)
        raise fault
    return getattr(rows[0], name)


@pytest.mark.parametrize(
    ("text", "name", "value"),
    [
        ("12", "plain", 12.0),
        ("+1.5e1", "plain", 15.0),
        (".5", "plain", 0.5),
        ("7", "count", 7),
        ("7.0", "count", 7),
        ("TRUE", "flag", True),
        ("false", "flag", False),
        ("2026-04-03", "day", dt.date(2026, 4, 3)),
        ("2026-04-03 06:30", "moment", dt.datetime(2026, 4, 3, 6, 30)),
        ("007", "name", "007"),
    ],
)
def test_a_cell_is_read_as_its_type(text: str, name: str, value: Any) -> None:
    found = read(name, text)
    assert (found, type(found)) == (value, type(value))


def test_lists_are_separated_by_semicolons() -> None:
    assert read("sizes", "0.2; 0.30;") == (0.2, 0.3)
    assert read("skills", "load;unload") == ("load", "unload")


def test_an_empty_cell_takes_the_default_or_is_refused() -> None:
    assert read("length", "") == 3.0
    assert read("perhaps", "") is None
    rows, faults = read_rows(Needed, [{}, {"length": "2"}])
    assert rows == {1: Needed(length=2)}
    ((at, name, value, fault),) = faults
    assert (at, name, value, fault.why) == (0, "length", "", "is empty but must have a value")
    assert fault.mend == "Write a number mm: a length"


@pytest.mark.parametrize(
    ("text", "name", "why", "mend"),
    [
        ("1,5", "length", "decimal comma", "Write 1.5"),
        ("0,250", "length", "decimal comma", "Write 0.250"),
        ("1.234,5", "length", "points for thousands and a decimal comma", "Write 1234.5"),
        ("1,234", "length", "may be a decimal comma or mark thousands", "Write 1.234 or 1234"),
        ("1,234,567", "length", "mark thousands", "Write 1234567"),
        ("9%", "length", "percentage", "0.09"),
        ("12 in", "length", "the unit of this column is mm", "Write 12"),
        ("12mm", "length", "the unit of this column is mm", "Write 12"),
        ("abc", "length", "not a number", "decimal point, in mm"),
        ("nan", "length", "not a number", "decimal point"),
        ("inf", "length", "not a number", "decimal point"),
        ("1e999", "length", "not a number", "decimal point"),
        ("1_000", "length", "not a number", "decimal point"),
        ("2.5", "count", "not a whole number", "whole number of mm"),
        ("-1", "length", "0 to 100 mm", "Correct"),
        ("101", "length", "0 to 100 mm", "Correct"),
        ("yes", "flag", "not true or false", "Write true"),
        ("0", "flag", "not true or false", "Write false"),
        ("maybe", "flag", "not true or false", "Write true or false"),
        ("03/04/2026", "day", "3 April 2026 or 4 March 2026", "Write 2026-04-03 or 2026-03-04"),
        ("23.4.2026", "day", "looks like 23 April 2026", "Write 2026-04-23"),
        ("4/23/26", "day", "looks like 23 April 2026", "Write 2026-04-23"),
        ("46115", "day", "spreadsheet's day number for 2026-04-03", "Write 2026-04-03"),
        ("2026-02-30", "day", "no day of the calendar", "YYYY-MM-DD"),
        ("2026-04-03 00:00:00", "day", "time of day", "Write 2026-04-03"),
        ("20260403", "day", "not a date", "YYYY-MM-DD"),
        ("tomorrow", "day", "not a date", "YYYY-MM-DD"),
        ("2026-04-03", "moment", "not an ISO time", "HH:MM"),
        ("2026-04-03 25:00", "moment", "no time of the calendar", "exists"),
    ],
)
def test_a_wrong_cell_is_named_for_what_it_looks_like(text: str, name: str, why: str, mend: str) -> None:
    with pytest.raises(Refusal) as caught:
        read(name, text)
    assert why in caught.value.why
    assert mend in caught.value.mend


def test_choices_name_the_nearest_word() -> None:
    with pytest.raises(Refusal) as caught:
        read("kind", "cuting")
    assert "did you mean 'cutting'?" in caught.value.mend


def test_each_item_of_a_list_is_checked_and_told_once_a_cell() -> None:
    with pytest.raises(Refusal, match="known words"):
        read("skills", "load;jump")
    rows, faults = read_rows(Cells, [{"sizes": "0,2;x", "kind": "cut"}, {}])
    assert [(at, name, fault.kind) for at, name, _, fault in faults] == [(0, "sizes", "comma"), (0, "kind", "choice")]
    assert list(rows) == [1]


@pytest.mark.parametrize(
    ("value", "name"),
    [
        (True, "plain"), ("x", "plain"), (1.5, "name"), (1, "flag"), (2.5, "count"), (3, "day"), ((), "plain"),
        (float("nan"), "plain"), (10**400, "count"), (dt.datetime(2026, 1, 1), "day"), (dt.date(2026, 1, 1), "moment"),
        (0.2, "sizes"), ("", "count"),
    ],
)  # fmt: skip
def test_typed_values_of_the_wrong_kind_are_refused(value: Any, name: str) -> None:
    with pytest.raises(Refusal):
        fit_value(Cells, name, value)
    with pytest.raises(ValidationError):
        Cells(**{name: value})


def test_optional_values_can_be_emptied() -> None:
    assert fit_value(Cells, "perhaps", "") is None
    assert fit_value(Cells, "day", "none") is None
    assert fit_value(Cells, "perhaps", 4) == 4.0


DAYS = st.dates(dt.date(1990, 1, 1), dt.date(2100, 12, 31))


@settings(max_examples=60, deadline=None)
@given(st.floats(-1e15, 1e15) | st.integers(-(10**9), 10**9) | st.booleans() | DAYS | st.none())
def test_written_values_read_back(value: Any) -> None:
    name = {bool: "flag", int: "count", float: "plain", dt.date: "day", type(None): "perhaps"}[type(value)]
    if isinstance(value, int) and abs(value) > 2**53:
        return
    assert read(name, write_value(value)) == value


def test_a_long_list_of_known_names_is_cut() -> None:
    hint = near("zzz", [f"TL-{i:03}" for i in range(40)])
    assert "and 25 more" in hint
