"""Mass of a sheet: nothing is lost on the way, and more than the sheet cannot come out of it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.process.sheetbalance import balance, kerf_kg, nesting_yield, scrap_credit, slugs_kg
from simkit.process.sheetdata import geometric_kg_m2

FEW = settings(max_examples=60, deadline=None, derandomize=True)
SHARES = st.floats(0, 1)


@FEW
@given(st.floats(0.1, 500), SHARES, SHARES, SHARES)
def test_a_sheet_is_its_parts_skeleton_slugs_and_kerf(sheet_kg, parts, slugs, kerf):
    whole = max(parts + slugs + kerf, 1.0)
    found = balance(sheet_kg, sheet_kg * parts / whole, sheet_kg * slugs / whole, sheet_kg * kerf / whole)
    pieces = found.parts_kg + found.skeleton_kg + found.slugs_kg + found.kerf_kg
    assert pieces == pytest.approx(sheet_kg, rel=1e-9)
    assert found.skeleton_kg >= 0
    assert found.scrap_kg + found.kerf_kg == pytest.approx(sheet_kg * (1 - found.material_yield), abs=1e-9 * sheet_kg)


@FEW
@given(st.floats(500, 3000), st.floats(500, 6000), st.floats(0.5, 6), SHARES)
def test_the_yield_by_area_is_the_yield_by_mass(width_mm, length_mm, thickness_mm, covered):
    kg_m2 = geometric_kg_m2(thickness_mm, 7850)
    area_mm2 = covered * width_mm * length_mm
    found = balance(width_mm * length_mm / 1e6 * kg_m2, area_mm2 / 1e6 * kg_m2)
    assert found.material_yield == pytest.approx(nesting_yield(area_mm2, length_mm, width_mm), abs=1e-12)


def test_masses_of_many_sheets_at_once():
    found = balance(np.array([10.0, 20.0]), np.array([7.0, 20.0]), 0.0)
    assert found.skeleton_kg.tolist() == [3.0, 0.0]


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ((10, 8, 1.5, 0.6), "parts, slugs and kerf weigh more than the sheet"),
        ((0, 0), "sheet_kg must be above zero"),
        ((10, -1), "parts_kg must be zero or more"),
    ],
)
def test_a_sheet_that_does_not_add_up_is_refused(arguments, message):
    with pytest.raises(ValueError, match=message):
        balance(*arguments)


def test_parts_larger_than_the_sheet_are_refused():
    with pytest.raises(ValueError, match="must be at most 1"):
        nesting_yield(2_000_001, 2000, 1000)


def test_no_hits_no_cut_and_no_price_weigh_and_earn_nothing():
    assert slugs_kg(0, 100, 15.7) == kerf_kg(0, 0.2, 15.7) == scrap_credit(9.1, 0.0) == 0.0


def test_overlapping_hits_give_lighter_slugs():
    assert slugs_kg(100, 50, 15.7, bite=0.4) < slugs_kg(100, 50, 15.7)
    with pytest.raises(ValueError, match="bite"):
        slugs_kg(100, 50, 15.7, bite=1.2)
