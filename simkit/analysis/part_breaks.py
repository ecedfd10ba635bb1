"""Where a benefit ends: crossings of simulated curves with their intervals, and the closed forms beside them."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from simkit.analysis.part_cases import pick_rows
from simkit.analysis.part_clocks import Clocks, book_clocks
from simkit.base.units import SECONDS_PER_HOUR
from simkit.experiment.intervals import Estimate, t_interval
from simkit.plant.plant import Plant

Floats = NDArray[np.float64]
MOST_SHARE = 50.0
"""Up to so many times the pick time on offer the closed form looks for the break-even."""


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


def at_share(plant: Plant, share: float) -> Clocks:
    """The clocks of the book with every pick, and its standing still, multiplied."""
    names = pick_rows(plant, "pick", "pick_blocking")
    rows = tuple(dataclasses.replace(row, typical=row.typical * share) if row.element in names else row
                 for row in plant.elements)  # fmt: skip
    return book_clocks(dataclasses.replace(plant, elements=rows))


def gained_per_sheet_s(today: Clocks, removal: Clocks) -> float:
    """Mean seconds a sheet that removal saves by the closed form of the clocks; negative where it loses."""
    return float((today.cycle_s - removal.cycle_s).mean())


def closed_pick_s(today: Clocks, plant: Plant, beside_s: float = 0.0) -> float | None:
    """Seconds a pick at which the mean sheet takes as long as today, ``beside_s`` a sheet taken off for other losses.

    None where picks of no time gain nothing, or picks of :data:`MOST_SHARE` times the time on offer still do.
    """
    pick_s = book_clocks(plant).mean_pick_s

    def gain(share: float) -> float:
        return gained_per_sheet_s(today, at_share(plant, share)) - beside_s

    if pick_s <= 0 or gain(0.0) <= 0 or gain(MOST_SHARE) >= 0:
        return None
    return float(brentq(gain, 0.0, MOST_SHARE, xtol=1e-3)) * pick_s


def stopped_share(rate: float, picks: Floats | float) -> Floats:
    """Share of sheets on which at least one of so many picks fails: 1 - (1 - rate)^picks.

    Source: chance that none of n independent picks fails.
    """
    return np.asarray(1.0 - (1.0 - rate) ** np.asarray(picks, float))


def failing_share(plant: Plant, *, after_retries: bool = False) -> float:
    """Share of picks that fail by the plant's causes of stops, before or after the retries that each allows.

    In attended hours, where a cause has two rates.
    """
    causes = [row for row in plant.stops if row.exposure == "pick" and row.acts_in(attended=True)]
    return sum(row.rate * ((1 - row.retry_success) ** row.retries if after_retries else 1.0) for row in causes)


def rate_of_gain(gained_h: float, picks: float, stop_s: float) -> float | None:
    """Share of picks that may fail until stops of ``stop_s`` each use up ``gained_h`` hours made with so many picks.

    None without a gain, a pick or a time to lose.
    """
    if gained_h <= 0 or picks <= 0 or stop_s <= 0:
        return None
    return gained_h * SECONDS_PER_HOUR / (picks * stop_s)
