"""The small notations inside tables."""

from __future__ import annotations

import pytest

from simkit.plant.conditions import parse_condition, parse_duties, split_tool, split_unit


def test_conditions() -> None:
    assert parse_condition("") == ()
    assert parse_condition("family=GALL and mass_kg>25") == (("family", "=", "GALL"), ("mass_kg", ">", "25"))
    assert parse_condition("thickness_mm < 2.5") == (("thickness_mm", "<", "2.5"),)


def test_units() -> None:
    assert split_unit("min/order") == (60.0, "order")
    assert split_unit("s/hit") == (1.0, "hit")
    assert split_unit("h/regrind") == (3600.0, "regrind")
    assert split_unit("ratio/process") == (1.0, "process")


def test_tools_with_a_clearance() -> None:
    assert split_tool("TL-001@0.20") == ("TL-001", 0.2)
    assert split_tool("TL-001") == ("TL-001", None)
    with pytest.raises(ValueError, match="not a clearance"):
        split_tool("TL-001@")


@pytest.mark.parametrize(
    ("text", "windows"),
    [
        ("", []),
        ("Mon-Wed 10:00-14:00", [(("Mon", "Tue", "Wed"), "10:00", "14:00")]),
        ("Sat 06:00-08:00; Mon 22:00-02:00", [(("Sat",), "06:00", "08:00"), (("Mon",), "22:00", "02:00")]),
    ],
)
def test_duties(text: str, windows: list[tuple[tuple[str, ...], str, str]]) -> None:
    assert [(tuple(window.days), window.start, window.end) for window in parse_duties(text)] == windows


@pytest.mark.parametrize("text", ["Mon 10-14", "Fri-Mon 10:00-14:00", "10:00-14:00", "Mon-Fri 10:00-24:00"])
def test_duties_that_are_refused(text: str) -> None:
    with pytest.raises(ValueError, match="is not like"):
        parse_duties(text)
