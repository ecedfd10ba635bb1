"""Forces and clearances are legal for any legal input, and the press check says what it found."""

from __future__ import annotations

from dataclasses import FrozenInstanceError

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.process.punching import (
    CLEARANCES,
    PER_SIDE,
    SHEAR_STRENGTHS,
    TOTAL,
    clearance,
    clearance_advice,
    clearance_range,
    hole_tool_mm,
    is_narrow,
    largest_round_mm,
    obround_perimeter_mm,
    press_check,
    punching_force_kn,
    rectangle_perimeter_mm,
    round_perimeter_mm,
    shear_strength,
    sheared_punch_force_kn,
    square_perimeter_mm,
)

FEW = settings(max_examples=60, deadline=None, derandomize=True)
sizes = st.floats(0.5, 300.0)
thicknesses = st.floats(0.3, 8.0)
strengths = st.floats(50.0, 700.0)


@FEW
@given(sizes, thicknesses, strengths, st.floats(20.0, 600.0), st.floats(0.0, 0.3), st.floats(1.0, 1.5))
def test_the_largest_hole_needs_just_the_capacity(d, t, tau, capacity, stripping, factor):
    largest = largest_round_mm(capacity, t, tau, stripping, factor)
    at_limit = press_check(punching_force_kn(round_perimeter_mm(largest), t, tau), t, tau, capacity, stripping, factor)
    assert at_limit.share == pytest.approx(1.0)
    check = press_check(punching_force_kn(round_perimeter_mm(d), t, tau), t, tau, capacity, stripping, factor)
    assert check.exceeded == (check.required_kn > capacity)
    assert bool(check.exceeded) == (d > largest) or d == pytest.approx(float(largest))
    assert check.required_kn >= check.punching_kn + check.stripping_kn - 1e-9


@FEW
@given(sizes, thicknesses, strengths, st.floats(1.01, 3.0))
def test_force_grows_in_proportion(perimeter, t, tau, more):
    force = punching_force_kn(perimeter, t, tau)
    for grown in ((perimeter * more, t, tau), (perimeter, t * more, tau), (perimeter, t, tau * more)):
        assert punching_force_kn(*grown) == pytest.approx(force * more)


@FEW
@given(thicknesses, st.floats(0.05, 1.0), st.floats(0.0, 10.0), st.floats(1.0, 500.0))
def test_shear_on_the_punch_never_adds_force(t, penetration, shear_mm, flat):
    sheared = sheared_punch_force_kn(flat, t, penetration, shear_mm)
    assert 0 < sheared <= flat
    assert sheared_punch_force_kn(flat, t, penetration, shear_mm + 1) <= sheared


@FEW
@given(thicknesses, st.floats(1.0, 40.0))
def test_total_clearance_is_twice_that_per_side(t, percent):
    per_side, total = clearance(t, percent, PER_SIDE), clearance(t, percent, TOTAL)
    assert per_side.total_mm == 2 * per_side.per_side_mm == 2 * total.total_mm
    assert per_side.per_side_mm == total.total_mm
    punch, die = hole_tool_mm(20.0, total.per_side_mm)
    assert die - punch == pytest.approx(float(total.total_mm))


def test_an_obround_lies_between_round_and_rectangle():
    assert obround_perimeter_mm(10.0, 10.0) == pytest.approx(round_perimeter_mm(10.0))
    assert obround_perimeter_mm(30.0, 10.0) < rectangle_perimeter_mm(30.0, 10.0)
    assert square_perimeter_mm(10.0) == rectangle_perimeter_mm(10.0, 10.0)
    with pytest.raises(ValueError, match="as long as wide"):
        obround_perimeter_mm(5.0, 10.0)


def test_arrays_keep_their_shape_and_scalars_work():
    perimeters = np.linspace(10, 500, 12).reshape(3, 4)
    check = press_check(punching_force_kn(perimeters, 3.0, 345.0), 3.0, 345.0, 200.0)
    assert check.exceeded.shape == check.share.shape == check.largest_round_mm.shape == (3, 4)
    assert check.exceeded.any()
    assert not check.exceeded.all()
    assert is_narrow([1.0, 5.0], 3.0).tolist() == [True, False]


def test_a_check_says_force_share_verdict_and_largest_hole():
    check = press_check(96.6, 2.0, 345.0, 200.0)
    assert str(check) == (
        "96.6 kN punching, 127.5 kN with stripping and margin: 64 % of 200 kN, within the capacity; "
        "largest round hole 69.9 mm"
    )
    assert "exceeds the capacity" in str(press_check(200.0, 2.0, 345.0, 200.0))
    with pytest.raises(FrozenInstanceError):
        check.share = 0.0


@pytest.mark.parametrize("wrong", [0.0, -3.0, np.nan])
def test_what_cannot_be_is_refused(wrong):
    with pytest.raises(ValueError, match="must be positive"):
        press_check(10.0, wrong, 300.0, 200.0)
    with pytest.raises(ValueError, match="must be positive"):
        largest_round_mm(wrong, 2.0, 300.0)
    with pytest.raises(ValueError, match="per side"):
        clearance(1.0, 20.0, "both")


def test_unknown_names_are_answered_with_the_nearest():
    with pytest.raises(KeyError, match="did you mean 'copper, hard'"):
        shear_strength("copper hard")
    with pytest.raises(KeyError, match="did you mean 'aluminium'"):
        clearance_advice("aluminum")


def test_every_row_of_data_has_a_source_and_an_ordered_range():
    assert all(row.source and 0 < row.low_mpa <= row.high_mpa for row in SHEAR_STRENGTHS)
    assert all(row.source and 0 < row.low_percent <= row.high_percent for row in CLEARANCES)
    assert {row.basis for row in CLEARANCES} == {PER_SIDE, TOTAL}
    low, high = clearance_range([1.0, 2.0], "stainless")
    assert (low.total_mm < high.total_mm).all()
