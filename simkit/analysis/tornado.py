"""Which inputs matter: each at its low and its high, and Sobol total effects of the largest.

One-at-a-time swings keep the others at their typical value. Total effects (SALib) hold every interaction, and are
ranked only as far as their intervals part; they take inputs as independent.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from SALib.analyze import sobol as sobol_analysis
from SALib.sample import sobol as sobol_sample

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
class TotalEffect:
    """Share of the variance that an input brings alone and with others, with its 95 % half-width and its rank.

    ``rank`` is a number, or a stretch as ``1-3`` where intervals overlap.
    """

    input: RiskInput
    effect: float
    half_width: float
    rank: str


def swings(model: RiskModel, name: str) -> tuple[Swing, ...]:
    """Swing of every input on the value of one scenario, largest first; two cases an input, built together."""
    count = len(model.inputs)
    cases = {one.name: np.full(2 * count, one.typical) for one in model.inputs}
    for place, one in enumerate(model.inputs):
        cases[one.name][2 * place : 2 * place + 2] = one.low, one.high
    if not count:
        return ()
    ends = model.values(cases, [name]).npv[name].reshape(count, 2)
    base = model.base(name)
    found = [Swing(one, float(low), float(high), base) for one, (low, high) in zip(model.inputs, ends, strict=True)]
    return tuple(sorted(found, key=lambda swing: -swing.size))


def total_effects(
    model: RiskModel, name: str, inputs: Sequence[RiskInput], seed: int, base_samples: int = BASE_SAMPLES
) -> tuple[TotalEffect, ...]:
    """Total effects of some inputs over their laws, the others typical, largest first."""
    if not inputs:
        return ()
    problem = {"num_vars": len(inputs), "names": [one.name for one in inputs], "bounds": [[0.0, 1.0]] * len(inputs)}
    points = sobol_sample.sample(problem, base_samples, calc_second_order=False, seed=seed)
    cases = {one.name: one.at(points[:, i]) for i, one in enumerate(inputs)}
    values = model.values(cases, [name]).npv[name]
    if np.ptp(values) == 0:
        return ()
    found = sobol_analysis.analyze(problem, values, calc_second_order=False, seed=seed)
    return ranked(inputs, found["ST"], found["ST_conf"])


def ranked(inputs: Sequence[RiskInput], effects: Sequence[float], widths: Sequence[float]) -> tuple[TotalEffect, ...]:
    """Effects in order, each with the ranks it may have: how many are surely larger, and how many surely smaller."""
    order = sorted(range(len(inputs)), key=lambda i: -effects[i])
    found = []
    for i in order:
        larger = sum(effects[k] - widths[k] > effects[i] + widths[i] for k in order)
        smaller = sum(effects[k] + widths[k] < effects[i] - widths[i] for k in order)
        first, last = larger + 1, len(order) - smaller
        rank = f"{first}" if first == last else f"{first}–{last}"
        found.append(TotalEffect(inputs[i], float(effects[i]), float(widths[i]), rank))
    return tuple(found)
