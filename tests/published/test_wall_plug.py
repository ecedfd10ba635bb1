"""Draw and heat of a laser source, worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from tests.published.rows import Row

PLUG = "simkit.process.runningpower."
FOUR_KW = {"optical_kw": 4, "efficiency": np.array([0.30, 0.40])}
BY_HAND = "worked by hand"
DIGITS = "half a unit of the last printed digit"

PUBLISHED = [
    Row("draw of 4 kW", PLUG + "draw_kw", FOUR_KW, (13.333, 10.0), "kW", 5e-4, DIGITS, BY_HAND),
    Row("heat of 4 kW", PLUG + "draw_kw", FOUR_KW, (9.333, 6.0), "kW", 5e-4, DIGITS, BY_HAND, read=lambda kw: kw - 4),
    Row(
        "draw of 4 kW from a CO2 laser", PLUG + "draw_kw", {"optical_kw": 4, "efficiency": np.array([0.12, 0.05])},
        (33.333, 80.0), "kW", 5e-4, DIGITS, "efficiencies 0.05 to 0.12 (from memory), by hand",
    ),
    Row(
        "mean power while running", PLUG + "mean_running_kw",
        {"optical_kw": 4, "efficiency": 0.4, "beam_share": 0.35, "others_kw": 6}, 9.5, "kW", 1e-12,
        "arithmetic on exact numbers", BY_HAND,
    ),
]  # fmt: skip


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row):
    row.check()
