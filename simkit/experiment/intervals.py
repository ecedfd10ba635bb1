"""How well an average is known, and how much weeks differ: two ranges that are never mixed.

All intervals are two-sided Student-t intervals on independent replications. Values of two
scenarios that share their random numbers are compared replication by replication (paired).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import scipy  # its heavy rooms load when they are first used
from numpy.typing import ArrayLike, NDArray

LEVEL = 0.95
"""Confidence of an interval unless another is asked for."""

WEEKS_SHARE = 0.8
"""Share of the runs inside a :class:`Spread`: 8 in 10."""

CANNOT_TELL = "not enough replications to tell"
NEVER_DIFFERS = "the same in every replication"
TELLS = "sure sign"


@dataclass(frozen=True)
class Estimate:
    """A mean with the half-width of its interval, both in ``unit``.

    ``half_width`` is infinite with one replication. ``level`` is the confidence of the interval,
    or of all of them together when several were made at once.
    """

    mean: float
    half_width: float
    n: int
    unit: str = ""
    level: float = LEVEL

    @property
    def low(self) -> float:
        """Lower end of the interval, in ``unit``."""
        return self.mean - self.half_width

    @property
    def high(self) -> float:
        """Upper end of the interval, in ``unit``."""
        return self.mean + self.half_width

    @property
    def tells(self) -> bool:
        """Whether the interval excludes zero: a difference has a sure sign."""
        return abs(self.mean) > self.half_width

    @property
    def verdict(self) -> str:
        """What a reader may conclude from a difference, in words."""
        if self.tells:
            return TELLS
        return NEVER_DIFFERS if self.mean == 0 and self.half_width == 0 else CANNOT_TELL

    def __str__(self) -> str:
        """Return ``12.3 ± 1.4 h (95 %, 10 replications)``."""
        runs = f"{self.n} replication{'' if self.n == 1 else 's'}"
        unit = "" if self.unit in ("", "1") else f" {self.unit}"
        if not math.isfinite(self.half_width):
            return f"{self.mean:.4g}{unit} ({runs}, no interval)"
        return f"{self.mean:.4g} ± {self.half_width:.2g}{unit} ({self.level * 100:g} %, {runs})"


@dataclass(frozen=True)
class Spread:
    """Between which values ``share`` of the single runs lie: how much they differ, not how well a mean is known."""

    low: float
    high: float
    n: int
    unit: str = ""
    share: float = WEEKS_SHARE


def t_quantile(probability: float, df: float) -> float:
    """Quantile of Student's t with ``df`` degrees of freedom."""
    return float(scipy.special.stdtrit(df, probability))


def t_interval(
    values: ArrayLike, unit: str = "", level: float = LEVEL, *, intervals: int = 1, fitted: int = 0
) -> Estimate:
    """Mean of independent ``values`` with its t interval.

    With ``intervals`` above 1 the interval is one of so many that hold together at ``level`` (Bonferroni). ``fitted``
    counts what was fitted to the values before (see :mod:`simkit.experiment.controlvariate`) and costs degrees of
    freedom. Source: Law, Simulation Modeling and Analysis, section 4.5.
    """
    sample = _sample(values)
    mean = float(sample.mean())
    if sample.size < 2 + fitted:
        return Estimate(mean, math.inf, sample.size, unit, level)
    quantile = t_quantile(1 - (1 - level) / (2 * intervals), sample.size - 1 - fitted)
    return Estimate(mean, quantile * _deviation(sample) / math.sqrt(sample.size), sample.size, unit, level)


def paired_difference(
    values: ArrayLike, against: ArrayLike, unit: str = "", level: float = LEVEL, *, intervals: int = 1, fitted: int = 0
) -> Estimate:
    """Mean of ``values - against`` with its t interval; position k of both is the same replication."""
    first, second = _sample(values), _sample(against)
    if first.size != second.size:
        raise ValueError(f"paired samples differ in length: {first.size} and {second.size}")
    return t_interval(first - second, unit, level, intervals=intervals, fitted=fitted)


