"""Laser cutting against published and computed values: severance energy, melt balance, time of contours."""

from __future__ import annotations

from operator import attrgetter

import numpy as np
import pytest

from tests.published.rows import Row

CUT = "simkit.process.lasercut."
POWELL = "Powell and Kaplan, comparison of CO2 and 1-micron lasers: about 30 m/min on 1 mm stainless with 3 kW"
STEEN = "Steen and Mazumder, Laser Material Processing, after Powell, CO2 lasers (from memory)"
BALANCE = "lumped heat balance of Steen and Mazumder (from memory), handbook properties (from memory), by hand"
BY_HAND = "worked by hand"
ARITHMETIC = "arithmetic on exact numbers"
DIGITS = "half a unit of the last printed digit"
HALVES = "half a unit of the last printed digit, which was a half rounded up"
STEEL = {"density_kg_m3": 7860, "melting_c": 1535, "heat_j_kg_k": 480, "fusion_j_kg": 272e3}
STAINLESS = {"density_kg_m3": 7900, "melting_c": 1450, "heat_j_kg_k": 500, "fusion_j_kg": 260e3}
ALUMINIUM = {"density_kg_m3": 2700, "melting_c": 660, "heat_j_kg_k": 900, "fusion_j_kg": 397e3}

PUBLISHED = [
    Row(
        "LAS-D1 1-micron laser", CUT + "severance_energy_j_mm2",
        {"power_w": 3000, "thickness_mm": 1, "speed_m_min": 30}, 6.0, "J/mm2", 1e-9, ARITHMETIC, POWELL,
    ),
    Row(
        "LAS-D1 CO2 laser", CUT + "severance_energy_j_mm2",
        {"power_w": 5000, "thickness_mm": 1, "speed_m_min": 10}, 30.0, "J/mm2", 1e-9, ARITHMETIC,
        POWELL + "; the CO2 machine cuts at a third of that with 5 kW",
    ),
    Row(
        "LAS-D2", CUT + "severance_speed_m_min",
        {"severance_j_mm2": np.array([10, 10, 5.7, 13]), "power_w": np.array([3000, 3000, 2000, 4000]),
         "thickness_mm": np.array([1, 3, 6, 2])},
        (18.0, 6.0, 3.5088, 9.2308), "m/min", 5e-5, DIGITS, BY_HAND,
    ),
    *(
        Row(
            f"severance of {metal} with {gas}", CUT + "published_severance", {"metal": metal, "gas": gas},
            expected, "J/mm2", 0.0, "as printed", STEEN, read=attrgetter("low", "high", "mean"),
        )
        for metal, gas, expected in (
            ("mild steel", "oxygen", (4, 13, 5.7)),
            ("mild steel", "nitrogen", (7, 22, 10)),
            ("stainless", "oxygen", (3, 10, 5)),
            ("stainless", "nitrogen", (8, 20, 13)),
            ("titanium", "oxygen", (1, 5, 3)),
            ("titanium", "argon", (11, 18, 14)),
            ("acrylic", "air", (1, 3, 1.2)),
        )
    ),
    *(
        Row(
            f"mean severance of {metal} with oxygen", CUT + "published_severance", {"metal": metal, "gas": "oxygen"},
            mean, "J/mm2", 0.0, "as printed", STEEN, read=attrgetter("mean"),
        )
        for metal, mean in (("aluminium", 14), ("copper", 30), ("brass", 22))
    ),
    Row("LAS-D3 melt enthalpy", CUT + "melt_enthalpy_j_mm3", STEEL, 7.8348, "J/mm3", 5e-5, DIGITS, BALANCE),
    Row(
        "LAS-D3 floor", CUT + "melt_floor_j_mm2", {"enthalpy_j_mm3": 7.8348, "kerf_mm": np.array([0.15, 0.30])},
        (1.175, 2.350), "J/mm2", 5e-4, DIGITS, BALANCE,
    ),
    Row("LAS-D4 melt enthalpy", CUT + "melt_enthalpy_j_mm3", STAINLESS, 7.6828, "J/mm3", 5.1e-5, HALVES, BALANCE),
    Row("LAS-D5 melt enthalpy", CUT + "melt_enthalpy_j_mm3", ALUMINIUM, 2.6149, "J/mm3", 5.1e-5, HALVES, BALANCE),
    Row(
        "a tenth of the melt vaporised", CUT + "melt_enthalpy_j_mm3",
        {**STEEL, "vapour_share": 0.1, "vapour_j_kg": 6e6}, 12.550848, "J/mm3", 1e-9,
        "7860e-9 x (480 x 1510 + 272e3 + 0.1 x 6e6)", BY_HAND,
    ),
    Row(
        "LAS-D6", CUT + "melt_limit_m_min",
        {"power_w": 4000, "coupling": 0.35, "enthalpy_j_mm3": 7.68275, "kerf_mm": 0.20, "thickness_mm": 3},
        18.2226, "m/min", 5e-5, DIGITS, BALANCE,
    ),
    *(
        Row(
            f"melting properties of {metal}", CUT + "melting_of", {"metal": metal}, tuple(values.values()),
            "kg/m3, C, J/(kg K), J/kg", 0.0, "as printed", "ordinary handbook value (from memory)",
            read=attrgetter("density_kg_m3", "melting_c", "heat_j_kg_k", "fusion_j_kg"),
        )
        for metal, values in (("mild steel", STEEL), ("stainless", STAINLESS), ("aluminium", ALUMINIUM))
    ),
    Row(
        "LAS-D1 judged by the table of CO2 lasers", "simkit.process.cutcheck.check_speed",
        {"metal": "stainless", "gas": "nitrogen", "power_w": 3000, "thickness_mm": 1, "speed_m_min": 30},
        (6.0, 8.0, 20.0), "J/mm2", 1e-9, ARITHMETIC, f"{POWELL}; {STEEN}",
        read=attrgetter("severance_j_mm2", "published.low", "published.high"),
    ),
    Row(
        "time of 85 contours", CUT + "contours_s",
        {"cut_length_mm": 12_400, "speed_m_min": 6, "contours": 85, "pierce_s": 0.25}, 145.25, "s", 1e-9, ARITHMETIC,
        BY_HAND,
    ),
]  # fmt: skip


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row):
    row.check()
