"""Improvement search: put a window of orders into a sequence with fewer late orders, then fewer changeover seconds.

It starts from the sequence of the grouped rule. Every sequence that is taken has been priced by the exchange
decision itself, with mixed sizes, pins and barred stations. Before that, a sequence is set aside when it makes
more orders late, or when a lower bound of its seconds is no better. Moving and swapping orders and taking the
first improvement is common practice, no source.

What the search does not see: orders that are released later, exchanges hidden while the laser cuts (they
count in full), people who are busy, overtime, a tool that takes longer to fetch than the mean of its kind.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence, Set
from dataclasses import dataclass
from typing import NamedTuple

from simkit.tooling.exchange import apply_exchanges, mark_used, plan_exchange, plan_seconds, resolved, turret_after
from simkit.tooling.pad import exchange_kind
from simkit.tooling.sequence import SetUpBefore, WaitingOrder, by_due, grouped
from simkit.tooling.toolroom import NO_CLEARANCE, Need, ToolRoom
from simkit.tooling.turret import Turret

_NOISE_S = 1e-6
_NO_LIMIT_S = float("inf")
_NO_GUARD_S = -float("inf")
_ANY = -2.0


class SearchedOrder(NamedTuple):
    """An order of the window.

    ``row`` is what the dispatch rules see, ``needs`` its tools. ``set_up`` says what it wants of each thing
    that is set up apart from tools, the material row first; ``set_up_s`` gives the seconds of changing each.
    ``work_s`` is the planner's time for the order, ``due_in_s`` the working time left until it is due.
    """

    row: WaitingOrder
    needs: tuple[Need, ...]
    sheets: int
    set_up: tuple[Hashable, ...]
    set_up_s: tuple[float, ...]
    work_s: float
    due_in_s: float


@dataclass(frozen=True, slots=True)
class MachineStand:
    """How the machine stands before the window.

    ``counter`` is the number of the next order; ``set_up`` goes with :attr:`SearchedOrder.set_up`: None where nothing
    stands, which costs nothing to set up. ``clearance`` is that of the present material (mm), ``at_hand`` are
    the materials that a store brings without delay.
    """

    room: ToolRoom
    turret: Turret
    counter: int
    set_up: tuple[Hashable, ...]
    clearance: float = NO_CLEARANCE
    at_hand: frozenset[int] = frozenset()


class SequenceCost(NamedTuple):
    """What a sequence costs: orders late by the planner's time, then seconds of changeover (exchanges, set-up)."""

    late: int
    seconds: float


@dataclass(frozen=True, slots=True)
class SequencePlan:
    """A sequence of orders, by their places in the window or their numbers, and how the machine is foreseen to stand
    (turret, and what else is set up) before each order, then after the last."""

    order: Sequence[int]
    foreseen: Sequence[tuple[Turret, tuple[Hashable, ...]]]

    def holds(self, orders: Set[int], stand: MachineStand) -> bool:
        """Whether the same orders are to be put in sequence, and the machine stands as foreseen."""
        return orders == set(self.order) and (stand.turret, stand.set_up) == self.foreseen[0]

    def after_first(self) -> SequencePlan:
        """The plan when its first order is taken."""
        return SequencePlan(self.order[1:], self.foreseen[1:])


def improve(
    stand: MachineStand, pieces: Sequence[SearchedOrder], evaluations: int, after: Sequence[tuple[Need, ...]] = ()
) -> SequencePlan:
    """Return a sequence of all pieces that is never later and never dearer than that of the grouped rule.

    At most ``evaluations`` sequences are looked at, set aside or not; ``after`` are the needs of orders that
    are known to come after the window. The same input gives the same sequence.
    """
    pricing = Pricing(stand, pieces, after)
    order = pricing.grouped(stand.clearance)
    best = pricing.priced(order)
    seen, since, moves = 1, 0, _moves(len(order))
    while since < len(moves) and seen < evaluations:
        for move in moves:
            if since >= len(moves) or seen >= evaluations:
                break
            tried = _moved(order, *move)
            seen, since = seen + 1, since + 1
            found = pricing.better(tried, best)
            if found is not None:
                order, best, since = tried, found, 0
    return SequencePlan(order, [(point.turret, point.set_up) for point in pricing.points])


