"""What would overflow, run for days or crash after a clean check is refused where it is read, in words."""

from __future__ import annotations

import pytest

from tests.plant.conftest import Folder

EDIT = """[[option]]
id = "N1"
name = "x"
kind = "low_capital"
edits = [{{ path = "{}", op = "{}", value = {} }}]
"""
NESTED = '[["a"], ["b"]]'
SETTINGS = [
    ("brackets", 'name = "Small plant"', "x = " + "[" * 1000, "nests brackets too deep"),
    ("digits", 'name = "Small plant"', "x = " + "9" * 4301, "a number has too many digits"),
    ("nest", "closed_days = []", "closed_days = " + "[" * 50 + "]" * 50, "nests brackets too deep"),
    ("huge", "idle_kw = 4.0", "idle_kw = 1e300", "is larger than any number of a plant"),
    ("huge whole", "seed = 7", "seed = 1" + "0" * 400, "is larger than any number of a plant"),
    ("year 1", "start_monday = 2026-01-05", "start_monday = 0001-01-01", "is not between the years 1990 and 2100"),
    ("year 9999", "closed_days = []", "closed_days = [9999-12-31]", "is not between the years 1990 and 2100"),
    ("weeks", "\nweeks = 1.0", "\nweeks = 1e9", "less than or equal to 520"),
    ("end", "max_weeks = 26.0", "max_weeks = 1e9", "less than or equal to 1040"),
    ("demand", "demand_factor = 1.0", "demand_factor = 1e9", "less than or equal to 10"),
    ("stations", "count = 6", "count = 1000000000", "less than or equal to 500"),
]
EDITS = [
    ("a list to a list of texts", "plant.rules.pinned", "add", NESTED, "should be a valid string"),
    ("a section to a list", "plant.calendar.shifts", "add", '[{ name = "x" }]', "is required but missing"),
    ("a list into a cell", "tools[*].kind", "set", NESTED, "is not one of the known words"),
    ("a list as a key", "people", "add_row", '{ person_id = ["x"], skills = ["load"], shift = "early" }', "wrong kind"),
    ("too much", "elements[*].typical", "multiply", "1e308", "is larger than any number of a plant"),
    ("another century", "orders[1001].due", "set", "9999-01-09", "is not between the years 1990 and 2100"),
]


@pytest.mark.parametrize(("old", "new", "said"), [c[1:] for c in SETTINGS], ids=[c[0] for c in SETTINGS])
def test_settings_that_no_plant_has(folder: Folder, old: str, new: str, said: str) -> None:
    message = folder.change("plant.toml", old, new).messages()[0]
    assert message.startswith("plant.toml")
    assert said in message
    assert len(message) < 600


@pytest.mark.parametrize(("path", "op", "value", "said"), [c[1:] for c in EDITS], ids=[c[0] for c in EDITS])
def test_edits_that_no_value_takes(folder: Folder, path: str, op: str, value: str, said: str) -> None:
    message = folder.append("options.toml", EDIT.format(path, op, value)).messages()[0]
    assert message.startswith("options.toml")
    assert said in message


@pytest.mark.parametrize("sheets", ["1e9", "1e300", "9" * 4301, "100001"])
def test_an_order_of_more_sheets_than_a_cell_makes_in_a_life(folder: Folder, sheets: str) -> None:
    assert folder.change("orders.csv", "P-1,3,", f"P-1,{sheets},").only().startswith("orders.csv row 2 sheets")


def test_an_order_of_another_century(folder: Folder) -> None:
    message = folder.change("orders.csv", "2026-01-05,2026-01-07", "2026-01-05,9999-12-31").only()
    assert 'due "9999-12-31": is not between the years 1990 and 2100' in message


def test_a_week_in_which_nobody_works(folder: Folder) -> None:
    days = 'days = ["Mon", "Tue", "Wed", "Thu", "Fri"]'
    assert folder.change("plant.toml", days, "days = []").messages() == []
    assert "no shift has a day, so nobody ever works" in folder.change("plant.toml", days, "days = []").only()
