"""Laws fitted to measured values by maximum likelihood, values that were cut off included, with n and intervals."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from typing import Any

import numpy as np
import scipy  # its heavy rooms load when they are first used
from numpy.typing import ArrayLike

from simkit.base.arrays import Floats
from simkit.experiment.intervals import LEVEL, t_interval

FEWEST = 8
"""Fewer whole observations than these fit no law: common practice, no source."""
STEP = 1e-3
"""Step in the logarithm of a parameter by which the curvature of the likelihood is taken."""

FAMILIES = {"exponential": "expon", "gamma": "gamma", "lognormal": "lognorm", "weibull": "weibull_min"}
"""Laws that are tried, by the kit's word, as SciPy names them."""


@dataclass(frozen=True)
class FittedLaw:
    """A law by its mean and coefficient of variation, as an element row has it.

    ``n`` counts whole observations, ``censored`` those cut off; ``low`` and ``high`` bound the mean, 95 %.
    ``parameters`` are shape (where there is one) and scale; ``log_likelihood`` that of all observations.
    """

    law: str
    mean: float
    cv: float
    n: int
    censored: int
    low: float
    high: float
    parameters: tuple[float, ...]
    log_likelihood: float

    @property
    def aic(self) -> float:
        """Akaike's criterion: twice the parameters less twice the log-likelihood; the smallest is taken."""
        return 2.0 * len(self.parameters) - 2.0 * self.log_likelihood


class TooFew(ValueError):
    """Raised with the counts where there are too few observations for a law."""


def fit_law(values: ArrayLike, cut_off: ArrayLike = (), *, law: str = "") -> FittedLaw:
    """Fit a law to positive values; ``cut_off`` are durations that had not ended when watching did.

    Without ``law`` the one of smallest AIC. Raises TooFew below :data:`FEWEST` whole values, ValueError for values that
    are not above zero.
    """
    whole, cut = np.asarray(values, float), np.asarray(cut_off, float)
    if len(whole) < FEWEST:
        raise TooFew(f"{len(whole)} whole observations, {FEWEST} are needed")
    if (whole <= 0).any() or (cut < 0).any() or not np.isfinite(np.concatenate([whole, cut])).all():
        raise ValueError("durations must be finite and above zero")
    names = [law] if law else list(FAMILIES)
    best = min((_fitted(name, whole, cut) for name in names), key=lambda one: one.aic)
    low, high = _interval_of_mean(best, whole, cut)
    return FittedLaw(
        best.law, best.mean, best.cv, len(whole), len(cut), low, high, best.parameters, best.log_likelihood
    )


def _fitted(law: str, whole: Floats, cut: Floats) -> FittedLaw:
    """The law of one family, its interval still open."""
    family = _family(law)
    if law == "exponential":
        parameters: tuple[float, ...] = (float((whole.sum() + cut.sum()) / len(whole)),)
    elif law == "lognormal" and not len(cut):
        parameters = (float(np.log(whole).std()), float(np.exp(np.log(whole).mean())))
    else:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", RuntimeWarning)
            shape, _, scale = family.fit(scipy.stats.CensoredData(uncensored=whole, right=cut), floc=0)
        parameters = (float(shape), float(scale))
    one = _frozen(law, np.array(parameters))
    likelihood = float(one.logpdf(whole).sum() + one.logsf(cut).sum())
    mean, spread = float(one.mean()), float(one.std())
    return FittedLaw(law, mean, spread / mean, len(whole), len(cut), np.nan, np.nan, parameters, likelihood)


def _interval_of_mean(best: FittedLaw, whole: Floats, cut: Floats) -> tuple[float, float]:
    """Exact for the exponential law, Student's t for whole samples, else by the curvature of the likelihood."""
    if best.law == "exponential":
        rate_low, rate_high = rate_interval(len(whole), float(whole.sum() + cut.sum()))
        return 1.0 / rate_high, 1.0 / rate_low
    if not len(cut):
        mean = t_interval(whole)
        return mean.low, mean.high
    half = float(scipy.stats.norm.ppf((1 + LEVEL) / 2)) * _spread_of_log_mean(best, whole, cut)
    return best.mean * float(np.exp(-half)), best.mean * float(np.exp(half))


def _spread_of_log_mean(best: FittedLaw, whole: Floats, cut: Floats) -> float:
    """Standard error of the logarithm of the mean by the curvature of the likelihood (delta method)."""
    at = np.log(best.parameters)

    def minus_likelihood(point: Floats) -> float:
        one = _frozen(best.law, np.exp(point))
        return -float(one.logpdf(whole).sum() + one.logsf(cut).sum())

    def log_mean(point: Floats) -> float:
        return float(np.log(_frozen(best.law, np.exp(point)).mean()))

    steps = STEP * np.eye(len(at))
    slope = np.array([(log_mean(at + step) - log_mean(at - step)) / (2 * STEP) for step in steps])
    curvature = np.array([
        [minus_likelihood(at + a + b) - minus_likelihood(at + a - b) - minus_likelihood(at - a + b)
         + minus_likelihood(at - a - b) for b in steps]
        for a in steps
    ]) / (4 * STEP**2)  # fmt: skip
    return float(np.sqrt(slope @ np.linalg.solve(curvature, slope)))


def _frozen(law: str, parameters: Floats) -> Any:
    *shapes, scale = parameters
    return _family(law)(*shapes, scale=scale)


def _family(law: str) -> Any:
    return getattr(scipy.stats, FAMILIES[law])


def rate_interval(events: int, exposure: float) -> tuple[float, float]:
    """Exact 95 % interval of the rate of a Poisson process by the events in an exposure, both ends by chi-square.

    ``events`` 0 or more, ``exposure`` above zero. The usual interval for watching that ends at a set time (time
    censored): chi-square of 2n and of 2n + 2 degrees of freedom over twice the exposure.
    """
    if events < 0 or exposure <= 0:
        raise ValueError("events must be zero or more and exposure above zero")
    tail = (1 - LEVEL) / 2
    low = float(scipy.stats.chi2.ppf(tail, 2 * events)) / (2 * exposure) if events else 0.0
    return low, float(scipy.stats.chi2.ppf(1 - tail, 2 * events + 2)) / (2 * exposure)
