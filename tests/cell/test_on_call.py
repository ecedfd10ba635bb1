"""People on call, by hand: a stop in an allowed night, the way of 30 minutes, ten minutes of work."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

from simkit.cell.trace import Trace
from simkit.experiment.measures import measure_run
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Stop
from tests.cell.bench_plant import WORKDAYS, machines, order, person, plant, program, run, story, work
from tests.oracle.compare import first_difference
from tests.oracle.plants import workload_of

NIGHT_WINDOW = {"days": WORKDAYS, "start": "14:00", "end": "06:00"}
STOP_AT_H = 9.5
ON_CALL_ROW = 2


def night_plant(calls: int = 1, response: float | None = 30.0, stops_h: tuple[float, ...] = (STOP_AT_H,),
                **changes: Any) -> PlantInputs:  # fmt: skip
    """A day shift to 14:00, unattended until 06:00; one sheet of 30 h; stops after so many running hours."""
    night = {"rule": "allowed", "windows": (NIGHT_WINDOW,), "assessed_by": "a test", "assessed_on": "2026-01-01",
             "on_call_response_min": response, "on_call_calls_per_night": calls}  # fmt: skip
    stop = Stop(cause="stop", exposure="running_hour", rate=1.0, repair_law="sequence", repair_min=10, file="stops.csv")
    built = plant(**{
        "orders": (order("1", "A"),), "programs": (program("A", 30 * 60.0),), "stops": (stop,),
        "people": (person("OP"), person("BE", "bench", "second_person"), person("CALL", "clear", shift="on_call")),
        "calendar": {"night": night}, **changes,
    })  # fmt: skip
    gaps = (*stops_h, 1000.0)
    return dataclasses.replace(built, sequences={"stops.csv": gaps, "stops.csv:repair": (10.0,) * len(gaps)})


def minutes(plant: PlantInputs) -> list[tuple[str, float]]:
    assert first_difference(workload_of(plant)) == ""
    return story(run(plant))


def calls(trace: Trace) -> list[tuple[int, float, float]]:
    log = trace.tasks
    rows = zip(log.called, log.called_s, log.called_until_s, strict=True)
    return [(person, start / 60 - 360, end / 60 - 360) for person, start, end in rows]


def test_a_stop_at_night_is_cleared_after_the_way_and_the_work() -> None:
    built = night_plant()
    assert minutes(built) == [("run", 570.0), ("stopped", 610.0), ("run", 30 * 60 + 40.0)]
    trace = run(built)
    assert calls(trace) == [(ON_CALL_ROW, 570.0, 610.0)]
    assert work(trace, ON_CALL_ROW) == [("clear", 600.0, 610.0)]
    measures = measure_run(trace, workload_of(built))
    assert (measures["on_call_calls"], measures["on_call_h"]) == (1.0, pytest.approx(40 / 60))
    assert measures["night_ended_stop"] == 0.0
    assert measures["person_overrun_h"] == 0.0


def test_without_anybody_on_call_the_stop_waits_for_the_morning() -> None:
    for built in (night_plant(response=None), night_plant(calls=0)):
        assert minutes(built)[:2] == [("run", 570.0), ("stopped", 24 * 60 + 10.0)]
        measures = measure_run(run(built), workload_of(built))
        assert (measures["on_call_calls"], measures["night_ended_stop"]) == (0.0, 1.0)


def test_the_second_stop_of_a_night_waits_when_one_call_is_allowed() -> None:
    twice = (STOP_AT_H, 1.0)
    assert minutes(night_plant(stops_h=twice))[:4] == [
        ("run", 570.0), ("stopped", 610.0), ("run", 670.0), ("stopped", 24 * 60 + 10.0)]  # fmt: skip
    assert minutes(night_plant(calls=2, stops_h=twice))[:4] == [
        ("run", 570.0), ("stopped", 610.0), ("run", 670.0), ("stopped", 710.0)]  # fmt: skip
    measures = measure_run(run(night_plant(stops_h=twice)), workload_of(night_plant(stops_h=twice)))
    assert (measures["on_call_calls"], measures["night_ended_stop"]) == (1.0, 1.0)


def test_nobody_is_called_who_would_come_after_the_night() -> None:
    late = night_plant(stops_h=(23.5,))
    assert minutes(late)[1] == ("stopped", 24 * 60 + 10.0)
    assert calls(run(late)) == []
    assert calls(run(night_plant(stops_h=(23.4,)))) == [(ON_CALL_ROW, 23.4 * 60, 24 * 60 + 4.0)]


def test_by_day_the_stop_is_the_operators() -> None:
    trace = run(night_plant(stops_h=(2.0,)))
    assert calls(trace) == []
    assert work(trace, 0)[-1] == ("clear", 120.0, 130.0)


def test_nobody_is_called_for_work_that_needs_another_skill() -> None:
    built = night_plant(stops_h=(STOP_AT_H,))
    technician = dataclasses.replace(built.stops[0], clears="technician")
    assert calls(run(dataclasses.replace(built, stops=(technician,)))) == []


def test_two_stops_at_once_are_answered_one_after_the_other() -> None:
    """One person on call, two machines: the second stop waits until the person is free, and is called for then."""
    orders = tuple(order(number, "A") for number in "123")  # the first machine commits the second order at once
    built = night_plant(calls=2, stops_h=(9.5, 9.5), orders=orders, machines=machines("XY"))
    trace = run(built)
    assert first_difference(workload_of(built)) == ""
    assert calls(trace)[:2] == [(ON_CALL_ROW, 570.0, 610.0), (ON_CALL_ROW, 610.0, 650.0)]
