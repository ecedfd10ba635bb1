"""Lifts and kilograms by hand in a shift: sheets, parts, skeletons and tools, and what an option takes away.

Exposure for planning: it counts, and declares nothing safe. A skeleton is one lift, whatever is cut off before; a tool
is one set of punch, die and stripper.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from simkit.plant.plant import Plant
from simkit.process.lifting import ShiftLoad, tool_set_kg

KINDS = ("sheets", "parts", "skeletons", "tools")
NONE = ShiftLoad(0.0, 0.0)


@dataclass(frozen=True)
class Handling:
    """Lifts by hand and their mass in kg, by kind of piece: of a whole run, or of one shift."""

    sheets: ShiftLoad = NONE
    parts: ShiftLoad = NONE
    skeletons: ShiftLoad = NONE
    tools: ShiftLoad = NONE

    @property
    def total(self) -> ShiftLoad:
        """All kinds together."""
        return self.sheets + self.parts + self.skeletons + self.tools

    def times(self, factor: float) -> Handling:
        """Every kind multiplied."""
        loads = {kind: getattr(self, kind) for kind in KINDS}
        return Handling(**{kind: ShiftLoad(load.lifts * factor, load.kg * factor) for kind, load in loads.items()})


def shifts_per_week(plant: Plant) -> int:
    """Attended shifts of the weekly pattern."""
    return sum(len(shift.days) for shift in plant.settings.calendar.shifts)


def mean_tool_kg(plant: Plant) -> float:
    """Mass of a tool set, mean over the tools that the orders need, by ``tool_set_kg``: weigh a few instead."""
    needs = [
        plant.tool_by_id[use.tool_id] for order in plant.orders for use in plant.tools_of.get(order.program_id, ())
    ]
    if not needs:
        return 0.0
    return float(tool_set_kg(np.array([tool.station_size_mm for tool in needs])).mean())


@dataclass(frozen=True)
class Removed:
    """Lifts and kilograms of a shift of one kind: today, with the option, and what the option takes away."""

    kind: str
    today: ShiftLoad
    option: ShiftLoad

    @property
    def lifts(self) -> float:
        """Lifts taken away in a shift; negative where the option adds some."""
        return self.today.lifts - self.option.lifts

    @property
    def kg(self) -> float:
        """Kilograms taken away in a shift."""
        return self.today.kg - self.option.kg


def removed(today: Handling, option: Handling) -> tuple[Removed, ...]:
    """Kind by kind, then all together, what an option takes away of a shift's handling."""
    kinds = [Removed(kind, getattr(today, kind), getattr(option, kind)) for kind in KINDS]
    return (*kinds, Removed("total", today.total, option.total))
