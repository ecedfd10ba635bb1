"""Hours of programs and families, and where the motion differs from the rows, on the small plant by hand."""

from __future__ import annotations

import dataclasses

import pytest

from simkit.analysis.sheet_times import (
    family_times,
    has_motion,
    most_hours,
    program_times,
)
from tests.small_plant import small_plant

P1_S = 300 * 0.33 + 3 * 2.2 + 6 + 5 + 9000 / 11000 * 60 + 12 * 0.3 + 12 * 1.2
P2_S = 200 * 0.33 + 20 * 0.6 + 3 * 2.2 + 5 + 6000 / 10000 * 60 + 20 * 0.3 + 20 * 1.2
SHEETS = {"P-1": 11, "P-2": 10}


def turning(**changes):
    """The small plant whose turret takes half a second a station: 8 steps for P-1, 10 for P-2."""
    return small_plant(machine={"motion": {"turret_step_s": 0.5}}, **changes)


def by_name(plant):
    return {row.program.program_id: row for row in program_times(plant)}


def measured(plant, program_id, seconds):
    programs = (
        dataclasses.replace(p, measured_run_s=seconds) if p.program_id == program_id else p for p in plant.programs
    )
    return dataclasses.replace(plant, programs=tuple(programs))


def test_hours_are_those_of_the_rows():
    times = by_name(small_plant())
    assert times["P-1"].hours == pytest.approx(P1_S * 11 / 3600)
    assert times["P-2"].hours == pytest.approx(P2_S * 10 / 3600)
    cut_s = 5 + 9000 / 11000 * 60 + 12 * 0.3 + 12 * 1.2
    assert times["P-1"].laser_share == pytest.approx(cut_s / P1_S)


def test_the_gap_is_what_the_turret_takes_less():
    plant = turning()
    times = by_name(plant)
    assert has_motion(plant)
    assert times["P-1"].gap_h == pytest.approx((4.0 - 6.6) * 11 / 3600)
    assert times["P-2"].gap_h == pytest.approx((5.0 - 6.6) * 10 / 3600)


def test_a_measured_time_wins_over_the_rows():
    row = by_name(measured(turning(), "P-2", 400.0))["P-2"]
    assert row.hours == pytest.approx(400 * 10 / 3600)
    assert row.gap_h == pytest.approx((P2_S - 1.6 - 400) * 10 / 3600)


def test_a_measured_time_without_any_element_counts_as_measured():
    bare = dataclasses.replace(small_plant().programs[0], measured_run_s=90.0, hits_per_sheet=0, repositions=0,
                               cut_length_mm=0.0, contours=0)  # fmt: skip
    plant = small_plant(programs=(bare, small_plant().programs[1]), program_tools=small_plant().program_tools[3:])
    row = by_name(plant)["P-1"]
    assert row.hours == pytest.approx(90 * 11 / 3600)


def test_programs_with_most_hours_come_first_and_unused_ones_never():
    plant = small_plant()
    times = program_times(plant)
    assert [row.program.program_id for row in most_hours(times, 1)] == ["P-1"]
    unused = dataclasses.replace(plant, orders=plant.orders[1:2])
    assert [row.program.program_id for row in most_hours(program_times(unused), 9)] == ["P-2"]


def test_a_family_is_the_mean_of_its_sheets():
    plant = small_plant()
    one = tuple(dataclasses.replace(p, family="ALL") for p in plant.programs)
    (family,) = family_times(program_times(dataclasses.replace(plant, programs=one)))
    assert (family.programs, family.sheets) == (2, 21)
    assert family.run_s == pytest.approx((11 * P1_S + 10 * P2_S) / 21)
    assert 0 < family.laser_share < 1


def test_families_are_told_by_hours_and_need_sheets():
    plant = small_plant()
    assert [family.family for family in family_times(program_times(plant))] == ["LOCK", "BOOK"]
    assert family_times(program_times(dataclasses.replace(plant, orders=()))) == ()
