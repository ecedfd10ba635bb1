"""A small turret and order-of-work simulation for static sums, written apart from the kit's own tooling.

It knows one rule each: the tool used longest ago leaves, stations are counted by size, nothing bars
anything. That is what closed sums can see; the cell sees more.
"""

from __future__ import annotations

import datetime as dt
import itertools
from collections import Counter, OrderedDict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Order

FORMING = 0.0
"""Clearance of a tool for which none matters."""

BOOK_DAYS = 28


@dataclass(frozen=True)
class Work:
    """An order as the sums see it: tools by size class, one clearance, one material."""

    order: Order
    material: str
    nozzle: str
    clearance_mm: float
    tools: frozenset[str]
    angles: dict[str, float]


@dataclass(frozen=True)
class Changes:
    """What is changed over from order to order."""

    tool_loads: int
    die_changes: int
    angle_changes: int
    material_changes: int
    nozzle_changes: int


def works_of(plant: PlantInputs, orders: Iterable[Order]) -> list[Work]:
    """Return the orders with what they need."""
    return [_work(plant, order) for order in orders]


def _work(plant: PlantInputs, order: Order) -> Work:
    program = plant.program_by_id[order.program_id]
    material = plant.material_by_id[program.material_id]
    uses = plant.tools_of[order.program_id]
    return Work(
        order, material.material_id, material.nozzle, material.clearance_mm, frozenset(use.tool_id for use in uses),
        {use.tool_id: use.angle for use in uses},
    )  # fmt: skip


def in_arrival_order(orders: Iterable[Order], uniforms: NDArray[np.float64], factor: float) -> list[Order]:
    """Return the book at a demand factor: each order once per whole unit, once more below the fraction.

    Copies are new orders of the same program: they arrive a week later (after week 4 in week 1), after
    that day's own orders. On the same day they would find all their tools in the turret.
    """
    listed_orders = list(orders)
    monday = min(order.released for order in listed_orders)
    whole, fraction = divmod(factor, 1.0)
    listed = [
        (((order.released - monday).days + 7 * copy) % BOOK_DAYS, copy, number, order)
        for number, order in enumerate(listed_orders)
        for copy in range(int(whole) + bool(uniforms[number] < fraction))
    ]
    return [order for *_, order in sorted(listed, key=lambda entry: entry[:3])]


def grouped(works: Sequence[Work], window: int = 10, guard_days: int = 1) -> list[Work]:
    """Return the order of work by material, then clearance, then shared tools, within a window.

    The day is that of the longest waiting order's release; an order due within the guard goes first.
    """
    waiting, done = list(works), list[Work]()
    while waiting:
        seen = waiting[:window]
        today = seen[0].order.released
        last = done[-1] if done else None
        due = [w for w in seen if w.order.due <= today + dt.timedelta(days=guard_days)]
        best = min(due, key=lambda w: w.order.due) if due else max(seen, key=lambda w: _likeness(w, last))
        waiting.remove(best)
        done.append(best)
    return done


def _likeness(work: Work, last: Work | None) -> tuple[bool, bool, int]:
    if last is None:
        return False, False, 0
    return (
        work.material == last.material,
        work.clearance_mm == last.clearance_mm,
        len(work.tools & last.tools),
    )


class SmallTurret:
    """Tools by size class; the one used longest ago leaves. Nothing bars anything, every station turns what must."""

    def __init__(self, plant: PlantInputs) -> None:
        self.plant = plant
        self.room = Counter[float]()
        for station in plant.settings.machine.stations:
            self.room[station.size_mm] += station.count
        self.places: dict[float, OrderedDict[str, tuple[float, float]]] = {size: OrderedDict() for size in self.room}

    def put(self, tool_id: str, clearance_mm: float, angle: float) -> None:
        """Stand a tool in the turret without counting it."""
        places = self.places[self.plant.tool_by_id[tool_id].station_size_mm]
        places[tool_id] = (clearance_mm, angle)
        places.move_to_end(tool_id)

    def bring(self, work: Work) -> Counter[str]:
        """Bring all tools of an order to its clearance and angle; return the counts of load, die and angle."""
        count = Counter[str]()
        for tool_id in sorted(work.tools):
            count[self._bring(work, tool_id)] += 1
            count["angle"] += self._turned
        return count

    def _bring(self, work: Work, tool_id: str) -> str:
        tool = self.plant.tool_by_id[tool_id]
        places = self.places[tool.station_size_mm]
        clearance = FORMING if tool.kind == "forming" else work.clearance_mm
        angle = 0.0 if tool.needs_turning else work.angles[tool_id]
        stood = places.get(tool_id)
        if stood is None and len(places) >= self.room[tool.station_size_mm]:
            del places[next((other for other in places if other not in work.tools), next(iter(places)))]
        self._turned = stood is not None and stood[1] != angle
        self.put(tool_id, clearance, angle)
        if stood is None:
            return "load"
        return "die" if stood[0] != clearance else "stays"


def changes_of(plant: PlantInputs, works: Sequence[Work]) -> Changes:
    """Run the orders through a turret that is empty at first."""
    turret = SmallTurret(plant)
    count = sum((turret.bring(work) for work in works), Counter[str]())
    pairs = [(None, works[0]), *itertools.pairwise(works)] if works else []
    return Changes(
        tool_loads=count["load"], die_changes=count["die"], angle_changes=count["angle"],
        material_changes=sum(a is None or a.material != b.material for a, b in pairs),
        nozzle_changes=sum(a is not None and a.nozzle != b.nozzle for a, b in pairs),
    )  # fmt: skip
