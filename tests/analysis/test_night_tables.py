"""Nights: means, ranges, shares and the closed form, by hand."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest

from simkit.analysis.night_tables import (
    expected_run_h,
    mean_expected_h,
    night_mean,
    nights_differ,
    share_below_half,
    share_whole,
)


def nights(*rows: tuple[int, float, str, str, float]) -> pd.DataFrame:
    """Nights of 8 h: replication, hours worked, what ended it, hours lost."""
    return pd.DataFrame([
        {"replication": r, "allowed_h": 8.0, "running_h": h, "ended_by": limit, "want": want, "lost_h": lost}
        for r, h, limit, want, lost in rows
    ])  # fmt: skip


FOUR = nights((0, 2.0, "stop", "jam", 6.0), (0, 8.0, "", "", 0.0), (1, 1.0, "tool", "left", 7.0),
              (1, 3.0, "output", "left", 5.0))  # fmt: skip


def test_means_are_over_replications_and_ranges_over_nights() -> None:
    mean = night_mean(FOUR, "running_h")
    assert mean.mean == (5.0 + 2.0) / 2
    assert mean.n == 2
    assert nights_differ(FOUR, "running_h").low == pytest.approx(np.quantile([1, 2, 3, 8], 0.1))
    assert share_below_half(FOUR).mean == (0.5 + 1.0) / 2
    assert share_whole(FOUR) == 0.25


def test_the_closed_form() -> None:
    assert expected_run_h(0.25, 8.0) == pytest.approx(4 * (1 - math.exp(-2)))
    assert expected_run_h(0.0, 8.0) == 8.0
    assert mean_expected_h(0.25, [8.0, 0.0]) == pytest.approx(2 * (1 - math.exp(-2)))
