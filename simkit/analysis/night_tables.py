"""Means and ranges over nights, and the hours that stops alone would leave, by a closed form."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from simkit.experiment.intervals import Estimate, Spread, spread, t_interval


def night_mean(nights: pd.DataFrame, column: str) -> Estimate:
    """Mean of a quantity per night with its 95 % interval over replications; ``nights`` are of one scenario."""
    return t_interval(nights.groupby("replication")[column].mean().to_numpy(float), _unit(column))


def nights_differ(nights: pd.DataFrame, column: str) -> Spread:
    """Range of 8 in 10 single nights of all replications."""
    return spread(nights[column].to_numpy(float), _unit(column))


def _unit(column: str) -> str:
    """Unit of a column of nights: its last word."""
    return column.rpartition("_")[2]


def share_below_half(nights: pd.DataFrame) -> Estimate:
    """Share of nights that run less than half of their allowed hours, with its interval over replications."""
    below = (nights["running_h"] < 0.5 * nights["allowed_h"]).astype(float)
    return t_interval(below.groupby(nights["replication"]).mean().to_numpy(float), "1")


def share_whole(nights: pd.DataFrame) -> float:
    """Share of nights that nothing ended before the morning."""
    return float((nights["ended_by"] == "").mean()) if len(nights) else 0.0


def expected_run_h(rate_per_h: float, window_h: float) -> float:
    """Expected hours until the first stop or the end of the window: (1 - exp(-rate * window)) / rate, h.

    ``rate_per_h``: stops per hour that need a person (0 or more), ``window_h``: hours allowed (0 or more). Holds if
    stops fall at a constant rate per hour worked, nobody restarts, and nothing else ends the night.
    Source: mean of an exponential time cut off at the window, worked by hand.
    """
    return window_h if rate_per_h == 0 else -math.expm1(-rate_per_h * window_h) / rate_per_h


def mean_expected_h(rate_per_h: float, windows_h: ArrayLike) -> float:
    """Mean of the closed form over the hours allowed of each night."""
    return float(np.mean([expected_run_h(rate_per_h, float(hours)) for hours in np.asarray(windows_h, float)]))
