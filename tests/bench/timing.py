"""How the benchmarks take time: steps run in turn, and what a run counts whatever the computer."""

from __future__ import annotations

import cProfile
import gc
import pstats
import statistics
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any
from unittest.mock import patch

from simkit.cell.clock import Clock


def medians(steps: dict[str, Callable[[], Any]], rounds: int) -> dict[str, float]:
    """Median CPU seconds of each step, the steps run in turn ``rounds`` times after one round to warm up.

    What is there before counts as permanent meanwhile: else Python now and then looks through all of it for garbage,
    in a step that happens to be the one, and in the same one round after round.
    """
    taken: dict[str, list[float]] = {name: [] for name in steps}
    gc.collect()
    gc.freeze()
    for round_number in range(rounds + 1):
        for name, step in steps.items():
            start = time.process_time()
            step()
            if round_number:
                taken[name].append(time.process_time() - start)
    gc.unfreeze()
    return {name: statistics.median(seconds) for name, seconds in taken.items()}


def share_in(folder: str, step: Callable[[], Any]) -> float:
    """Share of a step's time spent in the functions of a folder and what they call, by the profiler."""
    entries = _profiled(step)
    entered_s = 0.0
    for place, (_, _, _, _, callers) in entries.items():
        if folder in Path(place[0]).as_posix():
            entered_s += sum(call[3] for caller, call in callers.items() if folder not in Path(caller[0]).as_posix())
    return entered_s / sum(entry[2] for entry in entries.values())


def calls_of(step: Callable[[], Any]) -> int:
    """Calls of functions that a step makes, those written in C and those within calls of themselves included."""
    return sum(entry[1] for entry in _profiled(step).values())


def events_of(step: Callable[[], Any]) -> int:
    """Times that the clock of a cell lets the next thing happen during a step."""
    happened = 0
    one = Clock.step

    def counted(clock: Clock) -> None:
        nonlocal happened
        happened += 1
        one(clock)

    with patch.object(Clock, "step", counted):
        step()
    return happened


def _profiled(step: Callable[[], Any]) -> dict[tuple[str, int, str], tuple[Any, ...]]:
    profile = cProfile.Profile()
    profile.runcall(step)
    entries: dict[tuple[str, int, str], tuple[Any, ...]] = pstats.Stats(profile).stats  # type: ignore[attr-defined]
    return entries
