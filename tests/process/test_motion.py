"""Moves are legal for any legal limits: monotone, continuous, never faster with a limit more."""

from __future__ import annotations

from itertools import pairwise, permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.process.motion import (
    BLOCK,
    Axis,
    hits_per_min,
    jerk_limited_move_s,
    move_s,
    nibbling_hits,
    peak_speed_m_s,
    reposition_s,
    ring_steps,
    scallop_mm,
    tool_order,
    travel_s,
    turret_turn_s,
    two_axis_move_s,
)

FEW = settings(max_examples=60, deadline=None, derandomize=True)
speeds = st.floats(0.05, 5.0)
accels = st.floats(0.5, 40.0)
jerks = st.floats(10.0, 2000.0)
lengths_mm = st.floats(0.1, 6000.0)
stretch = st.floats(1.01, 3.0)
BARELY = 1 + 1e-9


@FEW
@given(lengths_mm, speeds, accels, accels, stretch)
def test_a_move_falls_with_speed_and_acceleration_and_grows_with_distance(d, v, a, b, more):
    taken = move_s(d, v, a, b)
    assert move_s(d, v * more, a, b) <= taken * BARELY
    assert move_s(d, v, a * more, b) < taken
    assert move_s(d, v, a, b * more) < taken
    assert move_s(d * more, v, a, b) > taken


@FEW
@given(speeds, accels, accels)
def test_a_move_is_continuous_where_the_speed_is_just_reached(v, a, b):
    boundary_mm = 1000 * v**2 / 2 * (1 / a + 1 / b)
    below, at, above = move_s(boundary_mm * np.array([1 - 1e-9, 1, 1 + 1e-9]), v, a, b)
    assert at == pytest.approx(v / a + v / b, rel=1e-12)
    assert below == pytest.approx(at, rel=1e-8)
    assert above == pytest.approx(at, rel=1e-8)


@FEW
@given(speeds, accels, jerks, stretch, lengths_mm)
def test_limited_jerk_is_slower_and_falls_with_each_limit(v, a, j, more, d):
    taken = jerk_limited_move_s(d, v, a, j)
    assert taken > move_s(d, v, a)
    assert jerk_limited_move_s(d, v, a, j * 1e9) == pytest.approx(move_s(d, v, a), rel=1e-3)
    for other in ((v * more, a, j), (v, a * more, j), (v, a, j * more)):
        assert jerk_limited_move_s(d, *other) <= taken * BARELY
    assert jerk_limited_move_s(d * more, v, a, j) > taken


@FEW
@given(speeds, accels, jerks)
def test_limited_jerk_is_continuous_where_its_cases_meet(v, a, j):
    ramp_s = v / a + a / j if v >= a**2 / j else 2 * (v / j) ** 0.5
    for boundary_m in (2 * a**3 / j**2, v * ramp_s):
        below, above = jerk_limited_move_s(1000 * boundary_m * np.array([1 - 1e-9, 1 + 1e-9]), v, a, j)
        assert below == pytest.approx(above, rel=1e-7)


@FEW
@given(st.floats(0.02, 4.0), speeds, accels, jerks)
def test_limited_jerk_covers_the_distance(share, v, a, j):
    """Integrated step by step, a profile with these limits that takes this time covers this distance."""
    ramp_s = v / a + a / j if v >= a**2 / j else 2 * (v / j) ** 0.5
    d = 1000 * share * v * ramp_s
    seconds = float(jerk_limited_move_s(d, v, a, j))
    ramp_s = min(seconds / 2, ramp_s)
    rise_s = min(ramp_s / 2, a / j)
    t = np.linspace(0.0, seconds, 40_001)
    edge = np.minimum(t, seconds - t)
    accel = j * np.clip(np.minimum(edge, ramp_s - edge), 0.0, rise_s)
    speed = np.concatenate(([0.0], np.cumsum((accel[1:] + accel[:-1]) / 2 * np.sign(seconds / 2 - t[1:]) * t[1])))
    assert speed.max() <= v * 1.001
    assert accel.max() <= a * BARELY
    assert np.trapezoid(speed, t) * 1000 == pytest.approx(d, rel=2e-3)


@FEW
@given(st.lists(st.floats(0.5, 500.0), min_size=2, max_size=6, unique=True), speeds, accels, st.floats(0.01, 0.2))
def test_the_hit_rate_strictly_falls_with_the_pitch(pitches, v, a, ram_s):
    rates = hits_per_min(sorted(pitches), Axis(v, a), ram_s)
    assert all(later < earlier for earlier, later in pairwise(rates))


