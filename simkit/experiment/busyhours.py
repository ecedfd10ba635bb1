"""Hours that each person is busy in the ordinary week: what labour is weighed by."""

from __future__ import annotations

import numpy as np

from simkit.base.units import SECONDS_PER_HOUR
from simkit.base.vocabulary import ALWAYS
from simkit.cell.people import ELSEWHERE
from simkit.cell.trace import Trace
from simkit.experiment.spans import Floats, covered_s, overlap_s
from simkit.process.shifts import Span, without
from simkit.process.workload import Workload


def busy_totals(trace: Trace, workload: Workload, span: Span) -> dict[str, float]:
    """``busy_h_<person_id>`` of everybody: tasks inside the ordinary windows of work, and a share of moved work undone.

    Worked overtime, what runs past a window's end, care in breaks and calls at night lie outside those windows; work
    in other cells is not counted. Moved work that was asked for and is not done by the end of the span (wherever it is
    done later) is load all the same: it is shared among those who have its skill by their paid hours.
    """
    people, log = workload.plant.people, trace.tasks
    attended = workload.plan.attended
    paid = [
        without(attended, without(attended, windows)) if person.shift == ALWAYS else windows
        for person, windows in zip(people, workload.plan.person, strict=True)
    ]
    row, here = np.array(log.person, np.int64), np.array(log.task, np.int64) != ELSEWHERE
    start, end = np.clip(np.array(log.start_s, float), *span), np.clip(np.array(log.end_s, float), *span)
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
