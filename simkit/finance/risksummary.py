"""What the samples of a cash flow say: percentiles, chances, shortfall, how settled they are, and what is withheld.

P10, P50 and P90 are the 10th, 50th and 90th percentile of the net present value: 8 cases in 10 lie between the outer
ones. (Some trades use exceedance, where P90 is the low case.)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from simkit.base.vocabulary import NO_SOURCE
from simkit.finance.riskinputs import DEFAULT, RiskInput, pairs_of
from simkit.finance.risklaws import Array, correlated, correlation_matrix, even_points, replication_weights
from simkit.finance.riskmodel import Outcome, RiskModel
from simkit.plant.settings_risk import Risk

MOST_DEFAULT = 0.30
"""Share of the swing on default ranges above which no chance of loss is told: common practice, no source."""


@dataclass(frozen=True)
class Percentiles:
    """10th, 50th and 90th percentile."""

    p10: float
    p50: float
    p90: float


@dataclass(frozen=True)
class Summary:
    """A scenario's samples in numbers; money in the plant's currency.

    ``chance_of_loss`` is the share of cases with a value below zero, ``shortfall`` the mean value of those cases (0 if
    there are none), ``payback`` holds percentiles in years (infinite: never), ``chance_of_payback`` the share that
    pays back within the firm's limit (None without one), ``half_difference`` the largest difference of a percentile
    between the two halves of the samples.
    """

    scenario: str
    npv: Percentiles
    mean: float
    chance_of_loss: float
    shortfall: float
    payback: Percentiles
    chance_of_payback: float | None
    half_difference: float
    samples: int
    seed: int


@dataclass(frozen=True)
class Sampled:
    """Samples of inputs and what they lead to; the first half is a Latin hypercube of its own, and so the second."""

    inputs: dict[str, Array]
    outcome: Outcome
    seed: int


def sample(model: RiskModel, names: Sequence[str], risk: Risk) -> Sampled:
    """Sample all inputs, with their correlations, and the error of simulation, and build the cash of each case."""
    known = [one.name for one in model.inputs]
    matrix = correlation_matrix(known, pairs_of(model.plant, known))
    half = risk.samples // 2
    points = np.vstack([correlated(even_points(half, len(known), risk.seed + i), matrix) for i in (0, 1)])
    drawn = {one.name: one.at(points[:, i]) for i, one in enumerate(model.inputs)}
    runs = 0 if model.replications is None else model.replications.replications
    weights = replication_weights(2 * half, runs, risk.seed) if runs > 1 else None
    if not drawn and weights is None:
        drawn = {"discount_rate": np.full(2 * half, model.plant.settings.finance.discount_rate)}
    return Sampled(drawn, model.values(drawn, names, weights), risk.seed)


def percentiles(values: Array) -> Percentiles:
    """The 10th, 50th and 90th percentile; infinite values are larger than all others."""
    low, middle, high = (float(v) for v in np.quantile(values, [0.1, 0.5, 0.9], method="inverted_cdf"))
    return Percentiles(low, middle, high)


def expected_shortfall(values: Array, limit: float = 0.0) -> float:
    """Mean of the values below a limit, 0 if none is; the mean loss of the cases that lose. Textbook standard."""
    lost = values[values < limit]
    return float(lost.mean()) if len(lost) else 0.0


def half_difference(values: Array) -> float:
    """Largest difference of P10, P50 or P90 between the two halves of the samples."""
    half = len(values) // 2
    first, second = (np.quantile(part, [0.1, 0.5, 0.9]) for part in (values[:half], values[half:]))
    return float(np.abs(first - second).max())


def summary(sampled: Sampled, scenario: str, payback_limit_years: float | None = None) -> Summary:
    """Numbers of one scenario's samples."""
    values, times = sampled.outcome.npv[scenario], sampled.outcome.paybacks(scenario)
    within = None if payback_limit_years is None else float((times <= payback_limit_years).mean())
    return Summary(
        scenario, percentiles(values), float(values.mean()), float((values < 0).mean()), expected_shortfall(values),
        percentiles(times), within, half_difference(values), len(values), sampled.seed,
    )  # fmt: skip


def default_share(swings: Sequence[tuple[RiskInput, float]]) -> float:
    """Share of the summed swings that rests on inputs whose range is the kit's default; 0 without any swing."""
    total = sum(abs(swing) for _, swing in swings)
    return sum(abs(swing) for one, swing in swings if one.basis == DEFAULT) / total if total else 0.0


def withheld(calibrated: bool, share_of_defaults: float) -> str:
    """Why no chance of loss is told and what would release it, or an empty text."""
    percent = f"{100 * share_of_defaults:.0f} % of the swing rests on default ranges"
    reasons, releases = [], []
    if not calibrated:
        reasons.append("the baseline is not calibrated")
        releases.append("observed weeks that validate it")
    if share_of_defaults > MOST_DEFAULT:
        reasons.append(f"{percent} (limit {100 * MOST_DEFAULT:.0f} %, {NO_SOURCE})")
        releases.append("the plant's own ranges for the largest of those inputs")
    if not reasons:
        return ""
    return f"The chance of loss is withheld because {' and '.join(reasons)}; to release it: {' and '.join(releases)}."