@FEW
@given(lengths_mm, lengths_mm)
def test_two_axes_take_as_long_as_the_slower_one(x_mm, y_mm):
    x_axis, y_axis = Axis(1.5, 10.0), Axis(1.0, 8.0, jerk_m_s3=300.0)
    assert two_axis_move_s(x_mm, -y_mm, x_axis, y_axis) == max(x_axis.move_s(x_mm), y_axis.move_s(y_mm))


def test_travel_is_the_sum_of_its_moves_for_each_sheet():
    x_axis, y_axis = Axis(1.5, 10.0, 12.0), Axis(1.0, 8.0)
    x = np.random.default_rng(1).uniform(0, 2000, (3, 400, 60))
    y = np.random.default_rng(2).uniform(0, 1000, (3, 400, 60))
    by_hand = sum(two_axis_move_s(x[2, 7, i + 1] - x[2, 7, i], y[2, 7, i + 1] - y[2, 7, i], x_axis, y_axis)
                  for i in range(59))  # fmt: skip
    assert travel_s(x, y, x_axis, y_axis).shape == (3, 400)
    assert travel_s(x, y, x_axis, y_axis)[2, 7] == pytest.approx(by_hand, rel=1e-12)
    assert travel_s([0.0, 5.0, 5.0, 5.0], 0.0, x_axis, y_axis) == travel_s([0.0, 5.0], 0.0, x_axis, y_axis)


def test_no_distance_takes_no_time():
    assert move_s(0.0, 1.0, 10.0) == 0.0
    assert jerk_limited_move_s(0.0, 1.0, 10.0, 200.0) == 0.0
    assert reposition_s(0.0, Axis(1.0, 10.0, jerk_m_s3=200.0), 2.0) == 2.0


def test_shapes_are_kept_and_limits_broadcast():
    assert move_s(np.ones((2, 1)), [1.0, 2.0, 3.0], 10.0).shape == (2, 3)
    assert jerk_limited_move_s(np.ones(4), 1.0, 10.0, 200.0).shape == (4,)


@pytest.mark.parametrize("wrong", [0.0, -1.0, np.inf, np.nan])
def test_limits_must_be_positive(wrong):
    with pytest.raises(ValueError, match="speed_m_s must be"):
        move_s(10.0, wrong, 1.0)
    with pytest.raises(ValueError, match="decel_m_s2 must be"):
        Axis(1.0, 1.0, wrong)
    with pytest.raises(ValueError, match="jerk_m_s3 must be"):
        jerk_limited_move_s(10.0, 1.0, 1.0, wrong)


def test_what_is_not_covered_is_refused():
    with pytest.raises(ValueError, match="equal acceleration"):
        Axis(1.0, 10.0, 8.0, jerk_m_s3=200.0)
    with pytest.raises(ValueError, match="jerk_m_s3"):
        Axis(1.0, 10.0, jerk_m_s3=0.0)
    with pytest.raises(ValueError, match="tool > overlap"):
        nibbling_hits(100.0, 10.0, 10.0)
    with pytest.raises(ValueError, match="diameter"):
        scallop_mm(10.0, 21.0)
    with pytest.raises(ValueError, match="stations must be a whole number, 1 or more, not 0"):
        ring_steps(0, 1, 0)


DRIVE = Axis(1.0, 10.0)
REFUSED = [
    (hits_per_min, (10.0, DRIVE, -0.01), "ram_s must be zero or more"),
    (hits_per_min, ([10.0, 0.0], DRIVE, 0.0), "move and ram_s together must be above zero"),
    (hits_per_min, (np.nan, DRIVE, 0.05), "distance_mm must be finite"),
    (reposition_s, (500.0, DRIVE, -1.0), "clamping_s must be zero or more"),
    (move_s, ([1.0, np.nan], 1.0, 10.0), "distance_mm must be finite"),
    (peak_speed_m_s, (np.inf, 1.0, 10.0), "distance_mm must be finite"),
    (jerk_limited_move_s, (np.nan, 1.0, 10.0, 200.0), "distance_mm must be finite"),
    (two_axis_move_s, (1.0, np.nan, DRIVE, DRIVE), "distance_mm must be finite"),
    (nibbling_hits, (np.inf, 30.0, 2.0), "length_mm must be finite"),
    (nibbling_hits, (1e300, 30.0, 2.0), "hits must be a whole number"),
    (nibbling_hits, (200.0, 30.0, -2.0), "overlap_mm must be zero or more"),
    (scallop_mm, (np.inf, 4.0), "radius_mm must be above zero"),
    (ring_steps, (1.7, 4, 12), r"from_station must be a whole number, not 1\.7"),
    (ring_steps, (1, [4, 5.5], 12), r"to_station must be a whole number, not 5\.5"),
    (ring_steps, (1, 4, 12.5), "stations must be a whole number"),
    (turret_turn_s, (1, 4.2, 12, 180.0, 720.0), "to_station must be a whole number"),
]


