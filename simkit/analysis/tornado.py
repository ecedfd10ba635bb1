"""Which inputs matter: each at its low and its high, Sobol indices of the largest, and what knowing some would narrow.

One-at-a-time swings keep the others at their typical value. First-order effects (SALib) are what an input brings alone,
total effects hold every interaction with the others. Both take inputs as independent.

The share of the variance that inputs explain together, Var(E[Y|X]) / Var(Y), is estimated on samples that are there
already by least squares on Legendre polynomials of the inputs' ranks, corrected for the number of terms as an adjusted
R². Samples may be correlated: an input then counts with what it tells of the others (textbook standard; the
first-order index of independent inputs is the same quantity).
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import scipy  # its heavy rooms load when they are first used
from numpy.polynomial import legendre

from simkit.base.arrays import Floats
from simkit.finance.riskinputs import RiskInput
from simkit.finance.riskmodel import RiskModel

TOP_INPUTS = 6
"""Inputs of which total effects are computed: those with the largest swings."""
BASE_SAMPLES = 256
"""Base samples of the total effects, a power of two; the cases are this many times the inputs plus two."""


@dataclass(frozen=True)
class Swing:
    """Net present value with one input at its low and at its high, the others typical."""

    input: RiskInput
    at_low: float
    at_high: float
    base: float

    @property
    def size(self) -> float:
        """Distance between the lowest and the highest of both ends and the typical value's."""
        return max(self.at_low, self.at_high, self.base) - min(self.at_low, self.at_high, self.base)


@dataclass(frozen=True)
class SobolEffect:
    """Shares of the variance that an input brings alone (``first``) and also with others (``total``), 95 % half-widths.

    Shares are estimates: by luck they may lie below 0, or the first-order one above the total.
    """

    input: RiskInput
    first: float
    first_half_width: float
    total: float
    total_half_width: float


def swings(model: RiskModel, name: str) -> tuple[Swing, ...]:
    """Swing of every input on the value of one scenario, largest first; two cases an input, built together."""
    ends = model.one_by_one(name, [np.array([one.low, one.high]) for one in model.inputs])
    base = model.base(name) if ends else 0.0
    found = [Swing(one, float(low), float(high), base) for one, (low, high) in zip(model.inputs, ends, strict=True)]
    return tuple(sorted(found, key=lambda swing: -swing.size))


def sobol_effects(
    model: RiskModel, name: str, inputs: Sequence[RiskInput], seed: int, base_samples: int = BASE_SAMPLES
) -> tuple[SobolEffect, ...]:
    """First-order and total effects of some inputs over their laws, the others typical, largest total first."""
    if not inputs:
        return ()
    from SALib.analyze import sobol as sobol_analysis  # slow to load, and asked by one picture alone
    from SALib.sample import sobol as sobol_sample

    problem = {"num_vars": len(inputs), "names": [one.name for one in inputs], "bounds": [[0.0, 1.0]] * len(inputs)}
    points = sobol_sample.sample(problem, base_samples, calc_second_order=False, seed=seed)
    cases = {one.name: one.at(points[:, i]) for i, one in enumerate(inputs)}
    values = model.values(cases, [name]).npv[name]
    if np.ptp(values) == 0:
        return ()
    found = sobol_analysis.analyze(problem, values, calc_second_order=False, seed=seed)
    columns = (found[key].tolist() for key in ("S1", "S1_conf", "ST", "ST_conf"))
    effects = [SobolEffect(*row) for row in zip(inputs, *columns, strict=True)]
    return tuple(sorted(effects, key=lambda one: -one.total))


# ---- what knowing inputs takes away ----


DEGREES, DEGREE = {1: 10, 2: 6, 3: 4}, 2
"""Highest sum of degrees of the polynomials of one, two and three inputs, and of more: terms grow fast with them."""


def explained_share(inputs: Sequence[Floats], values: Floats) -> float:
    """Share 0 to 1 of the variance of ``values`` that some inputs explain together; one array of samples each.

    0 without inputs or where nothing varies. Raises ValueError for fewer samples than twice the terms.
    """
    if not inputs or np.ptp(values) == 0:
        return 0.0
    terms = _terms([_spread(one) for one in inputs])
    count, width = terms.shape
    if count < 2 * width:
        raise ValueError(f"{count} samples are too few for {width} terms")
    fitted, *_ = np.linalg.lstsq(terms, values, rcond=None)
    left = float(np.square(values - terms @ fitted).sum() / np.square(values - values.mean()).sum())
    return float(np.clip(1 - left * (count - 1) / (count - width), 0.0, 1.0))


def shares(inputs: Mapping[str, Floats], values: Floats) -> dict[str, float]:
    """The share of each input alone, the largest first."""
    found = {name: explained_share([one], values) for name, one in inputs.items()}
    return dict(sorted(found.items(), key=lambda pair: -pair[1]))


def narrowed(share: float) -> float:
    """Width of a range over what it was, once inputs that explain this share of the variance are known."""
    return float(np.sqrt(1.0 - share))


def _spread(values: Floats) -> Floats:
    """Ranks, from -1 to 1."""
    return np.asarray(2 * (scipy.stats.rankdata(values) - 0.5) / len(values) - 1, float)


def _terms(points: Sequence[Floats]) -> Floats:
    """All products of Legendre polynomials of the points with a sum of degrees up to the highest."""
    highest = DEGREES.get(len(points), DEGREE)
    alone = [legendre.legvander(one, highest) for one in points]
    degrees = (d for d in itertools.product(range(highest + 1), repeat=len(points)) if sum(d) <= highest)
    return np.column_stack([np.prod([own[:, d] for own, d in zip(alone, of, strict=True)], axis=0) for of in degrees])
