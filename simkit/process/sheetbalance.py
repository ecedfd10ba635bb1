"""Where the mass of a sheet goes: parts, skeleton, slugs, and the kerf that a beam melts away.

Masses in kg, lengths in mm, shares as fractions. A mass per area comes from ``sheetdata``, so that it is said
once whether gauge weight or geometry is used.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from simkit.base.units import MM2_PER_M2
from simkit.process.quantities import Floats, above_zero, not_below_zero, share

_ROUNDING = 1e-9
"""Share of a sheet's mass by which rounding may overdraw it."""


@dataclass(frozen=True)
class SheetBalance:
    """Mass of a sheet and of what becomes of it, kg: sheet = parts + skeleton + slugs + kerf.

    The skeleton is the rest and goes to the scrap in one piece, slugs by the bin. The kerf of a beam is slag
    and dust and earns no credit; it is 0 for a sheet that is only punched.
    """

    sheet_kg: Floats
    parts_kg: Floats
    skeleton_kg: Floats
    slugs_kg: Floats
    kerf_kg: Floats

    @property
    def material_yield(self) -> Floats:
        """Share of the sheet's mass that becomes parts, holes not counted as part."""
        return self.parts_kg / self.sheet_kg

    @property
    def scrap_kg(self) -> Floats:
        """Scrap that can be sold, kg: skeleton and slugs."""
        return self.skeleton_kg + self.slugs_kg


def balance(
    sheet_kg: ArrayLike, parts_kg: ArrayLike, slugs_kg: ArrayLike = 0.0, kerf_kg: ArrayLike = 0.0
) -> SheetBalance:
    """Divide a sheet's mass: the skeleton is what parts, slugs and kerf leave of it.

    ``parts_kg`` are all parts of the sheet, net of their holes. The sheet is above 0, the others 0 or more.
    Raises ValueError where they exceed the sheet. Source: conservation of mass.
    """
    sheet = above_zero(sheet_kg, "sheet_kg")
    parts, slugs = not_below_zero(parts_kg, "parts_kg"), not_below_zero(slugs_kg, "slugs_kg")
    kerf = not_below_zero(kerf_kg, "kerf_kg")
    rest = sheet - (parts + slugs + kerf)
    if np.any(rest < -_ROUNDING * sheet):
        raise ValueError("parts, slugs and kerf weigh more than the sheet")
    return SheetBalance(sheet, parts, np.maximum(rest, 0.0), slugs, kerf)


def nesting_yield(parts_area_mm2: ArrayLike, length_mm: ArrayLike, width_mm: ArrayLike) -> Floats:
    """Share of a sheet's area that its parts cover, net of their holes; equals the yield by mass.

    ``parts_area_mm2`` (0 or more) is the area of all parts of the sheet; outlines with holes filled give
    another, higher figure, the use of the nest. Raises ValueError for more area than the sheet has.
    Definition.
    """
    area_mm2 = above_zero(length_mm, "length_mm") * above_zero(width_mm, "width_mm")
    return share(not_below_zero(parts_area_mm2, "parts_area_mm2") / area_mm2, "parts_area_mm2 over the sheet's")


def slugs_kg(hits: ArrayLike, punch_area_mm2: ArrayLike, mass_kg_m2: ArrayLike, *, bite: ArrayLike = 1.0) -> Floats:
    """Mass of the slugs of a number of hits, kg: hits x punch area x bite x mass per area.

    ``bite`` is the share of the punch's face that meets metal: 1 for single holes, less where hits overlap.
    All are 0 or more (the bite at most 1), else ValueError. Source: geometry.
    """
    area_mm2 = not_below_zero(hits, "hits") * not_below_zero(punch_area_mm2, "punch_area_mm2") * share(bite, "bite")
    return area_mm2 / MM2_PER_M2 * not_below_zero(mass_kg_m2, "mass_kg_m2")


def kerf_kg(cut_length_mm: ArrayLike, kerf_mm: ArrayLike, mass_kg_m2: ArrayLike) -> Floats:
    """Mass that a beam melts out of the sheet, kg: cut length x kerf width x mass per area.

    All are 0 or more, else ValueError. Source: geometry.
    """
    area_mm2 = not_below_zero(cut_length_mm, "cut_length_mm") * not_below_zero(kerf_mm, "kerf_mm")
    return area_mm2 / MM2_PER_M2 * not_below_zero(mass_kg_m2, "mass_kg_m2")


def scrap_credit(scrap_kg: ArrayLike, scrap_price_per_kg: ArrayLike, collected_share: ArrayLike = 1.0) -> Floats:
    """Money for scrap: mass x price x the share that reaches the right bin (0 to 1).

    Mass and price are 0 or more, else ValueError; mixed metals lower the price, which is an input. Definition.
    """
    collected = not_below_zero(scrap_kg, "scrap_kg") * share(collected_share, "collected_share")
    return collected * not_below_zero(scrap_price_per_kg, "scrap_price_per_kg")
