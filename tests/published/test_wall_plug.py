"""Draw, heat and energy of a laser source, worked by hand."""

from __future__ import annotations

from operator import attrgetter

import numpy as np
import pytest

from simkit.process.wallplug import EFFICIENCIES
from tests.published.rows import Row

PLUG = "simkit.process.wallplug."
FOUR_KW = {"optical_kw": 4, "efficiency": np.array([0.30, 0.40])}
BY_HAND = "worked by hand"
DIGITS = "half a unit of the last printed digit"

PUBLISHED = [
    Row("draw of 4 kW", PLUG + "draw_kw", FOUR_KW, (13.333, 10.0), "kW", 5e-4, DIGITS, BY_HAND),
    Row("heat of 4 kW", PLUG + "heat_kw", FOUR_KW, (9.333, 6.0), "kW", 5e-4, DIGITS, BY_HAND),
    Row(
        "draw of 4 kW from a CO2 laser", PLUG + "draw_range", {"optical_kw": 4, "efficiency": EFFICIENCIES[2]},
        (33.333, 80.0), "kW", 5e-4, DIGITS, "efficiencies 0.05 to 0.12 (from memory), by hand",
        read=attrgetter("least_kw", "most_kw"),
    ),
    Row(
        "mean power while running", PLUG + "mean_running_kw",
        {"optical_kw": 4, "efficiency": 0.4, "beam_share": 0.35, "others_kw": 6}, 9.5, "kW", 1e-12,
        "arithmetic on exact numbers", BY_HAND,
    ),
    Row(
        "energy of a week", PLUG + "energy_kwh",
        {"running_h": 60, "idle_h": 20, "running_kw": 14, "idle_kw": 4}, 920.0, "kWh", 0.0, "exact", BY_HAND,
    ),
]  # fmt: skip


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row):
    row.check()
