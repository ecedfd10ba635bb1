"""Gauges, densities, formats and masses of sheet against printed and computed values."""

from __future__ import annotations

from operator import attrgetter

import numpy as np
import pytest

from simkit.base.units import MM_PER_INCH
from tests.published.rows import Row

GAUGES, SHEET, BALANCE = "simkit.base.gauges.", "simkit.process.sheetdata.", "simkit.process.sheetbalance."
MASS = "simkit.base.units.sheet_mass_kg"
STANDARD = "manufacturers' standard gauge: rule of 41.82 lb/ft2 per inch and trade table (10 gauge 0.1345 in, 5.625)"
WIRE = "American wire gauge, formula"
MEMORY = "trade table (from memory)"
THIRTY = "trade table of 30 gauge by metal"
BY_HAND = "worked by hand"
GEOMETRY = "geometry with a handbook density (from memory), by hand"
DIGITS = "half a unit of the last printed digit"
ARITHMETIC = "arithmetic on exact numbers"
PRINTED = "as printed"

STEEL = {
    10: (0.1345, 5.625), 11: (0.1196, 5.0), 12: (0.1046, 4.375), 14: (0.0747, 3.125), 16: (0.0598, 2.5),
    18: (0.0478, 2.0), 20: (0.0359, 1.5), 24: (0.0239, 1.0), 26: (0.0179, 0.75),
}  # fmt: skip
OTHERS = [
    ("galvanized", {16: 0.0635, 18: 0.0516, 20: 0.0396, 24: 0.0276}, MEMORY),
    ("stainless", {14: 0.0781, 16: 0.0625, 18: 0.0500, 20: 0.0375}, MEMORY),
    ("steel", {30: 0.0120}, THIRTY),
    ("galvanized", {30: 0.0157}, THIRTY),
    ("stainless", {30: 0.0125}, THIRTY),
    ("aluminium", {30: 0.0100}, THIRTY),
]
DENSITIES = {
    "steel": 7850, "1.4301": 7900, "1.4404": 8000, "1.4016": 7700, "Al 99.5": 2710, "AlMg3": 2660, "6082": 2700,
    "Cu-DHP": 8940, "CuZn37": 8440, "Ti": 4510,
}  # fmt: skip


def sheet(length_mm, width_mm, thickness_mm, density_kg_m3):
    return {"length_mm": length_mm, "width_mm": width_mm, "thickness_mm": thickness_mm, "density_kg_m3": density_kg_m3}


def mass(name, values, expected):
    return Row(f"MAS-D1 {name}", MASS, sheet(*values), expected, "kg", 5.1e-4, DIGITS, GEOMETRY)


