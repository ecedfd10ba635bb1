"""Sheets that wait at the bench and on the whole-sheet stack: by hour of the day, and when the day's people come.

Pure functions over ``Trace.bench_level``: moments (s), places of the bench taken (sheets waiting and in work), and
whole sheets on the stack, each until the next moment.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simkit.base.units import HOURS_PER_DAY, SECONDS_PER_DAY, SECONDS_PER_HOUR
from simkit.process.shifts import Span

Floats = NDArray[np.float64]
Level = Sequence[tuple[float, int, int]]


@dataclass(frozen=True)
class Mornings:
    """Starts of attended days (s), and the sheets at the bench and on the stack just before each."""

    moment_s: Floats
    bench: Floats
    stack: Floats

    @property
    def sheets(self) -> Floats:
        """Sheets that wait for the day's people, wherever they lie."""
        return np.asarray(self.bench + self.stack, float)

    @property
    def after_whole_sheets(self) -> NDArray[np.bool_]:
        """Mornings after hours in which whole sheets went to the stack, or that begin with some left on it."""
        return np.asarray(self.stack > 0, bool)


def _columns(level: Level) -> tuple[Floats, Floats]:
    """Moments, from 0, and the two levels from each of them on."""
    table = np.array([(0.0, 0, 0), *level], float)
    return table[:, 0], table[:, 1:]


def by_hour(level: Level, span: Span) -> Floats:
    """Mean sheets (at the bench, on the stack) in each hour of the day, shape (24, 2), over the whole hours of a span.

    Raises ValueError for a span without a whole hour of each name.
    """
    first, last = np.ceil(span[0] / SECONDS_PER_HOUR), np.floor(span[1] / SECONDS_PER_HOUR)
    if last - first < HOURS_PER_DAY:
        raise ValueError("a mean by hour of the day needs a span of a day at least")
    edges = np.arange(first, last + 1) * SECONDS_PER_HOUR
    moment, held = _columns(level)
    lasted = np.diff(moment, append=max(float(edges[-1]), float(moment[-1])))
    sheet_s = np.concatenate([np.zeros((1, 2)), np.cumsum(held * lasted[:, None], axis=0)])
    at = np.searchsorted(moment, edges, side="right") - 1
    until = sheet_s[at] + held[at] * (edges - moment[at])[:, None]
    mean = np.diff(until, axis=0) / SECONDS_PER_HOUR
    hour = (np.arange(first, last) % HOURS_PER_DAY).astype(np.int64)
    return np.array([mean[hour == each].mean(axis=0) for each in range(int(HOURS_PER_DAY))])


def mornings(level: Level, attended: Sequence[Span], span: Span) -> Mornings:
    """Sheets that wait when the first people of a day come, for the days of a span on which some do.

    ``attended`` are the attended spans, sorted. What happens at that very moment is not yet counted.
    """
    first: dict[int, float] = {}
    for start, _ in attended:
        if span[0] <= start < span[1]:
            first.setdefault(int(start // SECONDS_PER_DAY), start)
    moments = np.array(list(first.values()), float)
    moment, held = _columns(level)
    before = np.maximum(np.searchsorted(moment, moments, side="left") - 1, 0)
    return Mornings(moments, held[before, 0], held[before, 1])
