"""Regrinds of the coming weeks, if the order book repeats: the forecast for the tool room."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from simkit.plant.plant import Plant
from simkit.process.elements import per_tool_times

if TYPE_CHECKING:
    from simkit.tooling.forecast import Forecast

WEEKS = 8
"""Weeks looked ahead."""

DAYS_PER_WEEK = 7


def book_forecast(plant: Plant, weeks: int = WEEKS) -> Forecast | None:
    """Forecast regrinds with the book in its own weeks, then again and again; None without orders.

    Weeks begin on the Monday of the first release, so what wears at the start stands at that Monday.
    """
    if not plant.orders:
        return None
    from simkit.tooling.forecast import Work, forecast_regrinds  # loads signal processing, and one page alone asks

    first = min(order.released for order in plant.orders)
    monday = first - dt.timedelta(days=first.weekday())
    released = {order.order_id: (order.released - monday).days // DAYS_PER_WEEK for order in plant.orders}
    length = max(released.values()) + 1
    work = [
        Work(week, order.program_id, order.sheets)
        for start in range(0, weeks, length)
        for order in sorted(plant.orders, key=lambda order: order.released)
        if (week := start + released[order.order_id]) < weeks
    ]
    return forecast_regrinds(plant, work, weeks, monday, grinding_s(plant))


def grinding_s(plant: Plant) -> float:
    """Mean seconds of one regrind away from the machine, over the plant's tools: grinding, and shimming done there."""
    away = [sum(outside_s.values()) for _, outside_s in per_tool_times(plant, "regrind")]
    return sum(away) / len(away) if away else 0.0
