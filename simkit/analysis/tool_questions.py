"""What the tool room asks of the order book: regrinds to come, clearances in use, and which magazine is enough."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from simkit.analysis.standard_layout import BookExchanges
from simkit.experiment.intervals import Estimate
from simkit.plant.plant import PlantInputs
from simkit.plant.settings import Magazine
from simkit.process.elements import per_tool_times
from simkit.tooling.capacity import PlaceClaim, keep_list

if TYPE_CHECKING:
    from simkit.tooling.forecast import ToolForecast

WEEKS = 8
"""Weeks looked ahead."""

DAYS_PER_WEEK = 7


def book_forecast(plant: PlantInputs, weeks: int = WEEKS) -> tuple[dt.date, tuple[ToolForecast, ...]]:
    """The Monday of the first release, and the regrinds of ``weeks`` weeks from then with the book again and again.

    What wears at the start stands at that Monday.
    """
    from simkit.tooling.forecast import (  # loads signal processing, and one page alone asks
        ProgramWeek,
        forecast_regrinds,
    )

    first = min((order.released for order in plant.orders), default=plant.settings.run.start_monday)
    monday = first - dt.timedelta(days=first.weekday())
    released = {order.order_id: (order.released - monday).days // DAYS_PER_WEEK for order in plant.orders}
    length = max(released.values(), default=0) + 1
    work = [
        ProgramWeek(week, order.program_id, order.sheets)
        for start in range(0, weeks, length)
        for order in sorted(plant.orders, key=lambda order: order.released)
        if (week := start + released[order.order_id]) < weeks
    ]
    return monday, forecast_regrinds(plant, work, weeks, grinding_s(plant))


def grinding_s(plant: PlantInputs) -> float:
    """Mean seconds of one regrind away from the machine, over the plant's tools: grinding, and shimming done there."""
    away = [sum(outside_s.values()) for _, outside_s in per_tool_times(plant, "regrind")]
    return sum(away) / len(away) if away else 0.0


# ---- clearances ----


@dataclass(frozen=True)
class ClearanceUse:
    """A tool with the orders at each clearance (mm), and the changes between each pair of clearances.

    ``changes`` counts orders that use the tool at another clearance than the order before them that uses it: the
    die-only changes of a single copy that never leaves the turret.
    """

    orders: dict[float, int]
    changes: dict[tuple[float, float], int]


def clearance_uses(plant: PlantInputs) -> dict[str, ClearanceUse]:
    """Return the tools that the book uses at more than one clearance, by id, in the order of the file."""
    orders: dict[int, Counter[float]] = {}
    changes: dict[int, Counter[tuple[float, float]]] = {}
    last: dict[int, float] = {}
    for order in BookExchanges(plant).orders:
        for tool, clearance in dict.fromkeys(need[:2] for need in order.needs):
            orders.setdefault(tool, Counter())[clearance] += 1
            before = last.get(tool, clearance)
            if before != clearance:
                changes.setdefault(tool, Counter())[min(before, clearance), max(before, clearance)] += 1
            last[tool] = clearance
    return {
        plant.tools[tool].tool_id: ClearanceUse(dict(sorted(orders[tool].items())), dict(changes[tool].most_common()))
        for tool in sorted(changes)
    }


# ---- magazines of other sizes ----


SHARES = (0.0, 0.25, 0.5, 0.75, 1.0, 1.25)
"""Shares of its places at which a magazine is simulated; nothing at all is the first."""

LEAST_GAIN_SHARE = 0.005
"""What saves less than this share of today's hours is not worth a place (common practice, no source)."""


def places_at(magazine: Magazine, share: float) -> dict[str, int]:
    """Places by station size (mm) at a share of those the magazine has, rounded to whole places, half upward."""
    return {size: int(share * places + 0.5) for size, places in magazine.places.items()}


def size_changes(magazine: Magazine, share: float) -> dict[str, Any]:
    """Changes that give a plant the share; listed contents give way to the most used tools, since they may not fit.

    At a share of zero there is no magazine.
    """
    listed: dict[str, Any] = {"plant.magazine.contents": []} if magazine.contents and share != 1 else {}
    return {"plant.magazine.places": places_at(magazine, share) if share else {}, **listed}


def keep_rows(plant: PlantInputs) -> tuple[PlaceClaim, ...]:
    """Tools in the order in which they deserve a place in the plant's magazine, over the book in order of release."""
    return keep_list(plant.settings, plant.tools, [order.needs for order in BookExchanges(plant).orders])


@dataclass(frozen=True)
class SizePoint:
    """A size of the magazine: share of the places on offer, places, scenario, and hours needed against all places."""

    share: float
    places: int
    scenario: str
    against_own: Estimate | None


def enough(points: Sequence[SizePoint], least_h: float) -> SizePoint | None:
    """The smallest size that does not surely need ``least_h`` hours more than all places on offer.

    None if a larger size than the one on offer surely saves as much. Less than ``least_h`` is not worth a place.
    """
    if any(_differs(point, -1, least_h) for point in points if point.share > 1):
        return None
    return min((p for p in points if not _differs(p, 1, least_h)), key=lambda point: point.places, default=None)


def _differs(point: SizePoint, sign: int, least_h: float) -> bool:
    """Whether the difference surely has this sign and is worth mentioning."""
    gap = point.against_own
    return gap is not None and gap.tells and sign * gap.mean >= max(least_h, 0.0) and sign * gap.mean > 0
