"""The planner's rule: what is done about released work that is short of time before its due dates. Pure, no clock.

Orders stand in the sequence in which the plant works them off, started and committed ones first. An order is short by
the planned hours left of all orders up to it, less the machine hours of the windows from now until its due date. What
may be done about it, in this order: overtime windows before that due date, earliest first; orders that are given out;
orders that are refused on their release. Nothing is bought for an order that none of it can bring in time.
Common practice, no source.

Machine hours of several machines are added up, as if they could share an order. So an order that alone is longer than
the windows of one machine until its due date is not seen as short where several machines together have the hours.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from math import ceil, inf
from typing import NamedTuple

from simkit.base.units import SECONDS_PER_HOUR, on_grid_s
from simkit.plant.settings import Overflow
from simkit.process.shifts import CoveredTime, Span


class ReleasedOrder(NamedTuple):
    """An order as the planner sees it: machine hours left, moment by which it must be done (due date plus tolerance).

    ``invoice_h`` are the standard hours that a subcontractor works for it. ``stays``: nobody would give it out (rush,
    started or committed).
    """

    number: int
    left_h: float
    invoice_h: float
    due_s: float
    stays: bool = False


class ShortOrder(NamedTuple):
    """An order, by how many machine hours it is short (negative: hours to spare), and hours planned up to it."""

    order: ReleasedOrder
    hours: float
    planned_h: float


class LeavingOrder(NamedTuple):
    """An order that goes, and the order for which it does."""

    order: ReleasedOrder
    short: ShortOrder


@dataclass(frozen=True)
class HoursAhead:
    """Machine hours from ``now_s`` on: the crew's windows, overtime (worked, or possible), nights at their share."""

    now_s: float
    crew: CoveredTime
    nights: CoveredTime = CoveredTime(())
    night_share: float = 0.0
    machines: int = 1
    overtime: tuple[Span, ...] = ()
    _known: dict[float, float] = field(default_factory=dict, init=False, compare=False, repr=False)

    def hours(self, until_s: float) -> float:
        """Machine hours until a moment."""
        found = self._known.get(until_s)
        if found is None:
            found = self._known[until_s] = self._hours(until_s)
        return found

    def _hours(self, until_s: float) -> float:
        if until_s <= self.now_s:
            return 0.0
        now_s = self.now_s
        seconds = self.crew.between_s(now_s, until_s)
        if self.night_share:
            seconds += self._night_s(now_s, until_s)
        for start, end in self.overtime:
            first, last = start if start > now_s else now_s, end if end < until_s else until_s
            if first < last:
                seconds += last - first - (self._night_s(first, last) if self.night_share else 0.0)
        return self.machines * seconds / SECONDS_PER_HOUR

    def _night_s(self, from_s: float, until_s: float) -> float:
        return self.night_share * self.nights.between_s(from_s, until_s)


def shortages(orders: Iterable[ReleasedOrder], hours: Callable[[float], float]) -> Iterator[ShortOrder]:
    """By how much each order is short; ``hours`` tells the machine hours until a moment."""
    planned_h = 0.0
    for order in orders:
        planned_h += order.left_h
        yield ShortOrder(order, planned_h - hours(order.due_s), planned_h)


def overtime(
    orders: Iterable[ReleasedOrder], ahead: HoursAhead, window: Span, overflow: Overflow
) -> tuple[ShortOrder, Span] | None:
    """How much of an overtime window is worked, and for which order: what the shortest one lacks, in whole blocks.

    Of what is due before the window starts, or overdue, hours until that start count: it is late, and sooner done.
    """
    rows = shortages(orders, lambda due_s: ahead.hours(max(due_s, window[0])))
    most = max(rows, key=lambda row: row.hours, default=None)
    if most is None or most.hours <= overflow.least_h or window[1] <= window[0]:
        return None
    blocks = ceil(most.hours / ahead.machines / overflow.overtime_block_h)
    wanted_s = blocks * overflow.overtime_block_h * SECONDS_PER_HOUR
    return most, (window[0], min(window[0] + on_grid_s(wanted_s), window[1]))


def fewest_hours(orders: Iterable[ReleasedOrder], short_h: float) -> ReleasedOrder:
    """The order with the fewest hours not below what is lacking, else the one with the most; ties: due last."""
    return min(orders, key=lambda o: (o.left_h < short_h, abs(o.left_h - short_h), -o.due_s, o.number))


def leaving_orders(
    orders: Sequence[ReleasedOrder], hours: Callable[[float], float], may_leave: Callable[[ReleasedOrder], bool],
    least_h: float, cap_h: float = inf,
) -> list[LeavingOrder]:  # fmt: skip
    """Orders that leave, one after another, until no order is short whom this can bring in time, or the cap is reached.

    Only what stands before the short order, or itself, can help it. The cap counts the hours of the invoice, so that a
    plant with shorter times buys no more under it.
    """
    left, planned_h, start = list(orders), [0.0], 0
    lost: set[int] = set()
    gone: list[LeavingOrder] = []
    while True:
        up_to_h = planned_h[start]
        for at in range(start, len(left)):
            number, left_h, _, due_s, _ = left[at]
            up_to_h += left_h
            planned_h.append(up_to_h)
            short_h = up_to_h - hours(due_s)
            if short_h > least_h and number not in lost:
                break
        else:
            return gone
        short = ShortOrder(left[at], short_h, up_to_h)
        chosen = _who_leaves(left[: at + 1], short, may_leave, least_h, cap_h)
        if chosen is None:
            lost.add(number)
            start = at + 1
        else:  # what stands before it stays as short as it was
            gone.append(LeavingOrder(chosen, short))
            cap_h -= chosen.invoice_h
            start = left.index(chosen)
            del left[start], planned_h[start + 1 :]


def _who_leaves(
    orders: list[ReleasedOrder],
    short: ShortOrder,
    may_leave: Callable[[ReleasedOrder], bool],
    least_h: float,
    cap_h: float,
) -> ReleasedOrder | None:
    """The order that leaves for the last one of these, which is short; None if that does not bring it in time."""
    able = [order for order in orders if may_leave(order)]
    cures = may_leave(short.order) or sum(order.left_h for order in able) >= short.hours - least_h
    fitting = [order for order in able if order.invoice_h <= cap_h]
    return fewest_hours(fitting, short.hours) if cures and fitting else None
