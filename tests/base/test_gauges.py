"""Gauge numbers: thinner as they rise, another thickness for each family."""

from __future__ import annotations

import numpy as np
import pytest

from simkit.base.gauges import FAMILIES, GAUGES, aluminium_gauge_in, gauge_mm, gauge_row


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


def test_rows_are_unique_and_have_a_source():
    assert len({(row.family, row.gauge) for row in GAUGES}) == len(GAUGES)
    assert all(row.source for row in GAUGES)
