"""Cycles to time, allowances by two conventions, and learning beside the ramp, by hand."""

from __future__ import annotations

import math

import pytest

from simkit.analysis.time_basis import law_cv, ramp_weeks, standards, timings
from simkit.base.laws import Law
from simkit.plant.settings import Finance
from tests.small_plant import small_plant, with_element


def test_cycles_follow_from_spread():
    plant = with_element(small_plant(), "tool_fit", law="lognormal", cv=0.3, n=40, basis="measured")
    (row,) = (row for row in timings(plant) if row.row.element == "tool_fit")
    assert (row.cv, row.needed, row.missing) == (0.3, math.ceil((1.96 * 0.3 / 0.05) ** 2), 139 - 40)
    (tenth,) = (row for row in timings(plant, 0.1) if row.row.element == "tool_fit")
    assert tenth.needed == 35
    assert tenth.missing == 0


def test_a_constant_needs_one_reading_and_nothing_takes_no_row():
    plant = with_element(small_plant(), "hit", typical=0.0)
    names = [row.row.element for row in timings(plant)]
    assert "hit" not in names
    assert {row.needed for row in timings(plant)} == {1}


def test_the_spread_of_a_law():
    assert law_cv(Law("exponential", 2.0)) == 1.0
    assert law_cv(Law("constant", 2.0, 0.4)) == 0.0
    assert law_cv(Law("gamma", 2.0, 0.4)) == 0.4
    assert law_cv(Law("empirical", 2.0, values=(1.0, 2.0, 3.0))) == pytest.approx(0.5)
    assert law_cv(Law("empirical", 2.0, values=(2.0,))) == 0.0


def test_two_conventions_of_an_allowance():
    (first_piece,) = (row for row in standards(small_plant(), 0.2) if row.row.element == "first_piece")
    assert first_piece.by_job == pytest.approx(6.0 * 1.2)
    assert first_piece.by_workday == pytest.approx(6.0 / 0.8)
    assert "hit" not in {row.row.element for row in standards(small_plant(), 0.2)}
    with pytest.raises(ValueError, match="allowance"):
        standards(small_plant(), 1.0)


def test_the_ramp_in_force_is_a_straight_line():
    weeks = ramp_weeks(Finance(ramp_start=0.6, ramp_months=12 * 4 / 52), 1.0, 1.0)
    assert [week.in_force for week in weeks] == pytest.approx([0.65, 0.75, 0.85, 0.95])
    assert [week.by_unit for week in weeks] == pytest.approx([1.0] * 4)
    assert [week.week for week in weeks] == [1, 2, 3, 4]


def test_both_models_start_from_one_unit_and_only_the_first_ends_at_the_standard():
    weeks = ramp_weeks(Finance(ramp_months=12 * 4 / 52), 1.0, 0.8)
    assert weeks[0].by_unit == weeks[0].by_average == pytest.approx(0.8**2)
    assert weeks[1].by_unit == pytest.approx(0.8)
    assert weeks[1].by_average == pytest.approx(0.8**2 / (2 * 0.8 - 1))
    assert weeks[-1].by_unit == pytest.approx(1.0)


def test_no_ramp_has_no_weeks():
    assert ramp_weeks(Finance(ramp_months=0), 40.0, 0.9) == ()
