"""Cycles to time, by hand."""

from __future__ import annotations

import math

import pytest

from simkit.analysis.sheet_times import law_cv, timings
from simkit.base.laws import Law
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
