"""Conversions and the mass of a sheet, worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from tests.published.rows import Row

UNITS = "simkit.base.units."
EXACT = "exact by definition"
ARITHMETIC = "arithmetic on exact numbers"
BY_HAND = "worked by hand"
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
