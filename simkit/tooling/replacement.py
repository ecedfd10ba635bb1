"""When to regrind a tool: at a limit of hits or at the end of its life, what each costs, and the best limit.

Age replacement by renewal reward (Barlow and Proschan 1965, Mathematical Theory of Reliability, ch. 4, from
memory): a tool is changed at ``limit_hits`` (planned) or when its life ends before (failed), and is as good as
new then. Long-run means; nothing here knows orders: a cell that swaps a tool before the order that would take
it past its limit changes up to one order's hits earlier. ``limit_hits`` may be an array, ``inf`` means: only
when it fails. ``life`` comes from :func:`simkit.tooling.lives.life_law`.

Money is in any one unit. Times are in units of one hit's time (seconds at the machine / seconds per hit), so
that use and standing add up.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq

from simkit.base.laws import Law
from simkit.tooling.lives import chance_to_fail, hazard, mean_use

Array = NDArray[np.float64]

_CHANCES = 1.0 / (1.0 + np.exp(-np.linspace(-35.0, 13.0, 481)))
"""Chances of failure at which the best limit is first sought, from 6e-16 to 0.999998."""


def _per_change(life: Law, limit_hits: ArrayLike, planned: float, failed: float) -> Array:
    """Mean of what a change takes: planned (1 - F) + failed F."""
    if not (0 <= planned < math.inf and 0 <= failed < math.inf):
        raise ValueError(f"what a change takes must be 0 or more, not {planned:g} planned and {failed:g} failed")
    if not np.all(np.asarray(limit_hits) > 0):
        raise ValueError("a limit must be above 0 hits")
    chance = chance_to_fail(life, limit_hits)
    return np.asarray(planned + (failed - planned) * chance)


def cost_rate(life: Law, limit_hits: ArrayLike, planned_cost: float, failure_cost: float) -> Array:
    """Cost of changes per hit: (cp (1 - F(T)) + cf F(T)) / m(T); costs per change, 0 or more."""
    return np.asarray(_per_change(life, limit_hits, planned_cost, failure_cost) / mean_use(life, limit_hits))


def mean_cycle(life: Law, limit_hits: ArrayLike, planned_time: float, failure_time: float) -> Array:
    """Mean time from change to change, in hits: m(T) + tp (1 - F(T)) + tf F(T)."""
    return np.asarray(mean_use(life, limit_hits) + _per_change(life, limit_hits, planned_time, failure_time))


def availability(life: Law, limit_hits: ArrayLike, planned_time: float, failure_time: float) -> Array:
    """Share of time in use: m(T) / (m(T) + tp (1 - F(T)) + tf F(T)); between 0 and 1."""
    return np.asarray(mean_use(life, limit_hits) / mean_cycle(life, limit_hits, planned_time, failure_time))


def changes_per_time(life: Law, limit_hits: ArrayLike, planned_time: float, failure_time: float) -> Array:
    """Changes, planned and failed, per unit of time (one hit's time): 1 / mean cycle."""
    return np.asarray(1.0 / mean_cycle(life, limit_hits, planned_time, failure_time))


@dataclass(frozen=True)
class BestLimit:
    """The limit of lowest cost (counted hits, ``inf``: change only what fails) and its cost per hit."""

    limit_hits: float
    cost_per_hit: float


def best_limit(life: Law, planned_cost: float, failure_cost: float) -> BestLimit:
    """Return the limit at which changes cost least per hit.

    It solves h(T) m(T) - F(T) = cp / (cf - cp), the rate there is (cf - cp) h(T). Changing only what fails is best
    where a failure costs no more than a planned change, or where old tools fail no oftener than new ones
    (exponential; gamma and Weibull that vary by 1 and more). The curve is flat: a limit a tenth off often costs
    less than a hundredth more. Costs per change, ``planned_cost`` above 0 (else ValueError).
    """
    if not planned_cost > 0:
        raise ValueError(f"a planned change must cost something, not {planned_cost:g}: else the best limit is 0")
    never = BestLimit(math.inf, float(cost_rate(life, math.inf, planned_cost, failure_cost)))
    if failure_cost <= planned_cost:
        return never
    if life.kind == "constant":
        return BestLimit(life.mean, planned_cost / life.mean)
    limits = np.unique(life.draw(_CHANCES))
    limits = limits[limits > 0]
    at = int(np.argmin(cost_rate(life, limits, planned_cost, failure_cost)))
    low, high = float(limits[max(at - 1, 0)]), float(limits[min(at + 1, len(limits) - 1)])
    wanted = planned_cost / (failure_cost - planned_cost)

    def gain(hits: float) -> float:
        return float(hazard(life, hits) * mean_use(life, hits) - chance_to_fail(life, hits) - wanted)

    if gain(low) >= 0 or gain(high) <= 0:
        return never
    best = brentq(gain, low, high, xtol=1e-12 * high)
    rate = float(cost_rate(life, best, planned_cost, failure_cost))
    return BestLimit(float(best), rate) if rate < never.cost_per_hit else never


class CountedUse(NamedTuple):
    """Mean hits of a tool until it is changed, the failing hit counted, and the chance that it failed."""

    hits: float
    failed: float


def counted_use(chance_per_hit: float, limit_hits: int) -> CountedUse:
    """Use of a tool that fails at each hit with the same chance and is changed after ``limit_hits`` hits.

    (1 - (1-p)^n) / p hits and 1 - (1-p)^n failed: the geometric law. Chance above 0, up to 1; at least one hit;
    else ValueError. Source: sum of a geometric series.
    """
    if not 0 < chance_per_hit <= 1 or limit_hits < 1:
        raise ValueError(f"a chance in (0, 1] and at least one hit are needed, not {chance_per_hit:g}, {limit_hits}")
    failed = -math.expm1(limit_hits * math.log1p(-chance_per_hit)) if chance_per_hit < 1 else 1.0
    return CountedUse(failed / chance_per_hit, failed)


@dataclass(frozen=True)
class ToolLife:
    """A tool over its whole life: regrinds, lives between them, hits in all, and cost per hit (money)."""

    regrinds: int
    lives: int
    hits: float
    cost_per_hit: float


def tool_life(
    usable_mm: float, per_regrind_mm: float, hits_per_life: float, price: float, regrind_cost: float
) -> ToolLife:
    """Return hits and cost per hit of a tool from the length that can be ground away.

    ``usable_mm`` is the length that may be lost in all (punch or die, whichever ends first), ``per_regrind_mm``
    what one regrind takes (above 0), ``hits_per_life`` counted hits between regrinds (above 0), ``price`` that of
    the new tool and ``regrind_cost`` that of one regrind (0 or more); else ValueError. Regrinds are whole:
    what is left of the length when no further regrind fits is lost. Common practice, no source.
    """
    if not (usable_mm >= 0 and per_regrind_mm > 0 and hits_per_life > 0 and price >= 0 and regrind_cost >= 0):
        raise ValueError("lengths, hits and money must be 0 or more; length and hits of a regrind above 0")
    regrinds = math.floor(usable_mm / per_regrind_mm + 1e-9)
    hits = (regrinds + 1) * hits_per_life
    return ToolLife(regrinds, regrinds + 1, hits, (price + regrinds * regrind_cost) / hits)


@dataclass(frozen=True)
class AssumedHits:
    """A range of hits between regrinds that nobody has measured here: always shown with its word ``basis``."""

    metal: str
    thickness: str
    low_hits: float
    high_hits: float
    basis: str = "assumed"
    source: str = "no source; wide on purpose, to be replaced by the tool room's counts"

    def __str__(self) -> str:
        """Return the range as it is printed, with the word assumed."""
        return f"{self.metal} {self.thickness}: {self.low_hits:,.0f} to {self.high_hits:,.0f} hits ({self.basis})"


ASSUMED_HITS = (
    AssumedHits("soft aluminium", "all", 100_000, 400_000),
    AssumedHits("mild steel", "up to 2 mm", 50_000, 200_000),
    AssumedHits("mild steel", "3 to 6 mm", 20_000, 80_000),
    AssumedHits("galvanized steel", "all", 50_000, 150_000),
    AssumedHits("stainless steel", "all", 15_000, 80_000),
)
"""Hits between regrinds by metal. Assumed, never facts: a range to ask about and to vary, no input."""

ASSUMED_USABLE_MM = (1.0, 5.0)
"""Length of a tool that can be ground away, mm. Assumed, no source."""
