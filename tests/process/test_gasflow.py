"""Assist gas: how the flow scales, that it has no step where choking ends, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.process.gasflow import (
    AIR,
    GASES,
    NITROGEN,
    OXYGEN,
    critical_ratio,
    mass_flow_kg_s,
    normal_density_kg_m3,
    nozzle_kg_h,
    nozzle_m3n_h,
)

FEW = settings(max_examples=60, deadline=None, derandomize=True)
GAS = st.sampled_from([NITROGEN, OXYGEN, AIR])
BORE_MM = st.floats(0.5, 6)


@FEW
@given(GAS, BORE_MM, st.floats(0.01, 30), st.floats(1.1, 5))
def test_flow_grows_with_the_square_of_the_bore(gas, bore_mm, gauge_bar, factor):
    narrow, wide = nozzle_kg_h(bore_mm, gauge_bar, gas), nozzle_kg_h(factor * bore_mm, gauge_bar, gas)
    assert wide == pytest.approx(factor**2 * narrow, rel=1e-12)


@FEW
@given(GAS, st.floats(2, 30), st.floats(1.1, 5))
def test_choked_flow_grows_with_the_absolute_pressure(gas, absolute_bar, factor):
    low, high = mass_flow_kg_s(1, absolute_bar, gas), mass_flow_kg_s(1, factor * absolute_bar, gas)
    assert high == pytest.approx(factor * low, rel=1e-12)


@FEW
@given(GAS, st.floats(0.01, 30), st.floats(1.1, 2))
def test_flow_falls_with_the_root_of_the_temperature(gas, gauge_bar, factor):
    cold, warm = nozzle_kg_h(2, gauge_bar, gas, supply_k=250), nozzle_kg_h(2, gauge_bar, gas, supply_k=250 * factor)
    assert warm == pytest.approx(cold / factor**0.5, rel=1e-12)


@FEW
@given(GAS, st.floats(0.7, 1.1))
def test_flow_has_no_step_where_choking_starts(gas, ambient_bar):
    start = ambient_bar / critical_ratio(gas.heat_ratio) - ambient_bar
    below, above = nozzle_kg_h(2, [start * (1 - 1e-9), start * (1 + 1e-9)], gas, ambient_absolute_bar=ambient_bar)
    assert below == pytest.approx(above, rel=1e-8)


@FEW
@given(GAS, st.floats(0, 5), st.floats(1e-6, 5))
def test_more_pressure_never_gives_less_flow(gas, gauge_bar, more_bar):
    assert nozzle_kg_h(2, gauge_bar + more_bar, gas) > nozzle_kg_h(2, gauge_bar, gas)


@FEW
@given(GAS, st.floats(0.01, 0.89))
def test_without_choking_the_choked_formula_says_too_much(gas, gauge_bar):
    choked = mass_flow_kg_s(1, gauge_bar + 1.01325, gas, back_absolute_bar=0.1)
    assert mass_flow_kg_s(1, gauge_bar + 1.01325, gas) < choked


def test_equal_pressures_give_no_flow():
    assert nozzle_kg_h(2, 0, NITROGEN) == 0.0


def test_arrays_of_bores_and_pressures_give_a_table():
    flows = nozzle_m3n_h(np.array([[1.0], [1.5]]), np.array([0.5, 2, 5]), OXYGEN)
    assert flows.shape == (2, 3)
    assert flows[1, 0] == nozzle_m3n_h(1.5, 0.5, OXYGEN)
    assert flows[0, 2] == nozzle_m3n_h(1.0, 5, OXYGEN)


def test_gases_are_found_by_name_and_densities_keep_their_order():
    assert list(GASES) == ["nitrogen", "oxygen", "air"]
    assert normal_density_kg_m3(NITROGEN) < normal_density_kg_m3(AIR) < normal_density_kg_m3(OXYGEN)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"supply_gauge_bar": -0.1}, "gauge_bar must be zero or more"),
        ({"nozzle_mm": 0}, "nozzle_mm must be above zero"),
        ({"discharge": 1.1}, "discharge must be at most 1"),
        ({"supply_k": 0}, "supply_k must be above zero"),
        ({"ambient_absolute_bar": 0}, "ambient_absolute_bar must be above zero"),
    ],
)
def test_a_nozzle_outside_its_range_is_refused(arguments, message):
    with pytest.raises(ValueError, match=message):
        nozzle_kg_h(**({"nozzle_mm": 2, "supply_gauge_bar": 10, "gas": NITROGEN} | arguments))


def test_a_gauge_pressure_taken_for_an_absolute_one_is_refused_below_ambient():
    with pytest.raises(ValueError, match="must not be below back_absolute_bar"):
        mass_flow_kg_s(1, 0.5, NITROGEN)


def test_a_heat_ratio_of_one_is_refused():
    with pytest.raises(ValueError, match="heat_ratio"):
        critical_ratio(1.0)
