"""The lifting equation is legal for any lift, says where it does not apply, and promises nothing."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.process.lifting import (
    COUPLINGS,
    DURATIONS,
    METRIC,
    US,
    Hands,
    assess_lift,
    coupling_multiplier,
    duration_class,
    frequency_multiplier,
    horizontal_multiplier,
    index_in_words,
    lifting_index,
    recommended_weight_limit,
    sheet_handling,
    shift_load,
    tool_set_kg,
)
from tests.house import ROOT

FEW = settings(max_examples=60, deadline=None, derandomize=True)
reaches = st.floats(0, 80)
heights = st.floats(0, 200)
travels = st.floats(0, 200)
angles = st.floats(0, 180)
rates = st.floats(0, 20)
durations = st.sampled_from(DURATIONS)
couplings = st.sampled_from(sorted(COUPLINGS))


@FEW
@given(reaches, heights, travels, angles, rates, durations, couplings, st.floats(0, 20))
def test_the_limit_lies_between_nothing_and_the_load_constant_and_falls(h, v, d, a, f, duration, coupling, more):
    limit = recommended_weight_limit(h, v, d, a, f, duration, coupling)
    assert 0 <= limit <= METRIC.load_constant
    for harder in ((h + more, v, d, a, f), (h, v, d + more, a, f), (h, v, d, a + more, f), (h, v, d, a, f + more)):
        assert recommended_weight_limit(*harder, duration, coupling) <= limit + 1e-12


@FEW
@given(rates, heights)
def test_longer_work_never_raises_the_limit(f, v):
    short, moderate, long = (frequency_multiplier(f, duration, v) for duration in DURATIONS)
    assert short >= moderate >= long


@FEW
@given(st.floats(10, 24), st.floats(0, 69), st.floats(10, 69), st.floats(0, 134), st.floats(0.2, 15), durations)
def test_both_systems_of_units_agree_within_their_rounding(h_in, v_in, d_in, a, f, duration):
    """51 lb are 23.13 kg and 10 in 25.4 cm, so that the two forms differ by at most about 4 %."""
    if abs(v_in - 30) < 1:
        return
    us = recommended_weight_limit(h_in, v_in, d_in, a, f, duration, "fair", units=US) * 0.45359237
    metric = recommended_weight_limit(h_in * 2.54, v_in * 2.54, d_in * 2.54, a, f, duration, "fair")
    assert metric == pytest.approx(us, rel=0.045)


@FEW
@given(st.floats(1, 40), reaches, heights, reaches, heights, rates, durations, couplings)
def test_control_takes_the_lower_limit(load, h1, v1, h2, v2, f, duration, coupling):
    ends = Hands(h1, v1), Hands(h2, v2)
    loose = assess_lift(load, *ends, f, duration, coupling, control=False)
    placed = assess_lift(load, *ends, f, duration, coupling, control=True)
    assert loose.limit == loose.limit_origin
    assert placed.limit == min(placed.limit_origin, placed.limit_destination)
    assert placed.index >= loose.index


def test_the_destination_reads_the_frequency_at_the_origin():
    lift = assess_lift(5.0, Hands(30.0, 70.0), Hands(30.0, 100.0), 9.0, "long", "good", control=True)
    assert lift.limit_destination == 0.0
    assert lift.index == math.inf


def test_an_index_without_limit_is_infinite_and_above_every_threshold():
    assert lifting_index([4.0, 4.0], [0.0, 8.0]).tolist() == [math.inf, 0.5]
    assert "above 3.0" in index_in_words(math.inf)
    assert "above 1.0" in index_in_words(1.01)


def test_an_index_of_nothing_over_nothing_is_no_verdict():
    assert lifting_index(0.0, 8.0) == 0.0
    nothing = lifting_index([0.0, 3.0], [0.0, 0.0])
    assert np.isnan(nothing).tolist() == [True, False]


def test_arrays_give_arrays():
    limits = recommended_weight_limit(np.array([25.0, 30.0]), 75.0, 50.0, np.zeros((3, 1)), 3.0, "short", "fair")
    assert limits.shape == (3, 2)


def test_no_text_promises_anything():
    assert "safe" not in (ROOT / "simkit/process/lifting.py").read_text(encoding="utf-8").lower()


def test_what_cannot_be_is_refused():
    with pytest.raises(ValueError, match="reach must be zero or more"):
        horizontal_multiplier(-1.0)
    with pytest.raises(ValueError, match="load must be zero or more"):
        lifting_index(np.nan, 1.0)
    with pytest.raises(ValueError, match="0 to 8 h"):
        duration_class(8.5, 1.0)
    with pytest.raises(KeyError, match="did you mean 'moderate'"):
        frequency_multiplier(1.0, "moderat", 75.0)
    with pytest.raises(KeyError, match="known names: fair, good, poor"):
        coupling_multiplier("none", 75.0)


@pytest.mark.parametrize("wrong", [-1.0, np.nan, np.inf])
def test_limits_heights_and_masses_are_numbers_that_are_not_negative(wrong):
    with pytest.raises(ValueError, match="one_person_kg must be zero or more"):
        sheet_handling([10.0, 40.0], wrong, lifter=False)
    with pytest.raises(ValueError, match="origin_height must be zero or more"):
        frequency_multiplier(1.0, "long", [75.0, wrong])
    with pytest.raises(ValueError, match="height must be zero or more"):
        coupling_multiplier("fair", wrong)
    with pytest.raises(ValueError, match="station_size_mm must be above zero"):
        tool_set_kg(wrong)


def test_a_stretch_of_work_is_told_in_numbers():
    for work_h, recovery_h, ratio in ((math.nan, 1.0, 1.0), (0.5, math.nan, 1.0), (0.5, -1.0, 1.0), (0.5, 0.5, -1.0)):
        with pytest.raises(ValueError, match="no negative recovery"):
            duration_class(work_h, recovery_h, ratio)


@pytest.mark.parametrize("duration", DURATIONS)
@pytest.mark.parametrize("height", [0.0, 75.0])
def test_the_multiplier_steps_to_zero_beyond_its_last_line(duration, height):
    """Found from outside: the last whole rate with a multiplier, and any rate beyond it."""
    last = max(rate for rate in range(1, 16) if frequency_multiplier(rate, duration, height) > 0)
    assert frequency_multiplier(last - 0.5, duration, height) > frequency_multiplier(last, duration, height)
    assert frequency_multiplier([last + 1e-9, last + 0.5, last + 1, 20.0], duration, height).tolist() == [0.0] * 4


def test_a_lifter_replaces_the_second_person():
    by_hand, with_lifter = (sheet_handling([10.0, 40.0, 60.0], 25.0, lifter) for lifter in (False, True))
    assert by_hand.persons.tolist() == [1, 2, 2]
    assert by_hand.beyond_two.tolist() == [False, False, True]
    assert with_lifter.persons.tolist() == [1, 1, 1]
    assert with_lifter.by_lifter.tolist() == [False, True, True]
    assert not with_lifter.beyond_two.any()


def test_a_shift_adds_up_sheets_parts_and_tools():
    sheets, parts = shift_load([20.0, 30.0], [10, 2]), shift_load(0.5, 400)
    tools = shift_load(tool_set_kg([50.0, 90.0]), [6, 2])
    lifts, kg = np.sum([sheets, parts, tools], axis=0)
    assert lifts == 12 + 400 + 8
    assert kg == pytest.approx(260 + 200 + 6 * tool_set_kg(50.0) + 2 * tool_set_kg(90.0))
