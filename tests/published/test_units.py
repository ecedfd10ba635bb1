"""Conversions and the mass of a sheet, worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from simkit.base.units import OTHER_UNITS
from tests.published.rows import Row

UNITS = "simkit.base.units."
EXACT = "exact by definition"
ARITHMETIC = "arithmetic on exact numbers"
BY_HAND = "worked by hand"
GRID = 2.0**-20

PUBLISHED = [
    Row("a shift in hours", UNITS + "hours", {"seconds": 28_800.0}, 8.0, "h", 0.0, EXACT, BY_HAND),
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


@pytest.mark.parametrize(
    ("unit", "value", "other", "printed", "tolerance"),
    [
        ("bar", 6.89476, "psi", 100.0, 1e-4),
        ("m3/h", 2.8316847, "cubic feet per hour", 100.0, 5e-6),
        ("kN", 175.93, "metric tons", 18.0, 0.5),
        ("kN", 291.2, "metric tons", 29.69, 0.03),
        ("kN", 96.6, "metric tons", 9.85, 0.00985),
        ("kN", 96.6, "US tons", 10.86, 0.01086),
    ],
)
def test_a_number_in_another_unit(unit, value, other, printed, tolerance):
    """By definition; then PUN-D5 (guide in a trade forum, to the ton), PUN-D7 (solution sheet) and PUN-D9 by hand."""
    assert value / OTHER_UNITS[unit][other] == pytest.approx(printed, abs=tolerance)
