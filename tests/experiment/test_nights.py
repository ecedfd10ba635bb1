"""Records of nights: hours, sheets, what ended them, what the morning pays; their sums are the measures."""

from __future__ import annotations

import dataclasses

import pytest

from simkit.base.vocabulary import NIGHT_LIMITS
from simkit.cell.run import simulate
from simkit.experiment.measures import measure_run
from simkit.experiment.nightcounts import is_of_night, night_rows, night_totals, night_units
from simkit.experiment.nights import night_records
from simkit.experiment.results import unit_of
from simkit.plant.plant import Plant
from tests.cell.bench_plant import WORKDAYS, machines, order, person, plant, program, run
from tests.cell.test_on_call import night_plant
from tests.oracle.plants import workload_of

ALLOWED = {"rule": "allowed", "windows": ({"days": WORKDAYS, "start": "14:00", "end": "06:00"},),
           "assessed_by": "a test", "assessed_on": "2026-01-01"}  # fmt: skip


def unattended(sheets: int, stack: int = 0) -> Plant:
    """Sheets of an hour from 06:00, nobody from 14:00; a bench of one place, 30 minutes a sheet, perhaps a stack."""
    return plant(orders=(order("1", "A", sheets),), programs=(program("A", 60.0),), calendar={"night": ALLOWED},
                 times={"bench": 30.0}, bench={"places": 1}, stack={"places": stack},
                 people=(person("OP"), person("BE", "bench", "second_person")))  # fmt: skip


def test_a_night_ends_when_the_bench_is_full() -> None:
    """The sheet of 14:00 finds the bench free, that of 15:00 taken: the machine is blocked with it from then on."""
    built = unattended(20)
    first = night_records(run(built), workload_of(built))[0]
    assert (first.machine, first.start_h, first.end_h) == ("M1", 14.0, 30.0)
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


def test_nights_travel_as_flat_totals() -> None:
    built = dataclasses.replace(unattended(60, stack=4), machines=machines("XY"))
    work = workload_of(built)
    records = night_records(simulate(work), work)
    rows = list(night_rows(night_totals(records, ["X", "Y"])))
    assert [(row.ended_by, row.want, row.lost_h) for row in rows] == [(r.ended_by, r.want, r.lost_h) for r in records]
    assert [row.amounts["running_h"] for row in rows] == [record.running_h for record in records]
    assert {row.machine for row in rows} == {0, 1}
    assert all(is_of_night(name) for name in night_totals(records, ["X", "Y"]))
    units = night_units()
    assert unit_of("lost_h_of_night_0.3.stop.jam", units) == "h"
    assert (unit_of("sheets_of_night_1.12", units), unit_of("sheets", units)) == ("sheets", "sheets")


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
