"""Time elements: which row holds for which program, and seconds per driver by stage.

The cell does not know element names. It knows stages, and a row's stage follows from its state and
its driver, so that a new element is a new row and nothing else.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from simkit.base.arrays import Floats
from simkit.base.laws import Law
from simkit.base.units import on_grid_s
from simkit.base.vocabulary import CHANGEOVER, OUTSIDE
from simkit.plant.conditions import can_be_shared, holds, split_unit, tool_facts
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Element


@dataclass(frozen=True)
class ElementUse:
    """An element row ready for use: its law in seconds per driver, the share that a second person takes over, and how
    often it occurs in each program.

    ``count`` is its driver's count per sheet (or order: 1), by program. A time that no row gives and the motion of the
    machine does is one of 1 s with its seconds per sheet as ``count``.

    Of a row counted per tool exchange (``vocabulary.EXCHANGES``), ``count`` is the share of a program's needs that it
    is for and ``per_need`` is 1 for each need that it is for, 0 for the others, over the needs of all programs
    (``ProgramTables.first_need``); of other rows ``per_need`` is empty.
    """

    name: str
    driver: str
    state: str
    task_of: str
    law: Law
    helped: float = 0.0
    count: Floats = field(default_factory=lambda: np.zeros(0))
    per_need: Floats = field(default_factory=lambda: np.zeros(0))

    @property
    def by_person(self) -> bool:
        """Whether somebody must be there."""
        return self.task_of != "machine"


def chosen_rows(elements: Iterable[Element], facts: Mapping[str, float | str]) -> dict[str, Element]:
    """Per element name, the last row in file order that is for this entity."""
    return {row.element: row for row in elements if holds(row.applies_to, facts)}


def timed(row: Element, sequences: Mapping[str, tuple[float, ...]]) -> ElementUse:
    """An element row with its law in seconds, not counted yet."""
    seconds, driver = split_unit(row.unit)
    values = tuple(value * seconds for value in sequences.get(row.file, ())) if row.file else ()
    law = Law(row.law, row.typical * seconds, row.cv, values)
    helped = min(row.parallel_share, 1.0 - row.parallel_share) if can_be_shared(row) else 0.0
    return ElementUse(row.element, driver, row.state, row.task_of, law, helped)


def per_tool_times(plant: PlantInputs, driver: str) -> tuple[tuple[float, dict[str, float]], ...]:
    """Per tool, in file order: mean seconds of one occurrence at the machine, and away from it by who does it.

    ``driver`` is one that knows a tool but no sheet, ``regrind`` or ``magazine_load``: its rows may ask about the tool
    alone. Of the rows of one element the last that is for the tool holds.
    """
    rows = [row for row in plant.elements if split_unit(row.unit)[1] == driver]
    return tuple(
        _at_and_away(timed(row, plant.sequences) for row in chosen_rows(rows, tool_facts(tool)).values())
        for tool in plant.tools
    )


def _at_and_away(uses: Iterable[ElementUse]) -> tuple[float, dict[str, float]]:
    machine_s = 0.0
    outside_s: dict[str, float] = {}
    for use in uses:
        if use.state == CHANGEOVER:
            machine_s += use.law.mean
        elif use.state == OUTSIDE:
            outside_s[use.task_of] = outside_s.get(use.task_of, 0.0) + use.law.mean
    return on_grid_s(machine_s), {task: on_grid_s(seconds) for task, seconds in outside_s.items()}
