"""Sheet metal by the table: masses of gauges, densities, formats, and the two masses that a gauge number can mean.

Gauge numbers stand in ``simkit/base/gauges.py``. The standard gauge of steel is by weight, and its weight is not that
of its thickness: see :func:`gauge_weight_kg_m2` and :func:`geometric_kg_m2`. Units: mm, kg, kg/m2, kg/m3; lb/ft2 and
inches only where the source prints them.
"""

from __future__ import annotations

from dataclasses import dataclass

from numpy.typing import ArrayLike

from simkit.base.messages import nearest
from simkit.base.units import KG_M2_PER_LB_FT2, MM2_PER_M2, MM_PER_INCH, MM_PER_M
from simkit.process.quantities import Floats, above_zero

STEEL_LB_FT2_PER_INCH = 41.82
"""Weight of the manufacturers' standard gauge, lb/ft2 per inch of thickness: 8.04 g/cm3, 2.4 % above 7.85."""


# ---- gauges by weight ----


def standard_gauge_in(weight_lb_ft2: ArrayLike) -> Floats:
    """Thickness, inches, of steel of the manufacturers' standard gauge: weight over 41.82 lb/ft2 per inch.

    The weight is above 0, else ValueError. Source: the rule of the gauge.
    """
    return above_zero(weight_lb_ft2, "weight_lb_ft2") / STEEL_LB_FT2_PER_INCH


# ---- mass: by gauge weight or by geometry ----


def gauge_weight_kg_m2(weight_lb_ft2: ArrayLike) -> Floats:
    """Mass per area, kg/m2, by the nominal gauge weight: what a dealer in gauges invoices.

    For steel it is 2.4 % above :func:`geometric_kg_m2` of the same gauge at 7850 kg/m3; say which is used.
    The weight (lb/ft2) is above 0, else ValueError. Source: the definition of the units.
    """
    return above_zero(weight_lb_ft2, "weight_lb_ft2") * KG_M2_PER_LB_FT2


def geometric_kg_m2(thickness_mm: ArrayLike, density_kg_m3: ArrayLike) -> Floats:
    """Mass per area, kg/m2, by thickness and density: what the kit uses, as in ``sheet_mass_kg``.

    Both are above 0, else ValueError. Source: geometry.
    """
    return above_zero(thickness_mm, "thickness_mm") * above_zero(density_kg_m3, "density_kg_m3") / MM_PER_M


def area_mass_kg(length_mm: ArrayLike, width_mm: ArrayLike, mass_kg_m2: ArrayLike) -> Floats:
    """Mass, kg, of a rectangle of a mass per area, by weight or by geometry. All are above 0, else ValueError."""
    area_m2 = above_zero(length_mm, "length_mm") * above_zero(width_mm, "width_mm") / MM2_PER_M2
    return area_m2 * above_zero(mass_kg_m2, "mass_kg_m2")


# ---- densities and formats ----


@dataclass(frozen=True)
class Density:
    """Density of a metal, kg/m3."""

    metal: str
    density_kg_m3: float
    source: str


DENSITIES: tuple[Density, ...] = tuple(
    Density(metal, value, "ordinary handbook value (from memory)")
    for metal, value in (
        ("steel", 7850.0), ("1.4301", 7900.0), ("1.4404", 8000.0), ("1.4016", 7700.0), ("Al 99.5", 2710.0),
        ("AlMg3", 2660.0), ("6082", 2700.0), ("Cu-DHP", 8940.0), ("CuZn37", 8440.0), ("Ti", 4510.0),
    )
)  # fmt: skip
"""Densities; the plant's own value in ``materials.csv`` wins."""


def density_of(metal: str) -> Density:
    """Return the row of :data:`DENSITIES`; raises ValueError, naming the nearest, where there is none."""
    rows = {row.metal: row for row in DENSITIES}
    if metal not in rows:
        raise ValueError(f"no density of '{metal}': {nearest(metal, rows)}")
    return rows[metal]


@dataclass(frozen=True)
class Format:
    """A sheet size that the trade stocks, mm, width first as the trade says it."""

    trade: str
    width_mm: float
    length_mm: float
    source: str


def _inches(source: str, *sizes: tuple[float, float]) -> tuple[Format, ...]:
    return tuple(Format("US", width * MM_PER_INCH, length * MM_PER_INCH, source) for width, length in sizes)


FORMATS: tuple[Format, ...] = (
    *(Format("EU", width, length, "trade sizes (from memory)")
      for width, length in ((1000.0, 2000.0), (1250.0, 2500.0), (1500.0, 3000.0), (2000.0, 4000.0))),
    *_inches("trade page", (48, 96), (48, 120)),
    *_inches("trade sizes (from memory)", (36, 96), (60, 120), (60, 144), (72, 144)),
)  # fmt: skip
"""Stocked sheet sizes of the European and the North American trade."""
