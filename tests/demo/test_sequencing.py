"""The small turret of the static sums does its counting by hand."""

from __future__ import annotations

import dataclasses
import datetime as dt

import numpy as np

from simkit.plant.plant import PlantInputs
from simkit.plant.settings import Station
from simkit.plant.tables import Order
from tests.demo.searching import searched
from tests.demo.sequencing import Changes, Work, changes_of, grouped, in_arrival_order, works_of
from tests.demo.static_corridor import demand_uniforms

MONDAY = dt.date(2026, 5, 4)


def _work(number: int, tools: str, material: str = "MS-1.0", clearance: float = 0.2, due: int = 9) -> Work:
    order = Order(order_id=str(number), program_id="P", sheets=1, released=MONDAY, due=MONDAY + dt.timedelta(days=due))
    return Work(order, material, "small", clearance, frozenset(tools.split()), dict.fromkeys(tools.split(), 0.0))


def _two_places(demo: PlantInputs) -> PlantInputs:
    machine = demo.settings.machine.model_copy(update={"stations": (Station(size_mm=16.0, count=2),)})
    return dataclasses.replace(demo, settings=demo.settings.model_copy(update={"machine": machine}))


def test_the_tool_used_longest_ago_leaves(demo: PlantInputs) -> None:
    works = [_work(1, "TL-001"), _work(2, "TL-002"), _work(3, "TL-003"), _work(4, "TL-002"), _work(5, "TL-001")]
    assert changes_of(_two_places(demo), works) == Changes(4, 0, 0, 1, 0)


def test_another_clearance_is_a_die_change_in_place(demo: PlantInputs) -> None:
    works = [_work(1, "TL-001"), _work(2, "TL-001", "MS-2.0", 0.4), _work(3, "TL-001")]
    assert changes_of(_two_places(demo), works) == Changes(1, 2, 0, 3, 0)


def test_grouping_prefers_material_but_not_against_a_due_date() -> None:
    works = [_work(1, "TL-001"), _work(2, "TL-002", "SS-1.0"), _work(3, "TL-003")]
    assert [w.order.order_id for w in grouped(works)] == ["1", "3", "2"]
    urgent = [works[0], _work(2, "TL-002", "SS-1.0", due=1), works[2]]
    assert [w.order.order_id for w in grouped(urgent)] == ["2", "1", "3"]


def test_copies_arrive_a_week_later() -> None:
    first, last = (
        Order(order_id=name, program_id="P", sheets=1, released=MONDAY + dt.timedelta(days=days),
              due=MONDAY + dt.timedelta(days=30))
        for name, days in (("a", 0), ("b", 21))
    )  # fmt: skip
    book = in_arrival_order([first, last], np.array([0.1, 0.9]), 1.5)
    assert [order.order_id for order in book] == ["a", "a", "b"]


def test_pin_what_the_search_does_to_the_book(demo: PlantInputs) -> None:
    """A pin: against the greedy rule the search saves loads and pays with die changes and fetches of material."""
    works = works_of(demo, in_arrival_order(demo.orders, demand_uniforms(demo), 1.0))
    greedy, search = changes_of(demo, grouped(works)), changes_of(demo, searched(demo, works, evaluations=80))
    assert greedy == Changes(321, 292, 7, 66, 22)
    assert search == Changes(280, 315, 6, 82, 18)
    assert _hours(search) < _hours(greedy)


def _hours(count: Changes) -> float:
    """Hours of changeover by the plant's typical minutes."""
    return (
        4.0 * count.tool_loads + 1.5 * count.die_changes + 0.3 * count.angle_changes + 6.0 * count.material_changes
        + 4.0 * count.nozzle_changes
    ) / 60  # fmt: skip


def test_an_order_in_the_guard_is_taken_before_any_search(demo: PlantInputs) -> None:
    works = works_of(demo, demo.orders[:6])
    late = dataclasses.replace(works[5].order, due=works[0].order.released)
    works[5] = dataclasses.replace(works[5], order=late)
    assert searched(demo, works, evaluations=80)[0] is works[5]
