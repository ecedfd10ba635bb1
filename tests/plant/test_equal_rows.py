"""What is worked out once for equal tables equals what is worked out for each."""

from __future__ import annotations

import copy
import inspect
from functools import cached_property
from itertools import combinations
from pathlib import Path
from types import MethodType
from typing import Any, cast

import pytest

from simkit.plant import hashes as hashing
from simkit.plant.check_register import CHECKS
from simkit.plant.checks import run_checks, run_checks_anew
from simkit.plant.edits import apply_edits, override_plant
from simkit.plant.equal_rows import ByIdentity, EqualRows
from simkit.plant.plant import PlantInputs
from simkit.plant.reading import read_plant
from simkit.plant.scenarios import check_combination, option_edits
from simkit.plant.tables import TABLES

DEMO = Path(__file__).parents[2] / "data" / "tarnholt"
CHANGES = (
    "elements[*].typical*=100", "people[*].skills=[\"bench\"]", "tools[*].clearances=[0.9]",
    "materials[MS-1.0].thickness_mm=5",
    "plant.calendar.night.rule=allowed", "plant.rules.other_losses=0.2", "plant.machine.one_person_kg=1",
    "program_parts[*].mass_kg*=50", "orders[*].due=2020-01-01",
)  # fmt: skip
"""Overrides after which checks find something, or which change what checks read."""


@pytest.fixture(scope="module")
def plants() -> list[PlantInputs]:
    plant = read_plant(DEMO, calibrated=False)
    sets = [chosen for size in (1, 2) for chosen in combinations(plant.options, size)]
    legal = [chosen for chosen in sets if not list(check_combination(plant, [option.id for option in chosen]))]
    single = [apply_edits(plant, option_edits(chosen)) for chosen in legal if len(chosen) == 1]
    cart = [
        apply_edits(single[0], option_edits(chosen)) for chosen in legal if len(chosen) == 1 and chosen[0].id > "N1"
    ]
    return [plant, *single, *cart, *(override_plant(plant, [text]) for text in CHANGES)]


def test_checks_with_a_memory_find_what_they_find_without(plants: list[PlantInputs]) -> None:
    alone = [run_checks(plant) for plant in plants]
    assert len({tuple(found) for found in alone}) > 4
    assert [run_checks_anew(plant) for plant in plants] == alone
    backwards = [run_checks_anew(plant) for plant in reversed(plants)]
    assert backwards[::-1] == alone


class Watched:
    """A plant that notes which of its fields are read, through its properties too."""

    def __init__(self, plant: PlantInputs) -> None:
        self.plant, self.seen = plant, set[str]()

    def __getattr__(self, name: str) -> Any:
        of_class = inspect.getattr_static(PlantInputs, name, None)
        if isinstance(of_class, cached_property):
            setattr(self, name, of_class.func(self))
            return self.__dict__[name]
        if inspect.isfunction(of_class):
            return MethodType(of_class, self)
        self.seen.add(name)
        return getattr(self.plant, name)


def test_checks_read_nothing_that_they_do_not_name(plants: list[PlantInputs]) -> None:
    """Else what they found would be kept although something that they read has changed."""
    for plant in (plants[0], *plants[-len(CHANGES) :]):
        for names, _, check in CHECKS:
            watched = Watched(plant)
            list(check(cast(PlantInputs, watched)))
            assert watched.seen <= {*names, "files"}, check


def test_hashes_do_not_depend_on_what_was_hashed_before(plants: list[PlantInputs]) -> None:
    before = [hashing.hashes(plant) for plant in plants]
    for plant, known in zip(plants, before, strict=True):
        hashing._digests.clear()
        assert hashing.hashes(copy.deepcopy(plant)) == known


def test_a_table_that_no_edit_touches_is_the_very_same(plants: list[PlantInputs]) -> None:
    today, edited = plants[0], override_plant(plants[0], ["elements[load].typical*=2"])
    assert [table for table in TABLES if getattr(edited, table) is not getattr(today, table)] == ["elements"]
    assert edited.settings is today.settings
    assert override_plant(today, ["elements[load].typical*=2"]).elements is edited.elements


def test_equal_rows_are_one_and_one_is_not_one_point_nought() -> None:
    same = EqualRows()
    first, other = (1, "a"), (1.0, "a")
    assert same.row(first) is first
    assert same.row((1, "a")) is first
    assert same.row(other) is other
    assert same.table([first, other]) is same.table([first, other])
    assert same.table([other, first]) is not same.table([first, other])


def test_the_oldest_is_forgotten_and_worked_out_again() -> None:
    asked: list[int] = []
    kept: ByIdentity[int] = ByIdentity(2)
    things = [[1], [2], [3]]

    def work_out(thing: list[int]) -> int:
        asked.append(thing[0])
        return thing[0] * 10

    assert [kept.of(work_out, thing) for thing in (*things, things[2], things[0])] == [10, 20, 30, 30, 10]
    assert asked == [1, 2, 3, 1]
