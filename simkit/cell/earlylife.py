"""Early life of a stop cause: its rate starts higher and settles exponentially. Pure arithmetic, told the moment.

At moment t after the start the rate is the settled rate times 1 + (f - 1) e^(-t/T), with f the early factor and T the
settling time. An exposure clock in settled seconds therefore grows by G(t) = t + (f - 1) T (1 - e^(-t/T)), and the luck
of a stop, drawn in settled seconds, falls at the inverse of G: the same luck as without early life, only sooner.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from simkit.base.units import SECONDS_PER_WEEK, TIME_GRID_PER_S
from simkit.plant.tables import Stop

_STEPS = 60


@dataclass(frozen=True)
class EarlyLife:
    """``factor`` is the rate at the start over the settled rate (above 0), ``settle_s`` the settling time (above 0)."""

    factor: float
    settle_s: float

    def rate_at(self, moment_s: float) -> float:
        """The rate at a moment over the settled rate."""
        return 1.0 + (self.factor - 1.0) * math.exp(-moment_s / self.settle_s)

    def grown(self, from_s: float, to_s: float) -> float:
        """Settled seconds between two moments."""
        gone = math.exp(-from_s / self.settle_s) * -math.expm1(-(to_s - from_s) / self.settle_s)
        return to_s - from_s + (self.factor - 1.0) * self.settle_s * gone

    def until(self, from_s: float, settled_s: float) -> float:
        """Seconds after a moment in which so many settled seconds grow; infinity stays infinity."""
        if settled_s <= 0 or math.isinf(settled_s):
            return max(settled_s, 0.0)
        low, high = settled_s / max(self.factor, 1.0), settled_s / min(self.factor, 1.0)
        seconds = low
        for _ in range(_STEPS):
            miss = self.grown(from_s, from_s + seconds) - settled_s
            low, high = (low, seconds) if miss > 0 else (seconds, high)
            better = seconds - miss / self.rate_at(from_s + seconds)
            better = better if low <= better <= high else 0.5 * (low + high)
            if better == seconds:
                break
            seconds = better
        return seconds

    def rest(self, left_s: float) -> float:
        """What is left of a gap, with what only rounding to the time grid has left taken for nothing."""
        return left_s if left_s > max(self.factor, 1.0) / TIME_GRID_PER_S else 0.0


def early_life(cause: Stop) -> EarlyLife | None:
    """The early life of a cause; None if its rate is settled from the start."""
    if cause.settle_weeks <= 0 or cause.early_factor == 1.0:
        return None
    return EarlyLife(cause.early_factor, cause.settle_weeks * SECONDS_PER_WEEK)
