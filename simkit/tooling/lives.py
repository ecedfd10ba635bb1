"""Chances of a tool life: how likely it ends before so many hits, and the mean use until a limit. Pure arithmetic.

A life is a :class:`~simkit.base.laws.Law` of counted hits between regrinds. Everywhere a tool whose life is
exactly as long as its limit is swapped in time: "before" means strictly before. Functions take one number of
hits or an array of them (0 and more; ``inf`` where a limit may be absent) and return the same shape.
Formulas: textbook definitions of the laws, from memory.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from simkit.base.arrays import Floats
from simkit.base.laws import Law, weibull_shape
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Tool

_NONE_LEFT = 1e-12
"""A chance to last below this is rounding: no tool lasts so long."""
_NO_GAIN = 1e-9
"""A gain below this is rounding: a limit never pays."""


def life_law(kind: str, mean_hits: float, cv: float = 0.0) -> Law:
    """Return the law of a tool life, of a parametric kind and a ``cv`` of ``laws.CV_RANGES``, mean above 0 hits.

    ``exponential`` has coefficient of variation 1, whatever ``cv``; every other law without spread is ``constant``.
    """
    if kind == "exponential":
        return Law(kind, mean_hits, 1.0)
    return Law(kind, mean_hits, cv) if cv and kind != "constant" else Law("constant", mean_hits)


def life_of(tool: Tool) -> Law | None:
    """The law of a tool's life; None if it never wears."""
    return None if tool.life_hits is None else life_law(tool.life_law, tool.life_hits, tool.life_cv)


def chance_to_fail(life: Law, limit_hits: ArrayLike) -> Floats:
    """F(T): chance that the life ends before ``limit_hits`` counted hits."""
    hits = np.asarray(limit_hits, float)
    if life.kind == "constant":
        return np.asarray(hits > life.mean, float)
    return np.asarray(_below(life, hits)[0])


def chance_to_fail_from(life: Law, worn_hits: float, more_hits: ArrayLike) -> Floats:
    """Chance that a tool which lasted ``worn_hits`` fails within ``more_hits``: (F(a+t) - F(a)) / (1 - F(a)).

    A tool beyond the end of its law (fewer than one life in 1e12 is that long) counts as failing at once: 1.
    """
    left = 1.0 - float(chance_to_fail(life, worn_hits))
    if left <= _NONE_LEFT:
        return np.ones(np.shape(more_hits))
    later = 1.0 - chance_to_fail(life, worn_hits + np.asarray(more_hits, float))
    return np.asarray(1.0 - later / left)


def mean_use(life: Law, limit_hits: ArrayLike) -> Floats:
    """m(T): mean hits between changes when a tool is changed at ``limit_hits`` or at the end of its life.

    m(T) = integral of the chance to last from 0 to T = E[life; life <= T] + T (1 - F(T)); the mean life for ``inf``.
    """
    hits = np.asarray(limit_hits, float)
    if life.kind == "constant":
        return np.asarray(np.minimum(hits, life.mean))
    finite = np.where(np.isinf(hits), 0.0, hits)
    chance, used = _below(life, finite)
    return np.asarray(np.where(np.isinf(hits), life.mean, used + finite * (1.0 - chance)))


def hazard(life: Law, hits: ArrayLike) -> Floats:
    """h(T): failures per hit of a tool that has lasted ``hits`` (density over the chance to last).

    Not defined for ``constant``, whose life ends at one hit: ValueError. ``inf`` beyond the end of the law.
    """
    if life.kind == "constant":
        raise ValueError("a constant life has no failures per hit before its end")
    at = np.asarray(hits, float)
    last = 1.0 - _below(life, at)[0]
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.where(last > _NONE_LEFT, _density(life, at) / last, np.inf))


def failure_worth(life: Law, limit_hits: float) -> float:
    """So many planned changes must a failure cost for this limit to be the cheapest: 1 + 1 / (h(T) m(T) - F(T)).

    Infinite where no failure is dear enough, since old tools fail no oftener than new ones. Not defined for
    ``constant``. Age replacement by renewal reward: Barlow and Proschan 1965, Mathematical Theory of Reliability, ch. 4
    (from memory).
    """
    gain = float(hazard(life, limit_hits) * mean_use(life, limit_hits) - chance_to_fail(life, limit_hits))
    return 1.0 + 1.0 / gain if gain > _NO_GAIN else math.inf


