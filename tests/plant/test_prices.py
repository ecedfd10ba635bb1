"""A plant without prices: no price changes it, and nothing that the cell reads is taken out."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

import pytest

from simkit.analysis.bought_sets import bought_sets
from simkit.plant.edits import override_plant
from simkit.plant.hashes import hashes
from simkit.plant.options import Edit
from simkit.plant.plant import Plant
from simkit.plant.prices import without_prices
from simkit.plant.reading import read_plant
from simkit.plant.scenarios import make_scenario

DEMO = read_plant(Path(__file__).parents[2] / "data" / "tarnholt", calibrated=False)
PRICES = (
    "plant.money.operator_rate_per_h*=1.1", "plant.money.energy_per_kwh=0.5", "plant.finance.discount_rate=0.11",
    "plant.finance.tax_rate=0.3", "plant.financing.loan_share=0.5", "plant.people.overtime_premium=0.5",
    "plant.people.night_premium=0.5", "tools[*].price*=2", "materials[*].price_per_kg*=2",
)  # fmt: skip
SIMULATED = (
    "plant.finance.demand=[{from_year=1,factor=1.1}]", "people[*].rate_per_h=40", "elements[load].high*=2",
    "plant.run.seed=9", "plant.rules.late_share_limit=0.2", "elements[load].typical*=1.1", "stops[*].rate*=2",
)  # fmt: skip


def dearer(plant: Plant, name: str, **money: Any) -> Plant:
    options = tuple(option.model_copy(update=money) if option.id == name else option for option in plant.options)
    return dataclasses.replace(plant, options=options)


@pytest.mark.parametrize("override", PRICES)
def test_no_price_changes_the_plant_without_prices(override: str) -> None:
    changed = override_plant(DEMO, [override])
    assert hashes(changed) != hashes(DEMO)
    assert hashes(without_prices(changed)) == hashes(without_prices(DEMO))


@pytest.mark.parametrize("override", SIMULATED)
def test_what_the_simulation_or_its_choices_read_stays(override: str) -> None:
    changed = override_plant(DEMO, [override])
    assert hashes(without_prices(changed)) != hashes(without_prices(DEMO))


def test_of_capital_the_order_stays() -> None:
    capital = DEMO.option_by_id["A1"].capital
    unpriced = hashes(without_prices(DEMO))
    more = capital.model_copy(update={"quoted": capital.quoted + 1, "high": capital.high + 1})
    assert hashes(without_prices(dearer(DEMO, "A1", capital=more, yearly_cost=1.0, life_years=3.0))) == unpriced
    most = capital.model_copy(update={"quoted": 1e9, "high": 1e9})
    assert hashes(without_prices(dearer(DEMO, "A1", capital=most))) != unpriced


def test_scenarios_of_both_plants_are_the_same_to_the_cell() -> None:
    sets = [(), *((option.id,) for option in DEMO.options if not option.needs)]
    priced = [make_scenario(DEMO, options).physics_hash for options in sets]
    unpriced = without_prices(DEMO)
    assert [make_scenario(unpriced, options).physics_hash for options in sets] == priced


def test_what_is_simulated_is_chosen_alike() -> None:
    assert bought_sets(without_prices(DEMO)) == bought_sets(DEMO)


@pytest.mark.parametrize(
    "path", ["tools[price>100].grind_life", "plant.finance.demand", "materials[price_per_kg<2].density"]
)
def test_an_edit_that_names_a_price_keeps_all_prices(path: str) -> None:
    assert without_prices(dearer(DEMO, "N1", edits=(Edit(path=path, value=1),))).options[1] is DEMO.options[1]
    other = Edit(path="materials[*].scrap_price_per_kg", op="multiply", value=0.9)
    assert without_prices(dearer(DEMO, "N1", edits=(other,))).options[1] is not DEMO.options[1]