PUBLISHED = [
    *(
        Row(
            f"GAU-D1 steel {number}", GAUGES + "gauge_row", {"family": "steel", "gauge": number}, printed,
            "in, lb/ft2", 0.0, PRINTED, STANDARD, read=attrgetter("thickness_in", "weight_lb_ft2"),
        )
        for number, printed in STEEL.items()
    ),
    Row(
        "GAU-D1 rule", SHEET + "standard_gauge_in", {"weight_lb_ft2": np.array([lb for _, lb in STEEL.values()])},
        tuple(inches for inches, _ in STEEL.values()), "in", 5e-5, DIGITS, STANDARD,
    ),
    *(
        Row(
            f"GAU-D1 steel {number} in mm", GAUGES + "gauge_mm", {"family": "steel", "gauge": number}, mm, "mm",
            1.27e-3, "the table prints to 0.0001 in, the mm follow from the weight: half of 0.0001 in", STANDARD,
        )
        for number, mm in ((10, 3.416), (14, 1.898), (16, 1.518), (18, 1.215), (20, 0.911))
    ),
    *(
        Row(
            f"gauge {number} of {family}", GAUGES + "gauge_row", {"family": family, "gauge": number}, inches, "in",
            5e-5, DIGITS, source, read=attrgetter("thickness_in"),
        )
        for family, rows, source in OTHERS
        for number, inches in rows.items()
    ),
    Row(
        "GAU-D2", GAUGES + "aluminium_gauge_in", {"gauge": np.array([10, 12, 14, 16, 18, 20])},
        (0.1019, 0.0808, 0.0641, 0.0508, 0.0403, 0.0320), "in", 5e-5, DIGITS, WIRE,
    ),
    Row(
        "16 gauge by weight", SHEET + "gauge_weight_kg_m2", {"weight_lb_ft2": 2.5}, 12.206, "kg/m2", 5e-4, DIGITS,
        STANDARD,
    ),
    Row(
        "16 gauge by geometry", SHEET + "geometric_kg_m2", {"thickness_mm": 1.518, "density_kg_m3": 7850}, 11.92,
        "kg/m2", 5e-3, DIGITS, GEOMETRY,
    ),
    Row(
        "density that the gauge weight implies", SHEET + "gauge_weight_kg_m2", {"weight_lb_ft2": 41.82}, 8.04, "g/cm3",
        5e-3, DIGITS, STANDARD, read=lambda kg_m2: kg_m2 / MM_PER_INCH,
    ),
    *(
        Row(f"density of {metal}", SHEET + "density_of", {"metal": metal}, value, "kg/m3", 0.0, PRINTED,
            "ordinary handbook value (from memory)", read=attrgetter("density_kg_m3"))
        for metal, value in DENSITIES.items()
    ),
    mass("steel 1000 x 2000 x 1", (2000, 1000, 1.0, 7850), 15.700),
    mass("steel 1250 x 2500 x 1.5", (2500, 1250, 1.5, 7850), 36.797),
    mass("steel 1500 x 3000 x 2", (3000, 1500, 2.0, 7850), 70.650),
    mass("1.4301 1250 x 2500 x 2", (2500, 1250, 2.0, 7900), 49.375),
    mass("AlMg3 1500 x 3000 x 3", (3000, 1500, 3.0, 2660), 35.910),
    Row(
        "MAS-D1 48 x 96 in of 16 gauge", SHEET + "area_mass_kg",
        {"length_mm": 96 * MM_PER_INCH, "width_mm": 48 * MM_PER_INCH, "mass_kg_m2": 2.5 * 0.45359237 / 0.3048**2},
        36.287, "kg", 5e-4, "80.0 lb by gauge weight", STANDARD,
    ),
    Row(
        "mass of a sheet divided", BALANCE + "balance",
        {"sheet_kg": 36.8, "parts_kg": 27.6, "slugs_kg": 1.2, "kerf_kg": 0.1},
        (7.9, 9.1, 0.75), "kg, kg, -", 1e-12, ARITHMETIC, BY_HAND,
        read=attrgetter("skeleton_kg", "scrap_kg", "material_yield"),
    ),
    Row(
        "48 parts of 200 x 240 mm on 1250 x 2500", BALANCE + "nesting_yield",
        {"parts_area_mm2": 48 * 200 * 240, "length_mm": 2500, "width_mm": 1250}, 0.73728, "-", 1e-12, ARITHMETIC,
        BY_HAND,
    ),
    Row(
        "1000 slugs of 10 x 10 mm, 2 mm steel", BALANCE + "slugs_kg",
        {"hits": 1000, "punch_area_mm2": 100, "mass_kg_m2": 15.7, "bite": np.array([1.0, 0.6])}, (1.57, 0.942), "kg",
        1e-12, ARITHMETIC, BY_HAND,
    ),
    Row(
        "kerf of 12.4 m in 2 mm steel", BALANCE + "kerf_kg",
        {"cut_length_mm": 12_400, "kerf_mm": 0.2, "mass_kg_m2": 15.7}, 0.038936, "kg", 1e-12, ARITHMETIC, BY_HAND,
    ),
    Row(
        "credit for 9.1 kg of scrap", BALANCE + "scrap_credit",
        {"scrap_kg": 9.1, "scrap_price_per_kg": 0.18, "collected_share": 0.9}, 1.4742, "money", 1e-12, ARITHMETIC,
        BY_HAND,
    ),
]  # fmt: skip


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row):
    row.check()