class _Point(NamedTuple):
    """The machine after some orders: the clearance of each tool that stands, and the seconds so far."""

    turret: Turret
    counter: int
    set_up: tuple[Hashable, ...]
    stands: dict[int, float]
    seconds: float


class Pricing:
    """Prices sequences; remembers those taken and, unless eviction looks ahead, every beginning of a sequence."""

    def __init__(self, stand: MachineStand, pieces: Sequence[SearchedOrder], after: Sequence[tuple[Need, ...]]) -> None:
        self.room, self.pieces, self.after = stand.room, pieces, list(after)
        self.looks_ahead = stand.room.eviction == "soonest"
        self.single = [copies == 1 for copies in stand.room.copies]
        self.wanted = [resolved(stand.room, piece.needs) for piece in pieces]
        self.floors = [self._floors(piece) for piece in pieces]
        stands = self._stands(stand.turret)
        self.points = [_Point(stand.turret, stand.counter, stand.set_up, stands, 0.0)]
        self.known: dict[tuple[int, ...], _Point] = {}

    def grouped(self, clearance: float) -> list[int]:
        """The sequence of the grouped rule if nothing else is released and no due date presses."""
        left, order, point = list(range(len(self.pieces))), list[int](), self.points[0]
        place = {piece.row.position: at for at, piece in enumerate(self.pieces)}
        while left:
            material = point.set_up[0]
            assert isinstance(material, int)
            rows = sorted([self.pieces[at].row for at in left], key=by_due)
            standing = SetUpBefore(material, clearance, 0, point.stands.keys())
            (first,) = grouped(rows, standing, len(rows), _NO_GUARD_S, 1)
            order.append(place[first.position])
            left.remove(order[-1])
            clearance = first.clearance
            point = self._then(point, order, left)
        return order

    def priced(self, order: list[int]) -> SequenceCost:
        """Price a sequence and remember it."""
        points = self.points[:1]
        for done in range(1, len(order) + 1):
            points.append(self._then(points[-1], order[:done], order[done:]))
        self.points = points
        return SequenceCost(self._late(order), points[-1].seconds)

    def better(self, order: list[int], best: SequenceCost) -> SequenceCost | None:
        """Price a sequence; remember and return it if it is better, else None, as soon as that is known."""
        late = self._late(order)
        if late > best.late:
            return None
        limit_s = best.seconds - _NOISE_S if late == best.late else _NO_LIMIT_S
        points = self._known(order)
        while len(points) <= len(order):
            done = len(points)
            if self.least(order[done - 1 :], points[-1], limit_s) >= limit_s:
                return None
            points.append(self._then(points[-1], order[:done], order[done:]))
        if points[-1].seconds >= limit_s:
            return None
        self.points = points
        return SequenceCost(late, points[-1].seconds)

    def _known(self, order: list[int]) -> list[_Point]:
        """The machine after as many orders of a sequence as have been priced before in this sequence."""
        points = self.points[:1]
        for done in range(1, len(order) + 1):
            point = self.known.get(tuple(order[:done]))
            if point is None:
                break
            points.append(point)
        return points

    def least(self, left: Sequence[int], point: _Point, limit_s: float = _NO_LIMIT_S) -> float:
        """Seconds at the end at least, as long as every tool finds a station; the sum breaks off at the limit.

        Set-up apart from tools is exact. A tool that does not stand is loaded once; a tool of which one copy is owned
        is loaded or changed whenever it is needed at another clearance than before. Loads because the turret is too
        small, angles and exchanges within programs come on top.
        """
        stands, set_up, seconds = dict(point.stands), point.set_up, point.seconds
        for at in left:
            piece = self.pieces[at]
            seconds += _set_up_s(set_up, piece)
            if seconds >= limit_s:
                break
            set_up = piece.set_up
            for tool, clearance, load_s, change_s in self.floors[at]:
                stood = stands.get(tool)
                if stood != clearance:
                    seconds += load_s if stood is None else change_s
                    stands[tool] = clearance
        return seconds

    def _floors(self, piece: SearchedOrder) -> list[tuple[int, float, float, float]]:
        """Needs with owned clearances, and the least seconds of a load and of any change."""
        room, found = self.room, []
        for need in piece.needs:
            if room.fits[need[0]]:
                clearance = room.owned_clearance(need)
                owned = need._replace(clearance=clearance)
                load_s = room.exchange_s[exchange_kind(room, owned, load=True)]
                change_s = min(load_s, room.exchange_s[exchange_kind(room, owned, load=False)])
                found.append((need[0], clearance if self.single[need[0]] else _ANY, load_s, change_s))
        return found

    def _stands(self, turret: Turret) -> dict[int, float]:
        """Clearance of each tool in the turret; of a tool with several copies it does not matter here."""
        single = self.single
        return {placed[0]: placed[2] if single[placed[0]] else _ANY for placed in turret.stations if placed}

    def _then(self, point: _Point, done: Sequence[int], left: Sequence[int]) -> _Point:
        """Do the last order of ``done`` from where the others left the machine."""
        if self.looks_ahead:
            return self._after(point, done[-1], [self.pieces[at].needs for at in left] + self.after)
        found = self.known.get(tuple(done))
        if found is None:
            found = self.known[tuple(done)] = self._after(point, done[-1], ())
        return found

    def _after(self, point: _Point, chosen: int, queue: Sequence[tuple[Need, ...]]) -> _Point:
        """Do an order as the cell does: exchanges before it, and those in the middle of its sheets."""
        piece, turret, counter = self.pieces[chosen], point.turret, point.counter
        plan = plan_exchange(self.room, turret, self.wanted[chosen], queue, sheets=piece.sheets)
        seconds = point.seconds + _set_up_s(point.set_up, piece)
        turret = mark_used(apply_exchanges(turret, plan.exchanges, counter), piece.needs, counter)
        if plan.mid_program:
            seconds += plan_seconds(self.room, plan, piece.sheets)
            turret = turret_after(plan, turret, piece.sheets, counter + 1)
        else:
            seconds += sum(self.room.exchange_s[exchange[0]] for exchange in plan.exchanges)
        return _Point(turret, counter + 1, piece.set_up, self._stands(turret), seconds)

    def _late(self, order: list[int]) -> int:
        """Orders that are finished after they are due, if each takes the planner's time."""
        late, done_s = 0, 0.0
        for at in order:
            piece = self.pieces[at]
            done_s += piece.work_s
            late += done_s > piece.due_in_s
        return late


def _set_up_s(stands: tuple[Hashable, ...], piece: SearchedOrder) -> float:
    if stands == piece.set_up:
        return 0.0
    seconds = 0.0
    for before, wanted, change_s in zip(stands, piece.set_up, piece.set_up_s, strict=True):
        if before != wanted and before is not None:
            seconds += change_s
    return seconds


def _moves(count: int) -> list[tuple[bool, int, int]]:
    """Each order moved to every other place, then each two that are not neighbours swapped."""
    moved = [(False, at, to) for at in range(count) for to in range(count) if to not in (at, at - 1)]
    return moved + [(True, at, to) for at in range(count) for to in range(at + 2, count)]


def _moved(order: list[int], swap: bool, at: int, to: int) -> list[int]:
    moved = list(order)
    if swap:
        moved[at], moved[to] = order[to], order[at]
    else:
        moved.insert(to, moved.pop(at))
    return moved
