"""Hours of a night that nobody restarts: the closed form at printed values, and the shares of its hours."""

from __future__ import annotations

import pytest

from tests.published.rows import Row

PRINTED = "mean of an exponential time cut off at the end of the night, tabulated by hand to one place"
HAND = "worked by hand: exp(-1) = 0.367879, exp(-2) = 0.135335"
RUN, SHARES = "simkit.analysis.night_tables.expected_run_h", "simkit.analysis.night_tables.expected_shares"

PUBLISHED = [
    *(
        Row(f"night of 8 h, {mean_h:g} h between stops", RUN, {"rate_per_h": 1 / mean_h, "window_h": 8.0}, printed_h,
            "h", 0.05, "printed to one place", PRINTED)
        for mean_h, printed_h in ((4.0, 3.5), (10.0, 5.5), (20.0, 6.6))
    ),
    Row("night without stops", RUN, {"rate_per_h": 0.0, "window_h": 8.0}, 8.0, "h", 0.0, "nothing ends it", HAND),
    Row("two halves of a night of 8 h, 4 h between stops, in bins of 4 h", SHARES,
        {"rate_per_h": 0.25, "window_h": 8.0, "edges_h": [0.0, 4.0, 8.0]}, (0.632121, 0.367879), "1", 1e-6,
        "printed to six places; the second bin holds whole nights too", HAND),
    Row("the same in one bin of 4 h and one beyond it", SHARES,
        {"rate_per_h": 0.25, "window_h": 8.0, "edges_h": [4.0, 7.999999, 8.0]}, (0.232544, 0.135335), "1", 1e-6,
        "printed to six places", HAND),
]  # fmt: skip


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row):
    row.check()
