"""Prices and promises of options are changed by paths, in proportion, and what an option does is not."""

from __future__ import annotations

import dataclasses

import pytest

from simkit.base.messages import BadInput
from simkit.plant.edits import override_plant
from simkit.plant.options import CapitalLine, Edit, Option, Range, capital_of
from simkit.plant.scenarios import make_scenario
from tests.small_plant import small_plant

MAGAZINE = Option(
    id="A1", name="Tool magazine", kind="bought", capital=Range(low=100.0, quoted=200.0, high=300.0), yearly_cost=9.0,
    capital_lines=(CapitalLine(line="fire detection", quoted=50.0),), life_years=10.0,
    edits=(Edit(path="plant.bench.places", op="add", value=1),),
)  # fmt: skip
PLANT = dataclasses.replace(small_plant(), options=(MAGAZINE, Option(id="N1", name="Rule", kind="low_capital")))


def changed(*texts):
    return override_plant(PLANT, texts).option_by_id["A1"]


def test_a_new_price_keeps_the_range_in_proportion():
    option = changed("options[A1].capital.quoted=100")
    assert (option.capital.low, option.capital.quoted, option.capital.high) == (50.0, 100.0, 150.0)
    assert changed("options[A1].capital.quoted*=2").capital.high == 600.0
    assert changed("options[A1].capital.quoted=100", "options[A1].capital.high=400").capital.high == 400.0


def test_lines_life_and_yearly_cost_are_reached():
    option = changed(
        "options[A1].capital_lines[fire detection].quoted=70", "options[A1].yearly_cost+=1",
        'options[A1].life_years="none"',
    )  # fmt: skip
    assert capital_of([option]) == 270.0
    assert option.yearly_cost == 10.0
    assert option.life_years is None


def test_a_price_is_money_alone():
    plain, dear = make_scenario(PLANT, ("A1",)), make_scenario(PLANT, ("A1",), ("options[A1].capital.quoted=100",))
    assert plain.physics_hash == dear.physics_hash
    assert plain.money_hash != dear.money_hash
    assert capital_of(dear.plant.options[:1]) == 150.0
    assert capital_of(PLANT.options[:1]) == 250.0


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("options[A2].capital.quoted=1", "known names: A1, N1"),
        ("option[A1].capital=1", "did you mean 'options'"),
        ("options[A1].capitol.quoted=1", "did you mean 'capital'"),
        ("options[A1].capital.quotd=1", "did you mean 'quoted'"),
        ("options[A1].capital_lines[fire].quoted=1", "fire detection"),
        ("options[A1].capital.quoted=-5", "greater than or equal to 0"),
        ("options[A1].capital.quoted=dear", "valid number"),
        ("options[A1].capital.low=250", "not in this order"),
        ("options[A1].edits=[]", "what the option is and does"),
        ("options[A1].kind=calendar", "what the option is and does"),
        ("options[A1]=5", "does not name a key"),
        ("options=5", "is not an option"),
    ],
)
def test_what_cannot_be_changed_is_refused(text, why):
    with pytest.raises(BadInput) as caught:
        changed(text)
    assert why in str(caught.value)


def test_all_problems_are_told_at_once():
    with pytest.raises(BadInput) as caught:
        changed("options[A2].capital.quoted=1", "plant.bench.plaices=5", "nonsense")
    assert len(caught.value.findings) == 3
