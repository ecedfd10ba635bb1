"""A magazine at other sizes, which size is enough, and what belongs into it."""

from __future__ import annotations

import dataclasses

import pytest

from simkit.analysis.tool_questions import (
    SizePoint,
    enough,
    keep_rows,
    places_at,
    size_changes,
)
from simkit.experiment.intervals import Estimate
from simkit.plant.scenarios import make_scenario
from simkit.plant.settings import Magazine
from tests.report.option_plant import option_plant

OWN = {"16": 20, "30": 10, "55": 5}


@pytest.mark.parametrize(
    ("share", "places"),
    [(0.0, [0, 0, 0]), (0.25, [5, 3, 1]), (0.5, [10, 5, 3]), (1.0, [20, 10, 5]), (1.25, [25, 13, 6])],
)
def test_places_are_rounded_half_upward(share, places):
    assert list(places_at(Magazine(places=OWN), share).values()) == places


@pytest.mark.parametrize("share", [0.25, 1.25])
def test_changes_give_the_plant_the_places(share):
    magazine = make_scenario(option_plant(), ("A1",)).plant.settings.magazine
    assert size_changes(magazine, share) == {"plant.magazine.places": places_at(magazine, share)}


def test_a_share_of_zero_is_no_magazine():
    assert size_changes(Magazine(places=OWN), 0.0) == {"plant.magazine.places": {}}


def test_listed_contents_hold_for_the_size_on_offer_only():
    magazine = Magazine(places=OWN, contents=("TL-001",))
    assert "plant.magazine.contents" not in size_changes(magazine, 1.0)
    assert size_changes(magazine, 0.5)["plant.magazine.contents"] == []


def point(share: float, mean: float | None, half: float = 1.0) -> SizePoint:
    gap = None if mean is None else Estimate(mean, half, 8)
    return SizePoint(share, round(100 * share), f"{share}", gap)


def test_the_smallest_size_that_is_not_surely_worse_is_enough():
    points = [point(0.25, 3.0), point(0.5, 0.9), point(0.75, 0.1), point(1.0, None), point(1.25, 0.0, 0.0)]
    found = enough(points, 0.0)
    assert found is not None
    assert found.places == 50


def test_a_sure_difference_that_is_too_small_does_not_count():
    points = [point(0.5, 0.6, 0.1), point(0.75, 0.2, 0.1), point(1.0, None), point(1.25, -0.2, 0.1)]
    assert enough(points, 0.0) is None
    found = enough(points, 0.4)
    assert found is not None
    assert found.share == 0.75


def test_none_is_enough_where_more_places_still_save_hours():
    assert enough([point(0.5, 5.0), point(1.0, None), point(1.25, -2.0)], 0.4) is None


def test_all_places_are_enough_where_fewer_surely_cost_hours():
    found = enough([point(0.75, 5.0), point(1.0, None), point(1.25, -0.5)], 0.4)
    assert found is not None
    assert found.share == 1.0


def test_the_keep_list_is_that_of_the_case():
    plant = make_scenario(option_plant(), ("A1",)).plant
    rows = keep_rows(plant)
    assert {plant.tools[row.tool].tool_id for row in rows} == {tool.tool_id for tool in plant.tools}
    assert all(row.kept for row in rows)
    assert 0 < sum(row.share for row in rows) <= 1.0
    assert keep_rows(dataclasses.replace(plant, program_tools=())) == ()
