"""Laser cutting: directions, inverses, bounds and what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.process.lasercut import (
    CAUTIONS,
    MELTING,
    SEVERANCE,
    contour_time,
    melt_enthalpy_j_mm3,
    melt_floor_j_mm2,
    melt_limit_m_min,
    melting_of,
    published_severance,
    severance_energy_j_mm2,
    severance_speed_m_min,
)  # fmt: skip

FEW = settings(max_examples=60, deadline=None, derandomize=True)
POWER = st.floats(200, 20_000)
THICKNESS = st.floats(0.3, 30)
SPEED = st.floats(0.1, 100)
LENGTHS = st.floats(0, 1e6)
COUNTS = st.integers(0, 5_000)


@FEW
@given(POWER, THICKNESS, SPEED)
def test_speed_and_severance_are_inverse(power_w, thickness_mm, speed_m_min):
    energy = severance_energy_j_mm2(power_w, thickness_mm, speed_m_min)
    assert severance_speed_m_min(energy, power_w, thickness_mm) == pytest.approx(speed_m_min, rel=1e-12)


@FEW
@given(POWER, THICKNESS, st.floats(0.05, 0.5), st.sampled_from(MELTING))
def test_the_speed_limit_at_full_coupling_is_the_melt_floor(power_w, thickness_mm, kerf_mm, metal):
    enthalpy = melt_enthalpy_j_mm3(metal.density_kg_m3, metal.melting_c, metal.heat_j_kg_k, metal.fusion_j_kg)
    limit = melt_limit_m_min(power_w, 1.0, enthalpy, kerf_mm, thickness_mm)
    floor = melt_floor_j_mm2(enthalpy, kerf_mm)
    assert severance_energy_j_mm2(power_w, thickness_mm, limit) == pytest.approx(floor, rel=1e-12)
    assert melt_limit_m_min(power_w, 0.5, enthalpy, kerf_mm, thickness_mm) == pytest.approx(limit / 2, rel=1e-12)


@FEW
@given(LENGTHS, SPEED, COUNTS, st.floats(0, 3), st.floats(0, 20), st.floats(0, 5), st.floats(0, 2))
def test_time_is_the_sum_of_its_parts_and_grows_with_each_contour(length, speed, count, pierce, lead, move, sense):
    time = contour_time(length, speed, count, pierce, lead_in_mm=lead, move_s=move, sense_s=sense)
    more = contour_time(length, speed, count + 1, pierce, lead_in_mm=lead, move_s=move, sense_s=sense)
    assert time.total_s == pytest.approx(time.cut_s + time.pierce_s + time.move_s + time.sense_s)
    assert time.beam_s <= time.total_s <= more.total_s
    one = pierce + move + sense + lead * 60 / (speed * 1000)
    assert more.total_s - time.total_s == pytest.approx(one, abs=1e-9 * (1 + time.total_s))


def test_arrays_give_what_their_numbers_give():
    lengths, contours = np.array([0.0, 5_000.0, 12_400.0]), np.array([0, 12, 85])
    times = contour_time(lengths, 6, contours, 0.25).total_s
    singles = [contour_time(a, 6, b, 0.25).total_s for a, b in zip(lengths, contours, strict=True)]
    assert times.tolist() == singles


def test_a_sheet_without_laser_work_takes_no_time():
    assert contour_time(0, 6).total_s == 0.0


@pytest.mark.parametrize(
    ("arguments", "name"),
    [
        ({"cut_length_mm": -1, "speed_m_min": 6}, "cut_length_mm"),
        ({"cut_length_mm": 1, "speed_m_min": 0}, "speed_m_min"),
        ({"cut_length_mm": 1, "speed_m_min": 6, "contours": -1}, "contours"),
        ({"cut_length_mm": 1, "speed_m_min": 6, "sense_s": float("nan")}, "sense_s"),
    ],
)
def test_contours_outside_their_range_are_refused(arguments, name):
    with pytest.raises(ValueError, match=name):
        contour_time(**arguments)


def test_a_sheet_hotter_than_the_melt_and_a_coupling_above_one_are_refused():
    with pytest.raises(ValueError, match="melting_c less start_c"):
        melt_enthalpy_j_mm3(2700, 660, 900, 397e3, start_c=700)
    with pytest.raises(ValueError, match="coupling"):
        melt_limit_m_min(4000, 1.2, 7.7, 0.2, 3)


def test_every_row_of_data_has_its_source_and_says_that_it_is_from_memory():
    assert all("from memory" in row.source for row in (*SEVERANCE, *MELTING))
    for row in SEVERANCE:
        assert row.low is None or row.low < row.mean < row.high


def test_unknown_pairs_have_no_row():
    assert published_severance("stainless", "air") is None
    assert melting_of("zinc") is None


def test_cautions_name_the_gases_and_call_nothing_safe():
    assert [topic for topic, _ in CAUTIONS] == ["Laser radiation", "Nitrogen", "Oxygen"]
    for _, text in CAUTIONS:
        assert "safe" not in text.lower()
        assert "from memory, check the" in text
        assert "local" in text
