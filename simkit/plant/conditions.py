"""The small notations inside tables: ``applies_to`` conditions, units of elements, duties, tool states."""

from __future__ import annotations

import operator
import re
from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import TYPE_CHECKING, Annotated, get_args

from simkit.base.units import TIME_UNIT_S
from simkit.base.vocabulary import CHANGEOVER, DRIVERS, EXCHANGES, KEPT, WEEKDAYS
from simkit.plant.settings import TableKind, WeeklyWindow
from simkit.plant.values import WALL_TIME, near, readable_by

if TYPE_CHECKING:
    from simkit.plant.plant import PlantInputs
    from simkit.plant.tables import Element, Program, ProgramPart, Tool

NUMBER_FACTS = ("mass_kg", "thickness_mm", "sheet_length_mm", "sheet_width_mm")
TEXT_FACTS = ("family", "material", "metal", "program", "surface_sensitive", "handover", "gas", "nozzle", "table")
SHEET_FACTS = (*TEXT_FACTS, *NUMBER_FACTS)
"""What a condition may ask about a sheet and its program."""

TOOL_TEXT_FACTS = ("tool", "kind", "kept", "elongated", "shape")
TOOL_NUMBER_FACTS = ("station_mm",)
TOOL_FACTS = (*TOOL_TEXT_FACTS, *TOOL_NUMBER_FACTS)
"""What a condition may ask about a tool, in rows that are counted per tool exchange (:data:`TOOL_DRIVERS`)."""

PART_TEXT_FACTS = ("part",)
PART_NUMBER_FACTS = ("part_kg", "part_long_mm", "part_short_mm")
PART_FACTS = (*PART_TEXT_FACTS, *PART_NUMBER_FACTS)
"""What a condition may ask about a part, in quality.csv and in rows counted per part (:data:`PART_DRIVERS`)."""

PART_DRIVERS = ("part", "tab", "kg", "pick", "pick_blocking", "chute_part")
"""What is counted by the parts of a sheet."""

NO_SHEET_DRIVERS = ("magazine_load", "regrind")
TOOL_DRIVERS = (*EXCHANGES, *NO_SHEET_DRIVERS)
"""What is counted per tool: conditions of such rows may ask about the tool, of the last two about nothing else."""

SHARED_DRIVERS = ("order", "new_program", "tool_load", "die_change", "angle_change", "material_change", "pack_change",
                  "nozzle_change", "clamp_change", "gas_change")  # fmt: skip
"""What two people can set up together while the machine stands."""

_WORDS = {"surface_sensitive": ("true", "false"), "elongated": ("true", "false"), "kind": ("cutting", "forming"),
          "kept": KEPT, "table": get_args(TableKind)}  # fmt: skip
_TEXTS = (*TEXT_FACTS, *TOOL_TEXT_FACTS, *PART_TEXT_FACTS)
_NUMBERS = (*NUMBER_FACTS, *TOOL_NUMBER_FACTS, *PART_NUMBER_FACTS)
_COMPARE = {">": operator.gt, "<": operator.lt, "=": operator.eq}

RATIO = "ratio"
"""Unit of the run-time ratio, only with the driver ``process``."""


def parse_condition(text: str) -> tuple[tuple[str, str, str], ...]:
    """Read ``family=GALL and mass_kg>25`` into (fact, sign, value) triples, all of which must hold.

    Empty text gives none. Whether a row may ask about a tool or a part is not judged here. Raises ValueError with the
    reason in words.
    """
    pieces = filter(None, (piece.strip() for piece in text.split(" and ")))
    return tuple(_parse_piece(piece) for piece in pieces)


def _parse_piece(piece: str) -> tuple[str, str, str]:
    match = re.fullmatch(r"(\w+)\s*([=<>])\s*([^=<>]+)", piece)
    if match is None:
        raise ValueError(f"'{piece}' is not a condition such as family=GALL or mass_kg>25")
    fact, sign, value = match[1], match[2], match[3].strip()
    if fact not in (*_TEXTS, *_NUMBERS):
        raise ValueError(f"'{fact}' is not something a condition can ask about; {near(fact, (*_TEXTS, *_NUMBERS))}")
    if fact in _TEXTS and sign != "=":
        raise ValueError(f"'{piece}' compares a word, which can only be done with =")
    if value not in _WORDS.get(fact, (value,)):
        raise ValueError(f"'{piece}' must be {' or '.join(f'{fact}={word}' for word in _WORDS[fact])}")
    if fact in _NUMBERS and not re.fullmatch(r"\d+(\.\d+)?", value):
        raise ValueError(f"'{value}' after {fact} is not a number with a decimal point")
    return fact, sign, value


