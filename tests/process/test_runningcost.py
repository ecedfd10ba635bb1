"""Gas and power of an hour by material, by hand from the small plant."""

from __future__ import annotations

import pytest

from simkit.process.runningcost import FIGURE, NOZZLE, cut_shares, hour_costs
from tests.process.test_findings import with_rows
from tests.small_plant import small_plant

CUT_S = 9000 / (11000 / 60)
RUN_S = 300 * 0.33 + 3 * 2.2 + 6.0 + CUT_S + 12 * 1.5 + 5.0


def test_shares_of_cutting_and_of_the_beam() -> None:
    """P-1: 49.09 s of cuts and 12 pierces of 0.3 s with the beam, 12 moves of 1.2 s and 5 s of mode change without."""
    share = cut_shares(small_plant())["MS-1.5"]
    assert share.cutting == pytest.approx((CUT_S + 12 * 1.5 + 5.0) / RUN_S)
    assert share.beam == pytest.approx((CUT_S + 12 * 0.3) / RUN_S)


def test_the_machines_figure_costs_what_the_runs_charge() -> None:
    row = hour_costs(small_plant(money={"gas_per_m3": 0.25, "energy_per_kwh": 0.2}))[0]
    assert (row.material_id, row.flow_source, row.flow_low_m3n_h, row.flow_high_m3n_h) == ("MS-1.5", FIGURE, 38, 38)
    assert row.gas_per_cutting_h_low == row.gas_per_cutting_h_high == pytest.approx(38 * 0.25)
    assert row.gas_per_running_h_low == pytest.approx(38 * 0.25 * row.cutting_share)
    assert (row.energy_per_running_h, row.energy_per_idle_h) == (pytest.approx(2.8), pytest.approx(0.8))
    assert (row.laser_kw, row.estimated_kw) == (None, None)


def test_a_nozzle_flows_with_the_beam() -> None:
    """1.5 mm at 12 bar: 15.376 m3/h (published) times 0.80 and 0.95."""
    plant = with_rows(small_plant(money={"gas_per_m3": 0.25}), "materials", nozzle_mm=1.5, gas_pressure_bar=12.0)
    row, other = hour_costs(plant)
    assert (row.flow_source, other.flow_source) == (NOZZLE, FIGURE)
    assert (row.flow_low_m3n_h, row.flow_high_m3n_h) == (
        pytest.approx(12.3008, abs=1e-3),
        pytest.approx(14.6072, abs=1e-3),
    )
    assert row.gas_per_running_h_low == pytest.approx(row.flow_low_m3n_h * 0.25 * row.beam_share)
    assert row.gas_per_cutting_h_high == pytest.approx(row.gas_per_running_h_high / row.cutting_share)


def test_a_gas_that_is_not_known_keeps_the_figure() -> None:
    plant = with_rows(small_plant(), "materials", nozzle_mm=1.5, gas_pressure_bar=12.0, gas="argon")
    assert hour_costs(plant)[0].flow_source == FIGURE


def test_power_from_the_lasers_efficiency() -> None:
    row = hour_costs(small_plant(machine={"laser_efficiency": 0.4, "idle_kw": 4.0}))[0]
    assert row.laser_kw == pytest.approx(10.0)
    assert row.estimated_kw == pytest.approx(4.0 + 10.0 * row.beam_share)


def test_materials_that_the_book_does_not_use_have_no_row() -> None:
    orders = tuple(order for order in small_plant().orders if order.program_id == "P-1")
    assert [row.material_id for row in hour_costs(small_plant(orders=orders))] == ["MS-1.5"]
    assert hour_costs(small_plant(orders=())) == ()
