"""Moves are legal for any legal limits: monotone, continuous, never faster with a limit more."""

from __future__ import annotations

from itertools import pairwise, permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.process.motion import Axis, reposition_s, ring_steps, tool_order

FEW = settings(max_examples=60, deadline=None, derandomize=True)
speeds = st.floats(0.05, 5.0)
accels = st.floats(0.5, 40.0)
jerks = st.floats(10.0, 2000.0)
lengths_mm = st.floats(0.1, 6000.0)
stretch = st.floats(1.01, 3.0)
BARELY = 1 + 1e-9


def move_s(d, v, a, j=np.inf):
    return Axis(v, a, j).move_s(d)


@FEW
@given(lengths_mm, speeds, accels, stretch)
def test_a_move_falls_with_speed_and_acceleration_and_grows_with_distance(d, v, a, more):
    taken = move_s(d, v, a)
    assert move_s(d, v * more, a) <= taken * BARELY
    assert move_s(d, v, a * more) < taken
    assert move_s(d * more, v, a) > taken


@FEW
@given(speeds, accels)
def test_a_move_is_continuous_where_the_speed_is_just_reached(v, a):
    below, at, above = move_s(1000 * v**2 / a * np.array([1 - 1e-9, 1, 1 + 1e-9]), v, a)
    assert at == pytest.approx(2 * v / a, rel=1e-12)
    assert below == pytest.approx(at, rel=1e-8)
    assert above == pytest.approx(at, rel=1e-8)


@FEW
@given(speeds, accels, jerks, stretch, lengths_mm)
def test_limited_jerk_is_slower_and_falls_with_each_limit(v, a, j, more, d):
    taken = move_s(d, v, a, j)
    assert taken > move_s(d, v, a)
    assert move_s(d, v, a, j * 1e9) == pytest.approx(move_s(d, v, a), rel=1e-3)
    for other in ((v * more, a, j), (v, a * more, j), (v, a, j * more)):
        assert move_s(d, *other) <= taken * BARELY
    assert move_s(d * more, v, a, j) > taken


@FEW
@given(speeds, accels, jerks)
def test_limited_jerk_is_continuous_where_its_cases_meet(v, a, j):
    ramp_s = v / a + a / j if v >= a**2 / j else 2 * (v / j) ** 0.5
    for boundary_m in (2 * a**3 / j**2, v * ramp_s):
        below, above = move_s(1000 * boundary_m * np.array([1 - 1e-9, 1 + 1e-9]), v, a, j)
        assert below == pytest.approx(above, rel=1e-7)


@FEW
@given(st.floats(0.02, 4.0), speeds, accels, jerks)
def test_limited_jerk_covers_the_distance(share, v, a, j):
    """Integrated step by step, a profile with these limits that takes this time covers this distance."""
    ramp_s = v / a + a / j if v >= a**2 / j else 2 * (v / j) ** 0.5
    d = 1000 * share * v * ramp_s
    seconds = float(move_s(d, v, a, j))
    ramp_s = min(seconds / 2, ramp_s)
    rise_s = min(ramp_s / 2, a / j)
    t = np.linspace(0.0, seconds, 40_001)
    edge = np.minimum(t, seconds - t)
    accel = j * np.clip(np.minimum(edge, ramp_s - edge), 0.0, rise_s)
    speed = np.concatenate(([0.0], np.cumsum((accel[1:] + accel[:-1]) / 2 * np.sign(seconds / 2 - t[1:]) * t[1])))
    assert speed.max() <= v * 1.001
    assert accel.max() <= a * BARELY
    assert np.trapezoid(speed, t) * 1000 == pytest.approx(d, rel=2e-3)


def test_no_distance_takes_no_time_and_the_sign_does_not_matter():
    for axis in (Axis(1.0, 10.0), Axis(1.0, 10.0, 200.0)):
        assert axis.move_s(0.0) == 0.0
        distance = np.array([-5.0, 5.0, 700.0])
        assert axis.move_s(distance)[0] == axis.move_s(distance)[1]
        assert distance.tolist() == [-5.0, 5.0, 700.0]
        assert reposition_s(0.0, axis, 2.0) == 2.0
        assert axis.move_s(np.ones((2, 3))).shape == (2, 3)


DRIVE = Axis(1.0, 10.0)
REFUSED = [
    *((Axis, (wrong, 1.0), "speed_m_s must be") for wrong in (0.0, -1.0, np.inf, np.nan)),
    (Axis, (1.0, 0.0), "accel_m_s2 must be"),
    *((Axis, (1.0, 1.0, wrong), "jerk_m_s3 must be") for wrong in (0.0, -1.0, np.nan)),
    (reposition_s, (500.0, DRIVE, -1.0), "clamping_s must be zero or more"),
    (reposition_s, ([1.0, np.nan], DRIVE, 1.0), "distance_mm must be finite"),
    (ring_steps, (1.7, 4, 12), r"from_station must be a whole number, not 1\.7"),
    (ring_steps, (1, [4, 5.5], 12), r"to_station must be a whole number, not 5\.5"),
    (ring_steps, (1, 4, 12.5), "stations must be a whole number"),
    (ring_steps, (0, 1, 0), "stations must be a whole number, 1 or more, not 0"),
]


@pytest.mark.parametrize(("function", "values", "why"), REFUSED)
def test_what_cannot_be_is_refused_by_name(function, values, why):
    with pytest.raises(ValueError, match=why):
        function(*values)


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
