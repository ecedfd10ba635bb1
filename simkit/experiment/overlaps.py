"""How much of some stretches of time lies within others; hours that each person is busy in the ordinary week."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from simkit.base.arrays import Floats
from simkit.base.units import SECONDS_PER_HOUR
from simkit.base.vocabulary import ALWAYS
from simkit.cell.people import ELSEWHERE
from simkit.cell.trace import Trace
from simkit.process.shifts import Span, without
from simkit.process.workload import Workload


def measured_span(trace: Trace, workload: Workload) -> Span:
    """What states, waits and queues are measured in. Raises ValueError where the run ends within its warm-up."""
    start_s, end_s = workload.plant.settings.run.warmup_s, min(workload.span_s, trace.end_s)
    if end_s <= start_s:
        raise ValueError(f"the run of {end_s:g} s ends within the warm-up of {start_s:g} s that is cut off")
    return start_s, end_s


def covered_s(spans: Sequence[Span], span: Span) -> float:
    """Seconds of the spans (disjoint) that lie within one span."""
    return sum(max(min(end, span[1]) - max(start, span[0]), 0.0) for start, end in spans)


def passed_s(spans: Sequence[Span], moments: Floats) -> Floats:
    """Seconds of the spans (sorted, disjoint) that have passed until each moment."""
    if not spans:
        return np.zeros(len(moments))
    edges = np.array(spans, float)
    lengths = np.concatenate([[0.0], np.cumsum(edges[:, 1] - edges[:, 0])])
    at = np.searchsorted(edges[:, 0], moments, side="right")
    before = lengths[np.maximum(at - 1, 0)]
    inside = np.minimum(moments, edges[np.maximum(at - 1, 0), 1]) - edges[np.maximum(at - 1, 0), 0]
    return np.where(at > 0, before + inside, 0.0)


def overlap_s(low: Floats, high: Floats, spans: Sequence[Span]) -> Floats:
    """Seconds of each stretch that lie within the spans (sorted, disjoint)."""
    return passed_s(spans, high) - passed_s(spans, low)


def busy_totals(trace: Trace, workload: Workload, span: Span) -> dict[str, float]:
    """``busy_h_<person_id>`` of everybody: tasks inside the ordinary windows of work, and a share of moved work undone.

    Worked overtime, what runs past a window's end, upkeep in breaks and calls at night lie outside those windows; work
    in other cells is not counted. Moved work that was asked for and is not done by the end of the span (wherever it is
    done later) is load all the same: it is shared among those who have its skill by their paid hours.
    """
    people, log = workload.plant.people, trace.tasks
    attended = workload.plan.attended
    paid = [
        without(attended, without(attended, windows)) if person.shift == ALWAYS else windows
        for person, windows in zip(people, workload.plan.person, strict=True)
    ]
    row, here = log.person, log.task != ELSEWHERE
    start, end = np.clip(log.start_s, *span), np.clip(log.end_s, *span)
    busy = np.array(
        [float(overlap_s(start[own], end[own], windows).sum())
         for windows, own in ((windows, here & (row == number)) for number, windows in enumerate(paid))]
    )  # fmt: skip
    present = np.array([covered_s(windows, span) for windows in paid])
    busy = busy + _undone_s(trace, workload, span, present)
    return {f"busy_h_{person.person_id}": float(s) / SECONDS_PER_HOUR for person, s in zip(people, busy, strict=True)}


def _undone_s(trace: Trace, workload: Workload, span: Span, present: Floats) -> Floats:
    """Seconds of moved work not done by the end of the span, by person."""
    done: dict[str, float] = {}
    for task, chunks in trace.moved:
        done[task] = done.get(task, 0.0) + covered_s(chunks, (0.0, span[1]))
    found = np.zeros(len(present))
    for task, asked_s in trace.outside_s.items():
        weight = present * np.array([task in person.skills for person in workload.plant.people], float)
        if weight.sum() > 0:
            found += max(asked_s - done.get(task, 0.0), 0.0) * weight / weight.sum()
    return found
