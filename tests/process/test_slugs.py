"""What punches knock out of a sheet, and what is left of it, by hand."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from simkit.plant.tables import Tool
from simkit.process.programs import program_tables
from simkit.process.slugs import figure_area_mm2, program_slugs_kg
from tests.small_plant import small_plant

QUARTER = math.pi / 4


@pytest.mark.parametrize(
    ("shape", "length", "width", "kind", "area"),
    [("round 6", 6, 6, "cutting", QUARTER * 36), ("rd 4", 4, 4, "cutting", QUARTER * 16),
     ("obround 6x18", 18, 6, "cutting", 12 * 6 + QUARTER * 36), ("obround 6x18", 6, 18, "cutting", 100.27434),
     ("rectangle 5x50", 50, 5, "cutting", 250), ("square 20", 20, 20, "cutting", 400),
     ("cluster 25x5", 40, 40, "cutting", 25 * QUARTER * 25), ("keyhole 8", 16, 8, "cutting", 128),
     ("extrusion M4", 10, 10, "forming", 0), ("", 3, 2, "cutting", 6)],
)  # fmt: skip
def test_area_that_a_hit_cuts_out(shape: str, length: float, width: float, kind: str, area: float) -> None:
    tool = Tool(tool_id="T", shape=shape, length_mm=length, width_mm=width, station_size_mm=30, kind=kind)
    assert figure_area_mm2(tool) == pytest.approx(area, rel=1e-6)


def test_slugs_of_a_sheet() -> None:
    plant = small_plant()
    # P-1, steel of 1.5 mm, 11.775 kg/m2: 200 rounds of 6, 60 obrounds 6x18, 40 rectangles 5x50
    area = 200 * QUARTER * 36 + 60 * (72 + QUARTER * 36) + 40 * 250
    assert program_slugs_kg(plant, plant.programs[0], 99.0) == pytest.approx(area * 1e-6 * 11.775, rel=1e-12)
    assert program_slugs_kg(plant, plant.programs[0], 0.1) == 0.1
    assert program_slugs_kg(plant, plant.programs[0], -1.0) == 0.0
    assert program_slugs_kg(dataclasses.replace(plant, program_tools=()), plant.programs[0], 9.0) == 0.0


def test_a_sheet_is_its_parts_its_slugs_and_its_skeleton() -> None:
    tables = program_tables(small_plant())
    parts_kg = np.array([6 * 1.84, 10 * 0.38])
    assert tables.sheet_kg[0] == pytest.approx(1.25 * 11.775)
    assert (tables.slug_kg > 0).all()
    assert tables.skeleton_kg + tables.slug_kg + parts_kg == pytest.approx(tables.sheet_kg)
    assert (tables.skeleton_kg > 0).all()