def independent_difference(
    values: ArrayLike, against: ArrayLike, unit: str = "", level: float = LEVEL, *, equal_variances: bool = False
) -> Estimate:
    """Difference of the means of two samples that share nothing, such as observed and simulated weeks.

    Degrees of freedom after Welch, or pooled if both variances are taken as equal.
    ``n`` is the size of the smaller sample.
    """
    first, second = _sample(values), _sample(against)
    n, m = first.size, second.size
    mean = float(first.mean() - second.mean())
    if min(n, m) < 2:
        return Estimate(mean, math.inf, min(n, m), unit, level)
    var_n, var_m = _deviation(first) ** 2, _deviation(second) ** 2
    if equal_variances:
        df = float(n + m - 2)
        error = math.sqrt(((n - 1) * var_n + (m - 1) * var_m) / df * (1 / n + 1 / m))
    else:
        error = math.sqrt(var_n / n + var_m / m)
        df = error**4 / ((var_n / n) ** 2 / (n - 1) + (var_m / m) ** 2 / (m - 1)) if error else float(n + m - 2)
    return Estimate(mean, t_quantile(1 - (1 - level) / 2, df) * error, min(n, m), unit, level)


def against_base(
    systems: Mapping[str, ArrayLike],
    base: str,
    unit: str = "",
    level: float = LEVEL,
    *,
    family: int = 0,
    fitted: int = 0,
) -> dict[str, Estimate]:
    """Paired differences of every system from ``base``, all intervals together at ``level`` (Bonferroni).

    They hold together with as many more as ``family`` counts in all, where that is more.
    """
    others = [name for name in systems if name != base]
    together = max(len(others), family)
    return {
        name: paired_difference(systems[name], systems[base], unit, level, intervals=together, fitted=fitted)
        for name in others
    }


def pseudo_values(value: float, left_out: ArrayLike) -> NDArray[np.float64]:
    """One value per replication whose mean is ``value`` and whose t interval is the jackknife's.

    ``left_out`` are the values with each replication left out in turn. Budget caps bend a value of money, so that
    single replications would give a biased mean; leaving out one at a time does not (Quenouille 1956, Tukey 1958, from
    memory). Values of two scenarios are compared like any paired sample: they share their luck.
    """
    left = _sample(left_out)
    return np.asarray(value + (left.size - 1) * (left.mean() - left), float)


def replications_to_tell(
    differences: ArrayLike, level: float = LEVEL, *, intervals: int = 1, fitted: int = 0
) -> int | None:
    """How many replications in all would give the mean of ``differences`` a sure sign, if it is what it seems.

    None where it is zero, or where one replication says nothing of how much they differ.
    """
    sample = _sample(differences)
    mean = abs(float(sample.mean()))
    if sample.size < 2 + fitted or mean == 0:
        return None
    one_of_many = 1 - (1 - level) / intervals
    return replications_needed(_deviation(sample) ** 2, mean, one_of_many, at_least=2 + fitted)


def spread(values: ArrayLike, unit: str = "", share: float = WEEKS_SHARE) -> Spread:
    """Range that holds the middle ``share`` of the single runs (quantiles, linear between order statistics)."""
    sample = _sample(values)
    low, high = np.quantile(sample, [(1 - share) / 2, (1 + share) / 2])
    return Spread(float(low), float(high), sample.size, unit, share)


def replications_needed(variance: float, half_width: float, level: float = LEVEL, *, at_least: int = 2) -> int:
    """Smallest number of replications whose interval is at most ``half_width`` wide on each side.

    ``variance`` is that of single replications and taken as known from a first sample.
    Source: Law, Simulation Modeling and Analysis, section 9.4.1.
    """
    if half_width <= 0:
        raise ValueError(f"half_width must be above zero, not {half_width}")

    def wide(n: int) -> bool:
        return t_quantile(1 - (1 - level) / 2, n - 1) * math.sqrt(variance / n) > half_width

    high = max(at_least, 2)
    if not wide(high):
        return high
    while wide(high):
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if wide(middle) else (low, middle)
    return high


def replications_for_relative(
    mean: float, variance: float, relative: float, level: float = LEVEL, *, at_least: int = 2
) -> int:
    """Replications for a half-width of at most ``relative`` times the unknown true mean.

    The estimated mean replaces it, hence the stricter ``relative / (1 + relative)``.
    Source: Law, Simulation Modeling and Analysis, section 9.4.1.
    """
    return replications_needed(variance, relative / (1 + relative) * abs(mean), level, at_least=at_least)


def _sample(values: ArrayLike) -> NDArray[np.float64]:
    sample = np.asarray(values, dtype=float)
    if sample.ndim != 1 or sample.size == 0:
        raise ValueError("a sample must be a non-empty list of numbers")
    return sample


def _deviation(sample: NDArray[np.float64]) -> float:
    """Sample standard deviation; exactly 0 for equal values, whatever rounding does to their mean."""
    if np.all(sample == sample[0]):
        return 0.0
    return float(sample.std(ddof=1))
