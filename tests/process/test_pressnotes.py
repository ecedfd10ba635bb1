"""Cut edges of tools by their shape, and where a shear strength comes from: by hand."""

from __future__ import annotations

import dataclasses
import math

import pytest

from simkit.process.pressnotes import press_uses, shear_mpa
from simkit.process.slugs import figure_of
from tests.small_plant import small_plant

TOOL, STEEL = small_plant().tools[0], small_plant().materials[0]


@pytest.mark.parametrize(
    ("shape", "length_mm", "width_mm", "edge_mm", "least_mm"),
    [("round 75", 75, 75, 75 * math.pi, 75), ("rd 4", 4, 4, 4 * math.pi, 4),
     ("obround 6x18", 18, 6, 2 * 12 + 6 * math.pi, 6), ("obround 6x18", 6, 18, 2 * 12 + 6 * math.pi, 6),
     ("square 10", 10, 10, 40, 10), ("Rectangle 5x50", 50, 5, 110, 5),
     ("cluster 25x5", 70, 70, 25 * 5 * math.pi, 5), ("cluster 9x4.5", 40, 40, 9 * 4.5 * math.pi, 4.5),
     ("cluster of slots", 40, 30, 140, 30), ("keyhole 12x6", 12, 6, 36, 6), ("", 12, 6, 36, 6)],
)  # fmt: skip
def test_figures(shape: str, length_mm: float, width_mm: float, edge_mm: float, least_mm: float) -> None:
    found = figure_of(dataclasses.replace(TOOL, shape=shape, length_mm=length_mm, width_mm=width_mm))
    assert (found.perimeter_mm, found.width_mm) == (pytest.approx(edge_mm), least_mm)
    known = shape.lower().split() and shape.lower() not in ("keyhole 12x6", "cluster of slots")
    assert ("taken as the rectangle around it" in found.how) != bool(known)


def test_shear_strength_is_given_or_from_the_tensile_strength_or_assumed() -> None:
    assert shear_mpa(dataclasses.replace(STEEL, shear_strength_mpa=280.0, tensile_mpa=400.0)) == (280.0, "given")
    assert shear_mpa(dataclasses.replace(STEEL, tensile_mpa=400.0)) == (320.0, "0.8 of the tensile strength")
    assert shear_mpa(STEEL) == (300.0, "assumed, none is given")
    assert shear_mpa(dataclasses.replace(STEEL, handbook="stainless"))[0] == 517.0


def test_uses_are_pairs_that_a_program_punches_the_hardest_first() -> None:
    """Round 6 mm in both metals, the others in one each; the forming tool is left out."""
    found = press_uses(small_plant())
    assert [(use.tool.tool_id, use.material.material_id, use.programs) for use in found] == [
        ("TL-005", "MS-1.5", ("P-1",)), ("TL-003", "MS-1.5", ("P-1",)), ("TL-001", "MS-1.5", ("P-1",)),
        ("TL-001", "AL-1.5", ("P-2",)), ("TL-002", "AL-1.5", ("P-2",)),
    ]  # fmt: skip
    assert [use.share for use in found] == sorted((use.share for use in found), reverse=True)


def test_tools_without_sides_are_left_out() -> None:
    tools = tuple(dataclasses.replace(tool, length_mm=0.0, width_mm=0.0) for tool in small_plant().tools)
    assert press_uses(small_plant(tools=tools)) == ()
