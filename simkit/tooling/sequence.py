"""The dispatch rules: which released order is next, and the known queue ranked by the same rule.

Rush orders go before all others. Ties go to the order released first, then to the earlier position.

- ``arrival``: in the order of release.
- ``due``: earliest due date first.
- ``grouped``: orders within the due-date guard first, earliest due date first; then, among the ``window``
  most urgent of the others, the material on the machine, then its nozzle where the plant groups by it, then the
  clearance in it, then the fewest tools not in the turret, then the due date; orders outside the window follow by due
  date.
- ``searched``: the same guard; the ``window`` most urgent of the others in the sequence that
  :func:`simkit.tooling.improve.improve` finds; then the others by due date. See :func:`parted`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence, Set
from heapq import nsmallest
from typing import NamedTuple

from simkit.tooling.exchange import apply_exchanges, mark_used, plan_exchange
from simkit.tooling.room import NO_CLEARANCE, Need, uniform_room
from simkit.tooling.turret import empty_turret

SEARCHED = "searched"


class Waiting(NamedTuple):
    """A released order: position in the book, times (s), rush, material row, clearance (mm), rows of its tools, and
    its nozzle by number, 0 for all where the rule does not ask for it."""

    position: int
    released_s: float
    due_s: float
    rush: bool
    material: int
    clearance: float
    tools: frozenset[int]
    nozzle: int = 0


Key = Callable[[Waiting], tuple[float, ...]]


def next_order(
    rule: str,
    waiting: Sequence[Waiting],
    last_material: int = -1,
    last_clearance: float = NO_CLEARANCE,
    turret_tools: Set[int] = frozenset(),
    window: int = 10,
    now_s: float = 0.0,
    due_guard_s: float = 0.0,
    last_nozzle: int = 0,
) -> int:
    """Return the index in ``waiting`` (not empty) of the order that the rule takes next.

    ``last_material``, ``last_clearance`` and ``last_nozzle`` are those of the order before it, ``turret_tools`` the
    tools in the turret; only ``grouped`` reads them and what follows.
    """
    key = _key(rule, waiting, last_material, last_clearance, turret_tools, window, now_s, due_guard_s, last_nozzle)
    return min(range(len(waiting)), key=lambda index: key(waiting[index]))


def ranked(
    rule: str,
    waiting: Sequence[Waiting],
    limit: int,
    last_material: int = -1,
    last_clearance: float = NO_CLEARANCE,
    turret_tools: Set[int] = frozenset(),
    window: int = 10,
    now_s: float = 0.0,
    due_guard_s: float = 0.0,
    last_nozzle: int = 0,
) -> list[int]:
    """Return the first ``limit`` indices of ``waiting`` as the rule ranks them at this instant.

    The first is the one that :func:`next_order` returns.
    """
    key = _key(rule, waiting, last_material, last_clearance, turret_tools, window, now_s, due_guard_s, last_nozzle)
    return nsmallest(limit, range(len(waiting)), key=lambda index: key(waiting[index]))


def parted(waiting: Sequence[Waiting], now_s: float, due_guard_s: float) -> tuple[list[int], list[int]]:
    """Return the indices of the orders that nothing may delay, rush or within the guard, and those of the others.

    Both by due date, rush orders first: the parts from which the ``searched`` rule starts.
    """
    ordered = sorted(range(len(waiting)), key=lambda index: _by_due(waiting[index]))
    pressing = [at for at in ordered if waiting[at].rush or waiting[at].due_s <= now_s + due_guard_s]
    held = set(pressing)
    return pressing, [at for at in ordered if at not in held]


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
        plan = plan_exchange(room, turret, need, needs[number + 1 :], number)
        turret = mark_used(apply_exchanges(turret, plan.exchanges, number), need, number)
        total += len(plan.exchanges)
    return total


def switches(jobs: Sequence[Set[int]], capacity: int, policy: str = "soonest") -> int:
    """Count tool switches: insertions from an empty turret, of which the first ``capacity`` are free.

    Source: Tang and Denardo 1988, Operations Research 36(5):767-777.
    """
    used = {tool for job in jobs for tool in job}
    return insertions(jobs, capacity, policy) - min(capacity, len(used))


def _by_arrival(order: Waiting) -> tuple[float, ...]:
    return (not order.rush, order.released_s, order.position)


def _by_due(order: Waiting) -> tuple[float, ...]:
    return (not order.rush, order.due_s, order.released_s, order.position)


def _key(
    rule: str,
    waiting: Sequence[Waiting],
    last_material: int,
    last_clearance: float,
    turret_tools: Set[int],
    window: int,
    now_s: float,
    due_guard_s: float,
    last_nozzle: int,
) -> Key:
    """Return the sort key of the rule at this instant; the smallest goes first."""
    if rule == "arrival":
        return _by_arrival
    if rule == "due":
        return _by_due
    if rule != "grouped":
        raise ValueError(f"no dispatch rule '{rule}': arrival, due or grouped")
    last_guarded_s = now_s + due_guard_s
    others = [order for order in waiting if order.due_s > last_guarded_s]
    inside = {order.position for order in nsmallest(window, others, key=_by_due)}

    def by_group(order: Waiting) -> tuple[float, ...]:
        if order.due_s <= last_guarded_s:
            return (not order.rush, 0, *_by_due(order))
        if order.position not in inside:
            return (not order.rush, 2, *_by_due(order))
        fetched = len(order.tools - turret_tools)
        alike = (order.material != last_material, order.nozzle != last_nozzle, order.clearance != last_clearance)
        return (not order.rush, 1, *alike, fetched, *_by_due(order))

    return by_group
