"""Sheets that wait at the bench and on the whole-sheet stack: by hour of the day, and when the day's people come.

Pure functions over ``Trace.bench_level``: moments (s), places of the bench taken (sheets waiting and in work), and
whole sheets on the stack, each until the next moment.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simkit.base.units import HOURS_PER_DAY, SECONDS_PER_DAY, SECONDS_PER_HOUR
from simkit.experiment.tables import Table, table, table_of
from simkit.process.shifts import Span

Floats = NDArray[np.float64]
Level = Sequence[tuple[float, int, int]]


class Morning(NamedTuple):
    """The start of an attended day, and the sheets at the bench and on the stack just before it."""

    moment_h: float
    bench: int
    stack: int


class Hour(NamedTuple):
    """An hour of the day (0 to 23), and the mean sheets in it at the bench and on the whole-sheet stack."""

    hour: int
    bench: float
    stack: float


def _columns(level: Level) -> tuple[Floats, Floats]:
    """Moments, from 0, and the two levels from each of them on."""
    table = np.array([(0.0, 0, 0), *level], float)
    return table[:, 0], table[:, 1:]


def by_hour(level: Level, span: Span) -> Table:
    """Mean sheets in each :class:`Hour` of the day over the whole hours of a span; empty for less than a day."""
    first, last = np.ceil(span[0] / SECONDS_PER_HOUR), np.floor(span[1] / SECONDS_PER_HOUR)
    if last - first < HOURS_PER_DAY:
        return table_of(Hour, ())
    edges = np.arange(first, last + 1) * SECONDS_PER_HOUR
    moment, held = _columns(level)
    lasted = np.diff(moment, append=max(float(edges[-1]), float(moment[-1])))
    sheet_s = np.concatenate([np.zeros((1, 2)), np.cumsum(held * lasted[:, None], axis=0)])
    at = np.searchsorted(moment, edges, side="right") - 1
    until = sheet_s[at] + held[at] * (edges - moment[at])[:, None]
    mean = np.diff(until, axis=0) / SECONDS_PER_HOUR
    of_hour = (np.arange(first, last) % HOURS_PER_DAY).astype(np.int64)
    hours = range(int(HOURS_PER_DAY))
    return table_of(Hour, ((hour, *mean[of_hour == hour].mean(axis=0)) for hour in hours))


def mornings(level: Level, attended: Sequence[Span], span: Span) -> Table:
    """Each :class:`Morning` of a span: sheets that wait when the first people of a day come, if some do.

    ``attended`` are the attended spans, sorted. What happens at that very moment is not yet counted.
    """
    first: dict[int, float] = {}
    for start, _ in attended:
        if span[0] <= start < span[1]:
            first.setdefault(int(start // SECONDS_PER_DAY), start)
    moments = np.array(list(first.values()), float)
    moment, held = _columns(level)
    before = np.maximum(np.searchsorted(moment, moments, side="left") - 1, 0)
    return table(Morning, (moments / SECONDS_PER_HOUR, *held[before].T))
