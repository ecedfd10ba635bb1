"""Who misses a shift misses the overtime of that day, in the cell."""

from __future__ import annotations

import dataclasses

from simkit.cell.run import simulate
from simkit.experiment.measures import measure_run
from simkit.plant.settings import Window
from simkit.process.workload import Workload
from tests.cell.bench_plant import OPEN, order, person, plant, work
from tests.invariants.legal import check_all
from tests.oracle.compare import first_difference
from tests.oracle.plants import workload_of

DAY = 24 * 60.0


def absent_on(days: set[int]) -> Workload:
    """Sheets of 10 min loaded in 5 by one person who is missing on just these of two days; overtime 14:00 to 16:00."""
    person_away = dataclasses.replace(person("OP"), absence_share=0.5)
    extra = {"overtime": (Window(days=("Mon", "Tue"), start="14:00", end="16:00"),)}
    built = plant(orders=(order("1", "A", 70),), people=(person_away, person("BE", "bench")), times={"load": 5.0},
                  rules={"overtime_cap_h_per_week": 50.0}, overflow={"overtime": True}, calendar=extra)  # fmt: skip
    for replication in range(50):
        found = workload_of(built, replication=replication)
        if found.plan.person_absent[0] & {0, 1} == days:
            assert first_difference(found) == ""
            return found
    raise AssertionError("no such replication")


def test_nobody_who_is_absent_works_overtime_that_day() -> None:
    """Monday is missed: its overtime is called, but nobody comes to the machine, so it is not worked, paid or counted.

    The first sheet is loaded on Tuesday, and Tuesday's overtime is worked.
    """
    found = absent_on({0})
    trace = simulate(found)
    called = [decision.window for decision in trace.decisions]
    assert called[:2] == [(OPEN + 8 * 3600, OPEN + 10 * 3600), (OPEN + 32 * 3600, OPEN + 34 * 3600)]
    assert trace.overtime_spans[0] == called[1]
    rows = [row for row in work(trace, 0) if row[2] <= 2 * DAY]
    assert rows[0] == ("load", DAY, DAY + 5)
    assert max(end for *_, end in rows) > DAY + 480
    check_all(trace, found)


def test_the_other_way_round_the_first_day_is_worked_with_its_overtime() -> None:
    rows = [row for row in work(simulate(absent_on({1})), 0) if row[2] <= 2 * DAY]
    assert rows[0] == ("load", 0.0, 5.0)
    assert 480 < max(end for *_, end in rows) <= 605


def test_hours_at_work_are_counted_without_the_overtime_missed() -> None:
    """Of Monday and Tuesday 10 h each with overtime: the busy share is of one day's, for two people of the shift."""
    found = absent_on({0})
    trace = simulate(found)
    measures = measure_run(trace, found)
    plan = found.plan
    windows = sum(b - a for row in (0, 1) for a, b in plan.person[row] if a < found.span_s)
    worked = [w for row in (0, 1) for w in trace.overtime_spans if plan.works_overtime(row, w)]
    hours = (windows + sum(b - a for a, b in worked if a < found.span_s)) / 3600
    assert measures["people_utilisation"] * hours == measures["person_busy_h"]
