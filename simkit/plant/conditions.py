"""The small notations inside tables: ``applies_to`` conditions, units of elements, duties, tool states."""

from __future__ import annotations

import re

from simkit.base.units import TIME_UNIT_S
from simkit.base.vocabulary import DRIVERS, WEEKDAYS
from simkit.plant.settings import Window
from simkit.plant.values import WALL_TIME, near

NUMBER_FACTS = ("mass_kg", "thickness_mm", "sheet_length_mm", "sheet_width_mm")
TEXT_FACTS = ("family", "material", "metal", "program", "surface_sensitive", "handover", "gas", "nozzle")
FACTS = (*TEXT_FACTS, *NUMBER_FACTS)
"""What a condition may ask about a sheet and its program."""

RATIO = "ratio"
"""Unit of the run-time ratio, only with the driver ``process``."""


def parse_condition(text: str) -> tuple[tuple[str, str, str], ...]:
    """Read ``family=GALL and mass_kg>25`` into (fact, sign, value) triples, all of which must hold.

    Empty text gives none. Raises ValueError with the reason in words.
    """
    pieces = filter(None, (piece.strip() for piece in text.split(" and ")))
    return tuple(_parse_piece(piece) for piece in pieces)


def _parse_piece(piece: str) -> tuple[str, str, str]:
    match = re.fullmatch(r"(\w+)\s*([=<>])\s*([^=<>]+)", piece)
    if match is None:
        raise ValueError(f"'{piece}' is not a condition such as family=GALL or mass_kg>25")
    fact, sign, value = match[1], match[2], match[3].strip()
    if fact not in FACTS:
        raise ValueError(f"'{fact}' is not something a condition can ask about; {near(fact, FACTS)}")
    if fact in TEXT_FACTS and sign != "=":
        raise ValueError(f"'{piece}' compares a word, which can only be done with =")
    if fact == "surface_sensitive" and value not in ("true", "false"):
        raise ValueError(f"'{piece}' must be surface_sensitive=true or surface_sensitive=false")
    if fact in NUMBER_FACTS and not re.fullmatch(r"\d+(\.\d+)?", value):
        raise ValueError(f"'{value}' after {fact} is not a number with a decimal point")
    return fact, sign, value


def split_unit(unit: str) -> tuple[float, str]:
    """Return (seconds in the time unit, driver) of a unit such as ``min/order``; raise ValueError in words.

    The run-time ratio ``ratio/process`` counts as 1.
    """
    time_unit, slash, driver = unit.partition("/")
    if not slash:
        raise ValueError("has no '/' between the time unit and what it is counted per, as in min/order")
    if driver not in DRIVERS:
        raise ValueError(f"counts per '{driver}', which is not known; {near(driver, DRIVERS)}")
    if (time_unit == RATIO) != (driver == "process"):
        raise ValueError("the unit 'ratio' goes with '/process' and with nothing else")
    if time_unit != RATIO and time_unit not in TIME_UNIT_S:
        raise ValueError(f"'{time_unit}' is not a time unit; known names: {', '.join(TIME_UNIT_S)}")
    return TIME_UNIT_S.get(time_unit, 1.0), driver


def parse_duties(text: str) -> tuple[Window, ...]:
    """Read ``Mon-Fri 10:00-14:00; Sat 06:00-08:00`` into windows; raises ValueError with the faulty piece."""
    day, clock = "|".join(WEEKDAYS), WALL_TIME.pattern
    windows = []
    for piece in filter(None, (piece.strip() for piece in text.split(";"))):
        match = re.fullmatch(rf"({day})(?:-({day}))?\s+{clock}-{clock}", piece)
        first, last = (WEEKDAYS.index(match[1]), WEEKDAYS.index(match[2] or match[1])) if match else (1, 0)
        if last < first:
            raise ValueError(f"'{piece}' is not like 'Mon-Fri 10:00-14:00'")
        start, end = piece.split()[-1].split("-")
        windows.append(Window(days=WEEKDAYS[first : last + 1], start=start, end=end))
    return tuple(windows)


def split_tool(text: str) -> tuple[str, float | None]:
    """Return (tool_id, clearance in mm or None) of ``TL-001@0.20`` or ``TL-001``; raise ValueError in words."""
    tool_id, at, clearance = text.partition("@")
    if not at:
        return tool_id, None
    try:
        return tool_id, float(clearance)
    except ValueError as error:
        raise ValueError(f"'{clearance}' after @ is not a clearance in mm with a decimal point") from error
