"""Hours of a night that nobody restarts: the closed form at printed values."""

from __future__ import annotations

import pytest

from tests.published.rows import Row

PRINTED = "mean of an exponential time cut off at the end of the night, tabulated by hand to one place"
HAND = "worked by hand"
RUN = "simkit.analysis.night_tables.expected_run_h"

PUBLISHED = [
    *(
        Row(f"night of 8 h, {mean_h:g} h between stops", RUN, {"rate_per_h": 1 / mean_h, "window_h": 8.0}, printed_h,
            "h", 0.05, "printed to one place", PRINTED)
        for mean_h, printed_h in ((4.0, 3.5), (10.0, 5.5), (20.0, 6.6))
    ),
    Row("night without stops", RUN, {"rate_per_h": 0.0, "window_h": 8.0}, 8.0, "h", 0.0, "nothing ends it", HAND),
]  # fmt: skip


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row):
    row.check()
