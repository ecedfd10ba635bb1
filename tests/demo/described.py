"""The demo as its description has it: 180 orders, three of which wait at the start, and time enough for all."""

from __future__ import annotations

import dataclasses

from simkit.plant.plant import PlantInputs
from simkit.plant.tables import StartRow

ORDERS = 180
"""Orders of the description; those of the growth stand behind them in the book."""


def described(plant: PlantInputs) -> PlantInputs:
    """The demo without the orders by which the firm has grown, and with a backlog of three orders."""
    orders = plant.orders[:ORDERS]
    start = tuple(row for row in plant.start if row.what == "turret")
    waits = (StartRow(what="backlog", item=order.order_id, due_in_days=2 + n) for n, order in enumerate(orders[:3]))
    return dataclasses.replace(plant, orders=orders, start=(*start, *waits))
