"""Slugs: what the punches knock out of a sheet, by their figures; it falls into a bin that somebody empties.

Pieces that the laser cuts out of holes, and what its kerf melts away, count with the skeleton.
"""

from __future__ import annotations

import math
import re
from typing import NamedTuple

from simkit.base.units import MM2_PER_M2, MM_PER_M
from simkit.plant.plant import Plant
from simkit.plant.tables import Program, Tool

KINDS = {
    "round": "round", "rd": "round", "obround": "obround", "slot": "obround", "square": "rectangle",
    "rectangle": "rectangle", "rect": "rectangle",
}  # fmt: skip
"""First words of a tool's shape, and the kind of figure that they name."""


class Outline(NamedTuple):
    """What one hit of a tool cuts: ``number`` figures of a kind (round, obround, rectangle or unknown), sides in mm."""

    kind: str
    long_mm: float
    short_mm: float
    number: int = 1


def outline_of(tool: Tool) -> Outline:
    """The figure of a tool, by the first word of its shape and its sides; ``cluster 25x5`` is 25 rounds of 5 mm."""
    words = tool.shape.lower().split()
    sides = max(tool.length_mm, tool.width_mm), min(tool.length_mm, tool.width_mm)
    cluster = re.fullmatch(r"cluster ([1-9]\d*)x(\d+(?:\.\d+)?)", " ".join(words[:2]))
    if cluster:
        return Outline("round", float(cluster[2]), float(cluster[2]), int(cluster[1]))
    return Outline(KINDS.get(words[0] if words else "", "unknown"), *sides)


def figure_area_mm2(tool: Tool) -> float:
    """Area that one hit of a tool cuts out, mm2; none of a forming tool.

    A shape that is not known (a keyhole, a corner) counts as the rectangle around it, which is more than it cuts out.
    Source: geometry.
    """
    if tool.kind == "forming":
        return 0.0
    kind, long_mm, short_mm, count = outline_of(tool)
    if kind == "round":
        return count * math.pi / 4.0 * long_mm**2
    if kind == "obround":
        return (long_mm - short_mm) * short_mm + math.pi / 4.0 * short_mm**2
    return long_mm * short_mm


def program_slugs_kg(plant: Plant, program: Program, rest_kg: float) -> float:
    """Mass of the slugs of one sheet, kg, and at most ``rest_kg``: what parts leave of it."""
    return min(punched_out_kg(plant, program), max(rest_kg, 0.0))


def punched_out_kg(plant: Plant, program: Program) -> float:
    """Mass, kg, that the hits of one sheet knock out: hits x area of the punch x mass per area.

    Every hit counts with the whole face of its punch; where hits overlap (nibbling, slots) less falls than that.
    Source: geometry.
    """
    material, uses = plant.material_by_id[program.material_id], plant.tools_of.get(program.program_id, ())
    areas_mm2 = [use.hits_per_sheet * figure_area_mm2(plant.tool_by_id[use.tool_id]) for use in uses]
    mass_kg_m2 = material.thickness_mm / MM_PER_M * material.density_kg_m3
    return sum(area_mm2 / MM2_PER_M2 * mass_kg_m2 for area_mm2 in areas_mm2)
