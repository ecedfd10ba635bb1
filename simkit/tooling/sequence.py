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

from collections.abc import Iterator, Sequence, Set
from itertools import islice
from typing import NamedTuple

GROUPED, SEARCHED = "grouped", "searched"


class WaitingOrder(NamedTuple):
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


class SetUpBefore(NamedTuple):
    """What the ``grouped`` rule stays with: material row, clearance (mm) and nozzle of the order before, tools in the
    turret."""

    material: int
    clearance: float
    nozzle: int
    tools: Set[int]


def grouped(
    by_due_date: Sequence[WaitingOrder], standing: SetUpBefore, window: int, guarded_s: float, limit: int
) -> list[WaitingOrder]:
    """Return the first ``limit`` orders as the ``grouped`` rule ranks them; they are given as :func:`by_due` does.

    What is due until ``guarded_s`` goes by due date.
    """
    return list(islice(_grouped(by_due_date, standing, window, guarded_s), limit))


def _grouped(
    rows: Sequence[WaitingOrder], standing: SetUpBefore, window: int, guarded_s: float
) -> Iterator[WaitingOrder]:
    material, clearance, nozzle, standing_tools = standing
    tools = frozenset(standing_tools)

    def unlike(order: WaitingOrder) -> tuple[bool, bool, bool, int]:
        fetched = len(order.tools - tools)
        return order.material != material, order.nozzle != nozzle, order.clearance != clearance, fetched

    rush = sum(order.rush for order in rows)
    for part in (rows[:rush], rows[rush:]):
        pressing = sum(order.due_s <= guarded_s for order in part)
        yield from part[:pressing]
        inside = part[pressing : pressing + window]
        yield from sorted(inside, key=unlike)
        yield from part[pressing + window :]
        window -= len(inside)


def parted(waiting: Sequence[WaitingOrder], now_s: float, due_guard_s: float) -> tuple[list[int], list[int]]:
    """Return the indices of the orders that nothing may delay, rush or within the guard, and those of the others.

    Both by due date, rush orders first: the parts from which the ``searched`` rule starts.
    """
    ordered = sorted(range(len(waiting)), key=lambda index: by_due(waiting[index]))
    pressing = [at for at in ordered if waiting[at].rush or waiting[at].due_s <= now_s + due_guard_s]
    held = set(pressing)
    return pressing, [at for at in ordered if at not in held]


def by_arrival(order: WaitingOrder) -> tuple[float, ...]:
    """Sort key: rush orders first, then by release."""
    return (not order.rush, order.released_s, order.position)


def by_due(order: WaitingOrder) -> tuple[float, ...]:
    """Sort key: rush orders first, then by due date, then by release."""
    return (not order.rush, order.due_s, order.released_s, order.position)
