"""Lifts and kilograms by hand in a shift: sheets, parts, skeletons and tools, and what an option takes away.

Exposure for planning: it counts, and declares nothing safe. A sheet that two persons lift counts as two lifts of half
its mass, one that the lifter takes as none; a skeleton is one lift, whatever is cut off before; a tool is one set of
punch, die and stripper.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from simkit.plant.plant import Plant
from simkit.process.lifting import ShiftLoad, sheet_handling, shift_load, tool_set_kg
from simkit.process.liftnotes import loaded_by_hand
from simkit.process.programs import program_tables
from simkit.process.quantities import above_zero

KINDS = ("sheets", "parts", "skeletons", "tools")
DAYS_PER_WEEK = 7
NONE = ShiftLoad(0.0, 0.0)


@dataclass(frozen=True)
class Handling:
    """Lifts by hand and their mass in kg, by kind of piece: of a whole run or book, or of one shift."""

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


def per_shift(
    shifts: float, sheets: float, sheet_kg: float, parts: float, part_kg: float, skeletons: float, skeleton_kg: float,
    tools: float, tool_kg: float,
) -> Handling:  # fmt: skip
    """Lifts and kilograms of one shift from plain numbers: lifts in all shifts together, and kg of one lift.

    Raises ValueError for a number of shifts that is not above zero, or a negative count or mass. Definition.
    """
    above_zero(shifts, "shifts")
    whole = Handling(
        shift_load(sheet_kg, sheets), shift_load(part_kg, parts), shift_load(skeleton_kg, skeletons),
        shift_load(tool_kg, tools),
    )  # fmt: skip
    return whole.times(1.0 / shifts)


def shifts_per_week(plant: Plant) -> int:
    """Attended shifts of the weekly pattern."""
    return sum(len(shift.days) for shift in plant.settings.calendar.shifts)


def book_weeks(plant: Plant) -> int:
    """Calendar weeks in which orders of the book are released."""
    mondays = {order.released.toordinal() // DAYS_PER_WEEK for order in plant.orders}
    return max(mondays) - min(mondays) + 1 if mondays else 0


def book_handling(plant: Plant) -> Handling:
    """What the order book asks of hands, from the tables alone.

    Sheets that people load, parts and skeletons that come to the bench. Tools by the planner's share of an order's
    tools that is loaded by hand (``rules.planner_load_share``), none with a magazine.
    """
    tables, machine = program_tables(plant), plant.settings.machine
    sheets = np.zeros(len(plant.programs))
    orders = np.zeros(len(plant.programs))
    for order in plant.orders:
        sheets[tables.index[order.program_id]] += order.sheets
        orders[tables.index[order.program_id]] += 1
    who = sheet_handling(tables.sheet_kg, machine.one_person_kg, machine.lifter)
    persons = np.where(loaded_by_hand(tables) & ~who.by_lifter, who.persons, 0)
    flows = tables.flows
    benched = np.array([flow.benched for flow in flows], float)
    to_bench = np.array([flow.to_bench for flow in flows], float)
    rest_kg = np.maximum(tables.sheet_kg - np.array([flow.parts_kg for flow in flows]), 0.0)
    tools = np.array([len(plant.tools_of.get(program.program_id, ())) for program in plant.programs], float)
    share = 0.0 if plant.settings.magazine.places else plant.settings.rules.planner_load_share
    return Handling(
        sheets=shift_load(tables.sheet_kg / np.maximum(persons, 1), sheets * persons),
        parts=ShiftLoad(float(sheets @ benched), float(sheets @ np.array([flow.benched_kg for flow in flows]))),
        skeletons=shift_load(rest_kg, sheets * to_bench),
        tools=shift_load(mean_tool_kg(plant), float(orders @ tools) * share),
    )


def mean_tool_kg(plant: Plant) -> float:
    """Mass of a tool set, mean over the tools that the orders need, by ``tool_set_kg``: weigh a few instead."""
    needs = [
        plant.tool_by_id[use.tool_id] for order in plant.orders for use in plant.tools_of.get(order.program_id, ())
    ]
    if not needs:
        return 0.0
    return float(tool_set_kg(np.array([tool.station_size_mm for tool in needs])).mean())


def run_handling(plant: Plant, measures: Mapping[str, float]) -> Handling:
    """What a simulated run asked of hands: the book's mix for the sheets made, and the tools that were really loaded.

    ``plant`` is the scenario's; ``measures`` holds ``sheets`` and, where they are not 0, ``sheets_scrapped``,
    ``tool_loads`` and ``magazine_loads`` (what is put into a magazine is carried too). A scrapped sheet is loaded, and
    carried away like a skeleton, without its parts.
    """
    book, made = book_handling(plant), float(measures["sheets"])
    planned = sum(order.sheets for order in plant.orders)
    if planned == 0:
        return Handling()
    whole = book.times(made / planned)
    lost = measures.get("sheets_scrapped", 0.0) / planned
    tools = measures.get("tool_loads", 0.0) + measures.get("magazine_loads", 0.0)
    return dataclasses.replace(
        whole,
        sheets=whole.sheets + book.times(lost).sheets,
        skeletons=whole.skeletons + book.times(lost).skeletons,
        tools=shift_load(mean_tool_kg(plant), tools),
    )


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
