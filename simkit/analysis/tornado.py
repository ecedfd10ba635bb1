"""Which inputs matter: each at its low and its high, and Sobol indices of the largest.

One-at-a-time swings keep the others at their typical value. First-order effects (SALib) are what an input brings alone,
total effects hold every interaction with the others; these are ranked only as far as their intervals part. Both take
inputs as independent.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

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

    ``rank`` of the total effect is a number, or a stretch as ``1-3`` where intervals overlap. Shares are estimates: by
    luck they may lie below 0, or the first-order one above the total.
    """

    input: RiskInput
    first: float
    first_half_width: float
    total: float
    total_half_width: float
    rank: str


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
    ranks = ranks_of(found["ST"], found["ST_conf"])
    effects = [SobolEffect(*row) for row in zip(inputs, *columns, ranks, strict=True)]
    return tuple(sorted(effects, key=lambda one: -one.total))


def ranks_of(effects: Sequence[float], widths: Sequence[float]) -> tuple[str, ...]:
    """The ranks that each effect may have: how many are surely larger, and how many surely smaller."""
    found = []
    for effect, width in zip(effects, widths, strict=True):
        others = list(zip(effects, widths, strict=True))
        first = 1 + sum(e - w > effect + width for e, w in others)
        last = len(effects) - sum(e + w < effect - width for e, w in others)
        found.append(f"{first}" if first == last else f"{first}–{last}")
    return tuple(found)
