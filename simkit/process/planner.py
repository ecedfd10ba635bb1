"""The planner's estimate of an order's machine hours: the number on which work is given out or refused."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simkit.base.units import SECONDS_PER_HOUR
from simkit.base.vocabulary import CHANGEOVER, FIRST_PIECE, LOADING, UNLOADING
from simkit.plant.plant import Plant
from simkit.process.programs import SHEET_DRIVERS, ProgramTables, run_shares

Floats = NDArray[np.float64]


def planner_hours(plant: Plant, tables: ProgramTables, program: NDArray[np.int64], sheets: NDArray[np.int64]) -> Floats:
    """Hours per order: run, handling and fixed times, times ``rules.planning_factor`` (tool exchanges are in it)."""
    per_sheet = sum(run_shares(tables), np.zeros(len(tables.programs)))
    per_order = np.zeros(len(tables.programs))
    for use in tables.uses:
        mean = use.count * use.timed.law.mean
        if use.timed.state in (LOADING, UNLOADING) and use.timed.driver in SHEET_DRIVERS:
            per_sheet = per_sheet + mean * (use.timed.driver != "pick")
        elif use.timed.state in (CHANGEOVER, FIRST_PIECE) and use.timed.driver in ("order", "material_change"):
            per_order = per_order + mean
    hours = (per_order[program] + per_sheet[program] * sheets) / SECONDS_PER_HOUR
    return hours * plant.settings.rules.planning_factor