_parsed = lru_cache(maxsize=4096)(parse_condition)


def holds(text: str, facts: Mapping[str, float | str], asked: Iterable[str] | None = None) -> bool:
    """Whether a row with this ``applies_to`` is for an entity with these facts; a fact it has not never holds.

    With ``asked`` only conditions on these facts are looked at, and the others count as met.
    """
    for fact, sign, value in _parsed(text):
        if asked is not None and fact not in asked:
            continue
        known = facts.get(fact)
        if known is None:
            return False
        if isinstance(known, str):
            if known != value:
                return False
        elif not _COMPARE[sign](known, float(value)):
            return False
    return True


def asked_facts(text: str) -> tuple[str, ...]:
    """Facts that a condition asks about."""
    return tuple(fact for fact, _, _ in _parsed(text))


def asks_about_part(row: Element) -> bool:
    """Whether a row's condition asks about a part."""
    return any(fact in PART_FACTS for fact in asked_facts(row.applies_to))


def can_be_shared(row: Element) -> bool:
    """Whether a row is set-up by hand, a part of which a second person can do at the same time."""
    return row.state == CHANGEOVER and row.task_of != "machine" and row.driver in SHARED_DRIVERS


def facts_of(plant: PlantInputs, program: Program, sheet_kg: float) -> dict[str, float | str]:
    """What conditions can ask about a program and its sheet."""
    material = plant.material_by_id[program.material_id]
    sensitive = any(part.surface_sensitive for part in plant.parts_of.get(program.program_id, ()))
    return {
        "family": program.family, "material": program.material_id, "metal": material.metal,
        "program": program.program_id, "handover": program.handover, "gas": material.gas, "nozzle": material.nozzle,
        "table": plant.settings.machine.table,
        "surface_sensitive": "true" if sensitive else "false",
        "mass_kg": sheet_kg, "thickness_mm": material.thickness_mm,
        "sheet_length_mm": program.sheet_length_mm, "sheet_width_mm": program.sheet_width_mm,
    }  # fmt: skip


def tool_facts(tool: Tool) -> dict[str, float | str]:
    """What conditions can ask about a tool: ``elongated`` when its figure is longer than wide."""
    elongated = "true" if tool.length_mm != tool.width_mm else "false"
    return {
        "tool": tool.tool_id, "kind": tool.kind, "kept": tool.kept, "elongated": elongated, "shape": tool.shape,
        "station_mm": tool.station_size_mm,
    }  # fmt: skip


def part_facts(part: ProgramPart) -> dict[str, float | str]:
    """What conditions can ask about a part: ``surface_sensitive`` is then its own, not that of its sheet."""
    long_side, short_side = max(part.length_mm, part.width_mm), min(part.length_mm, part.width_mm)
    return {
        "part": part.part_id, "part_kg": part.mass_kg, "part_long_mm": long_side, "part_short_mm": short_side,
        "surface_sensitive": "true" if part.surface_sensitive else "false",
    }  # fmt: skip


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


def parse_duties(text: str) -> tuple[WeeklyWindow, ...]:
    """Read ``Mon-Fri 10:00-14:00; Sat 06:00-08:00`` into windows; raises ValueError with the faulty piece."""
    day, clock = "|".join(WEEKDAYS), WALL_TIME.pattern
    windows = []
    for piece in filter(None, (piece.strip() for piece in text.split(";"))):
        match = re.fullmatch(rf"({day})(?:-({day}))?\s+{clock}-{clock}", piece)
        first, last = (WEEKDAYS.index(match[1]), WEEKDAYS.index(match[2] or match[1])) if match else (1, 0)
        if last < first:
            raise ValueError(f"'{piece}' is not like 'Mon-Fri 10:00-14:00'")
        start, end = piece.split()[-1].split("-")
        windows.append(WeeklyWindow(days=WEEKDAYS[first : last + 1], start=start, end=end))
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


Condition = Annotated[str, readable_by(parse_condition)]
ElementUnit = Annotated[str, readable_by(split_unit)]
Duties = Annotated[str, readable_by(parse_duties)]
