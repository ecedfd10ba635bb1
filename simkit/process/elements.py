"""Time elements: which row holds for which program, and seconds per driver by stage.

The cell does not know element names. It knows stages, and a row's stage follows from its state and
its driver, so that a new element is a new row and nothing else.
"""

from __future__ import annotations

import operator
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

from simkit.base.laws import Law
from simkit.plant.conditions import parse_condition, split_unit
from simkit.plant.plant import Plant
from simkit.plant.tables import Element, Program

_COMPARE = {">": operator.gt, "<": operator.lt, "=": operator.eq}
_parsed = lru_cache(maxsize=4096)(parse_condition)


@dataclass(frozen=True)
class Timed:
    """An element row ready for use: its law in seconds per driver."""

    name: str
    driver: str
    state: str
    task_of: str
    law: Law

    @property
    def by_person(self) -> bool:
        """Whether somebody must be there."""
        return self.task_of != "machine"


def holds(text: str, facts: Mapping[str, float | str]) -> bool:
    """Whether a row with this ``applies_to`` is for an entity with these facts."""
    for fact, sign, value in _parsed(text):
        known = facts.get(fact)
        if known is None:
            return False
        if isinstance(known, str):
            if known != value:
                return False
        elif not _COMPARE[sign](known, float(value)):
            return False
    return True


def facts_of(plant: Plant, program: Program, sheet_kg: float) -> dict[str, float | str]:
    """What conditions can ask about a program and its sheet."""
    material = plant.material_by_id[program.material_id]
    sensitive = any(part.surface_sensitive for part in plant.parts_of.get(program.program_id, ()))
    return {
        "family": program.family, "material": program.material_id, "metal": material.metal,
        "program": program.program_id, "handover": program.handover, "gas": material.gas, "nozzle": material.nozzle,
        "surface_sensitive": "true" if sensitive else "false",
        "mass_kg": sheet_kg, "thickness_mm": material.thickness_mm,
        "sheet_length_mm": program.sheet_length_mm, "sheet_width_mm": program.sheet_width_mm,
    }  # fmt: skip


def chosen_rows(elements: Iterable[Element], facts: Mapping[str, float | str]) -> dict[str, Element]:
    """Per element name, the last row in file order that is for this entity."""
    return {row.element: row for row in elements if holds(row.applies_to, facts)}


def timed(row: Element, sequences: Mapping[str, tuple[float, ...]]) -> Timed:
    """An element row with its law in seconds."""
    seconds, driver = split_unit(row.unit)
    values = tuple(value * seconds for value in sequences.get(row.file, ())) if row.file else ()
    law = Law(row.law, row.typical * seconds, row.cv, values)
    return Timed(row.element, driver, row.state, row.task_of, law)
