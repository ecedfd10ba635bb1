"""Flip values: which value of an input, alone, brings the net present value to zero; the reader's first question.

The value of a set is computed on a grid of each input's reach, all inputs together, and every change of sign is
refined; an input without one says so in words. Nothing is looked for outside the reach.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from simkit.base.arrays import Floats
from simkit.finance.riskinputs import RiskInput
from simkit.finance.riskmodel import RiskModel

GRID = 33
CLOSE = 1e-10
WITHIN_ONE = ("overtime_premium", "persistence", "residual", "ramp_start")
"""Inputs that are shares: they reach from 0 to 1."""
GROWTHS = ("wage_growth", "price_growth")
GROWTH_REACH = 0.10
"""Growth a year up to which a flip is looked for, on both sides of the typical one: common practice, no source."""
REACH = 3.0
"""Other inputs reach from 0 to this many times their typical value: common practice, no source."""


@dataclass(frozen=True)
class Flip:
    """The value of an input nearest to its typical one at which the net present value is zero, others typical.

    ``value`` is None when there is none between ``low`` and ``high``. ``within_range`` tells whether it lies within
    the input's own range, so that the range alone can turn the answer.
    """

    input: RiskInput
    value: float | None
    low: float
    high: float

    @property
    def distance(self) -> float:
        """How far it lies from the typical value, in widths of the input's range; infinite without a flip."""
        if self.value is None:
            return float("inf")
        return abs(self.value - self.input.typical) / ((self.input.high - self.input.low) or 1.0)

    @property
    def within_range(self) -> bool:
        """Whether the flip lies between the input's own low and high."""
        return self.value is not None and self.input.low <= self.value <= self.input.high


def reach_of(one: RiskInput, demand: tuple[float, float]) -> tuple[float, float]:
    """Where a flip of an input is looked for; demand only where it was simulated."""
    if one.name == "demand":
        return demand
    if one.name in WITHIN_ONE:
        return 0.0, 1.0
    if one.name in GROWTHS:
        return one.typical - GROWTH_REACH, one.typical + GROWTH_REACH
    if one.name == "production_weeks":
        return 0.0, 53.0
    return 0.0, max(REACH * one.typical, one.high)


def flip_values(model: RiskModel, name: str, demand: tuple[float, float], against: str = "") -> tuple[Flip, ...]:
    """Flip of every input of a scenario, in the order of the register; of its gain beyond ``against``, if named."""
    inputs = model.inputs
    reach = [reach_of(one, demand) for one in inputs]
    grids = [_grid(one, *ends) for one, ends in zip(inputs, reach, strict=True)]
    values = model.one_by_one(name, grids, against)
    spans = [_nearest_span(*one) for one in zip(inputs, grids, values, strict=True)]
    roots = _refined(model, name, inputs, spans, against)
    return tuple(Flip(one, root, *ends) for one, root, ends in zip(inputs, roots, reach, strict=True))


def _grid(one: RiskInput, low: float, high: float) -> Floats:
    """Points of the reach, with the input's own three values among them."""
    own = [value for value in (one.low, one.typical, one.high) if low <= value <= high]
    return np.unique([*np.linspace(low, high, GRID), *own])


def _nearest_span(one: RiskInput, grid: Floats, values: Floats) -> tuple[float, float] | None:
    """The stretch of the grid nearest to the typical value in which the value changes its sign, or touches zero."""
    if not np.any(values):
        return None
    touched = [(float(x), float(x)) for x in grid[values == 0.0]]
    crossed = [(float(grid[i]), float(grid[i + 1])) for i in np.flatnonzero(values[:-1] * values[1:] < 0)]
    return min(
        [*touched, *crossed], key=lambda span: min(abs(span[0] - one.typical), abs(span[1] - one.typical)), default=None
    )


def _refined(
    model: RiskModel, name: str, inputs: Sequence[RiskInput], spans: Sequence[tuple[float, float] | None], against: str
) -> list[float | None]:
    """The root in each stretch, all of them together, by a bracketing method (Chandrupatla's, of SciPy)."""
    known = [i for i, span in enumerate(spans) if span is not None and span[0] < span[1]]
    roots: list[float | None] = [None if span is None else span[0] for span in spans]
    if not known:
        return roots
    from scipy.optimize.elementwise import find_root  # slow to load, and no run needs it

    def worth(x: Floats, which: Floats) -> Floats:
        cases = {one.name: np.full(x.shape, one.typical) for one in inputs}
        for row, place in enumerate(which.astype(int)):
            cases[inputs[place].name][row] = x[row]
        return model.gain(cases, name, against)

    lows, highs = (np.array([spans[i][end] for i in known]) for end in (0, 1))  # type: ignore[index]
    found = find_root(worth, (lows, highs), args=(np.array(known, float),), tolerances={"xrtol": CLOSE})
    for i, root in zip(known, found.x, strict=True):
        roots[i] = float(root)
    return roots
