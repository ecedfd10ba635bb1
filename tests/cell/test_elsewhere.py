"""Work in other cells, by hand: left for when nothing waits here, or called to by chance."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

from simkit.cell.elsewhere import Elsewhere
from simkit.cell.people import ELSEWHERE
from simkit.cell.trace import Trace
from simkit.experiment.measures import measure_run
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Person
from tests.cell.bench_plant import MINUTE, OPEN, order, person, plant, run, work
from tests.oracle.compare import first_difference
from tests.oracle.plants import workload_of
from tests.small_plant import small_plant


def shared(sheets: int = 2, calls_per_h: float | None = None, minutes: float = 7.0, **changes: Any) -> PlantInputs:
    """Sheets of 10 minutes, loaded in 2 by the only person, who works elsewhere too."""
    setter = dataclasses.replace(person("SET"), elsewhere_min=minutes, elsewhere_per_h=calls_per_h)
    built = plant(orders=(order("1", "A", sheets),), times={"load": 2.0}, people=(setter,), **changes)
    assert first_difference(workload_of(built)) == ""
    return built


def away(trace: Trace) -> list[tuple[float, float]]:
    """Minutes from 06:00 of the person's pieces of work elsewhere."""
    tasks = trace.tasks
    rows = zip(tasks.task, tasks.start_s, tasks.end_s, strict=True)
    return [((a - OPEN) / MINUTE, (b - OPEN) / MINUTE) for task, a, b in rows if task == ELSEWHERE]


def test_who_has_nothing_to_do_here_leaves_and_is_not_called_back() -> None:
    """The second sheet is asked for at 12, in the middle of the second piece of 7 minutes."""
    trace = run(shared())
    assert work(trace, 0) == [("load", 0.0, 2.0), ("load", 16.0, 18.0)]
    assert away(trace)[:3] == [(2.0, 9.0), (9.0, 16.0), (18.0, 25.0)]


def test_what_waits_here_goes_first_on_return() -> None:
    """Bench work waits all the time: the person never leaves before it is done."""
    built = plant(orders=(order("1", "A", 3),), times={"bench": 30.0}, bench={"places": 9},
                  people=(dataclasses.replace(person("SET"), elsewhere_min=5.0),))  # fmt: skip
    trace = run(built)
    assert work(trace, 0) == [("bench", 10.0, 40.0), ("bench", 40.0, 70.0), ("bench", 70.0, 100.0)]
    assert away(trace)[:3] == [(0.0, 5.0), (5.0, 10.0), (100.0, 105.0)]


def test_a_piece_of_work_ends_with_the_persons_window() -> None:
    trace = run(shared(sheets=1, minutes=100.0, breaks=(("07:00", "07:15"),), run={"horizon_s": 16 * 3600.0}))
    assert away(trace)[:3] == [(2.0, 60.0), (75.0, 175.0), (175.0, 275.0)]
    assert away(trace)[-1] == (475.0, 480.0)


def test_who_can_do_what_waits_for_a_second_person_stays() -> None:
    """A heavy sheet waits from 06:00 for two people; the helper comes at 07:00."""
    lifter = dataclasses.replace(person("LIFT", "load"), elsewhere_min=7.0)
    helper = Person(person_id="HELP", skills=("second_person",), shift="day", duties="Mon-Fri 06:00-07:00")
    built = plant(orders=(order("1", "A"),), times={"load": 2.0}, people=(lifter, helper),
                  machine={"one_person_kg": 1.0})  # fmt: skip
    trace = run(built)
    assert work(trace, 0) == [("load", 60.0, 62.0)]
    assert away(trace)[0][0] == 62.0
    assert first_difference(workload_of(built)) == ""


def test_calls_take_the_person_when_free_and_as_urgently_as_a_stop() -> None:
    """No other work: each call is answered at once, or when the one before is done."""
    built = shared(calls_per_h=3.0, minutes=20.0, run={"horizon_s": 14 * 3600.0})
    built = dataclasses.replace(built, orders=(order("1", "A", day=1),))
    work_of = workload_of(built)
    calls = list(Elsewhere(built.people, work_of.draws).calls(0, work_of.plan.person[0]))
    expected, free = [], 0.0
    for call in ((moment - OPEN) / MINUTE for moment in calls if moment < 14 * 3600.0):
        free = max(call, free) + 20.0
        expected.append((free - 20.0, min(free, 480.0)))
    found = away(run(built))
    assert len(found) > 5
    assert found == [pytest.approx(span) for span in expected if span[0] < 480.0]


def test_calls_come_in_hours_at_work_and_as_often_as_said() -> None:
    people = (Person(person_id="S", skills=("clear",), shift="early", elsewhere_min=5, elsewhere_per_h=4.0),)
    work_of = workload_of(small_plant(people=people, run={"weeks": 20.0}))
    windows = work_of.plan.person[0]
    calls = list(Elsewhere(people, work_of.draws).calls(0, windows))
    assert all(any(a <= moment < b for a, b in windows) for moment in calls)
    hours = sum(b - a for a, b in windows) / 3600
    assert len(calls) / hours == pytest.approx(4.0, rel=4 / (4.0 * hours) ** 0.5)


def test_hours_elsewhere_are_counted_apart() -> None:
    built = shared(run={"horizon_s": 7 * 3600.0})
    measures = measure_run(run(built), workload_of(built))
    assert measures["person_elsewhere_h"] == pytest.approx((60 - 4) / 60)
    assert measures["person_busy_h"] == pytest.approx(4 / 60)


def test_nobody_leaves_without_a_length_or_with_no_calls() -> None:
    for minutes, calls in ((0.0, None), (7.0, 0.0)):
        assert away(run(shared(minutes=minutes, calls_per_h=calls))) == []
