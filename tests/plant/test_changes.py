"""Changes of a whole plant: as if its files held them, also in rows that only an option adds."""

from __future__ import annotations

import dataclasses

import pytest

from simkit.base.messages import BadInput
from simkit.plant.changes import changed_plant, idle_changes, moved_ranges, one_demand
from simkit.plant.options import Edit, Option
from simkit.plant.scenarios import make_scenario
from tests.small_plant import small_plant

PICK = {
    "element": "pick", "task_of": "machine", "unit": "s/pick", "state": "unloading", "law": "constant", "typical": 9.0,
}  # fmt: skip
ADDS = Option(id="A4", name="Part removal", kind="bought", edits=(
    Edit(path="elements", op="add_row", value=PICK), Edit(path="elements[load].typical", op="multiply", value=0.5),
))  # fmt: skip
SETS = Option(id="N2", name="Cart", kind="low_capital", edits=(Edit(path="elements[tool_search].typical", value=0.2),))
PLANT = dataclasses.replace(small_plant(), options=(ADDS, SETS))


def typical(plant, element):
    return [row.typical for row in plant.elements if row.element == element]


def test_a_value_of_the_plant_is_changed_and_options_act_on_it():
    changed = changed_plant(PLANT, ["elements[load].typical*=2"])
    assert typical(changed, "load") == [3.8, 5.2]
    assert typical(make_scenario(changed, ("A4",)).plant, "load") == [1.9, 2.6]
    assert changed.options == PLANT.options


def test_an_option_sets_what_it_set_before():
    changed = changed_plant(PLANT, ["elements[tool_search].typical=5"])
    assert typical(changed, "tool_search") == [5.0]
    assert typical(make_scenario(changed, ("N2",)).plant, "tool_search") == [0.2]


def test_a_row_that_an_option_adds_is_changed_in_that_option():
    changed = changed_plant(PLANT, ["elements[pick].typical=7.5"])
    assert typical(changed, "pick") == []
    assert typical(make_scenario(changed, ("A4",)).plant, "pick") == [7.5]
    assert make_scenario(changed, ("N2",)).physics_hash == make_scenario(PLANT, ("N2",)).physics_hash


def test_all_rows_are_those_of_the_plant_and_of_its_options_each_once():
    changed = changed_plant(PLANT, ["elements[*].typical*=2"])
    made = make_scenario(changed, ("A4",)).plant
    assert typical(made, "pick") == [18.0]
    assert typical(made, "hit") == [0.66]


def test_a_path_that_leads_nowhere_is_refused_with_the_nearest_name():
    with pytest.raises(BadInput) as caught:
        changed_plant(PLANT, ["elements[pik].typical=7.5", "plant.rules.dispach=due", "elements[load].typical=9"])
    assert len(caught.value.findings) == 2
    assert "did you mean 'dispatch'?" in str(caught.value)


def test_a_change_that_breaks_a_rule_of_the_plant_is_refused():
    with pytest.raises(BadInput, match="material_id"):
        changed_plant(PLANT, ["programs[P-1].material_id=MS-9"])


def test_changes_that_hold_only_together_are_taken_together():
    both = ["plant.removal.min_side_mm=3500", "plant.removal.max_side_mm=4000"]
    removal = changed_plant(PLANT, both).settings.removal
    assert (removal.min_side_mm, removal.max_side_mm) == (3500.0, 4000.0)
    assert list(idle_changes(PLANT, both)) == []
    with pytest.raises(BadInput, match="no part can be taken"):
        changed_plant(PLANT, both[:1])


def test_what_changes_nothing_is_told():
    said = list(idle_changes(PLANT, ["elements[load|].typical*=1", "elements[pick].typical=7", "plant.bench.places=3"]))
    assert said == [
        "--set elements[load|].typical*=1: changes nothing, the plant holds this value already",
        "--set plant.bench.places=3: changes nothing, the plant holds this value already",
    ]


def test_ends_that_move_with_a_quoted_price_are_told():
    crane = Option(id="A4", name="Part removal", kind="bought", capital={"low": 800, "quoted": 1000, "high": 1500},
                   capital_lines=({"line": "power", "quoted": 50, "low": 40, "high": 60},))  # fmt: skip
    plant = dataclasses.replace(small_plant(), options=(crane,))
    capital, power = "options[A4].capital", "options[A4].capital_lines[power]"
    assert list(moved_ranges(plant, [f"{capital}.quoted*=2", f"{power}.quoted=100", "plant.bench.places=2"])) == [
        f"{capital}: low and high keep their proportion to quoted: low 800 to 1,600, quoted 1,000 to 2,000, "
        "high 1,500 to 3,000",
        f"{power}: low and high keep their proportion to quoted: low 40 to 80, quoted 50 to 100, high 60 to 120",
    ]
    stated = [f"{capital}.low=900", f"{capital}.quoted=1100", f"{capital}.high=1200"]
    assert list(moved_ranges(plant, stated)) == []


def test_one_demand_holds_in_the_run_and_in_every_year():
    settings = changed_plant(PLANT, one_demand(1.6)).settings
    assert settings.run.demand_factor == 1.6
    assert [(entry.from_year, entry.factor, entry.signed) for entry in settings.finance.demand] == [(1, 1.6, True)]
    assert one_demand(None) == ()
