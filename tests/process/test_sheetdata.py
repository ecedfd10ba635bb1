"""Gauges, masses per area, densities and formats."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.base.gauges import FAMILIES, GAUGES, aluminium_gauge_in, gauge_mm, gauge_row
from simkit.base.units import sheet_mass_kg
from simkit.process.sheetdata import (
    DENSITIES,
    FORMATS,
    area_mass_kg,
    density_of,
    gauge_weight_kg_m2,
    geometric_kg_m2,
    standard_gauge_in,
)

FEW = settings(max_examples=60, deadline=None, derandomize=True)


@FEW
@given(st.floats(0.1, 20))
def test_gauge_weight_is_always_more_than_geometry(weight_lb_ft2):
    by_geometry = geometric_kg_m2(standard_gauge_in(weight_lb_ft2) * 25.4, 7850)
    assert gauge_weight_kg_m2(weight_lb_ft2) / by_geometry == pytest.approx(1.024, abs=5e-4)


@FEW
@given(st.floats(100, 6000), st.floats(100, 3000), st.floats(0.3, 30), st.sampled_from(DENSITIES))
def test_mass_by_area_is_the_mass_of_the_sheet(length_mm, width_mm, thickness_mm, metal):
    by_area = area_mass_kg(length_mm, width_mm, geometric_kg_m2(thickness_mm, metal.density_kg_m3))
    assert by_area == pytest.approx(sheet_mass_kg(length_mm, width_mm, thickness_mm, metal.density_kg_m3), rel=1e-12)


@pytest.mark.parametrize("family", FAMILIES)
def test_a_higher_gauge_is_thinner(family):
    thickness = [gauge_mm(family, number) for number in (16, 18, 20, 30)]
    assert thickness == sorted(thickness, reverse=True)


def test_one_number_is_another_thickness_in_each_family():
    assert len({gauge_mm(family, 16) for family in FAMILIES}) == len(FAMILIES) == 4


def test_the_aluminium_gauge_is_its_formula():
    row = gauge_row("aluminium", 16)
    assert row.thickness_in == aluminium_gauge_in(16) == aluminium_gauge_in(np.array([10, 16]))[1]
    assert row.weight_lb_ft2 is None


@pytest.mark.parametrize(
    ("family", "gauge", "message"),
    [
        ("stainles", 16, "no family 'stainles': did you mean 'stainless'"),
        ("galvanized", 60, "no gauge 60 of galvanized: known names: 16, 18, 20, 24, 30"),
        ("aluminium", 41, "a gauge of aluminium is a number from 0 to 40"),
        ("aluminium", -1, "a gauge of aluminium is a number from 0 to 40"),
    ],
)
def test_unknown_gauges_are_refused_with_the_nearest_known(family, gauge, message):
    with pytest.raises(ValueError, match=message):
        gauge_mm(family, gauge)


def test_an_unknown_metal_is_refused_with_the_nearest_known():
    with pytest.raises(ValueError, match=r"no density of '1\.4303': did you mean '1\.430"):
        density_of("1.4303")


def test_rows_are_unique_and_have_a_source():
    assert len({(row.family, row.gauge) for row in GAUGES}) == len(GAUGES)
    assert all(row.source for row in (*GAUGES, *DENSITIES, *FORMATS))
    assert all("from memory" in row.source for row in DENSITIES)


def test_formats_are_the_stocked_ones():
    assert [(row.width_mm, row.length_mm) for row in FORMATS if row.trade == "EU"] == [
        (1000, 2000),
        (1250, 2500),
        (1500, 3000),
        (2000, 4000),
    ]
    inches = {(round(row.width_mm / 25.4), round(row.length_mm / 25.4)) for row in FORMATS if row.trade == "US"}
    assert inches == {(36, 96), (48, 96), (48, 120), (60, 120), (60, 144), (72, 144)}


def test_masses_of_nothing_are_refused():
    with pytest.raises(ValueError, match="thickness_mm must be above zero"):
        geometric_kg_m2(0, 7850)
    with pytest.raises(ValueError, match="weight_lb_ft2 must be above zero"):
        gauge_weight_kg_m2(0)
