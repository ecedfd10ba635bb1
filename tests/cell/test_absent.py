"""Who misses a shift misses the overtime of that day, in the cell."""

from __future__ import annotations

import dataclasses
from typing import Any

from simkit.cell.run import simulate
from simkit.experiment.measures import measure_run
from simkit.plant.settings import WeeklyWindow
from simkit.plant.tables import Person
from simkit.process.workload import Workload
from tests.cell.bench_plant import OPEN, machines, order, person, plant, work
from tests.invariants.legal import check_all
from tests.oracle.compare import first_difference
from tests.oracle.plants import workload_of

DAY = 24 * 60.0


def absent_on(days: set[int], *others: Person, listed: tuple[str, ...] = (), **changes: Any) -> Workload:
    """Sheets of 10 min loaded in 5 by one person who is missing on just these of two days; overtime 14:00 to 16:00."""
    person_away = dataclasses.replace(person("OP"), absence_share=0.5)
    extra = {"overtime": (WeeklyWindow(days=("Mon", "Tue"), start="14:00", end="16:00"),), "overtime_people": listed}
    cell = {"orders": (order("1", "A", 70),), "rules": {"overtime_cap_h_per_week": 50.0}, **changes}
    built = plant(people=(person_away, person("BE", "bench"), *others), times={"load": 5.0},
                  overflow={"overtime": True}, calendar=extra, **cell)  # fmt: skip
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


MON, TUE = ((OPEN + hour * 3600, OPEN + (hour + 2) * 3600) for hour in (8, 32))
PAIR = {"machines": machines("AB"), "orders": (order("1", "A", 70), order("2", "A", 70))}


def test_with_two_machines_the_listed_crew_decides_whether_overtime_is_worked() -> None:
    """OP alone is listed and absent on Monday: TWO is there by day, but nobody comes at 14:00, so nothing is worked.

    With TWO on the list, too, TWO comes alone on Monday and both on Tuesday.
    """
    two = person("TWO")
    alone = absent_on({0}, two, listed=("OP",), **PAIR)
    assert simulate(alone).overtime_spans[0] == TUE
    both = absent_on({0}, two, listed=("OP", "TWO"), **PAIR)
    trace = simulate(both)
    assert trace.overtime_spans[0] == MON
    assert trace.overtime_spans[1][0] == TUE[0]
    assert [row[0] for row in work(trace, 0) if 480 <= row[1] < 600] == []
    assert [row[0] for row in work(trace, 2) if 480 <= row[1] < 600] != []


def test_overtime_that_nobody_works_is_neither_counted_nor_uses_up_the_cap() -> None:
    """A cap of 2 h a week: Monday's 2 h fall out with the crew, so that Tuesday's are still worked."""
    cap = {"rules": {"overtime_cap_h_per_week": 2.0}}
    found = absent_on({0}, listed=("OP",), **{**PAIR, **cap})
    trace = simulate(found)
    week = [span for span in trace.overtime_spans if span[0] < 7 * DAY * 60]
    assert week == [TUE]
    measures = measure_run(trace, found)
    assert measures["overtime_h"] == sum(b - a for a, b in trace.overtime_spans) / 3600
    present = simulate(absent_on({1}, listed=("OP",), **{**PAIR, **cap}))
    assert [span for span in present.overtime_spans if span[0] < 7 * DAY * 60] == [MON]
