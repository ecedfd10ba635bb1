"""The planner's estimate of an order's machine hours: the number on which work is given out or refused."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from simkit.base.arrays import Floats
from simkit.base.units import SECONDS_PER_HOUR
from simkit.base.vocabulary import CHANGEOVER, FIRST_PIECE, HANDLING_STATES
from simkit.plant.plant import PlantInputs
from simkit.process.programs import ProgramTables, program_tables, run_shares


def planner_hours(
    plant: PlantInputs, tables: ProgramTables, program: NDArray[np.int64], sheets: NDArray[np.int64]
) -> Floats:
    """Hours per order: run, handling, fixed and expected tool times, times ``rules.planning_factor``.

    ``sheets`` are those ordered; where room for a removal device costs yield, the more are planned.
    """
    needed = sheets / tables.filled[program]
    run_s = sum(run_shares(tables), np.zeros(len(tables.programs)))
    per_sheet = tables.sheet_s(*HANDLING_STATES, start=run_s, besides="pick")
    per_order = np.zeros(len(tables.programs))
    tools, expected = np.diff(tables.first_need), _expected_exchanges(plant)
    for use in tables.uses:
        mean = use.count * use.law.mean
        if use.state in (CHANGEOVER, FIRST_PIECE) and use.driver in ("order", "material_change"):
            per_order = per_order + mean
        elif use.state == CHANGEOVER and use.driver in expected:
            per_order = per_order + mean * tools * expected[use.driver]
    hours = (per_order[program] + per_sheet[program] * needed) / SECONDS_PER_HOUR
    return hours * plant.settings.rules.planning_factor


def order_hours(plant: PlantInputs) -> Floats:
    """Planned hours of each order of the plant's book."""
    tables = program_tables(plant)
    return planner_hours(
        plant, tables, tables.of_orders(plant.orders), np.array([order.sheets for order in plant.orders], np.int64)
    )


def at_mean_rate(hours: Sequence[Floats]) -> Floats:
    """Hours per order on each of n machines alike that together do as much as n unlike ones: rates add up.

    ``hours`` are those of an order on each machine; where one takes none, the result is 0. Source: arithmetic.
    """
    with np.errstate(divide="ignore"):
        rates = np.sum([1.0 / own for own in hours], axis=0)
    found: Floats = len(hours) / rates
    return found


def _expected_exchanges(plant: PlantInputs) -> dict[str, float]:
    """Share of an order's tools that is exchanged, by the kind of exchange that the cell has."""
    rules = plant.settings.rules
    load, die = (
        ("magazine_exchange", "magazine_die_change") if plant.settings.magazine.places else ("tool_load", "die_change")
    )
    return {load: rules.planner_load_share, die: rules.planner_die_share}
