"""Conversions and the mass of a sheet, worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from tests.published.rows import Row

UNITS = "simkit.base.units."
EXACT = "exact by definition"
ARITHMETIC = "arithmetic on exact numbers"
BY_HAND = "worked by hand"
ROUNDING = "0.1 %, rounding of the print"
GRID = 2.0**-20

PUBLISHED = [
    Row("a shift in hours", UNITS + "hours", {"seconds": 28_800.0}, 8.0, "h", 0.0, EXACT, BY_HAND),
    Row(
        "290 h in six weeks", UNITS + "per_four_weeks", {"total": 435.0, "weeks": 6.0}, 290.0, "h", 0.0, EXACT, BY_HAND
    ),
    Row(
        "steel sheet 2500 x 1250 x 3", UNITS + "sheet_mass_kg",
        {"length_mm": 2500.0, "width_mm": 1250.0, "thickness_mm": 3.0, "density_kg_m3": 7850.0},
        73.59375, "kg", 1e-9, ARITHMETIC, BY_HAND,
    ),
    Row(
        "aluminium sheet 2500 x 1250 x 1.5", UNITS + "sheet_mass_kg",
        {"length_mm": 2500.0, "width_mm": 1250.0, "thickness_mm": 1.5, "density_kg_m3": 2680.0},
        12.5625, "kg", 1e-9, ARITHMETIC, BY_HAND,
    ),
    Row(
        "sheets of a list", UNITS + "sheet_mass_kg",
        {"length_mm": [2500.0, 2000.0], "width_mm": [1250.0, 1000.0], "thickness_mm": [3.0, 2.0],
         "density_kg_m3": 7850.0},
        (73.59375, 31.4), "kg", 1e-9, ARITHMETIC, BY_HAND,
    ),
    Row("100 psi", UNITS + "bar_from_psi", {"pressure_psi": 100}, 6.89476, "bar", 5e-6, "exact definitions", BY_HAND),
    Row("100 cubic feet", UNITS + "m3_from_ft3", {"volume_ft3": 100}, 2.8316847, "m3", 5e-8, "exact definitions",
        BY_HAND),
    Row("PUN-D5 in tons", UNITS + "metric_tons", {"force_kn": 175.93}, 18.0, "tf", 0.5, "printed to the ton",
        "guide in a trade forum, recomputed"),
    Row("PUN-D7 in tons", UNITS + "metric_tons", {"force_kn": 291.2}, 29.69, "tf", 0.03, ROUNDING,
        "solution sheet of a course, recomputed"),
    Row("PUN-D9 in metric tons", UNITS + "metric_tons", {"force_kn": 96.6}, 9.85, "tf", 0.00985, ROUNDING, BY_HAND),
    Row("PUN-D9 in US tons", UNITS + "us_tons", {"force_kn": 96.60}, 10.86, "US tons", 0.01086, ROUNDING, BY_HAND),
    Row("half a grid step, to even", UNITS + "on_grid_s", {"duration_s": 1 + GRID / 2}, 1.0, "s", 0.0, EXACT, BY_HAND),
    Row(
        "a tenth of a second", UNITS + "on_grid_s", {"duration_s": 0.1}, 104_858 * GRID, "s", 0.0,
        "0.1 x 2^20 = 104857.6, rounded", BY_HAND,
    ),
    Row(
        "times of an array", UNITS + "on_grid", {"duration_s": np.array([0.1, 2.5])}, (104_858 * GRID, 2.5), "s", 0.0,
        "0.1 x 2^20 = 104857.6, rounded", BY_HAND,
    ),
]  # fmt: skip


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row):
    row.check()
