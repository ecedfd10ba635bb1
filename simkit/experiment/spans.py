"""How much of some stretches of time lies within others."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simkit.process.shifts import Span

Floats = NDArray[np.float64]


def covered_s(spans: tuple[Span, ...], span: Span) -> float:
    """Seconds of the spans (disjoint) that lie within one span."""
    return sum(max(min(end, span[1]) - max(start, span[0]), 0.0) for start, end in spans)


def overlap_s(low: Floats, high: Floats, spans: tuple[Span, ...]) -> Floats:
    """Seconds of each stretch that lie within the spans (sorted, disjoint)."""
    if not spans:
        return np.zeros(len(low))
    edges = np.array(spans)
    lengths = np.concatenate([[0.0], np.cumsum(edges[:, 1] - edges[:, 0])])

    def covered(moment: Floats) -> Floats:
        at = np.searchsorted(edges[:, 0], moment, side="right")
        before = lengths[np.maximum(at - 1, 0)]
        inside = np.minimum(moment, edges[np.maximum(at - 1, 0), 1]) - edges[np.maximum(at - 1, 0), 0]
        return np.where(at > 0, before + inside, 0.0)

    return covered(high) - covered(low)
