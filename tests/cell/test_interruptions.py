"""Who may interrupt what, by hand: one person at the bench and at the machine."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from simkit.experiment.measures import measure_run
from simkit.plant.plant import PlantInputs
from simkit.plant.settings import People
from simkit.plant.tables import Stop
from tests.cell.bench_plant import order, person, plant, run, work
from tests.invariants.test_calendar_edges import NIGHT
from tests.oracle.compare import first_difference
from tests.oracle.plants import workload_of


def one_person(*pairs: str, **changes: Any) -> PlantInputs:
    """Sheets of 10 minutes, 30 minutes of bench work each, loaded in 2 minutes by the same person."""
    changes = {"orders": (order("1", "A", 3),), "people": (person("OP"),), "bench": {"places": 3}} | changes
    built = plant(times={"load": 2.0, "bench": 30.0}, people_rules={"may_interrupt": pairs}, **changes)
    assert first_difference(workload_of(built)) == ""
    return built


def test_without_a_pair_the_machine_waits_for_the_bench() -> None:
    assert work(run(one_person()), 0)[:4] == [
        ("load", 0.0, 2.0), ("load", 12.0, 14.0), ("bench", 14.0, 44.0), ("load", 44.0, 46.0)]  # fmt: skip


def test_loading_may_interrupt_the_bench_whose_rest_waits() -> None:
    """The first sheet is out at 12; the second is asked for at once, so it goes first; from 14 the bench, until 24."""
    rows = work(run(one_person("load > bench")), 0)
    assert rows == [
        ("load", 0.0, 2.0), ("load", 12.0, 14.0), ("bench", 14.0, 24.0), ("load", 24.0, 26.0), ("bench", 26.0, 46.0),
        ("bench", 46.0, 76.0), ("bench", 76.0, 106.0)]  # fmt: skip


def test_the_less_urgent_task_never_interrupts() -> None:
    assert work(run(one_person("bench > load")), 0) == work(run(one_person()), 0)


def test_a_stop_takes_a_person_from_the_bench_and_nobody_is_taken_while_somebody_is_free() -> None:
    stop = Stop(cause="stop", exposure="running_hour", rate=1e-9, repair_min=1)
    listed = Stop(cause="listed", exposure="running_hour", rate=1.0, repair_law="sequence", repair_min=5, file="s.csv")
    changes = {"stops": (stop, listed), "sequences": {"s.csv": (0.3, 99.0), "s.csv:repair": (5.0, 5.0)}}
    alone = one_person("clear > bench", **changes)
    assert work(run(alone), 0)[:3] == [("load", 0.0, 2.0), ("load", 12.0, 14.0), ("bench", 14.0, 22.0)]
    assert work(run(alone), 0)[3][:2] == ("clear", 22.0)
    two = one_person("clear > bench", people=(person("OP"), person("TWO", "clear")), **changes)
    assert work(run(two), 1) == [("clear", 22.0, 27.0)]


def test_who_cannot_be_taken_past_the_end_of_the_day_works_over_for_that_time_only() -> None:
    """Bench by finish from 475 to 505 of a day of 480: a stop at 490 finds the person gone; 25 min are overrun."""
    listed = Stop(cause="listed", exposure="running_hour", rate=1.0, repair_law="sequence", repair_min=5, file="s.csv")
    built = plant(
        times={"fixed": 465.0, "bench": 30.0},
        orders=(order("1", "A", 2),),
        people=(person("OP"),),
        people_rules={"may_interrupt": ("clear > bench",), "break_rules": {"bench": "finish"}},
        calendar={"night": NIGHT},
        stops=(listed,),
        sequences={"s.csv": (0.25, 99.0), "s.csv:repair": (5.0,)},
    )
    assert work(run(built), 0)[1:3] == [("bench", 475.0, 505.0), ("clear", 1440.0, 1445.0)]
    assert measure_run(run(built), workload_of(built))["person_overrun_h"] == pytest.approx(25 / 60)


def test_who_works_through_a_break_can_be_taken_when_it_is_over() -> None:
    """Bench by finish from 235 to 265, break from 240 to 255: a stop at 243 waits until 255, the last 10 min of the
    bench until 260."""
    listed = Stop(cause="listed", exposure="running_hour", rate=1.0, repair_law="sequence", repair_min=5, file="s.csv")
    built = plant(
        times={"fixed": 225.0, "bench": 30.0},
        orders=(order("1", "A", 2),),
        people=(person("OP"),),
        people_rules={"may_interrupt": ("clear > bench",), "break_rules": {"bench": "finish"}},
        breaks=(("10:00", "10:15"),),
        stops=(listed,),
        sequences={"s.csv": (0.3, 99.0), "s.csv:repair": (5.0,)},
    )
    assert work(run(built), 0)[1:4] == [("bench", 235.0, 255.0), ("clear", 255.0, 260.0), ("bench", 260.0, 270.0)]
    assert first_difference(workload_of(built)) == ""


@pytest.mark.parametrize("pair", ["clear", "clear > lunch", "bench > rush", "bench > bench"])
def test_what_is_not_two_tasks_is_refused(pair: str) -> None:
    with pytest.raises(ValidationError, match="is not two tasks"):
        People(may_interrupt=(pair,))


def test_blanks_in_a_pair_do_not_matter() -> None:
    assert People(may_interrupt=("clear>bench",)).may_interrupt == ("clear > bench",)
