"""What the samples of a cash flow say: expected value, percentiles, chances, shortfall, and how settled they are.

The value as quoted is that of the mean of the runs with every input as quoted; the expected value is the mean of the
samples. Each sample holds an error of the simulation beside its inputs, drawn from the jackknife over replications.
P10, P50 and P90 are the 10th, 50th and 90th percentile of the net present value: 8 cases in 10 lie between the outer
ones. (Some trades use exceedance, where P90 is the low case.)
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from simkit.base.arrays import Floats
from simkit.finance.riskinputs import DEFAULT, RiskInput, pairs_of
from simkit.finance.risklaws import correlated, correlation_matrix, even_points, shared_luck
from simkit.finance.riskmodel import CaseValues, RiskModel
from simkit.plant.settings_risk import Risk


@dataclass(frozen=True)
class Summary:
    """A scenario's samples in numbers; money in the plant's currency.

    ``mean`` is the expected value, ``simulation_share`` the share of the samples' variance that is error of the
    simulation (None where it is not known), ``chance_of_loss`` the share of cases with a value below zero,
    ``shortfall`` the mean value of those cases (0 if there are none). ``payback_p50`` is the median in years (infinite:
    never), ``chance_of_payback`` the share that pays back within the firm's limit (None without one),
    ``half_difference`` the largest difference of a percentile between the two halves of the samples.
    """

    p10: float
    p50: float
    p90: float
    mean: float
    simulation_share: float | None
    chance_of_loss: float
    shortfall: float
    payback_p50: float
    chance_of_payback: float | None
    half_difference: float
    samples: int


@dataclass(frozen=True)
class Samples:
    """Samples of inputs and what they lead to; the first half is a Latin hypercube of its own, and so the second.

    ``outcome`` holds the error of the simulation; ``certain`` are the values without it.
    """

    inputs: dict[str, Floats]
    outcome: CaseValues
    certain: Mapping[str, Floats]


def sample(model: RiskModel, names: Sequence[str], risk: Risk) -> Samples:
    """Sample all inputs, with their correlations, and build the cash of each case, with an error of the simulation."""
    known = [one.name for one in model.inputs]
    matrix = correlation_matrix(known, pairs_of(model.plant, known))
    half = risk.samples // 2
    points = np.vstack([correlated(even_points(half, len(known), risk.seed + i), matrix) for i in (0, 1)])
    drawn = {one.name: one.at(points[:, i]) for i, one in enumerate(model.inputs)}
    if not drawn:
        drawn = {"discount_rate": np.full(2 * half, model.plant.settings.finance.discount_rate)}
    certain = model.values(drawn, names)
    errors = simulation_errors(model, names, half, risk.seed + 2)
    flows = {name: flows + errors[name] if errors else flows for name, flows in certain.flows.items()}
    return Samples(drawn, model.worth(flows, drawn), certain.npv)


def simulation_errors(model: RiskModel, names: Sequence[str], half: int, seed: int) -> dict[str, Floats]:
    """Errors of the simulation in the cash of each scenario, shape (twice ``half``, years); empty with a single run.

    Their covariance over years and scenarios is the jackknife's, so that luck which scenarios share stays shared.
    """
    runs, degrees = model.runs, model.runs - 1 - model.fitted
    if degrees < 1:
        return {}
    points = np.vstack([even_points(half, runs + 1, seed + i) for i in (0, 1)])
    luck = shared_luck(points, degrees) * np.sqrt((runs - 1) / runs)
    return {name: luck @ (own - own.mean(axis=0)) for name, own in model.without_each(names).flows.items()}


def percentiles(values: Floats) -> tuple[float, float, float]:
    """The 10th, 50th and 90th percentile; infinite values are larger than all others."""
    low, middle, high = np.quantile(values, [0.1, 0.5, 0.9], method="inverted_cdf").tolist()
    return low, middle, high


def expected_shortfall(values: Floats, limit: float = 0.0) -> float:
    """Mean of the values below a limit, 0 if none is; the mean loss of the cases that lose. Textbook standard."""
    lost = values[values < limit]
    return float(lost.mean()) if len(lost) else 0.0


def half_difference(values: Floats) -> float:
    """Largest difference of P10, P50 or P90 between the two halves of the samples."""
    half = len(values) // 2
    first, second = (np.quantile(part, [0.1, 0.5, 0.9]) for part in (values[:half], values[half:]))
    return float(np.abs(first - second).max())


def summary(sampled: Samples, scenario: str, payback_limit_years: float | None = None) -> Summary:
    """Numbers of one scenario's samples."""
    values, times = sampled.outcome.npv[scenario], sampled.outcome.paybacks(scenario)
    within = None if payback_limit_years is None else float((times <= payback_limit_years).mean())
    error = values - sampled.certain[scenario]
    parts = float(error.var()), float(sampled.certain[scenario].var())
    share = parts[0] / sum(parts) if parts[0] else None
    return Summary(
        *percentiles(values), float(values.mean()), share, float((values < 0).mean()), expected_shortfall(values),
        percentiles(times)[1], within, half_difference(values), len(values),
    )  # fmt: skip


def default_share(swings: Sequence[tuple[RiskInput, float]]) -> float:
    """Share of the summed swings that rests on inputs whose range is the kit's default; 0 without any swing."""
    total = sum(abs(swing) for _, swing in swings)
    return sum(abs(swing) for one, swing in swings if one.basis == DEFAULT) / total if total else 0.0


def condition(calibrated: bool, share_of_defaults: float, simulated: bool) -> str:
    """Under which conditions a chance of loss and percentiles hold, in words."""
    defaults = "" if not share_of_defaults else f" ({100 * share_of_defaults:.0f} % of the swing on default ranges)"
    held = [f"the ranges of the inputs{defaults}"]
    if simulated:
        held.append("the error of the simulated hours")
    missing = "" if calibrated else "; how well an uncalibrated baseline fits the plant is not in it"
    return f"as far as {' and '.join(held)} go{missing}"
