"""Probability laws of durations and counts, given by mean and coefficient of variation.

A law turns uniform numbers into values by its inverse distribution function, so that the same
uniform number means the same luck in every scenario. Formulas are textbook standard (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
import scipy  # its heavy rooms load when they are first used

from simkit.base.arrays import Floats


@dataclass(frozen=True)
class Law:
    """A law with its mean and coefficient of variation.

    ``values`` holds the sample of ``empirical`` and the list of ``sequence``; both are scaled so that
    their mean is ``mean`` unless ``mean`` is None. ``triangular`` and ``uniform`` are symmetric around
    the mean and cut at zero.
    """

    kind: str
    mean: float
    cv: float = 0.0
    values: tuple[float, ...] = field(default=())

    @property
    def is_constant(self) -> bool:
        """Whether every draw gives the mean."""
        if self.kind == "exponential":
            return self.mean == 0.0
        if self.kind in ("empirical", "sequence"):
            return False
        return self.kind == "constant" or self.cv == 0.0 or self.mean == 0.0

    def draw(self, uniforms: Floats) -> Floats:
        """Values at the given uniform numbers in [0, 1); same shape.

        Raises ValueError for ``sequence``, whose values are consumed in the order of start instead.
        """
        if self.kind == "sequence":
            raise ValueError("a sequence is consumed in order, not drawn")
        if self.is_constant:
            return np.full(np.shape(uniforms), self.mean)
        if self.kind == "empirical":
            return self._empirical(uniforms)
        return np.asarray(self.mean * _unit_quantile(self.kind, self.cv, uniforms), float)

    def _empirical(self, uniforms: Floats) -> Floats:
        sample = np.sort(np.asarray(self.values, dtype=float))
        scaled = sample * (self.mean / sample.mean())
        return np.asarray(scaled[np.minimum((uniforms * len(scaled)).astype(int), len(scaled) - 1)])


def _unit_quantile(kind: str, cv: float, u: Floats) -> Floats:
    """Quantiles of the law with mean 1."""
    if kind == "exponential":
        return np.asarray(-np.log1p(-u))
    if kind == "gamma":
        shape = 1.0 / cv**2
        return np.asarray(scipy.special.gammaincinv(shape, u) / shape)
    if kind == "lognormal":
        sigma2 = np.log1p(cv**2)
        return np.asarray(np.exp(np.sqrt(sigma2) * scipy.special.ndtri(np.clip(u, 1e-16, None)) - sigma2 / 2))
    if kind == "weibull":
        shape = weibull_shape(cv)
        return np.asarray((-np.log1p(-u)) ** (1 / shape) / scipy.special.gamma(1 + 1 / shape))
    if kind == "triangular":
        half = cv * np.sqrt(6.0)
        low = np.where(u < 0.5, np.sqrt(2 * u) - 1, 1 - np.sqrt(2 * (1 - u)))
        return np.asarray(np.maximum(1 + half * low, 0.0))
    if kind == "uniform":
        return np.asarray(np.maximum(1 + cv * np.sqrt(3.0) * (2 * u - 1), 0.0))
    raise ValueError(f"unknown law '{kind}'")


CV_RANGES: dict[str, tuple[float, float]] = {
    "gamma": (0.0, 10.0), "lognormal": (0.0, 10.0), "weibull": (0.05, 10.0), "triangular": (0.0, 6.0**-0.5),
    "uniform": (0.0, 3.0**-0.5),
}  # fmt: skip
"""Coefficients of variation, beside 0, with which a law keeps its mean: the symmetric ones must not reach below zero,
beyond the others a run meets hardly a value near the mean or the shape is not found."""


@lru_cache(maxsize=256)
def weibull_shape(cv: float) -> float:
    """Shape of the Weibull law with this coefficient of variation (0.05 to 10)."""

    def excess(shape: float) -> float:
        first, second = scipy.special.gamma(1 + 1 / shape), scipy.special.gamma(1 + 2 / shape)
        return float(second / first**2 - 1 - cv**2)

    return float(scipy.optimize.brentq(excess, 0.2, 40.0, xtol=1e-12))
