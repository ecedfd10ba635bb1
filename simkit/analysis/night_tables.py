"""Tables of nights: one row per night of each run, what ended them, and how the hours compare with a closed form."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from simkit.experiment.intervals import Estimate, Spread, spread, t_interval
from simkit.experiment.nights import Night
from simkit.plant.plant import Plant

NIGHT_COLUMNS = ("scenario", "replication", *Night._fields)


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


@dataclass(frozen=True)
class End:
    """What ended nights: the limit, the want, how many nights of how many, and the hours lost."""

    limit: str
    want: str
    nights: int
    share: float
    lost_h: float


def ranking(nights: pd.DataFrame) -> tuple[End, ...]:
    """What ended the nights of one scenario, most hours lost first; nights that reached the morning are left out."""
    ended = nights[nights["ended_by"] != ""]
    lost: dict[tuple[str, str], list[float]] = {}
    for limit, want, hours in zip(ended["ended_by"], ended["want"], ended["lost_h"], strict=True):
        lost.setdefault((str(limit), str(want)), []).append(float(hours))
    found = [End(*key, len(hours), len(hours) / len(nights), sum(hours)) for key, hours in lost.items()]
    return tuple(sorted(found, key=lambda end: (-end.lost_h, -end.nights, end.limit, end.want)))


def by_want(nights: pd.DataFrame) -> tuple[End, ...]:
    """The same, with what one want did under several limits added up under the first of them."""
    found: dict[tuple[str, bool], End] = {}
    for end in ranking(nights):
        key = end.want, end.limit == "queue"
        known = found.get(key, dataclasses.replace(end, nights=0, share=0.0, lost_h=0.0))
        found[key] = dataclasses.replace(
            known, nights=known.nights + end.nights, share=known.share + end.share, lost_h=known.lost_h + end.lost_h
        )
    return tuple(sorted(found.values(), key=lambda end: (-end.lost_h, -end.nights, end.limit, end.want)))


def by_weekday(nights: pd.DataFrame) -> dict[int, pd.DataFrame]:
    """Nights of one scenario by the weekday on which they start, Monday 0; weeks begin with the start of the run."""
    day = ((nights["start_h"] + 1.0) // 24 % 7).astype(int)  # an hour of grace for a change of the clock
    return {int(number): own for number, own in nights.groupby(day)}


def ranked_wants(nights: pd.DataFrame) -> list[tuple[str, str]]:
    """Pairs (limit, want) in the order of :func:`by_want`."""
    return [(end.limit, end.want) for end in by_want(nights)]


def expected_run_h(rate_per_h: float, window_h: float) -> float:
    """Expected hours until the first stop or the end of the window: (1 - exp(-rate * window)) / rate, h.

    ``rate_per_h``: stops per hour that need a person (0 or more), ``window_h``: hours allowed (0 or more). Holds if
    stops fall at a constant rate per hour worked, nobody restarts, and nothing else ends the night.
    Source: mean of an exponential time cut off at the window, worked by hand.
    """
    return window_h if rate_per_h == 0 else -math.expm1(-rate_per_h * window_h) / rate_per_h


def expected_shares(rate_per_h: float, window_h: float, edges_h: Sequence[float]) -> NDArray[np.float64]:
    """Share of nights whose hours to the first stop fall between neighbouring edges; whole nights in the last bin."""
    left = np.exp(-rate_per_h * np.minimum(np.asarray(edges_h, float), window_h))
    left[np.asarray(edges_h) >= window_h] = 0.0
    return np.asarray(left[:-1] - left[1:])


@dataclass(frozen=True)
class StopRate:
    """Stops of a cause per hour worked at night that need a person: settled, and at the start of its life."""

    cause: str
    settled_per_h: float
    early_per_h: float


def stop_rates(plant: Plant, nights: pd.DataFrame, per_sheet: dict[str, float]) -> tuple[StopRate, ...]:
    """Rates of the causes of ``stops.csv`` on the clock of hours worked in these nights.

    ``plant`` is the scenario's; ``per_sheet`` gives picks, hits, contours and tool_loads of a mean sheet. A stop that a
    retry clears needs nobody.
    """
    worked_h = float(nights["running_h"].sum())
    if worked_h <= 0:
        return ()
    sheets = float(nights["sheets"].sum()) / worked_h
    exposure = {
        "running_hour": float(nights["process_h"].sum()) / worked_h,
        "calendar_hour": 1.0,
        "sheet": sheets,
        "part": float(nights["parts"].sum()) / worked_h,
        **{name: amount * sheets for name, amount in per_sheet.items()},
    }
    rates = []
    for row in plant.stops:
        if row.clears != "nobody" and row.acts_in(attended=False):
            settled = row.rate * (1.0 - row.retry_success) ** row.retries * exposure[row.exposure]
            rates.append(StopRate(row.cause, settled, settled * (row.early_factor if row.settle_weeks > 0 else 1.0)))
    return tuple(rates)


def mean_expected_h(rate_per_h: float, windows_h: ArrayLike) -> float:
    """Mean of the closed form over the hours allowed of each night."""
    return float(np.mean([expected_run_h(rate_per_h, float(hours)) for hours in np.asarray(windows_h, float)]))
