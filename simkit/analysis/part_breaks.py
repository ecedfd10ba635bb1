"""Where a benefit ends: crossings of simulated curves with their intervals, and the closed form beside them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simkit.analysis.part_clocks import Clocks
from simkit.base.vocabulary import UNLOADING
from simkit.experiment.intervals import Estimate, t_interval
from simkit.plant.conditions import split_unit
from simkit.plant.plant import Plant

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class BreakEven:
    """Where a gain falls to zero as something gets worse, over the runs.

    ``estimate`` is the mean of the crossings, None unless every run has one within the points simulated; ``below`` and
    ``above`` count runs that gain nothing even at the first point, and that still gain at the last.
    """

    estimate: Estimate | None
    below: int
    above: int
    runs: int


def break_even(points: Sequence[tuple[float, Floats]], unit: str = "") -> BreakEven:
    """Find where gains cross zero downwards: ``points`` hold a position and the gain of each run there, ascending.

    Between two points the gain is taken as linear, run by run, so that the interval is one over runs.
    """
    ordered = sorted(points, key=lambda point: point[0])
    places = np.array([place for place, _ in ordered])
    gains = np.array([gain for _, gain in ordered])
    found = [_crossing(places, run) for run in gains.T]
    below, above = sum(place == -np.inf for place in found), sum(place == np.inf for place in found)
    estimate = None if below or above else t_interval(found, unit)
    return BreakEven(estimate, below, above, len(found))


def _crossing(places: Floats, gains: Floats) -> float:
    """The first place where a gain is used up: minus infinity if there is none at all, infinity if it lasts."""
    lost = np.flatnonzero(gains <= 0)
    if not len(lost):
        return float("inf")
    at = int(lost[0])
    if at == 0:
        return float(places[0]) if gains[0] == 0 else float("-inf")
    share = gains[at - 1] / (gains[at - 1] - gains[at])
    return float(places[at - 1] + share * (places[at] - places[at - 1]))


def gained_per_sheet_s(today: Clocks, removal: Clocks) -> float:
    """Mean seconds a sheet that removal saves by the closed form of the clocks; negative where it loses."""
    return float((today.cycle_s - removal.cycle_s).mean())


def pick_elements(plant: Plant) -> tuple[str, ...]:
    """Elements of a pick and of the standing still in it, at the machine."""
    drivers = ("pick", "pick_blocking")
    rows = (row for row in plant.elements if split_unit(row.unit)[1] in drivers and row.state == UNLOADING)
    return tuple(dict.fromkeys(row.element for row in rows))