def limit_worths(plant: PlantInputs) -> tuple[float, ...]:
    """Planned changes that a failure must cost for the limit of each tool that has one to be the cheapest.

    Tools whose lives do not vary are left out, and those whose limit never pays (see :func:`failure_worth`).
    """
    lives = ((life_of(tool), tool.regrind_limit_hits) for tool in plant.tools)
    worths = (failure_worth(life, limit) for life, limit in lives if life and limit and life.kind != "constant")
    return tuple(worth for worth in worths if math.isfinite(worth))


def _weibull(life: Law) -> tuple[float, float]:
    shape = weibull_shape(life.cv)
    return shape, life.mean / float(special.gamma(1 + 1 / shape))


def _log_normal(life: Law) -> tuple[float, float]:
    spread = math.sqrt(math.log1p(life.cv**2))
    return math.log(life.mean) - spread**2 / 2, spread


def _below(life: Law, hits: Floats) -> tuple[Floats, Floats]:
    """Chance of a life up to ``hits``, and the part of the mean life that such lives give (hits)."""
    if life.kind in ("exponential", "gamma"):
        shape = 1.0 / life.cv**2
        scaled = hits * shape / life.mean
        return special.gammainc(shape, scaled), life.mean * special.gammainc(shape + 1, scaled)
    if life.kind == "weibull":
        shape, scale = _weibull(life)
        power = (hits / scale) ** shape
        return -np.expm1(-power), life.mean * special.gammainc(1 + 1 / shape, power)
    if life.kind == "lognormal":
        middle, spread = _log_normal(life)
        with np.errstate(divide="ignore"):
            z = (np.log(hits) - middle) / spread
        return special.ndtr(z), life.mean * special.ndtr(z - spread)
    if life.kind == "uniform":
        half = life.mean * life.cv * math.sqrt(3.0)
        low, at = life.mean - half, np.clip(hits, life.mean - half, life.mean + half)
        return (at - low) / (2 * half), (at**2 - low**2) / (4 * half)
    return _below_triangular(life, hits)


def _below_triangular(life: Law, hits: Floats) -> tuple[Floats, Floats]:
    """As :func:`_below`; the upper half follows from the lower one, mirrored at the mean."""
    half = life.mean * life.cv * math.sqrt(6.0)
    upper = hits > life.mean
    way = np.clip(np.where(upper, life.mean + half - hits, hits - life.mean + half), 0.0, half)
    share = way**2 / (2 * half**2)
    part = share * (life.mean - half) + way**3 / (3 * half**2)
    rest = share * (life.mean + half) - way**3 / (3 * half**2)
    return np.where(upper, 1 - share, share), np.where(upper, life.mean - rest, part)


def _density(life: Law, hits: Floats) -> Floats:
    """Chance per hit that the life ends there."""
    if life.kind in ("exponential", "gamma"):
        shape = 1.0 / life.cv**2
        rate = shape / life.mean
        return np.asarray(rate * np.exp(special.xlogy(shape - 1, rate * hits) - rate * hits - special.gammaln(shape)))
    if life.kind == "weibull":
        shape, scale = _weibull(life)
        return np.asarray(shape / scale * (hits / scale) ** (shape - 1) * np.exp(-((hits / scale) ** shape)))
    if life.kind == "lognormal":
        middle, spread = _log_normal(life)
        z = (np.log(hits) - middle) / spread
        return np.asarray(np.exp(-(z**2) / 2) / (math.sqrt(2 * math.pi) * spread * hits))
    half = life.mean * life.cv * math.sqrt(3.0 if life.kind == "uniform" else 6.0)
    way = np.maximum(half - np.abs(hits - life.mean), 0.0)
    return np.asarray(way / half**2 if life.kind == "triangular" else np.where(way > 0, 0.5 / half, 0.0))
