"""What the plant's time elements rest on: how many cycles would have to be timed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from simkit.base.laws import Law
from simkit.plant.plant import Plant
from simkit.plant.tables import Element
from simkit.process.elements import timed
from simkit.process.timestandards import observations_needed

ACCURACY = 0.05
"""Half-width of the interval as a share of the mean that a standard is to have."""


@dataclass(frozen=True)
class Timing:
    """A time element, its coefficient of variation, the cycles to time, and how many are behind it so far."""

    row: Element
    cv: float
    needed: int

    @property
    def missing(self) -> int:
        """Cycles still to be timed."""
        return max(self.needed - self.row.n, 0)


def timings(plant: Plant, accuracy: float = ACCURACY) -> tuple[Timing, ...]:
    """Cycles to time each element that takes time until its mean is known to ``accuracy`` with 95 % confidence."""
    found = []
    for row in plant.elements:
        law = timed(row, plant.sequences).law
        if law.mean > 0:
            cv = law_cv(law)
            found.append(Timing(row, cv, int(observations_needed(law.mean, cv * law.mean, accuracy))))
    return tuple(found)


def law_cv(law: Law) -> float:
    """Coefficient of variation of a law; that of a file of values is the values' own."""
    if law.kind in ("empirical", "sequence"):
        values = np.array(law.values, float)
        return float(values.std(ddof=1) / values.mean()) if len(values) > 1 and values.mean() > 0 else 0.0
    return 1.0 if law.kind == "exponential" else 0.0 if law.is_constant else law.cv
