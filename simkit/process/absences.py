"""Absence: whole shifts that a person misses, by luck of (person, day) that all scenarios share."""

from __future__ import annotations

from dataclasses import replace

from simkit.base.vocabulary import ALWAYS
from simkit.plant.plant import Plant
from simkit.plant.tables import Person
from simkit.process.draws import Draws
from simkit.process.shifts import ShiftPlan, Span, without


def with_absences(plan: ShiftPlan, plant: Plant, draws: Draws) -> ShiftPlan:
    """The calendar without the shifts that people miss (of those who are always there: whole days).

    A person whose ``absence_share`` is a misses each shift with chance a, by one uniform number per day on which the
    shift starts; a larger share misses the same shifts and more. Overtime windows are not missed.
    """
    if not any(person.absence_share for person in plant.people):
        return plan
    people = zip(plant.people, plan.person, strict=True)
    return replace(plan, person=tuple(without(windows, _missed(person, plan, draws)) for person, windows in people))


def _missed(person: Person, plan: ShiftPlan, draws: Draws) -> list[Span]:
    days = len(plan.day_start) - 1
    luck = draws.uniform(f"absence:{person.person_id}", days)
    if person.shift == ALWAYS:
        spans = list(zip(plan.day_start, plan.day_start[1:], strict=False))
    else:
        spans = [(a, b) for name, a, b in plan.shift_spans if name == person.shift]
    return [span for span in spans if luck[min(plan.day_of(span[0]), days - 1)] < person.absence_share]
