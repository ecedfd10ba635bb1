"""Figures that tools cut, and slugs: what they knock out of a sheet; it falls into a bin that somebody empties.

Pieces that the laser cuts out of holes, and what its kerf melts away, count with the skeleton.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from simkit.base.units import MM2_PER_M2, MM_PER_M
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Program, Tool
from simkit.process.punching import (
    cluster_perimeter_mm,
    obround_perimeter_mm,
    rectangle_perimeter_mm,
    round_perimeter_mm,
)

KINDS = {
    "round": "round", "rd": "round", "obround": "obround", "slot": "obround", "square": "rectangle",
    "rectangle": "rectangle", "rect": "rectangle",
}  # fmt: skip
"""First words of a tool's shape, and the kind of figure that they name."""


@dataclass(frozen=True)
class CutFigure:
    """What one hit of a tool cuts: length of the cut edge, area and least width (mm, mm2), and in words how found."""

    perimeter_mm: float
    area_mm2: float
    width_mm: float
    how: str


def figure_of(tool: Tool) -> CutFigure:
    """The figure of a cutting tool, by the first word of its shape and its sides; ``cluster 25x5``: 25 rounds of 5 mm.

    A shape that is not known (a keyhole, a corner) counts as the rectangle around it, which is no shorter than the edge
    of a figure without waists, and more than it cuts out. Source: geometry.
    """
    words = tool.shape.lower().split()
    long_mm, short_mm = max(tool.length_mm, tool.width_mm), min(tool.length_mm, tool.width_mm)
    cluster = re.fullmatch(r"cluster ([1-9]\d*)x(\d+(?:\.\d+)?)", " ".join(words[:2]))
    if cluster:
        count, round_mm = int(cluster[1]), float(cluster[2])
        edge_mm = float(cluster_perimeter_mm(round_perimeter_mm(round_mm), count))
        return CutFigure(edge_mm, count * math.pi / 4.0 * round_mm**2, round_mm,
                      f"{count} rounds of {round_mm:g} mm at once")  # fmt: skip
    kind, sides = KINDS.get(words[0] if words else "", ""), f"{long_mm:g} x {short_mm:g} mm"
    if kind == "round":
        return CutFigure(
            float(round_perimeter_mm(long_mm)), math.pi / 4.0 * long_mm**2, short_mm, f"round {long_mm:g} mm"
        )
    if kind == "obround":
        area_mm2 = (long_mm - short_mm) * short_mm + math.pi / 4.0 * short_mm**2
        return CutFigure(float(obround_perimeter_mm(long_mm, short_mm)), area_mm2, short_mm, f"obround {sides}")
    how = f"rectangle {sides}" if kind else f"taken as the rectangle around it, {sides}"
    return CutFigure(float(rectangle_perimeter_mm(long_mm, short_mm)), long_mm * short_mm, short_mm, how)


def figure_area_mm2(tool: Tool) -> float:
    """Area that one hit of a tool cuts out, mm2; none of a forming tool."""
    return 0.0 if tool.kind == "forming" else figure_of(tool).area_mm2


def program_slugs_kg(plant: PlantInputs, program: Program, rest_kg: float) -> float:
    """Mass of the slugs of one sheet, kg, and at most ``rest_kg``: what parts leave of it."""
    return min(punched_out_kg(plant, program), max(rest_kg, 0.0))


def punched_out_kg(plant: PlantInputs, program: Program) -> float:
    """Mass, kg, that the hits of one sheet knock out: hits x area of the punch x mass per area.

    Every hit counts with the whole face of its punch; where hits overlap (nibbling, slots) less falls than that.
    Source: geometry.
    """
    material, uses = plant.material_by_id[program.material_id], plant.tools_of.get(program.program_id, ())
    areas_mm2 = [use.hits_per_sheet * figure_area_mm2(plant.tool_by_id[use.tool_id]) for use in uses]
    mass_kg_m2 = material.thickness_mm / MM_PER_M * material.density_kg_m3
    return sum(area_mm2 / MM2_PER_M2 * mass_kg_m2 for area_mm2 in areas_mm2)
