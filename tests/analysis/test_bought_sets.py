from __future__ import annotations

import dataclasses

import pytest

from simkit.analysis.option_sets import bought_sets
from simkit.base.messages import BadInput
from tests.experiment.fake import option, plant_with_options


def test_every_set_is_listed_once() -> None:
    sets = bought_sets(plant_with_options(), [("B1", "A1"), ("A1", "B1"), ("B1",)])
    assert sets == (("A1",), ("A2",), ("B1",), ("A1", "B1"), ("A1", "B1", "C1"))


def test_a_named_set_that_is_not_legal_is_bad_input() -> None:
    with pytest.raises(BadInput, match="A2"):
        bought_sets(plant_with_options(), [("A1", "A2")])


def test_a_calendar_option_that_needs_nothing_is_a_rival_of_every_machine() -> None:
    plant = plant_with_options()
    plant = dataclasses.replace(plant, options=(*plant.options, option("C2", "calendar", 0.5)))
    assert bought_sets(plant)[-2:] == (("C2",), ("A1", "B1", "C1"))
