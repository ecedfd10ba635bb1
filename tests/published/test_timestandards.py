"""Cycles to time, as worked by hand."""

from __future__ import annotations

import pytest

from tests.published.rows import Row

PUBLISHED = [
    Row("observations for 5 %", "simkit.analysis.sheet_times.observations_needed",
        {"mean_s": [10.0, 10.0], "deviation_s": [2.0, 0.0], "accuracy": 0.05}, (62, 1), "cycles", 0.0,
        "(1.96 x 2 / 0.5)^2 = 61.47, rounded up", "textbook formula (from memory), worked by hand"),
]  # fmt: skip


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row):
    row.check()
