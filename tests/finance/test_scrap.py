"""What scrap earns by hand: apart, mixed, and where one metal alone falls. Steel 0.20, aluminium 1.00 a kg."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

from simkit.experiment.results import results_from
from simkit.finance.inputs import change_by_mixing, scrap_credit, totals_from
from simkit.plant.plant import PlantInputs
from simkit.plant.scenarios import make_scenario
from tests.finance.hand import BOUGHT, TODAY_H, amounts, hand_plant, table, today, totals
from tests.small_plant import changed_settings

KG = {"scrap_kg_MS": 100.0, "slug_kg_MS": 25.0, "scrap_kg_AL": 40.0, "slug_kg_AL": 10.0}


def plant_with(**scrap: Any) -> PlantInputs:
    plant = hand_plant(BOUGHT)
    credit = {"MS": 0.2, "AL": 1.0}
    materials = tuple(dataclasses.replace(row, scrap_price_per_kg=credit[row.metal]) for row in plant.materials)
    settings = changed_settings(plant.settings, {"scrap": scrap})
    return dataclasses.replace(plant, materials=materials, settings=settings)


def test_scrap_kept_apart_earns_the_credit_of_its_metal() -> None:
    assert scrap_credit(plant_with()) == {"MS": 0.2, "AL": 1.0}
    assert change_by_mixing(plant_with(mixed_per_kg=0.1), KG) == {"MS": 0.0, "AL": 0.0}
    assert change_by_mixing(plant_with(slugs="mixed", mixed_per_kg=0.1), {}) == {"MS": 0.0, "AL": 0.0}


def test_mixed_slugs_earn_the_credit_of_mixed_scrap() -> None:
    """A quarter of either metal falls as slugs: it earns 0.10 instead of 0.20 and 1.00."""
    found = change_by_mixing(plant_with(slugs="mixed", mixed_per_kg=0.1), KG)
    assert found == pytest.approx({"MS": -0.25 * 0.1, "AL": -0.25 * 0.9})
    both = change_by_mixing(plant_with(slugs="mixed", skeletons="mixed", mixed_per_kg=0.1), KG)
    assert both == pytest.approx({"MS": -0.1, "AL": -0.9})


def test_one_metal_alone_is_not_mixed() -> None:
    """No aluminium slug falls: the steel in the common bin is steel. Skeletons of both are mixed all the same."""
    alone = {**KG, "slug_kg_AL": 0.0}
    assert change_by_mixing(plant_with(slugs="mixed", mixed_per_kg=0.1), alone) == {"MS": 0.0, "AL": 0.0}
    found = change_by_mixing(plant_with(slugs="mixed", skeletons="mixed", mixed_per_kg=0.1), alone)
    assert found == pytest.approx({"MS": -0.75 * 0.1, "AL": -0.9})


def cash_of(plant: PlantInputs, priced: PlantInputs | None = None) -> list[float]:
    """Scrap line of an option under which the same scrap falls as today, valued at the prices of a plant."""
    values = {**TODAY_H, "parts": 100.0, "parts_kg": 200.0, "material_kg_MS-1.5": 250.0, "material_kg_AL-1.5": 60.0,
              "lost_kg_MS": 0.0, "lost_kg_AL": 0.0, **KG}  # fmt: skip
    scenarios = [make_scenario(plant), make_scenario(plant, ("A1",))]
    results = results_from([(one.name, 1.0, 0, values) for one in scenarios], dict.fromkeys(values, ""))
    read = totals_from(results, scenarios)
    return amounts(table(priced or plant, *(read[one.name] for one in scenarios)), "scrap")


def mixing(plant: PlantInputs) -> PlantInputs:
    edits = ({"path": "plant.scrap.slugs", "op": "set", "value": "mixed"},)
    option = BOUGHT.model_validate({**BOUGHT.model_dump(), "edits": edits})
    return dataclasses.replace(plant, options=(option,))


def test_an_option_that_mixes_metals_pays_for_it() -> None:
    """25 kg of steel at 0.10 less and 10 kg of aluminium at 0.90 less, 50 weeks a year."""
    assert cash_of(mixing(plant_with(mixed_per_kg=0.1)))[1] == pytest.approx(-50 * (25 * 0.1 + 10 * 0.9))
    assert cash_of(plant_with(mixed_per_kg=0.1))[1] == 0


def test_other_prices_of_the_plant_are_no_prices_of_the_option() -> None:
    """Scrap at twice the price, as in a what-if on today's prices: the option does not change any."""
    plant = plant_with()
    dear = tuple(dataclasses.replace(row, scrap_price_per_kg=2 * row.scrap_price_per_kg, price_per_kg=9.0)
                 for row in plant.materials)  # fmt: skip
    assert cash_of(plant, dataclasses.replace(plant, materials=dear))[1] == 0


def test_an_option_that_mixes_what_is_mixed_already_changes_nothing() -> None:
    assert cash_of(mixing(plant_with(slugs="mixed", mixed_per_kg=0.1)))[1] == 0


def test_mixing_is_money_and_never_runs_the_cell_again() -> None:
    apart, mixed = make_scenario(plant_with()), make_scenario(plant_with(slugs="mixed", mixed_per_kg=0.1))
    assert apart.physics_hash == mixed.physics_hash
    assert apart.money_hash != mixed.money_hash


def test_remnants_that_an_option_keeps_save_sheet_and_lose_scrap() -> None:
    """20 kg of steel a week less bought at 1.02, and less sold at 0.20; 50 weeks."""
    plant = plant_with()
    kg = {"parts": 100.0, "parts_kg": 200.0, "material_kg_MS-1.5": 250.0, "scrap_kg_MS": 50.0, "lost_kg_MS": 0.0}
    kept = {**kg, "material_kg_MS-1.5": 230.0, "scrap_kg_MS": 30.0, "lost_kg_MS": -20.0}
    cash = table(plant, today(**kg), totals(**kept))
    assert amounts(cash, "material")[1] == pytest.approx(50 * 20 * 1.02)
    assert amounts(cash, "scrap")[1] == pytest.approx(-50 * 20 * 0.2)
