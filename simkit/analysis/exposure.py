"""What simulated cases ask of hands in a shift, and how much of today's exposure each takes away.

Exposure removed, never a task made safe: it counts lifts and kilograms. Replication by replication, so that the
differences from today are paired; what is taken away is told for the same work, today's sheets in today's shifts, so
that a case which makes more of them does not seem to add lifts, nor one with more shifts to remove some.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from simkit.base.arrays import Floats
from simkit.experiment.intervals import Estimate, t_interval
from simkit.experiment.results import Results
from simkit.plant.plant import PlantInputs
from simkit.plant.scenarios import make_scenario
from simkit.process.lifting import sheet_handling, shift_load, tool_set_kg
from simkit.process.liftnotes import loaded_by_hand
from simkit.process.programs import program_tables

MEASURED = ("sheets", "parts", "skeletons")
"""Kinds of pieces whose lifts and kilograms are measures of a run; tools follow from the tools loaded."""
TOOL_LOADS = ("tool_loads", "magazine_loads")
TOTAL = "total"
KINDS = (*MEASURED, "tools", TOTAL)
"""A skeleton is one lift, whatever is cut off before; a tool is one set of punch, die and stripper."""


@dataclass(frozen=True)
class ShiftLifts:
    """Lifts and kilograms of a shift, each with its 95 % interval."""

    lifts: Estimate
    kg: Estimate


@dataclass(frozen=True)
class Exposure:
    """Lifts and kilograms of a shift by kind of piece and in total.

    ``asked`` is what the case asks for in one of its own shifts. ``taken_away`` is what it takes from a shift of today
    for today's sheets; negative where it adds some.
    """

    asked: Mapping[str, ShiftLifts]
    taken_away: Mapping[str, ShiftLifts]


def exposures(
    plant: PlantInputs, cases: Mapping[str, tuple[str, ...]], today: str, weekly: Results, demand_factor: float
) -> dict[str, Exposure]:
    """Exposure of each case, given by its options; ``weekly`` holds amounts a week, also of the case ``today``.

    Lifts are those of :mod:`simkit.experiment.partmeasures`, where a sheet that two persons lift is one lift; tools
    weigh :func:`mean_tool_kg`. Cases whose weekly pattern has no shift are left out, since
    there is none to divide by, and all where the results do not hold lifts by kind. The intervals of what is taken away
    hold together for all cases but today's.
    """
    if not weekly.has(today, f"lifts_{MEASURED[0]}", demand_factor):
        return {}
    base = _runs(plant, today, cases.get(today, ()), weekly, demand_factor)
    found = {name: _runs(plant, name, options, weekly, demand_factor) for name, options in cases.items()}
    others = max(len(found) - 1, 1)
    return {name: _exposure(base, runs, others) for name, runs in found.items() if base.shifts and runs.shifts}


@dataclass(frozen=True)
class _Runs:
    """Shifts of a week; of each replication, lifts and kilograms (last axis) of a week by :data:`KINDS`, and sheets.

    Sheets stand for the work: where yield lost leaves places empty, only their full part counts.
    """

    shifts: int
    loads: Floats
    sheets: Floats


def _runs(plant: PlantInputs, name: str, options: Iterable[str], weekly: Results, demand_factor: float) -> _Runs:
    changed = make_scenario(plant, tuple(options)).plant

    def total(*measures: str) -> Floats:
        held = [weekly.raw(name, measure, demand_factor) for measure in measures]
        return np.asarray(np.sum(held, axis=0))

    tools = total(*(measure for measure in TOOL_LOADS if weekly.has(name, measure, demand_factor)))
    tool_kg = mean_tool_kg(changed)
    kinds = [np.stack([total(f"lifts_{kind}"), total(f"lifted_{kind}_kg")], axis=1) for kind in MEASURED]
    kinds.append(np.array([shift_load(tool_kg, loads) for loads in tools]))
    work = "full_sheets" if weekly.has(name, "full_sheets", demand_factor) else "sheets"
    return _Runs(shifts_per_week(changed), np.stack([*kinds, sum(kinds)], axis=1), total(work))


def shifts_per_week(plant: PlantInputs) -> int:
    """Attended shifts of the weekly pattern."""
    return sum(len(shift.days) for shift in plant.settings.calendar.shifts)


def mean_tool_kg(plant: PlantInputs) -> float:
    """Mass of a tool set, mean over the tools that the orders need, by ``tool_set_kg``: weigh a few instead."""
    uses = [use for order in plant.orders for use in plant.tools_of.get(order.program_id, ())]
    sizes = np.array([plant.tool_by_id[use.tool_id].station_size_mm for use in uses])
    return float(tool_set_kg(sizes).mean()) if uses else 0.0


def _exposure(today: _Runs, case: _Runs, intervals: int) -> Exposure:
    same_work = np.divide(today.sheets, case.sheets, out=np.ones(len(case.sheets)), where=case.sheets > 0)
    taken_away = (today.loads - case.loads * same_work[:, None, None]) / today.shifts
    return Exposure(_amounts(case.loads / case.shifts), _amounts(taken_away, intervals))


def _amounts(loads: Floats, intervals: int = 1) -> dict[str, ShiftLifts]:
    """Intervals over replications, by kind."""

    def estimate(kind: int, column: int, unit: str) -> Estimate:
        return t_interval(loads[:, kind, column], unit, intervals=intervals)

    return {name: ShiftLifts(estimate(kind, 0, "lifts"), estimate(kind, 1, "kg")) for kind, name in enumerate(KINDS)}


@dataclass(frozen=True)
class MassBand:
    """Sheets of the book from above ``low_kg`` up to ``high_kg``: how many, and who loads one."""

    low_kg: float
    high_kg: float
    sheets: int
    heaviest_kg: float
    who: str


def mass_bands(plant: PlantInputs) -> tuple[MassBand, ...]:
    """Sheets of the book by mass, in steps of the plant's limit for one person, and who loads them by its rules."""
    tables, machine = program_tables(plant), plant.settings.machine
    count = np.array([plant.sheets_of[program.program_id] for program in plant.programs], float)
    limit, by_hand = machine.one_person_kg, loaded_by_hand(tables)
    edges = (0.0, limit, 2 * limit, float("inf")) if limit else (0.0, float("inf"))
    found = []
    for low, high in itertools.pairwise(edges):
        inside = (tables.sheet_kg > low) & (tables.sheet_kg <= high) & (count > 0)
        if inside.any():
            heaviest = float(tables.sheet_kg[inside].max())
            words = {_who(machine.one_person_kg, machine.lifter, heaviest, bool(hand)) for hand in by_hand[inside]}
            found.append(MassBand(low, high, int(count[inside].sum()), heaviest, " or ".join(sorted(words))))
    return tuple(found)


def _who(limit_kg: float, lifter: bool, mass_kg: float, by_hand: bool) -> str:
    """Who loads a sheet of a mass by the plant's rules."""
    if not by_hand:
        return "the loader"
    rule = sheet_handling(mass_kg, limit_kg, lifter)
    if rule.by_lifter:
        return "the lifter"
    if rule.beyond_two:
        return "two persons by the plant's rule, though above twice the limit of one"
    return "two persons" if int(rule.persons) == 2 else "one person"
