"""The textbook tool-switching problem put to the exchange decision of the cell: alike tools, one station class."""

from __future__ import annotations

from collections.abc import Sequence, Set

from simkit.plant.settings import Settings
from simkit.plant.tables import Tool
from simkit.tooling.exchange import apply_exchanges, mark_used, plan_exchange
from simkit.tooling.toolroom import NO_CLEARANCE, Need, ToolRoom, make_tool_room
from simkit.tooling.turret import empty_turret


def uniform_room(tool_count: int, capacity: int, eviction: str) -> ToolRoom:
    """Return a room of one station class and ``tool_count`` alike tools: the textbook tool-switching problem."""
    settings = Settings.model_validate({
        "name": "uniform", "calendar": {"shifts": []}, "rules": {"eviction": eviction},
        "machine": {"stations": [{"size_mm": 1.0, "count": capacity}]},
    })  # fmt: skip
    tools = [Tool(tool_id=str(i), shape="any", length_mm=1, width_mm=1, station_size_mm=1.0) for i in range(tool_count)]
    return make_tool_room(settings, tools)


def insertions(jobs: Sequence[Set[int]], capacity: int, policy: str = "soonest", start: Sequence[int] = ()) -> int:
    """Count tools put in for jobs in the order given: alike tools, one station class, exchanges as in the cell.

    ``start`` are the tools already there; without it the turret is empty and the first loads count too.
    """
    count = max((tool for job in (*jobs, start) for tool in job), default=-1) + 1
    room = uniform_room(count, capacity, policy)
    needs = [tuple(Need(tool, NO_CLEARANCE, 0.0) for tool in sorted(job)) for job in jobs]
    turret = empty_turret(room)
    for tool in start:
        before = plan_exchange(room, turret, (Need(tool, NO_CLEARANCE, 0.0),), ())
        turret = apply_exchanges(turret, before.exchanges, -1)
    total = 0
    for number, need in enumerate(needs):
        plan = plan_exchange(room, turret, need, needs[number + 1 :])
        turret = mark_used(apply_exchanges(turret, plan.exchanges, number), need, number)
        total += len(plan.exchanges)
    return total


def switches(jobs: Sequence[Set[int]], capacity: int, policy: str = "soonest") -> int:
    """Count tool switches: insertions from an empty turret, of which the first ``capacity`` are free.

    Source: Tang and Denardo 1988, Operations Research 36(5):767-777.
    """
    used = {tool for job in jobs for tool in job}
    return insertions(jobs, capacity, policy) - min(capacity, len(used))
