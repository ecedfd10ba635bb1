"""The static corridor of the demo: closed sums, within 15 % on levels and on differences from today."""

from __future__ import annotations

import itertools

import pytest

from simkit.plant.plant import PlantInputs
from tests.demo.sequencing import changes_of, grouped, in_arrival_order, works_of
from tests.demo.static_corridor import CASES, LOSSES, PAGE, demand_uniforms, own_minutes, static_hours

FACTORS = (1.0, 1.25, 1.6)
CORRIDOR = {
    "Today": (271, 339, 434),
    "N2": (243, 304, 389),
    "N1+N2": (232, 290, 372),
    "A5b": (232, 290, 372),
    "A1, every exchange hidden": (232, 290, 372),
}
"""Machine hours per four weeks at base, +25 % and +60 %, as the description of the demo states them."""

TOLERANCE = 0.15
"""The description's own tolerance: the book was drawn anew from its text."""


def _level(demo: PlantInputs, case: str, factor: float) -> float:
    minutes, group = CASES[case]
    return static_hours(demo, minutes, factor, group).with_losses


@pytest.mark.parametrize("column", range(3), ids=["base", "plus25", "plus60"])
@pytest.mark.parametrize("case", CORRIDOR)
def test_levels_lie_in_the_corridor(demo: PlantInputs, case: str, column: int) -> None:
    assert _level(demo, case, FACTORS[column]) == pytest.approx(CORRIDOR[case][column], rel=TOLERANCE)


@pytest.mark.parametrize("column", range(3), ids=["base", "plus25", "plus60"])
@pytest.mark.parametrize("case", [case for case in CORRIDOR if case != "Today"])
def test_differences_from_today_lie_in_the_corridor(demo: PlantInputs, case: str, column: int) -> None:
    saved = _level(demo, "Today", FACTORS[column]) - _level(demo, case, FACTORS[column])
    stated = CORRIDOR["Today"][column] - CORRIDOR[case][column]
    assert saved == pytest.approx(stated, rel=TOLERANCE)


def test_shares_of_today(demo: PlantInputs) -> None:
    hours = static_hours(demo, PAGE)
    total = hours.with_losses / LOSSES
    shares = {"setup": hours.setup / total, "handling": hours.handling / total, "process": hours.process / total}
    assert shares == pytest.approx({"setup": 0.39, "handling": 0.24, "process": 0.36}, abs=0.03)


def test_set_up_without_losses(demo: PlantInputs) -> None:
    hours = static_hours(demo, PAGE)
    assert hours.order_fixed == pytest.approx(45.0)
    stated = {"setup": 96.0, "loads": 24.0, "fetches": 15.0, "bench": 55.0}
    found = {"setup": hours.setup, "loads": hours.tool_loads, "fetches": hours.fetches, "bench": hours.bench}
    assert found == pytest.approx(stated, rel=0.10)


def test_die_changes_outnumber_tool_loads_and_grouping_does_not_cut_loads(demo: PlantInputs) -> None:
    works = works_of(demo, in_arrival_order(demo.orders, demand_uniforms(demo), 1.0))
    arrival, group = changes_of(demo, works), changes_of(demo, grouped(works))
    assert arrival.die_changes > arrival.tool_loads
    assert group.die_changes < 0.75 * arrival.die_changes
    assert group.material_changes < 0.65 * arrival.material_changes
    assert group.tool_loads == pytest.approx(arrival.tool_loads, rel=0.10)


def test_own_rows_add_heavy_sheets_film_nozzles_and_angles_and_nothing_else(demo: PlantInputs) -> None:
    page, own = static_hours(demo, PAGE), static_hours(demo, own_minutes(demo))
    added = {
        "nozzles": own.nozzle_changes, "angles": own.angle_changes, "heavy sheets": own.loading - page.loading,
        "film": own.laser - page.laser,
    }  # fmt: skip
    assert all(hours > 0 for hours in added.values())
    assert own.with_losses - page.with_losses == pytest.approx(LOSSES * sum(added.values()))
    assert own.with_losses < 290.0, "closed sums of today fit into the attended hours; waiting comes on top"


def test_more_demand_contains_less(demo: PlantInputs) -> None:
    uniforms = demand_uniforms(demo)
    books = [in_arrival_order(demo.orders, uniforms, factor) for factor in (1.0, 1.25, 1.6, 2.0)]
    for smaller, larger in itertools.pairwise(books):
        rest = list(larger)
        for order in smaller:
            rest.remove(order)
    assert [len(book) for book in books] == [180, 225, 288, 360]
