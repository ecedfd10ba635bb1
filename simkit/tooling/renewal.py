"""How many changes a tool needs in a finite stretch of hits: chances and means, by numbers on a grid.

A tool is changed when its life ends (failed) or at its limit (planned), and is as good as new then. A finite
stretch is not the steady state: stretch / mean use is wrong by about half a change for a new tool. Chances of
k changes follow from those of k - 1 by the renewal equation (Feller, An Introduction to Probability Theory and
Its Applications, vol. 2, ch. XI, from memory), solved with the trapezium rule on a grid of hits.

**Accuracy**: about 1e-5 changes with the default ``steps_per_use`` for laws that vary by 1 or less (checked on the
closed forms of Erlang-2 and exponential lives); the error falls with the square of the step. Laws that vary by
more crowd their failures at the first hits, and the error is about 1e-2 there.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice

import numpy as np
from numpy.typing import ArrayLike
from scipy.signal import fftconvolve

from simkit.base.arrays import Floats
from simkit.base.laws import Law
from simkit.tooling.lives import chance_to_fail, chance_to_fail_from, mean_use

MAX_USES = 200.0
"""Longest stretch, in mean uses of a tool, for which changes are counted so."""
_SMALLEST = 1e-12


@dataclass(frozen=True)
class MeanChanges:
    """Mean changes by each number of hits: failures in work, and planned ones at the limit."""

    failed: Floats
    planned: Floats

    @property
    def all(self) -> Floats:
        """Failed and planned together."""
        return self.failed + self.planned


@dataclass(frozen=True)
class _Grid:
    """Steps of hits, chances of failure within each, how many steps a limit is away (None: no limit), and at it."""

    step: float
    count: int
    steps: Floats
    limit: int | None
    at_limit: float


@dataclass(frozen=True)
class _Curve:
    """Values at the grid's hits, and just before them (they jump at planned changes)."""

    at: Floats
    before: Floats

    def read(self, hits: Floats, step: float, just_before: bool = False) -> Floats:
        """Values at any hits, or just before them; straight lines between the grid's."""
        near = np.rint(hits / step).astype(int)
        on_grid = np.abs(hits / step - near) < 1e-9
        low = np.clip(np.floor(hits / step).astype(int), 0, len(self.at) - 2)
        between = self.at[low] + (hits / step - low) * (self.before[low + 1] - self.at[low])
        exact = (self.before if just_before else self.at)[np.clip(near, 0, len(self.at) - 1)]
        return np.asarray(np.where(on_grid, exact, between))


def expected_changes(
    life: Law, hits: ArrayLike, worn_hits: float = 0.0, limit_hits: float = math.inf, steps_per_use: int = 400
) -> MeanChanges:
    """Return mean failed and planned changes within ``hits`` counted hits from now, one value for each.

    ``worn_hits`` is what the tool has done since its last change (0: new), ``limit_hits`` its limit (above 0).
    Valid up to 200 mean uses, and accurate as the module says; ValueError beyond.
    """
    wanted = np.atleast_1d(np.asarray(hits, float))
    grid = _grid(life, wanted, worn_hits, limit_hits, steps_per_use)
    if life.kind == "constant":
        return _constant_changes(life, wanted, worn_hits, limit_hits)
    failed = planned = _flat(grid, 0.0)
    for _, by_failure, by_limit in _curves(grid):
        failed, planned = _sum(failed, by_failure), _sum(planned, by_limit)
    start = _Start(life, worn_hits, max(limit_hits - worn_hits, 0.0), grid.step)
    return MeanChanges(start.then(wanted, failed, failure=1.0), start.then(wanted, planned, limit=1.0))


def chance_of_changes(
    life: Law, hits: ArrayLike, count: int, worn_hits: float = 0.0, limit_hits: float = math.inf,
    steps_per_use: int = 400,
) -> Floats:  # fmt: skip
    """Return the chance of at least ``count`` changes (1 or more), failed or planned, within ``hits`` from now.

    Arguments, range and accuracy as in :func:`expected_changes`.
    """
    if count < 1:
        raise ValueError(f"at least one change is asked for, not {count}")
    wanted = np.atleast_1d(np.asarray(hits, float))
    grid = _grid(life, wanted, worn_hits, limit_hits, steps_per_use)
    if life.kind == "constant":
        return np.asarray(_constant_changes(life, wanted, worn_hits, limit_hits).all >= count, float)
    curves = [_flat(grid, 1.0), *(total for total, _, _ in islice(_curves(grid), count - 1))]
    before = curves[-1] if len(curves) == count else _flat(grid, 0.0)
    return _Start(life, worn_hits, max(limit_hits - worn_hits, 0.0), grid.step).then(wanted, before)


def chance_of_failure(life: Law, hits: ArrayLike, worn_hits: float = 0.0, limit_hits: float = math.inf) -> Floats:
    """Return the chance that a tool fails at least once within ``hits`` from now, planned changes at its limit.

    Exact: nothing fails only if the tool lasts to each planned change and through what is left.
    """
    more = np.atleast_1d(np.asarray(hits, float))
    to_limit = max(limit_hits - worn_hits, 0.0)
    last = 1.0 - chance_to_fail_from(life, worn_hits, np.minimum(more, to_limit))
    if math.isinf(limit_hits):
        return np.asarray(1.0 - last)
    whole, rest = np.divmod(np.maximum(more - to_limit, 0.0), limit_hits)
    fresh = (1.0 - chance_to_fail(life, limit_hits)) ** whole * (1.0 - chance_to_fail(life, rest))
    return np.asarray(1.0 - last * np.where(more >= to_limit, fresh, 1.0))


