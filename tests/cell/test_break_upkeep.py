"""Care planned in a break: whose break it is, and that the break is taken all the same, by hand."""

from __future__ import annotations

import dataclasses
from typing import Any

from simkit.cell.breakupkeep import break_after
from simkit.experiment.measures import measure_run
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Upkeep
from tests.cell.bench_plant import machines, order, person, plant, program, run, story, work
from tests.invariants.legal import check_all
from tests.oracle.compare import first_difference
from tests.oracle.plants import workload_of

BREAK = (("09:00", "09:15"),)
"""From minute 180 to 195."""
CARE = Upkeep(task="bin", exposure="sheet", interval=3, duration_min=4, planned_in_break=True)


def built(care: Upkeep = CARE, **changes: Any) -> PlantInputs:
    """Sheets of 10 min, loaded in 5; care is due after three of them, at 45, and planned into the break."""
    found = plant(**{"orders": (order("1", "A", 6),), "people": (person("OP"),), "times": {"load": 5.0},
                     "breaks": BREAK, "upkeep": (care,), **changes})  # fmt: skip
    assert first_difference(workload_of(found)) == ""
    check_all(run(found), workload_of(found))
    return found


def care_of(trace: Any, row: int = 0) -> list[tuple[float, float]]:
    return [(start, end) for task, start, end in work(trace, row) if task == "upkeep"]


def test_a_break_is_later_by_what_the_care_took_of_it() -> None:
    assert break_after(195.0, 180.0, 184.0) == 199.0
    assert break_after(195.0, 190.0, 199.0) == 204.0, "five minutes of it were taken"
    assert break_after(195.0, 197.0, 199.0) == 199.0, "none was"


def test_care_waits_for_the_break_and_the_break_is_taken_after_it() -> None:
    """Due at 45, done from 180 to 184; the break of 15 min is over at 199, and only then is the next sheet loaded."""
    trace = run(built(orders=(order("1", "A", 20),), upkeep=(dataclasses.replace(CARE, interval=12),)))
    assert care_of(trace)[0] == (180.0, 184.0)
    assert [row for row in work(trace, 0) if row[1] >= 180][:2] == [("upkeep", 180.0, 184.0), ("load", 199.0, 204.0)]
    assert ("waiting_person", 199.0) in story(trace)
    without = run(built(orders=(order("1", "A", 20),), upkeep=()))
    assert ("load", 195.0, 200.0) in work(without, 0)


def test_it_is_done_only_in_the_break_even_if_the_person_is_idle_before() -> None:
    trace = run(built())
    assert care_of(trace) == [(180.0, 184.0)]
    assert measure_run(trace, workload_of(built()))["person_overrun_h"] == 0.0
    assert story(trace)[-1] == ("run", 90.0), "the machine has not waited for it"


def test_two_pieces_in_one_break_follow_each_other() -> None:
    """4 and 4 min: done by 188; the break is over at 203."""
    often = dataclasses.replace(CARE, interval=9)
    two = (often, dataclasses.replace(often, task="filter"))
    trace = run(built(upkeep=two, orders=(order("1", "A", 3), order("2", "A", 20))))
    assert care_of(trace)[:2] == [(180.0, 184.0), (184.0, 188.0)]
    assert next(row for row in work(trace, 0) if row[1] >= 188) == ("load", 203.0, 208.0)


def test_two_people_with_one_break_share_the_care_of_two_machines() -> None:
    crew = (person("OP"), person("TWO"))
    rows = (order("1", "A", 4), order("2", "A", 4))
    trace = run(built(machines=machines("ab"), orders=rows, people=crew))
    assert (care_of(trace, 0), care_of(trace, 1)) == ([(180.0, 184.0)], [(180.0, 184.0)])


def test_who_finishes_work_into_the_break_does_it_then() -> None:
    """Loading of 40 min is finished first: 150 to 190; care until 194 takes four minutes of the break, over at 199."""
    trace = run(built(times={"load": 40.0}, upkeep=(dataclasses.replace(CARE, interval=2),)))
    rows = work(trace, 0)
    assert rows[:4] == [("load", 0.0, 40.0), ("load", 50.0, 90.0), ("load", 100.0, 140.0), ("load", 150.0, 190.0)]
    assert rows[4:6] == [("upkeep", 190.0, 194.0), ("load", 200.0, 240.0)]


def test_who_cares_in_a_break_is_not_taken_from_it_by_what_may_interrupt_preparation() -> None:
    """20 min from 180: the break is over at 195, machine b asks for a sheet at 197, care lasts until 200.

    All 15 min of the break went into it, so they are taken after it, and the sheet is loaded at 215.
    """
    trace = run(built(
        upkeep=(dataclasses.replace(CARE, duration_min=20),), people_rules={"may_interrupt": ("load > preparation",)},
        machines=machines("ab"), programs=(program("A", 10.0), program("L", 187.0)), program_parts=(),
        orders=(order("1", "A", 6), order("2", "L", 2)),
    ))  # fmt: skip
    assert ("run", 197.0) in story(trace, 1)
    assert [row for row in work(trace, 0) if row[1] >= 180] == [("upkeep", 180.0, 200.0), ("load", 215.0, 220.0)]


def test_somebody_on_duty_does_not_do_what_is_another_ones_break() -> None:
    """TWO is at work all day, cannot care for the machine, and has no break of this care; OP's break it is."""
    crew = (person("TWO", "load", "unload", "changeover", "material"), person("OP", "upkeep"))
    trace = run(built(people=crew))
    assert (care_of(trace, 0), care_of(trace, 1)) == ([], [(180.0, 184.0)])


def test_after_the_last_break_of_the_calendar_it_is_moved_work() -> None:
    """Without any break somebody does it when due, after all else: at 45 the sheet is loaded first."""
    trace = run(built(breaks=()))
    assert care_of(trace) == [(50.0, 54.0)]


def test_who_misses_the_shift_has_no_break_in_it() -> None:
    crew = (dataclasses.replace(person("OP"), absence_share=1.0), person("TWO"))
    trace = run(built(people=crew))
    assert (care_of(trace, 0), care_of(trace, 1)) == ([], [(180.0, 184.0)])
