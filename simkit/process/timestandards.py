"""Time standards and learning: rating, allowances in both conventions, observations needed, learning curves.

Times of one call are in one unit, s in the names; numbers or arrays that broadcast against each other give
arrays of the common shape; what lies outside its range is refused with a ValueError that names it. Two
conventions are in print for allowances and two for learning curves: every function names the one it uses.
Textbook formulas of work study, from memory unless a docstring says otherwise.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from simkit.base.messages import nearest
from simkit.process.quantities import (
    Floats,
    Whole,
    above_zero,
    not_below_one,
    not_below_zero,
    share,
    share_above_zero,
    whole,
)

UNIT = "unit"
CUMULATIVE_AVERAGE = "cumulative average"
LEAST_AVERAGE_RATE = 0.5
"""Learning rate at which the cumulative average of two units leaves the second no time."""
Z_95 = 1.96
"""Standard normal quantile of a two-sided 95 % interval."""


def normal_time_s(observed_s: ArrayLike, rating: ArrayLike) -> Floats:
    """Observed time of a worker rated against normal pace (1.0 normal, 1.2 a fifth faster)."""
    return np.asarray(above_zero(observed_s, "observed_s") * above_zero(rating, "rating"))


def job_standard_s(normal_s: ArrayLike, allowance: ArrayLike) -> Floats:
    """Standard time with the allowance as a share of the job's time, zero or more: normal times (1 + allowance)."""
    return np.asarray(above_zero(normal_s, "normal_s") * (1 + not_below_zero(allowance, "allowance")))


def workday_standard_s(normal_s: ArrayLike, allowance: ArrayLike) -> Floats:
    """Standard time with the allowance as a share of the workday, below 1: normal over (1 - allowance)."""
    working = above_zero(1 - not_below_zero(allowance, "allowance"), "1 less the allowance")
    return np.asarray(above_zero(normal_s, "normal_s") / working)


def job_standard_with_machine_s(
    work_s: ArrayLike, machine_s: ArrayLike, personal: ArrayLike, fatigue: ArrayLike
) -> Floats:
    """Standard time of a job with machine time, allowances as shares of the job's time.

    Fatigue allowances apply to the person's work, not to machine time; personal needs to both.
    """
    work, machine = not_below_zero(work_s, "work_s"), not_below_zero(machine_s, "machine_s")
    both = (work + machine) * (1 + not_below_zero(personal, "personal"))
    return np.asarray(both + work * not_below_zero(fatigue, "fatigue"))


def observations_needed(mean_s: ArrayLike, deviation_s: ArrayLike, accuracy: ArrayLike, z: ArrayLike = Z_95) -> Whole:
    """Cycles to time until the mean is known to within a share of itself: ``(z s / (accuracy mean))^2``, rounded up.

    ``deviation_s`` is the standard deviation of a first sample; ``z`` 1.96 stands for 95 % confidence.
    """
    half_width = above_zero(accuracy, "accuracy") * above_zero(mean_s, "mean_s")
    cycles = (above_zero(z, "z") * not_below_zero(deviation_s, "deviation_s") / half_width) ** 2
    return whole(np.maximum(np.ceil(cycles), 1), "cycles")


# ---- allowances: data from memory, to be verified ----

FROM_MEMORY = "older percent table of the ILO's Introduction to Work Study, widely reprinted; from memory, verify first"
POINTS_SOURCE = "ILO, Introduction to Work Study, 4th ed. 1992, as relayed by Konz"


@dataclass(frozen=True)
class Allowance:
    """A relaxation allowance in percent of the normal time, in the two columns of its table."""

    item: str
    men_percent: float
    women_percent: float
    source: str = FROM_MEMORY


ALLOWANCES = (
    Allowance("personal needs", 5, 7),
    Allowance("basic fatigue", 4, 4),
    Allowance("standing", 2, 4),
    Allowance("slightly awkward posture", 0, 1),
    Allowance("awkward posture, bending", 2, 3),
    Allowance("very awkward posture", 7, 7),
    Allowance("lifting 5 kg", 1, 2),
    Allowance("lifting 10 kg", 3, 4),
    Allowance("lifting 15 kg", 5, 8),
    Allowance("lifting 20 kg", 9, 13),
    Allowance("lifting 25 kg", 13, 20),
    Allowance("close attention, fairly fine", 0, 0),
    Allowance("close attention, fine", 2, 2),
    Allowance("close attention, very fine", 5, 5),
    Allowance("noise, intermittent loud", 2, 2),
    Allowance("noise, very loud", 5, 5),
    Allowance("mental strain, lowest", 1, 1),
    Allowance("mental strain, middle", 4, 4),
    Allowance("mental strain, highest", 8, 8),
    Allowance("monotony, low", 0, 0),
    Allowance("monotony, medium", 1, 1),
    Allowance("monotony, high", 4, 4),
)
"""Percentages to start from. They must be verified before any use; a plant's own agreement comes first."""