def _constant_changes(life: Law, hits: Floats, worn_hits: float, limit_hits: float) -> MeanChanges:
    """Counts of a life that never varies: a limit up to the life is reached in time, one beyond it never."""
    none = np.zeros(len(hits))
    use = min(life.mean, limit_hits)
    past = (hits - max(use - worn_hits, 0.0)) / use
    if limit_hits <= life.mean:
        return MeanChanges(none, np.where(past >= 0, np.floor(past) + 1, 0.0))
    return MeanChanges(np.where(past > 0, np.ceil(past), 0.0), none)


@dataclass(frozen=True)
class _Start:
    """The first life: of a tool that has lasted ``worn_hits`` and is changed after ``to_limit`` more at the latest."""

    life: Law
    worn_hits: float
    to_limit: float
    step: float

    def then(self, hits: Floats, after: _Curve, failure: float = 0.0, limit: float = 0.0) -> Floats:
        """Mean within ``hits`` of what the first change counts (``failure``, ``limit``) and what comes after it."""
        return np.array([self._one(float(t), after, failure, limit) for t in hits])

    def _one(self, t: float, after: _Curve, failure: float, limit: float) -> float:
        end = min(t, self.to_limit)
        inner = self.step * np.arange(math.floor((t - end) / self.step) + 1, math.ceil(t / self.step))
        left = np.concatenate([[t - end], inner, [t]])
        chance = chance_to_fail_from(self.life, self.worn_hits, np.maximum(t - left, 0.0))
        middle = (after.read(left[:-1], self.step) + after.read(left[1:], self.step, just_before=True)) / 2
        found = float(np.sum(-np.diff(chance) * (failure + middle)))
        at_once = float(chance[-1])
        found += at_once * (failure + float(after.read(np.array([t]), self.step)[0]))
        if t >= self.to_limit:
            lasts = 1.0 - float(chance[0])
            found += lasts * (limit + float(after.read(np.array([t - self.to_limit]), self.step)[0]))
        return found


def _grid(life: Law, hits: Floats, worn_hits: float, limit_hits: float, steps_per_use: int) -> _Grid:
    if not (limit_hits > 0 and worn_hits >= 0 and np.all(hits >= 0) and steps_per_use >= 1):
        raise ValueError("hits must be 0 or more, a limit above 0, and at least one step")
    use, longest = float(mean_use(life, limit_hits)), float(hits.max(initial=0.0))
    if longest > MAX_USES * use:
        raise ValueError(f"{longest / use:.0f} mean uses: changes are counted up to {MAX_USES:g}")
    limit = None if math.isinf(limit_hits) else max(math.ceil(limit_hits / use * steps_per_use - 1e-9), 1)
    step = use / steps_per_use if limit is None else limit_hits / limit
    count = max(math.ceil(longest / step), 1)
    edges = step * np.arange((count if limit is None else min(limit, count)) + 1)
    lasts = 1.0 - float(chance_to_fail(life, limit_hits))
    return _Grid(step, count, np.diff(chance_to_fail(life, edges)), limit, lasts)


def _flat(grid: _Grid, value: float) -> _Curve:
    """The same value from the first hit on: no change has been asked for yet."""
    before = np.full(grid.count + 1, value)
    before[0] = 0.0
    return _Curve(np.full(grid.count + 1, value), before)


def _curves(grid: _Grid) -> Iterator[tuple[_Curve, _Curve, _Curve]]:
    """For k = 1, 2, ... of a new tool: chance that the k-th change has come, of which failed, of which planned."""
    curve = _flat(grid, 1.0)
    while True:
        failed, planned = _after_failure(curve, grid), _after_limit(curve, grid)
        curve = _sum(failed, planned)
        if curve.at.max() < _SMALLEST:
            return
        yield curve, failed, planned


def _after_failure(curve: _Curve, grid: _Grid) -> _Curve:
    """The curve after one more life that ends before the limit (it has no jumps)."""
    middle = (curve.before[1:] + curve.at[:-1]) / 2
    at = np.concatenate([[0.0], fftconvolve(middle, grid.steps)[: grid.count]])
    return _Curve(at, at)


def _after_limit(curve: _Curve, grid: _Grid) -> _Curve:
    """The curve after one more use up to the limit."""
    at, before = np.zeros(grid.count + 1), np.zeros(grid.count + 1)
    if grid.limit is not None and grid.limit <= grid.count:
        at[grid.limit :] = grid.at_limit * curve.at[: grid.count + 1 - grid.limit]
        before[grid.limit :] = grid.at_limit * curve.before[: grid.count + 1 - grid.limit]
    return _Curve(at, before)


def _sum(one: _Curve, other: _Curve) -> _Curve:
    return _Curve(one.at + other.at, one.before + other.before)