@pytest.mark.parametrize(("function", "values", "why"), REFUSED)
def test_what_cannot_be_is_refused_by_name(function, values, why):
    with pytest.raises(ValueError, match=why):
        function(*values)


SMOOTH = Axis(1.0, 10.0, jerk_m_s3=200.0)


@pytest.mark.parametrize("axis", [DRIVE, SMOOTH])
def test_no_hits_and_a_single_hit_take_no_travel(axis):
    assert travel_s([], [], axis, DRIVE) == 0.0
    assert travel_s(np.empty((3, 0)), 0.0, axis, DRIVE).tolist() == [0.0, 0.0, 0.0]
    assert travel_s(np.empty((0, 5)), 0.0, axis, DRIVE).shape == (0,)
    assert travel_s([[70.0], [5.0]], 3.0, axis, DRIVE).tolist() == [0.0, 0.0]


@pytest.mark.parametrize("axis", [DRIVE, SMOOTH])
@pytest.mark.parametrize("wrong", [np.nan, np.inf, -np.inf])
def test_positions_must_be_finite_wherever_they_stand(axis, wrong):
    for at in range(3):
        x = np.zeros((2, 3))
        x[1, at] = wrong
        for pair in ((x, 0.0), (0.0, x), (x, x), (x[:, at : at + 1], 0.0)):
            with pytest.raises(ValueError, match="positions must be finite"):
                travel_s(*pair, axis, DRIVE)


def test_positions_are_no_single_numbers():
    with pytest.raises(ValueError, match="last dimension counts the hits, not single numbers"):
        travel_s(5.0, 0.0, DRIVE, DRIVE)


@pytest.mark.parametrize("hits", [2, 3, 200, BLOCK - 1, BLOCK, BLOCK + 1])
def test_travel_does_not_depend_on_the_blocks(hits):
    """Sheets around the limits of a block, each reckoned on its own."""
    x = np.random.default_rng(3).uniform(0, 2000, (2 * BLOCK // hits + 3, hits))
    alone = [float(travel_s(x[sheet], 0.0, DRIVE, DRIVE)) for sheet in (0, 1, len(x) // 2, len(x) - 1)]
    assert travel_s(x, 0.0, DRIVE, DRIVE)[[0, 1, len(x) // 2, -1]].tolist() == pytest.approx(alone, rel=1e-12)


def test_travel_leaves_the_positions_alone():
    x = np.array([[0.0, 10.0], [500.0, 0.0]])
    travel_s(x, x, DRIVE, SMOOTH)
    assert x.tolist() == [[0.0, 10.0], [500.0, 0.0]]
    distance = np.array([-5.0, 700.0])
    DRIVE.move_s(distance)
    move_s(distance, 1.0, 10.0)
    assert distance.tolist() == [-5.0, 700.0]


def test_nibbling_counts_whole_steps_despite_rounding():
    assert nibbling_hits(0.1 * 3, 0.1, 0.0) == 3
    assert list(nibbling_hits([30.0, 30.1, 58.0], 30.0, 2.0)) == [1, 2, 2]


# ---- order of tools ----


def steps_of(order, stations, ring, start):
    places = [*([] if start is None else [start]), *(stations[tool] for tool in order)]
    return sum(min((b - a) % ring, (a - b) % ring) for a, b in pairwise(places))


@settings(max_examples=80, deadline=None, derandomize=True)
@given(st.data(), st.integers(2, 20), st.integers(1, 6), st.booleans())
def test_no_order_needs_fewer_steps(data, ring, count, anywhere):
    stations = data.draw(st.lists(st.integers(0, ring - 1), min_size=count, max_size=count))
    forming = data.draw(st.lists(st.booleans(), min_size=count, max_size=count))
    start = None if anywhere else data.draw(st.integers(0, ring - 1))
    found = tool_order(stations, forming, ring, start)
    legal = [o for o in permutations(range(count)) if [forming[t] for t in o] == sorted(forming)]
    assert found.order in legal
    assert found.steps == steps_of(found.order, stations, ring, start)
    assert found.steps == min(steps_of(o, stations, ring, start) for o in legal)


def test_no_tools_take_no_steps():
    assert tool_order([], [], 12, 3).order == ()
    assert tool_order([], [], 12).steps == 0


@pytest.mark.parametrize("forming", [[False], [False, True, False]])
def test_each_tool_needs_its_station_and_its_kind(forming):
    with pytest.raises(ValueError, match=f"one entry per tool: they have 2 and {len(forming)}"):
        tool_order([1, 5], forming, 12)