FATIGUE_POINTS = {
    "noise of a light machine shop": 2,
    "vibration of a power press or guillotine while holding the material": 2,
    "eye strain of sorting coloured articles or finding easily visible faults": 2,
}
"""Points of the later ILO method, as relayed by Konz; its table from points to percent was not at hand."""


def allowance_of(item: str) -> Allowance:
    """The row of an item; raises KeyError with the nearest known one."""
    known = {row.item: row for row in ALLOWANCES}
    if item not in known:
        raise KeyError(f"no allowance for '{item}'; {nearest(item, known)}")
    return known[item]


def allowance_share(items: Iterable[str], column: str) -> float:
    """Sum of the items' allowances as a share, by the column ``men`` or ``women`` of the table."""
    if column not in ("men", "women"):
        raise KeyError(f"no column '{column}'; known names: men, women")
    rows = [allowance_of(item) for item in items]
    return sum(row.men_percent if column == "men" else row.women_percent for row in rows) / 100


def fatigue_points(work: str) -> int:
    """Points of the later ILO method for a kind of work (only three were at hand)."""
    if work not in FATIGUE_POINTS:
        raise KeyError(f"no points for '{work}'; {nearest(work, FATIGUE_POINTS)}")
    return FATIGUE_POINTS[work]


# ---- learning ----


def learning_exponent(rate: ArrayLike) -> Floats:
    """Exponent b of ``n^b`` for a learning rate: log2 of it (0.8: a fifth less with each doubling)."""
    return np.asarray(np.log2(share_above_zero(rate, "rate")))


def learning_factor(number: ArrayLike, rate: ArrayLike, floor: ArrayLike = 0.0) -> Floats:
    """Factor of Wright's curve at a number of units from 1: ``floor + (1 - floor) number^b``.

    ``floor`` is the share that nobody can learn away (plateau form), 0 for the plain curve. What the factor
    multiplies, the time of the unit or the average up to it, is the choice of the model.
    """
    count, kept = not_below_one(number, "number"), share(floor, "floor")
    return np.asarray(kept + (1 - kept) * count ** learning_exponent(rate))


def unit_time_s(
    first_s: ArrayLike, number: ArrayLike, rate: ArrayLike, floor: ArrayLike = 0.0, model: str = UNIT
) -> Floats:
    """Time of one unit, by its whole number.

    By the model ``unit`` the factor is the unit's own; by ``cumulative average`` the time is the difference of two
    totals, see :func:`average_time_s`.
    """
    count = whole(number, "number", 1)
    if _known(model) == UNIT:
        return np.asarray(above_zero(first_s, "first_s") * learning_factor(count, rate, floor))
    before = np.where(count > 1, (count - 1) * average_time_s(first_s, np.maximum(count - 1, 1), rate, floor), 0.0)
    return np.asarray(count * average_time_s(first_s, count, rate, floor) - before)


def average_time_s(first_s: ArrayLike, count: ArrayLike, rate: ArrayLike, floor: ArrayLike = 0.0) -> Floats:
    """Average time of the first ``count`` units by the model ``cumulative average``.

    Only for a rate above 0.5, else ValueError: at 0.5 two units would take no more than one, and below it the total
    would fall with each unit.
    """
    if not np.all(np.asarray(rate, float) > LEAST_AVERAGE_RATE):
        raise ValueError(
            f"by {CUMULATIVE_AVERAGE} the rate must be above {LEAST_AVERAGE_RATE}: units would take no time"
        )
    return np.asarray(above_zero(first_s, "first_s") * learning_factor(whole(count, "count", 1), rate, floor))


def total_time_s(first_s: float, counts: ArrayLike, rate: float, floor: float = 0.0, model: str = UNIT) -> Floats:
    """Total time of the first units, for each of the whole numbers in ``counts``, by one of the two models."""
    found = whole(counts, "counts", 0)
    times = unit_time_s(first_s, np.arange(1, int(found.max(initial=0)) + 1), rate, floor, model)
    return np.concatenate(([0.0], np.cumsum(times)))[found]


@dataclass(frozen=True)
class Ramp:
    """Weeks of a ramp-up: units, mean time per unit in each week, and output as a share of the standard's."""

    units: Whole
    mean_s: Floats
    share: Floats


def weekly_ramp(
    units_per_week: ArrayLike, first_s: float, standard_s: float, rate: float, floor: float = 0.0, model: str = UNIT
) -> Ramp:
    """Ramp-up week by week: the mean time per unit falls along the curve as units add up.

    ``share`` is ``standard_s`` over that mean: the part of the standard's output that the week reaches. Raises
    ValueError for a week without units.
    """
    units = whole(units_per_week, "units_per_week", 1)
    ends = np.concatenate(([0], np.cumsum(units)))
    mean_s = np.diff(total_time_s(first_s, ends, rate, floor, model)) / units
    return Ramp(units, np.asarray(mean_s), np.asarray(above_zero(standard_s, "standard_s") / mean_s))


def _known(model: str) -> str:
    if model not in (UNIT, CUMULATIVE_AVERAGE):
        raise KeyError(f"no model '{model}'; {nearest(model, (UNIT, CUMULATIVE_AVERAGE))}")
    return model
