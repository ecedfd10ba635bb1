"""Which of several scenarios may be the best, and which of these is named.

Multiple comparisons with the best (Hsu 1984, from memory) with paired differences. The base is the unknown best itself,
not the sample's best: the intervals hold together at their level although it was not chosen beforehand. Bonferroni over
the one-sided comparisons with that best, each with the deviation of its own paired differences, so nothing is asked of
how scenarios that share their luck hang together (Nelson and Matejcik 1995 need equal variances of differences).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simkit.experiment.intervals import LEVEL, t_interval


@dataclass(frozen=True)
class Behind:
    """How far a scenario lies behind the best of the others: ``low`` to ``high``, at most 0 below and at least 0 above.

    A negative ``low`` says how far it may be ahead of all others; ``may_be_best`` whether it may be the best.
    """

    mean: float
    low: float
    high: float
    may_be_best: bool


def behind_the_best(
    systems: Mapping[str, ArrayLike], *, largest: bool = False, level: float = LEVEL, fitted: int = 0
) -> dict[str, Behind]:
    """How far each scenario lies behind the best of all others, all intervals together at ``level``.

    Position k of all samples is the same replication. The smallest mean is best, or the ``largest``. ``fitted`` as in
    :func:`simkit.experiment.intervals.t_interval`. With one scenario it is the best; with one replication all may be.
    """
    names = list(systems)
    samples = [np.asarray(systems[name], float) * (-1.0 if largest else 1.0) for name in names]
    if len(names) == 1:
        return {names[0]: Behind(0.0, 0.0, 0.0, True)}
    gap, width = _paired(samples, level, fitted)
    np.fill_diagonal(gap, -np.inf)
    np.fill_diagonal(width, 0.0)
    worst = np.max(gap - width, axis=1)
    candidates = worst <= 0.0
    found = {}
    for place, name in enumerate(names):
        rivals = candidates.copy()
        rivals[place] = False
        highest = float(np.max(gap[place, rivals] + width[place, rivals])) if rivals.any() else 0.0
        low, high = min(float(worst[place]), 0.0), max(highest, 0.0)
        found[name] = Behind(float(np.max(gap[place])), low, high, bool(candidates[place]))
    return found


def _paired(samples: list[NDArray[np.float64]], level: float, fitted: int) -> tuple[NDArray[np.float64], ...]:
    """Mean paired differences and their one-sided half-widths, shape (scenarios, scenarios)."""
    count = len(samples)
    gap, width = np.zeros((count, count)), np.zeros((count, count))
    one_sided = 1 - 2 * (1 - level)
    for i in range(count):
        for j in range(i):
            known = t_interval(samples[i] - samples[j], level=one_sided, intervals=count - 1, fitted=fitted)
            gap[i, j], gap[j, i] = known.mean, -known.mean
            width[i, j] = width[j, i] = known.half_width
    return gap, width


def named_best(
    systems: Mapping[str, ArrayLike], cost: Mapping[str, tuple[float, ...]], *, largest: bool = False, fitted: int = 0
) -> str:
    """The name of the cheapest of the scenarios that may be the best: a tie is never won by the dearer.

    ``cost`` is what decides among ties, first entry first: capital, then the number of options. What still ties goes to
    the better mean, then to the earlier name. Raises ValueError without a scenario.
    """
    if not systems:
        raise ValueError("no scenario to name")
    found = behind_the_best(systems, largest=largest, fitted=fitted)
    ties = [name for name, one in found.items() if one.may_be_best]
    return min(ties, key=lambda name: (cost[name], found[name].mean))
