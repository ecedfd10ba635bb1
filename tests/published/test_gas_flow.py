"""Assist gas against computed values of the isentropic nozzle, and conversions worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from simkit.process.gasflow import AIR, NITROGEN, OXYGEN
from tests.published.rows import Row

FLOW = "simkit.process.gasflow."
ISENTROPIC = "isentropic flow of an ideal gas, formula as in an encyclopaedia of gas dynamics; computed apart"
BY_HAND = "worked by hand"
DIGITS = "half a unit of the last printed digit"
NITROGEN_BAR = np.array([2, 5, 8, 10, 12, 15, 20])
OXYGEN_BAR = np.array([1, 2, 5, 8])
NITROGEN_M3N_H = {
    1.0: (1.582, 3.158, 4.733, 5.784, 6.834, 8.409, 11.035),
    1.5: (3.560, 7.105, 10.650, 13.013, 15.376, 18.921, 24.829),
    2.0: (6.330, 12.632, 18.933, 23.135, 27.336, 33.638, 44.141),
    3.0: (14.242, 28.421, 42.600, 52.053, 61.506, 75.685, 99.317),
}
OXYGEN_M3N_H = {
    1.0: (0.988, 1.479, 2.951, 4.423),
    1.5: (2.223, 3.327, 6.640, 9.952),
    2.0: (3.952, 5.915, 11.804, 17.693),
}


def flow(name, function, inputs, expected, unit, tolerance, source=ISENTROPIC):
    return Row(name, FLOW + function, inputs, expected, unit, tolerance, DIGITS, source)


def table(name, gas, gauge_bar, rows):
    return [
        flow(f"{name} {mm} mm", "nozzle_m3n_h", {"nozzle_mm": mm, "supply_gauge_bar": gauge_bar, "gas": gas},
             expected, "m3n/h", 5e-4)
        for mm, expected in rows.items()
    ]  # fmt: skip


RATIOS = {"heat_ratio": np.array([1.4, 1.395])}
PUBLISHED = [
    flow("choked flow coefficients", "flow_coefficient", RATIOS, (0.684731, 0.683886), "-", 5e-7),
    flow("critical ratios", "critical_ratio", RATIOS, (0.52828, 0.52913), "-", 5e-6),
    Row("choking of nitrogen starts", FLOW + "critical_ratio", {"heat_ratio": 1.4}, 0.905, "bar gauge", 5e-4, DIGITS,
        ISENTROPIC, read=lambda ratio: 1.01325 / ratio - 1.01325),
    flow("normal density of nitrogen", "normal_density_kg_m3", {"gas": NITROGEN}, 1.24982, "kg/m3", 5e-6),
    flow("normal density of oxygen", "normal_density_kg_m3", {"gas": OXYGEN}, 1.42763, "kg/m3", 5e-6),
    flow(
        "GAS-D1", "mass_flow_kg_s",
        {"area_mm2": 10_000, "supply_absolute_bar": 5, "gas": AIR, "supply_k": 300}, 11.6678, "kg/s", 5e-5,
    ),
    *table("GAS-D2 nitrogen", NITROGEN, NITROGEN_BAR, NITROGEN_M3N_H),
    *table("GAS-D2 oxygen", OXYGEN, OXYGEN_BAR, OXYGEN_M3N_H),
    flow(
        "GAS-D3 nitrogen", "nozzle_kg_h", {"nozzle_mm": 2, "supply_gauge_bar": 15, "gas": NITROGEN}, 42.041, "kg/h",
        5e-4,
    ),
    flow("GAS-D3 oxygen", "nozzle_kg_h", {"nozzle_mm": 1.5, "supply_gauge_bar": 2, "gas": OXYGEN}, 4.750, "kg/h", 5e-4),
    flow(
        "GAS-D4", "nozzle_m3n_h", {"nozzle_mm": 1.5, "supply_gauge_bar": 12, "gas": NITROGEN, "discharge": 0.85},
        13.0699, "m3n/h", 5e-5,
    ),
    flow(
        "GAS-D5 mass", "nozzle_kg_h", {"nozzle_mm": 1.5, "supply_gauge_bar": 0.5, "gas": OXYGEN}, 2.27848, "kg/h", 5e-6
    ),
    flow(
        "GAS-D5 volume", "nozzle_m3n_h", {"nozzle_mm": 1.5, "supply_gauge_bar": 0.5, "gas": OXYGEN}, 1.59599, "m3n/h",
        5e-6,
    ),
    flow("15 bar gauge", "absolute_bar", {"gauge_bar": 15}, 16.01325, "bar absolute", 1e-12, BY_HAND),
    flow("42.041 kg of nitrogen", "normal_m3", {"mass_kg": 42.041, "gas": NITROGEN}, 33.638, "m3n", 5e-4),
]  # fmt: skip


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row):
    row.check()
