"""Gauge numbers of sheet metal: the same number names another thickness for each family of metals. Units: mm; inches
and lb/ft2 only where the source prints them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simkit.base.messages import nearest
from simkit.base.units import MM_PER_INCH


@dataclass(frozen=True)
class Gauge:
    """A gauge number of one family: thickness in inches as printed; weight in lb/ft2, None where not printed."""

    family: str
    gauge: int
    thickness_in: float
    weight_lb_ft2: float | None
    source: str

    @property
    def thickness_mm(self) -> float:
        """Thickness in mm."""
        return self.thickness_in * MM_PER_INCH


_STANDARD = "manufacturers' standard gauge: trade table, recomputed by 1 in = 41.82 lb/ft2"
_MEMORY = "trade table (from memory)"
_THIRTY = "trade table of 30 gauge by metal"


def _family(family: str, source: str, rows: dict[int, tuple[float, float | None]]) -> tuple[Gauge, ...]:
    return tuple(Gauge(family, number, inches, weight, source) for number, (inches, weight) in rows.items())


GAUGES: tuple[Gauge, ...] = (
    *_family("steel", _STANDARD, {
        10: (0.1345, 5.625), 11: (0.1196, 5.0), 12: (0.1046, 4.375), 14: (0.0747, 3.125), 16: (0.0598, 2.5),
        18: (0.0478, 2.0), 20: (0.0359, 1.5), 24: (0.0239, 1.0), 26: (0.0179, 0.75),
    }),
    *_family("steel", _THIRTY, {30: (0.0120, None)}),
    *_family("galvanized", _MEMORY, {16: (0.0635, None), 18: (0.0516, None), 20: (0.0396, None), 24: (0.0276, None)}),
    *_family("galvanized", _THIRTY, {30: (0.0157, None)}),
    *_family("stainless", _MEMORY, {14: (0.0781, None), 16: (0.0625, None), 18: (0.0500, None), 20: (0.0375, None)}),
    *_family("stainless", _THIRTY, {30: (0.0125, None)}),
)  # fmt: skip
"""Gauge numbers by family; aluminium follows a formula, :func:`aluminium_gauge_in`."""

ALUMINIUM = "aluminium"
FAMILIES = (*dict.fromkeys(row.family for row in GAUGES), ALUMINIUM)
"""Families that have gauges of their own."""


def gauge_row(family: str, gauge: int) -> Gauge:
    """Return the row of a gauge number; raises ValueError, naming the known ones, where there is none."""
    if family not in FAMILIES:
        raise ValueError(f"no family '{family}': {nearest(family, FAMILIES)}")
    if family == ALUMINIUM:
        return Gauge(family, gauge, float(aluminium_gauge_in(gauge)), None, "American wire gauge, formula")
    rows = {row.gauge: row for row in GAUGES if row.family == family}
    if gauge not in rows:
        raise ValueError(f"no gauge {gauge} of {family}: {nearest(str(gauge), map(str, rows))}")
    return rows[gauge]


def gauge_mm(family: str, gauge: int) -> float:
    """Thickness, mm, of a gauge number of steel, galvanized, stainless or aluminium; errors of :func:`gauge_row`."""
    return gauge_row(family, gauge).thickness_mm


def aluminium_gauge_in(gauge: ArrayLike) -> NDArray[np.float64]:
    """Thickness, inches, of an aluminium gauge (American wire gauge): 0.005 x 92^((36 - n) / 39).

    For numbers n from 0 to 40, else ValueError. Source: the definition of the gauge.
    """
    number = np.asarray(gauge, float)
    if not np.all((number >= 0) & (number <= 40)):
        raise ValueError("a gauge of aluminium is a number from 0 to 40")
    return np.asarray(0.005 * 92.0 ** ((36.0 - number) / 39.0))
