"""Laser cutting: directions, inverses, bounds and what is refused."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.process.lasercut import (
    MELTING,
    SEVERANCE,
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
