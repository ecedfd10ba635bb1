"""Punching force, press check and die clearance; shear strengths and clearance advice as data.

Lengths are in mm, forces in kN, strengths in MPa. Functions take numbers or arrays that broadcast against
each other and give arrays of the common shape; what is negative, not finite or else outside its range is refused
with a ValueError that names it. A force is an estimate for planning, no assessment of a press.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simkit.base.arrays import Floats
from simkit.base.messages import nearest
from simkit.base.units import N_PER_KN
from simkit.process.quantities import above_zero, not_below_one, not_below_zero, share_above_zero

STRIPPING_SHARE = 0.10
"""Stripping force over punching force; printed ranges are 0.10 to 0.20 and 0.05 to 0.20 (teaching pages)."""
MARGIN_FACTOR = 1.2
"""Margin on the force before it is held against the capacity, 1.1 to 1.5: common practice, no source."""


def round_perimeter_mm(diameter_mm: ArrayLike) -> Floats:
    """Cut perimeter (mm) of a round figure."""
    return np.asarray(np.pi * not_below_zero(diameter_mm, "diameter_mm"))


def rectangle_perimeter_mm(length_mm: ArrayLike, width_mm: ArrayLike) -> Floats:
    """Cut perimeter (mm) of a rectangle."""
    return np.asarray(2 * (not_below_zero(length_mm, "length_mm") + not_below_zero(width_mm, "width_mm")))


def obround_perimeter_mm(length_mm: ArrayLike, width_mm: ArrayLike) -> Floats:
    """Cut perimeter (mm) of a slot with round ends; the length is over all and at least the width."""
    length, width = not_below_zero(length_mm, "length_mm"), not_below_zero(width_mm, "width_mm")
    if not (length >= width).all():
        raise ValueError("an obround is at least as long as wide")
    return np.asarray(2 * (length - width) + np.pi * width)


def cluster_perimeter_mm(perimeter_mm: ArrayLike, figures: ArrayLike) -> Floats:
    """Cut perimeter (mm) of a cluster tool with this many like figures that strike at once.

    Where the punches of a cluster differ in length, count those of one length only.
    """
    return np.asarray(not_below_zero(perimeter_mm, "perimeter_mm") * not_below_zero(figures, "figures"))


def punching_force_kn(perimeter_mm: ArrayLike, thickness_mm: ArrayLike, shear_mpa: ArrayLike) -> Floats:
    """Force (kN) of a flat punch: shear strength times cut perimeter times thickness (textbook formula).

    Thickness and strength lie above zero; a sheet that is not punched has a perimeter of zero.
    """
    area_mm2 = not_below_zero(perimeter_mm, "perimeter_mm") * above_zero(thickness_mm, "thickness_mm")
    return np.asarray(area_mm2 * above_zero(shear_mpa, "shear_mpa") / N_PER_KN)


def sheared_punch_force_kn(
    flat_kn: ArrayLike, thickness_mm: ArrayLike, penetration: ArrayLike, shear_mm: ArrayLike
) -> Floats:
    """Force (kN) of a punch ground with ``shear_mm`` of shear, from the force of a flat one.

    The flat punch does its work within ``penetration`` (share of the thickness, above 0, at most 1); shear
    spreads it over a longer way, once it exceeds that way: ``flat * penetration * thickness / shear``, never
    more than flat (textbook formula).
    """
    way_mm = share_above_zero(penetration, "penetration") * above_zero(thickness_mm, "thickness_mm")
    return np.asarray(
        not_below_zero(flat_kn, "flat_kn") * (way_mm / np.maximum(not_below_zero(shear_mm, "shear_mm"), way_mm))
    )


def shear_from_tensile_mpa(tensile_mpa: ArrayLike, share: ArrayLike = 0.8) -> Floats:
    """Shear strength (MPa) where only the tensile strength is known.

    0.8 is for mild steel (from memory); teaching pages print 0.6 to 0.8, and 0.7 is also used (from memory).
    """
    return np.asarray(above_zero(tensile_mpa, "tensile_mpa") * share_above_zero(share, "share"))


@dataclass(frozen=True)
class PressCheck:
    """Figures held against the press, as arrays of one shape: forces in kN, the share of the capacity, the verdict.

    ``required_kn`` is punching and stripping force times the margin factor; ``largest_round_mm`` is the
    round hole in the same sheet that needs just the capacity.
    """

    punching_kn: Floats
    stripping_kn: Floats
    required_kn: Floats
    capacity_kn: Floats
    share: Floats
    exceeded: NDArray[np.bool_]
    largest_round_mm: Floats

    def __str__(self) -> str:
        """Return the check of a single figure in words."""
        return (
            f"{self.punching_kn:.1f} kN punching, {self.required_kn:.1f} kN with stripping and margin: "
            f"{100 * self.share:.0f} % of {self.capacity_kn:g} kN, {'exceeds' if self.exceeded else 'within'} the "
            f"capacity; largest round hole {self.largest_round_mm:.1f} mm"
        )


def press_check(
    punching_kn: ArrayLike,
    thickness_mm: ArrayLike,
    shear_mpa: ArrayLike,
    capacity_kn: ArrayLike,
    stripping_share: ArrayLike = STRIPPING_SHARE,
    factor: ArrayLike = MARGIN_FACTOR,
) -> PressCheck:
    """Hold a punching force against the capacity: ``force * (1 + stripping share) * factor <= capacity``.

    Stripping share and factor are common practice, no source for the plant's own tools. Raises ValueError for a
    force or a stripping share that is negative or not finite, for a factor below 1, and for a thickness, strength
    or capacity that is not positive: there is no verdict on such figures.
    """
    punching, thickness, shear, capacity, stripping, margin = np.broadcast_arrays(
        not_below_zero(punching_kn, "punching_kn"),
        above_zero(thickness_mm, "thickness_mm"),
        above_zero(shear_mpa, "shear_mpa"),
        above_zero(capacity_kn, "capacity_kn"),
        not_below_zero(stripping_share, "stripping_share"),
        not_below_one(factor, "factor"),
    )
    required = np.asarray(punching * (1 + stripping) * margin)
    return PressCheck(
        punching_kn=punching,
        stripping_kn=np.asarray(punching * stripping),
        required_kn=required,
        capacity_kn=capacity,
        share=np.asarray(required / capacity),
        exceeded=np.asarray(required > capacity),
        largest_round_mm=largest_round_mm(capacity, thickness, shear, stripping, margin),
    )


def largest_round_mm(
    capacity_kn: ArrayLike,
    thickness_mm: ArrayLike,
    shear_mpa: ArrayLike,
    stripping_share: ArrayLike = STRIPPING_SHARE,
    factor: ArrayLike = MARGIN_FACTOR,
) -> Floats:
    """Diameter (mm) of the largest round hole that the capacity allows, by the rule of :func:`press_check`."""
    with_stripping = 1 + not_below_zero(stripping_share, "stripping_share")
    kn_per_mm = punching_force_kn(np.pi, thickness_mm, shear_mpa) * with_stripping * not_below_one(factor, "factor")
    return np.asarray(above_zero(capacity_kn, "capacity_kn") / kn_per_mm)


def is_narrow(width_mm: ArrayLike, thickness_mm: ArrayLike, least_ratio: ArrayLike = 1.0) -> NDArray[np.bool_]:
    """Whether a figure is narrower than ``least_ratio`` times the sheet, so that its punch may break.

    A punch at least as wide as the sheet is thick: common practice, no source.
    """
    least_mm = above_zero(least_ratio, "least_ratio") * above_zero(thickness_mm, "thickness_mm")
    return np.asarray(above_zero(width_mm, "width_mm") < least_mm)


# ---- shear strengths ----


@dataclass(frozen=True)
class ShearStrength:
    """Printed shear strengths of a metal, from the lowest to the highest seen, MPa."""

    family: str
    low_mpa: float
    high_mpa: float
    source: str
    note: str = ""


CHART_B = "trade chart B"
SHEAR_STRENGTHS = (
    ShearStrength("mild steel", 280.0, 345.0, "trade chart B (345); teaching pages (280, 300)", "hot rolled"),
    ShearStrength("mild steel", 276.0, 276.0, CHART_B, "cold rolled"),
    ShearStrength("medium-carbon steel", 552.0, 552.0, CHART_B, "hot rolled"),
    ShearStrength("stainless", 450.0, 517.0, "teaching page (450); calculator page (517)", "austenitic"),
    ShearStrength("aluminium", 62.0, 62.0, CHART_B, "1100-O"),
    ShearStrength("aluminium", 76.0, 76.0, CHART_B, "1100-H14"),
    ShearStrength("aluminium", 103.0, 103.0, CHART_B, "3003-H14"),
    ShearStrength("aluminium", 138.0, 138.0, CHART_B, "5052-H32"),
    ShearStrength("aluminium", 207.0, 207.0, CHART_B, "6061-T6"),
    ShearStrength("aluminium", 331.0, 331.0, CHART_B, "7075-T6"),
    ShearStrength("copper", 152.0, 152.0, CHART_B, "annealed"),
    ShearStrength("copper", 179.0, 179.0, CHART_B, "half hard"),
    ShearStrength("copper", 193.0, 193.0, CHART_B, "hard"),
    ShearStrength("brass", 234.0, 234.0, CHART_B, "260, annealed"),
    ShearStrength("brass", 276.0, 276.0, CHART_B, "260, half hard"),
)
"""Shear strengths to start from; the plant's own value comes first. Chart B has faults elsewhere: it lists 58 to 80 ksi
for one structural steel, which is its tensile range, and a multiplier for 3003-O that contradicts its own figures."""


def shear_strengths(family: str) -> tuple[ShearStrength, ...]:
    """Printed strengths of a family of metals; none for one that is not in print."""
    return tuple(row for row in SHEAR_STRENGTHS if row.family == family)


# ---- die clearance ----

PER_SIDE = "per side"
TOTAL = "total"


@dataclass(frozen=True)
class ClearanceAdvice:
    """Printed clearance in percent of the thickness, labelled per side or total as the source prints it."""

    family: str
    low_percent: float
    high_percent: float
    basis: str
    source: str
    note: str = ""

    @property
    def total_percent(self) -> tuple[float, float]:
        """The range as total clearance: twice that per side."""
        sides = 2.0 if self.basis == PER_SIDE else 1.0
        return sides * self.low_percent, sides * self.high_percent


GROOVER = "Groover, Fundamentals of Modern Manufacturing, ch. 20, table of clearance allowances"
CHART = "trade chart of clearances"
OPTIMUM = "tooling page, clearance recommended with ejectors"
ANY = "any"
CLEARANCES = (
    ClearanceAdvice("aluminium", 4.5, 4.5, PER_SIDE, GROOVER, "1100S, 5052S"),
    ClearanceAdvice("aluminium", 6.0, 6.0, PER_SIDE, GROOVER, "2024ST, 6061ST"),
    ClearanceAdvice("brass", 6.0, 6.0, PER_SIDE, GROOVER),
    ClearanceAdvice("mild steel", 6.0, 6.0, PER_SIDE, GROOVER, "soft cold rolled"),
    ClearanceAdvice("stainless", 6.0, 6.0, PER_SIDE, GROOVER, "soft"),
    ClearanceAdvice("mild steel", 7.5, 7.5, PER_SIDE, GROOVER, "cold rolled, half hard"),
    ClearanceAdvice("stainless", 7.5, 7.5, PER_SIDE, GROOVER, "half and full hard"),
    ClearanceAdvice("mild steel", 20.0, 20.0, TOTAL, CHART, "low carbon, hot rolled"),
    ClearanceAdvice("mild steel", 25.0, 25.0, TOTAL, CHART, "cold-rolled sheet"),
    ClearanceAdvice("aluminium", 15.0, 15.0, TOTAL, CHART, "1100-O, 3003-O"),
    ClearanceAdvice("aluminium", 18.0, 18.0, TOTAL, CHART, "H14 tempers"),
    ClearanceAdvice("aluminium", 20.0, 20.0, TOTAL, CHART, "5052-H32, 6061-T6"),
    ClearanceAdvice("aluminium", 9.0, 15.0, TOTAL, OPTIMUM, "soft"),
    ClearanceAdvice("mild steel", 20.0, 30.0, TOTAL, OPTIMUM, "low carbon"),
    ClearanceAdvice("stainless", 20.0, 30.0, TOTAL, OPTIMUM, "annealed"),
    ClearanceAdvice("aluminium", 10.0, 10.0, TOTAL, "general tooling chart", "about"),
    ClearanceAdvice("mild steel", 15.0, 15.0, TOTAL, "general tooling chart", "about"),
    ClearanceAdvice("stainless", 22.0, 22.0, TOTAL, "general tooling chart", "about"),
    ClearanceAdvice(ANY, 7.0, 12.0, PER_SIDE, "trade page"),
    ClearanceAdvice(ANY, 10.0, 20.0, TOTAL, "second trade page",
                    "10 % in thin sheet rising to 20 % in thick; a fixed 0.006 in (0.15 mm) for 24 to 14 gauge"),
)  # fmt: skip
"""Clearance advice as printed. Sources differ by more than two to one: the plant's own value comes first."""


def clearance_advice(family: str) -> tuple[ClearanceAdvice, ...]:
    """Rows of advice for a family of metals, those for any metal included; raises KeyError for an unknown family."""
    known = sorted({row.family for row in CLEARANCES})
    if family not in known:
        raise KeyError(f"no clearance advice for '{family}'; {nearest(family, known)}")
    return tuple(row for row in CLEARANCES if row.family in (family, ANY))
