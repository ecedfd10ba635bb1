"""What the text of a cell is read as, and what is said when it is refused."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.base.fields import Column
from simkit.plant.values import Fault, fit_value, near, read_value, write_value

LENGTH = Column("a length", unit="mm", low=0, high=100)
PLAIN = Column("anything")


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("12", "float", 12.0),
        ("+1.5e1", "float", 15.0),
        (".5", "float", 0.5),
        ("7", "int", 7),
        ("7.0", "int", 7),
        ("TRUE", "bool", True),
        ("false", "bool", False),
        ("2026-04-03", "dt.date", dt.date(2026, 4, 3)),
        ("2026-04-03 06:30", "dt.datetime", dt.datetime(2026, 4, 3, 6, 30)),
        ("007", "str", "007"),
        (" padded ", "str", "padded"),
    ],
)
def test_a_cell_is_read_as_its_type(text: str, kind: str, value: Any) -> None:
    assert read_value(text, kind, PLAIN) == value


def test_lists_are_separated_by_semicolons() -> None:
    assert read_value("0.2; 0.30;", "Numbers", Column("clearances", is_list=True)) == (0.2, 0.3)
    assert read_value("load;unload", "Words", Column("skills", is_list=True)) == ("load", "unload")


def test_an_empty_cell_takes_the_default_or_is_refused() -> None:
    assert read_value("", "float", LENGTH, 3.0) == 3.0
    assert read_value("", "float | None", LENGTH, None) is None
    with pytest.raises(Fault, match="empty"):
        read_value(" ", "float", LENGTH)


@pytest.mark.parametrize(
    ("text", "kind", "why", "mend"),
    [
        ("1,5", "float", "decimal comma", "Write 1.5"),
        ("0,250", "float", "decimal comma", "Write 0.250"),
        ("1.234,5", "float", "points for thousands and a decimal comma", "Write 1234.5"),
        ("1,234", "float", "may be a decimal comma or mark thousands", "Write 1.234 or 1234"),
        ("1,234,567", "float", "mark thousands", "Write 1234567"),
        ("9%", "float", "percentage", "0.09"),
        ("12 in", "float", "the unit of this column is mm", "Write 12"),
        ("12mm", "float", "the unit of this column is mm", "Write 12"),
        ("abc", "float", "not a number", "decimal point, in mm"),
        ("nan", "float", "not a number", "decimal point"),
        ("inf", "float", "not a number", "decimal point"),
        ("1e999", "float", "not a number", "decimal point"),
        ("1_000", "float", "not a number", "decimal point"),
        ("2.5", "int", "not a whole number", "whole number of mm"),
        ("-1", "float", "0 to 100 mm", "Correct"),
        ("101", "float", "0 to 100 mm", "Correct"),
        ("yes", "bool", "not true or false", "Write true"),
        ("0", "bool", "not true or false", "Write false"),
        ("maybe", "bool", "not true or false", "Write true or false"),
        ("03/04/2026", "dt.date", "3 April 2026 or 4 March 2026", "Write 2026-04-03 or 2026-03-04"),
        ("23.4.2026", "dt.date", "looks like 23 April 2026", "Write 2026-04-23"),
        ("4/23/26", "dt.date", "looks like 23 April 2026", "Write 2026-04-23"),
        ("46115", "dt.date", "spreadsheet's day number for 2026-04-03", "Write 2026-04-03"),
        ("2026-02-30", "dt.date", "no day of the calendar", "YYYY-MM-DD"),
        ("2026-04-03 00:00:00", "dt.date", "time of day", "Write 2026-04-03"),
        ("20260403", "dt.date", "not a date", "YYYY-MM-DD"),
        ("tomorrow", "dt.date", "not a date", "YYYY-MM-DD"),
        ("2026-04-03", "dt.datetime", "not an ISO time", "HH:MM"),
        ("2026-04-03 25:00", "dt.datetime", "no time of the calendar", "exists"),
    ],
)
def test_a_wrong_cell_is_named_for_what_it_looks_like(text: str, kind: str, why: str, mend: str) -> None:
    with pytest.raises(Fault) as caught:
        read_value(text, kind, LENGTH)
    assert why in caught.value.why
    assert mend in caught.value.mend


def test_choices_name_the_nearest_word() -> None:
    with pytest.raises(Fault) as caught:
        read_value("cuting", "str", Column("kind", choices=("cutting", "forming")))
    assert "did you mean 'cutting'?" in caught.value.mend


def test_each_item_of_a_list_is_checked() -> None:
    with pytest.raises(Fault, match="known words"):
        read_value("load;jump", "Words", Column("skills", choices=("load",), is_list=True))


@pytest.mark.parametrize(
    ("value", "kind"), [(True, "float"), ("x", "float"), (1.5, "str"), (1, "bool"), (2.5, "int"), (3, "dt.date")]
)
def test_typed_values_of_the_wrong_kind_are_refused(value: Any, kind: str) -> None:
    with pytest.raises(Fault):
        fit_value(value, kind, PLAIN)


def test_optional_values_can_be_emptied() -> None:
    assert fit_value("", "float | None", LENGTH) is None
    assert fit_value("none", "dt.date | None", PLAIN) is None
    assert fit_value(4, "float | None", LENGTH) == 4.0


@settings(max_examples=60, deadline=None)
@given(st.floats(allow_nan=False, allow_infinity=False) | st.integers() | st.booleans() | st.dates() | st.none())
def test_written_values_read_back(value: Any) -> None:
    kind = {bool: "bool", int: "int", float: "float", dt.date: "dt.date", type(None): "str | None"}[type(value)]
    if isinstance(value, int) and abs(value) > 2**53:
        return
    assert read_value(write_value(value), kind, PLAIN, None) == value


def test_a_long_list_of_known_names_is_cut() -> None:
    hint = near("zzz", [f"TL-{i:03}" for i in range(40)])
    assert "and 25 more" in hint
