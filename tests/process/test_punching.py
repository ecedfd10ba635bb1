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
    clearance_advice,
    cluster_perimeter_mm,
    is_narrow,
    largest_round_mm,
    obround_perimeter_mm,
    press_check,
    punching_force_kn,
    rectangle_perimeter_mm,
    round_perimeter_mm,
    shear_from_tensile_mpa,
    sheared_punch_force_kn,
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


def test_an_obround_lies_between_round_and_rectangle():
    assert obround_perimeter_mm(10.0, 10.0) == pytest.approx(round_perimeter_mm(10.0))
    assert obround_perimeter_mm(30.0, 10.0) < rectangle_perimeter_mm(30.0, 10.0)
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


LEGAL = {"punching_kn": 10.0, "thickness_mm": 2.0, "shear_mpa": 300.0, "capacity_kn": 200.0}


@pytest.mark.parametrize("wrong", [np.nan, np.inf, -5.0])
@pytest.mark.parametrize("name", [*LEGAL, "stripping_share", "factor"])
def test_no_verdict_without_numbers(name, wrong):
    for value in (wrong, [LEGAL.get(name, 1.0), wrong]):
        with pytest.raises(ValueError, match=f"{name} must be"):
            press_check(**{**LEGAL, name: value})


@pytest.mark.parametrize("name", ["thickness_mm", "shear_mpa", "capacity_kn"])
def test_a_press_a_sheet_and_a_metal_are_more_than_nothing(name):
    with pytest.raises(ValueError, match=f"{name} must be above zero"):
        press_check(**{**LEGAL, name: 0.0})


def test_a_margin_takes_nothing_away():
    with pytest.raises(ValueError, match=r"factor must be one or more, not 0\.9"):
        press_check(**LEGAL, factor=0.9)
    with pytest.raises(ValueError, match="factor must be one or more"):
        largest_round_mm(200.0, 2.0, 300.0, factor=0.5)
    assert press_check(**LEGAL, factor=1.0).required_kn == pytest.approx(11.0)


REFUSED = [
    (round_perimeter_mm, (-1.0,), "diameter_mm"),
    (rectangle_perimeter_mm, (10.0, -1.0), "width_mm"),
    (obround_perimeter_mm, (-5.0, -10.0), "length_mm"),
    (obround_perimeter_mm, (np.inf, 1.0), "length_mm"),
    (cluster_perimeter_mm, (20.0, -2), "figures"),
    (punching_force_kn, (-1.0, 2.0, 345.0), "perimeter_mm"),
    (punching_force_kn, (10.0, 0.0, 345.0), "thickness_mm"),
    (punching_force_kn, (10.0, 2.0, np.nan), "shear_mpa"),
    (sheared_punch_force_kn, (10.0, 2.0, 0.0, 0.0), "penetration must be above zero"),
    (sheared_punch_force_kn, (10.0, 2.0, 1.5, 1.0), "penetration must be at most 1"),
    (sheared_punch_force_kn, (10.0, 2.0, 0.5, -1.0), "shear_mm"),
    (sheared_punch_force_kn, (np.nan, 2.0, 0.5, 1.0), "flat_kn"),
    (shear_from_tensile_mpa, (400.0, 1.2), "share must be at most 1"),
    (is_narrow, (np.nan, 2.0), "width_mm"),
]


@pytest.mark.parametrize(("function", "values", "name"), REFUSED)
def test_what_cannot_be_is_refused(function, values, name):
    with pytest.raises(ValueError, match=name):
        function(*values)


def test_a_sheet_without_punching_takes_no_force():
    check = press_check(punching_force_kn(0.0, 2.0, 345.0), 2.0, 345.0, 200.0)
    assert check.share == 0.0
    assert not check.exceeded


def test_unknown_names_are_answered_with_the_nearest():
    with pytest.raises(KeyError, match="did you mean 'aluminium'"):
        clearance_advice("aluminum")


def test_every_row_of_data_has_a_source_and_an_ordered_range():
    assert all(row.source and 0 < row.low_mpa <= row.high_mpa for row in SHEAR_STRENGTHS)
    assert all(row.source and 0 < row.low_percent <= row.high_percent for row in CLEARANCES)
    assert {row.basis for row in CLEARANCES} == {PER_SIDE, TOTAL}
