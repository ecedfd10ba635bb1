"""One week of a run as intervals, for the ribbon: who or what was in which state from when to when."""

from __future__ import annotations

from simkit.base.units import SECONDS_PER_HOUR, SECONDS_PER_WEEK
from simkit.cell.trace import Trace
from simkit.experiment.stretches import stretches
from simkit.process.workload import Workload

Row = tuple[str, str, str, float, float]
"""Scenario, resource, state, start and end in hours from Monday 00:00."""


def ribbon_rows(trace: Trace, workload: Workload, scenario: str, week: int = 1) -> list[Row]:
    """Intervals of one week (0 is the first) of machines, people and calendar, in time order per resource."""
    span = (week * SECONDS_PER_WEEK, (week + 1) * SECONDS_PER_WEEK)
    return [
        (scenario, stretch.resource, stretch.state, (max(stretch.start_s, span[0]) - span[0]) / SECONDS_PER_HOUR,
         (min(stretch.end_s, span[1]) - span[0]) / SECONDS_PER_HOUR)
        for stretch in stretches(trace, workload)
        if stretch.start_s < span[1] and stretch.end_s > span[0]
    ]  # fmt: skip
