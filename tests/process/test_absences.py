"""Absence: whole shifts, the same in all scenarios, more with a larger share."""

from __future__ import annotations

import dataclasses

import pytest

from simkit.plant.plant import ScenarioInputs
from simkit.plant.tables import Person
from simkit.process.draws import make_draws
from simkit.process.shifts import ShiftPlan, plan_shifts
from simkit.process.workload import make_workload, with_absences
from tests.small_plant import small_plant

HOUR = 3600.0


def plan_with(share: float, seed: int = 1, weeks: float = 8) -> ShiftPlan:
    """The small plant's calendar with an early person of that share, and one who is always there."""
    people = (Person(person_id="A", skills=("load",), shift="early", absence_share=share),
              Person(person_id="B", skills=("load",), shift="always", absence_share=share))  # fmt: skip
    plant = small_plant(people=people, run={"weeks": weeks})
    draws = make_draws(plant, seed, 0)
    return with_absences(plan_shifts(plant, draws.days), plant, draws)


def days_at_work(plan: ShiftPlan, row: int) -> set[int]:
    return {plan.day_of(start) for start, _ in plan.person[row]}


def test_a_shift_is_missed_as_a_whole() -> None:
    whole, some = plan_with(0.0), plan_with(0.3)
    kept = days_at_work(some, 0)
    assert set(some.person[0]) < set(whole.person[0])
    assert some.person[0] == tuple(span for span in whole.person[0] if whole.day_of(span[0]) in kept)
    assert 0 < len(kept) < len(days_at_work(whole, 0))


def test_a_larger_share_misses_the_same_days_and_more() -> None:
    few, many = plan_with(0.1), plan_with(0.5)
    assert days_at_work(many, 0) < days_at_work(few, 0)
    assert plan_with(1.0).person == ((), ())


def test_about_that_share_of_shifts_is_missed_and_each_person_has_luck_of_its_own() -> None:
    plan = plan_with(0.25, weeks=20)
    spans = [b - a for a, b in plan.person[1]]
    total = plan.day_start[-1]
    assert sum(spans) / total == pytest.approx(0.75, abs=0.15)
    assert sum(spans) % (24 * HOUR) == 0
    assert days_at_work(plan, 0) != days_at_work(plan, 1)


def test_all_scenarios_miss_the_same_shifts() -> None:
    plant = small_plant()
    absent = tuple(dataclasses.replace(person, absence_share=0.4) for person in plant.people)
    today = dataclasses.replace(plant, people=absent)
    other = dataclasses.replace(today, settings=today.settings.model_copy(update={
        "rules": today.settings.rules.model_copy(update={"dispatch": "due"})}))  # fmt: skip
    draws = make_draws(today, 3, 0)
    plans = []
    for changed in (today, other):
        scenario = ScenarioInputs("x", changed)
        plans.append(make_workload(scenario, draws).plan.person)
    assert plans[0] == plans[1] != plan_shifts(today, draws.days).person


def test_without_a_share_the_calendar_is_the_same_object() -> None:
    plant = small_plant()
    draws = make_draws(plant, 1, 0)
    plan = plan_shifts(plant, draws.days)
    assert with_absences(plan, plant, draws) is plan


def test_who_is_absent_works_no_overtime_that_day() -> None:
    plan = plan_with(0.5)
    absent, at_work = plan.person_absent[0], days_at_work(plan, 0)
    evenings = [(day, (plan.day_start[day] + 14 * HOUR, plan.day_start[day] + 18 * HOUR)) for day in plan.open_days]
    assert {day for day, window in evenings if plan.works_overtime(0, window)} == at_work
    saturdays = [(day, (plan.day_start[day] + 6 * HOUR, plan.day_start[day] + 10 * HOUR)) for day in range(5, 56, 7)]
    worked = {day for day, window in saturdays if plan.works_overtime(0, window)}
    assert worked == {day for day, _ in saturdays} - absent
    assert 0 < len(worked) < len(saturdays)


def test_a_shift_that_does_not_work_overtime_never_does_and_nobody_is_absent_without_a_share() -> None:
    plan = plan_shifts(small_plant(), 7)
    assert [plan.works_overtime(row, (5 * 24 * HOUR, 6 * 24 * HOUR)) for row in range(4)] == [True, False, True, False]
