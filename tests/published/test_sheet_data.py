"""Gauges, densities and masses of sheet against printed and computed values."""

from __future__ import annotations

from operator import attrgetter

import numpy as np
import pytest

from tests.published.rows import Row

GAUGES, SHEET = "simkit.base.gauges.", "simkit.process.sheetnotes."
MASS = "simkit.base.units.sheet_mass_kg"
STANDARD = "manufacturers' standard gauge: rule of 41.82 lb/ft2 per inch and trade table (10 gauge 0.1345 in, 5.625)"
WIRE = "American wire gauge, formula"
MEMORY = "trade table (from memory)"
THIRTY = "trade table of 30 gauge by metal"
GEOMETRY = "geometry with a handbook density (from memory), by hand"
DIGITS = "half a unit of the last printed digit"
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
    "mild steel": {"steel": 7850}, "stainless": {"1.4301": 7900, "1.4404": 8000, "1.4016": 7700},
    "aluminium": {"Al 99.5": 2710, "AlMg3": 2660, "6082": 2700}, "copper": {"Cu-DHP": 8940},
    "brass": {"CuZn37": 8440}, "titanium": {"Ti": 4510},
}  # fmt: skip
KG_M2 = 0.45359237 / 0.3048**2
"""kg/m2 of 1 lb/ft2, exact."""


def sheet(length_mm, width_mm, thickness_mm, density_kg_m3):
    return {"length_mm": length_mm, "width_mm": width_mm, "thickness_mm": thickness_mm, "density_kg_m3": density_kg_m3}


def mass(name, values, expected):
    return Row(f"MAS-D1 {name}", MASS, sheet(*values), expected, "kg", 5.1e-4, DIGITS, GEOMETRY)


def by_weight(name, expected, unit, tolerance, read):
    """What follows from the printed weight of 16 gauge steel, 2.5 lb/ft2."""
    inputs = {"family": "steel", "gauge": 16}
    return Row(name, GAUGES + "gauge_row", inputs, expected, unit, tolerance, DIGITS, STANDARD, read=read)


PUBLISHED = [
    *(
        Row(
            f"GAU-D1 steel {number}", GAUGES + "gauge_row", {"family": "steel", "gauge": number}, printed,
            "in, lb/ft2", 0.0, PRINTED, STANDARD, read=attrgetter("thickness_in", "weight_lb_ft2"),
        )
        for number, printed in STEEL.items()
    ),
    *(
        Row(
            f"GAU-D1 rule, {number} gauge", GAUGES + "gauge_row", {"family": "steel", "gauge": number}, inches, "in",
            5e-5, DIGITS, STANDARD, read=lambda row: row.weight_lb_ft2 / 41.82,
        )
        for number, (inches, _) in STEEL.items()
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
    by_weight("16 gauge by weight", 12.206, "kg/m2", 5e-4, lambda row: row.weight_lb_ft2 * KG_M2),
    Row(
        "16 gauge by geometry", MASS, sheet(1000, 1000, 1.518, 7850), 11.92, "kg/m2", 5e-3, DIGITS, GEOMETRY,
    ),
    by_weight("density that the gauge weight implies", 8.04, "g/cm3", 5e-3,
              lambda row: row.weight_lb_ft2 * KG_M2 / row.thickness_mm),
    *(
        Row(f"densities of {metal}", SHEET + "printed_densities", {"handbook": metal}, values, "kg/m3", 0.0, PRINTED,
            "ordinary handbook values (from memory)")
        for metal, values in DENSITIES.items()
    ),
    mass("steel 1000 x 2000 x 1", (2000, 1000, 1.0, 7850), 15.700),
    mass("steel 1250 x 2500 x 1.5", (2500, 1250, 1.5, 7850), 36.797),
    mass("steel 1500 x 3000 x 2", (3000, 1500, 2.0, 7850), 70.650),
    mass("1.4301 1250 x 2500 x 2", (2500, 1250, 2.0, 7900), 49.375),
    mass("AlMg3 1500 x 3000 x 3", (3000, 1500, 3.0, 2660), 35.910),
    by_weight("MAS-D1 48 x 96 in of 16 gauge", 36.287, "kg", 5e-4,
              lambda row: row.weight_lb_ft2 * KG_M2 * (96 * 0.0254) * (48 * 0.0254)),
]  # fmt: skip


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row):
    row.check()
