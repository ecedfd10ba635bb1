"""Absence: whole shifts that a person misses, by luck of (person, day) that all scenarios share."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from simkit.base.vocabulary import ALWAYS
from simkit.plant.plant import Plant
from simkit.plant.tables import Person
from simkit.process.draws import Draws
from simkit.process.shifts import ShiftPlan, Span, without


def with_absences(plan: ShiftPlan, plant: Plant, draws: Draws) -> ShiftPlan:
    """The calendar without the shifts that people miss (of those who are always there: whole days).

    A person whose ``absence_share`` is a misses each shift with chance a, by one uniform number per day on which the
    shift starts; a larger share misses the same shifts and more. On such a day the person works no overtime either; on
    a day without a shift, overtime is missed by that day's number.
    """
    if not any(person.absence_share for person in plant.people):
        return plan
    rows = [(person, _absent_days(person, plan, draws)) for person in plant.people]
    found = zip(rows, plan.person, strict=True)
    return replace(
        plan,
        person=tuple(without(windows, _missed(person, days, plan)) for (person, days), windows in found),
        person_absent=tuple(days for _, days in rows),
    )


def _absent_days(person: Person, plan: ShiftPlan, draws: Draws) -> frozenset[int]:
    luck = draws.uniform(f"absence:{person.person_id}", len(plan.day_start) - 1)
    return frozenset(np.flatnonzero(luck < person.absence_share).tolist())


def _missed(person: Person, absent: frozenset[int], plan: ShiftPlan) -> list[Span]:
    last = len(plan.day_start) - 2
    if person.shift == ALWAYS:
        spans = list(zip(plan.day_start, plan.day_start[1:], strict=False))
    else:
        spans = [(a, b) for name, a, b in plan.shift_spans if name == person.shift]
    return [span for span in spans if min(plan.day_of(span[0]), last) in absent]
