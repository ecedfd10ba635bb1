"""How much of some stretches of time lies within others."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from simkit.cell.trace import Trace
from simkit.process.shifts import Span
from simkit.process.workload import Workload

Floats = NDArray[np.float64]


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
