"""The small turret of the static sums does its counting by hand."""

from __future__ import annotations

import dataclasses
import datetime as dt

import numpy as np

from simkit.plant.plant import Plant
from simkit.plant.settings import Station
from simkit.plant.tables import Order
from tests.demo.sequencing import Changes, Work, changes_of, grouped, in_arrival_order

MONDAY = dt.date(2026, 5, 4)


def _work(number: int, tools: str, material: str = "MS-1.0", clearance: float = 0.2, due: int = 9) -> Work:
    order = Order(order_id=str(number), program_id="P", sheets=1, released=MONDAY, due=MONDAY + dt.timedelta(days=due))
    return Work(order, material, "small", clearance, frozenset(tools.split()), dict.fromkeys(tools.split(), 0.0))


def _two_places(demo: Plant) -> Plant:
    machine = demo.settings.machine.model_copy(update={"stations": (Station(size_mm=16.0, count=2),)})
    return dataclasses.replace(demo, settings=demo.settings.model_copy(update={"machine": machine}))


def test_the_tool_used_longest_ago_leaves(demo: Plant) -> None:
    works = [_work(1, "TL-001"), _work(2, "TL-002"), _work(3, "TL-003"), _work(4, "TL-002"), _work(5, "TL-001")]
    assert changes_of(_two_places(demo), works) == Changes(4, 0, 0, 1, 0)


def test_another_clearance_is_a_die_change_in_place(demo: Plant) -> None:
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
