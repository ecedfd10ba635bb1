"""Records of nights: hours, sheets, what ended them, what the morning pays; their sums are the measures."""

from __future__ import annotations

import dataclasses

import pytest

from simkit.base.vocabulary import NIGHT_LIMITS
from simkit.cell.run import simulate
from simkit.experiment.measures import measure_run
from simkit.experiment.nights import most_in, night_records, night_table
from simkit.plant.plant import PlantInputs
from tests.cell.bench_plant import WORKDAYS, machines, order, person, plant, program, run
from tests.cell.test_on_call import night_plant
from tests.oracle.plants import workload_of

ALLOWED = {"rule": "allowed", "windows": ({"days": WORKDAYS, "start": "14:00", "end": "06:00"},),
           "assessed_by": "a test", "assessed_on": "2026-01-01"}  # fmt: skip


def unattended(sheets: int, stack: int = 0) -> PlantInputs:
    """Sheets of an hour from 06:00, nobody from 14:00; a bench of one place, 30 minutes a sheet, perhaps a stack."""
    return plant(orders=(order("1", "A", sheets),), programs=(program("A", 60.0),), calendar={"night": ALLOWED},
                 times={"bench": 30.0}, bench={"places": 1}, stack={"places": stack},
                 people=(person("OP"), person("BE", "bench", "second_person")))  # fmt: skip


def test_a_night_ends_when_the_bench_is_full() -> None:
    """The sheet of 14:00 finds the bench free, that of 15:00 taken: the machine is blocked with it from then on."""
    built = unattended(20)
    first = night_records(run(built), workload_of(built))[0]
    assert (first.machine, first.night, first.start_h, first.allowed_h) == ("M1", 0, 14.0, 16.0)
    assert (first.ended_by, first.sheets, first.parts, first.calls) == ("output", 0, 0, 0)
    assert first.running_h == 1.0
    assert first.lost_h == 15.0
    assert (first.bench_sheets, first.stack_sheets) == (1, 0)
    assert first.want == "bench_full"


def test_a_stack_carries_the_night_and_the_morning_pays() -> None:
    built = unattended(20, stack=9)
    first = night_records(run(built), workload_of(built))[0]
    assert (first.sheets, first.ended_by) == (9, "output")
    assert (first.hand_h, first.stack_sheets) == (4.5, 9)
    assert (first.programs, first.materials, first.tools, first.process_h) == (1, 1, 0, first.running_h)
    # bench and stack hold 10 at 06:00, and 1 at 14:00 the day before; the machine's 8 sheets of the day go to the bench
    assert first.worked_off_h > 4.5


def test_a_short_queue_ends_a_night_and_a_call_does_not() -> None:
    built = unattended(10, stack=9)
    first = night_records(run(built), workload_of(built))[0]
    assert (first.ended_by, first.sheets, first.running_h, first.lost_h) == ("queue", 2, 2.0, 14.0)
    called = night_plant()
    night = night_records(run(called), workload_of(called))[0]
    assert (night.calls, night.ended_by, night.lost_h) == (1, "", 0.0)
    assert night.running_h == pytest.approx(16 - 40 / 60)


def test_records_sum_to_the_measures() -> None:
    built = dataclasses.replace(unattended(60, stack=4), machines=machines("XY"))
    work = workload_of(built)
    trace = simulate(work)
    records, measures = night_records(trace, work), measure_run(trace, work)
    assert len(records) == measures["nights"]
    assert sum(record.running_h for record in records) == pytest.approx(measures["night_running_h"])
    for limit in NIGHT_LIMITS:
        assert sum(record.ended_by == limit for record in records) == measures[f"night_ended_{limit}"]
        lost = sum(record.lost_h for record in records if record.ended_by == limit)
        assert lost == pytest.approx(measures[f"night_lost_{limit}_h"])


def test_work_left_at_the_end_of_a_shift_ends_the_night_before_it_began() -> None:
    """Two hours of fixed work, sheets to 13:00, fixed work again: half is left at 14:00, and nobody comes."""
    built = plant(orders=(order("1", "A", 5), order("2", "A")), programs=(program("A", 60.0),),
                  times={"fixed": 120.0, "bench": 1.0}, calendar={"night": ALLOWED})  # fmt: skip
    first = night_records(run(built), workload_of(built))[0]
    assert (first.ended_by, first.want, first.running_h, first.lost_h) == ("material", "left_by_shift", 0.0, 16.0)


def test_a_table_of_nights_holds_them_all() -> None:
    built = dataclasses.replace(unattended(60, stack=4), machines=machines("XY"))
    work = workload_of(built)
    trace = simulate(work)
    nights, records = night_table(trace, work), night_records(trace, work)
    assert [tuple(row) for row in nights.tolist()] == [tuple(record) for record in records]
    assert set(nights["machine"]) == {"X", "Y"}
    assert nights["most_stack_sheets"].max() == 4


def test_the_highest_level_of_a_span_counts_what_it_begins_with() -> None:
    level = [(0.0, 1), (10.0, 3), (20.0, 0), (30.0, 5)]
    assert most_in(level, (12.0, 25.0)) == 3
    assert most_in(level, (21.0, 30.0)) == 0
    assert most_in(level, (21.0, 31.0)) == 5
    assert most_in([], (0.0, 9.0)) == 0


def test_no_nights_no_records() -> None:
    built = plant()
    assert night_records(run(built), workload_of(built)) == ()


def test_a_sheet_that_never_goes_to_the_stack_does_not_end_a_night_for_a_full_one() -> None:
    """The stack is kept for programs handed over to it; this program's sheets find the bench full."""
    built = plant(orders=(order("1", "A", 20),), programs=(program("A", 60.0),), calendar={"night": ALLOWED},
                  times={"bench": 30.0}, bench={"places": 1}, stack={"places": 9, "use": "by_program"},
                  people=(person("OP"), person("BE", "bench", "second_person")))  # fmt: skip
    first = night_records(run(built), workload_of(built))[0]
    assert (first.ended_by, first.want, first.stack_sheets) == ("output", "bench_full", 0)
