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
from numpy.typing import NDArray

from simkit.experiment.intervals import Estimate, t_interval
from simkit.experiment.results import Results
from simkit.finance.arrays import ratio
from simkit.plant.plant import Plant
from simkit.plant.scenarios import make_scenario
from simkit.process.handling import mean_tool_kg, shifts_per_week
from simkit.process.lifting import sheet_handling, shift_load
from simkit.process.liftnotes import loaded_by_hand
from simkit.process.programs import program_tables

MEASURED = ("sheets", "parts", "skeletons")
"""Kinds of pieces whose lifts and kilograms are measures of a run; tools follow from the tools loaded."""
TOOL_LOADS = ("tool_loads", "magazine_loads")
TOTAL = "total"


@dataclass(frozen=True)
class Amount:
    """Lifts and kilograms of a shift, each with its 95 % interval."""

    lifts: Estimate
    kg: Estimate


@dataclass(frozen=True)
class Exposure:
    """Lifts and kilograms of a shift by kind of piece and in total.

    ``asked`` is what the case asks for in one of its own shifts. ``taken_away`` is what it takes from a shift of today
    for today's sheets; negative where it adds some.
    """

    asked: Mapping[str, Amount]
    taken_away: Mapping[str, Amount]


def exposures(
    plant: Plant, cases: Mapping[str, tuple[str, ...]], today: str, weekly: Results, demand_factor: float
) -> dict[str, Exposure]:
    """Exposure of each case, given by its options; ``weekly`` holds amounts a week, also of the case ``today``.

    Lifts are those of :mod:`simkit.experiment.partmeasures`, where a sheet that two persons lift is one lift; tools
    weigh :func:`simkit.process.handling.mean_tool_kg`. Cases whose weekly pattern has no shift are left out, since
    there is none to divide by, and all where the results do not hold lifts by kind. The intervals of what is taken away
    hold together for all cases but today's.
    """
    if not weekly.has(today, f"lifts_{MEASURED[0]}", demand_factor):
        return {}
    base = _week(plant, today, cases.get(today, ()), weekly, demand_factor)
    found = {name: _week(plant, name, options, weekly, demand_factor) for name, options in cases.items()}
    others = max(len(found) - 1, 1)
    return {name: _exposure(base, own, others) for name, own in found.items() if base.shifts and own.shifts}


@dataclass(frozen=True)
class _Week:
    """Shifts of a week, and its handling and sheets by replication.

    ``handling`` has the shape (lifts and kg, kinds, replications). Sheets stand for the work: where yield lost leaves
    places empty, only their full part counts.
    """

    shifts: int
    handling: NDArray[np.float64]
    sheets: NDArray[np.float64]


def _week(plant: Plant, name: str, options: Iterable[str], weekly: Results, demand_factor: float) -> _Week:
    changed = make_scenario(plant, tuple(options)).plant

    def total(*measures: str) -> NDArray[np.float64]:
        return np.asarray(np.sum([weekly.raw(name, measure, demand_factor) for measure in measures], axis=0), float)

    tools = total(*(measure for measure in TOOL_LOADS if weekly.has(name, measure, demand_factor)))
    load = shift_load(mean_tool_kg(changed), 1.0)
    lifts = [*(total(f"lifts_{kind}") for kind in MEASURED), load.lifts * tools]
    kg = [*(total(f"lifted_{kind}_kg") for kind in MEASURED), load.kg * tools]
    work = "full_sheets" if weekly.has(name, "full_sheets", demand_factor) else "sheets"
    return _Week(shifts_per_week(changed), np.array([lifts, kg]), total(work))


def _exposure(today: _Week, case: _Week, intervals: int) -> Exposure:
    same_work = np.where(case.sheets > 0, ratio(today.sheets, case.sheets), 1.0)
    asked = _with_total(case.handling * (1 / case.shifts))
    before, after = (_with_total(each * (1 / today.shifts)) for each in (today.handling, case.handling * same_work))
    return Exposure(_amounts(asked), _amounts(before - after, intervals))


def _with_total(handling: NDArray[np.float64]) -> NDArray[np.float64]:
    """All kinds together after the kinds."""
    return np.concatenate([handling, handling.sum(axis=1, keepdims=True)], axis=1)


def _amounts(handling: NDArray[np.float64], intervals: int = 1) -> dict[str, Amount]:
    """Intervals over replications, by kind and in total."""
    return {
        kind: Amount(*(t_interval(each[number], unit, intervals=intervals)
                       for each, unit in zip(handling, ("lifts", "kg"), strict=True)))
        for number, kind in enumerate((*MEASURED, "tools", TOTAL))
    }  # fmt: skip


@dataclass(frozen=True)
class MassBand:
    """Sheets of the book from above ``low_kg`` up to ``high_kg``: how many, and who loads one."""

    low_kg: float
    high_kg: float
    sheets: int
    heaviest_kg: float
    who: str


def mass_bands(plant: Plant) -> tuple[MassBand, ...]:
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
