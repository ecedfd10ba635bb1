from __future__ import annotations

import dataclasses

import pytest

from simkit.analysis.bought_sets import bought_sets
from simkit.base.messages import BadInput
from tests.experiment.fake import option, plant_with_options


def test_every_set_is_listed_once_with_and_without_the_package() -> None:
    sets = bought_sets(plant_with_options(), ("N1", "N2"), named=[("A1", "B1")])
    assert [(entry.options, entry.why) for entry in sets] == [
        (("A1",), "bought"),
        (("A2",), "bought"),
        (("B1",), "bought"),
        (("A1", "B1"), "named"),
        (("A1", "B1", "C1"), "night"),
    ]
    assert sets[0].with_package == ("N1", "N2", "A1")


def test_a_named_set_that_is_not_legal_is_bad_input() -> None:
    with pytest.raises(BadInput, match="A2"):
        bought_sets(plant_with_options(), named=[("A1", "A2")])


def test_everything_that_goes_together_alone_and_with_nights() -> None:
    plant = plant_with_options()
    plant = dataclasses.replace(plant, options=(*plant.options, option("B2", "bought", 0.5)))
    options = [entry.options for entry in bought_sets(plant) if entry.why == "everything"]
    assert options == [("A1", "B1", "B2"), ("A1", "B1", "C1", "B2")]


def test_what_nights_need_wins_where_options_exclude_each_other() -> None:
    options = {entry.id: entry for entry in plant_with_options().options}
    night = options["C1"].model_copy(update={"needs": ("A2", "B1")})
    plant = dataclasses.replace(plant_with_options(), options=tuple((options | {"C1": night}).values()))
    plant = dataclasses.replace(plant, options=(option("B2", "bought", 0.5), *plant.options))
    sets = [entry.options for entry in bought_sets(plant) if entry.why == "everything"]
    assert sets == [("B2", "A2", "B1"), ("B2", "A2", "B1", "C1")]


def test_a_calendar_option_that_needs_nothing_is_a_rival_of_every_machine() -> None:
    plant = plant_with_options()
    plant = dataclasses.replace(plant, options=(*plant.options, option("C2", "calendar", 0.5)))
    assert [entry.options for entry in bought_sets(plant) if entry.why == "calendar"] == [("C2",)]


def test_a_set_that_the_package_rules_out_stands_alone() -> None:
    plant = plant_with_options()
    plant = dataclasses.replace(plant, options=(*plant.options, option("B2", "bought", 0.5, excludes=("N1",))))
    last = next(entry for entry in bought_sets(plant, ("N1",)) if entry.options == ("B2",))
    assert last.with_package is None
    assert "N1" in last.refused
