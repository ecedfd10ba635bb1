"""A program that needs more tools than find a place: which of them are exchanged in the middle of each sheet.

With k tools too many, k come in the middle of a sheet and k go. The next sheet starts with the tools that the
last one ended with, so one sheet exchanges there and the next one back. Only forming cannot take turns: it
comes last on a sheet (common practice, no source), so a program that exchanges a forming tool goes there in the
middle of each sheet and back before the next.

The tools that come and those that go are chosen so that an order of the given number of sheets takes the
fewest seconds of exchange, those before its first sheet included. Among the tools of one size class that bar
nothing and need not turn that is exact (dynamic programming over the tools: each stays, comes or goes);
tools that are hard to place, second angles of an only copy, and what is left when not even two halves are
enough are exchanged one by one where the way back takes the fewest seconds.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import NamedTuple

from simkit.tooling.pad import ExchangePad, exchange_kind
from simkit.tooling.toolroom import Need, ToolRoom
from simkit.tooling.turret import LOADS, Exchange, Placed, Turret

STAYS, COMES, GOES = "stays", "comes", "goes"
Cost = tuple[float, int, float, int]
"""Seconds of the order, tools moved against the plan so far, seconds of all pairs, stations: least first."""
FREE: Cost = (0.0, 0, 0.0, 0)


class Split(NamedTuple):
    """Exchanges before the first sheet, in its middle, and back again; needs that find no place at all.

    With ``returns`` each sheet goes there and back, else sheets take turns.
    """

    before: tuple[Exchange, ...]
    there: tuple[Exchange, ...]
    back: tuple[Exchange, ...]
    lost: tuple[Need, ...]
    returns: bool = False


class SplitNeed(NamedTuple):
    """A need of the program: its station (-1: none yet), seconds to have it before the first sheet and to load it.

    A standard tool (``pinned``) can only stay.
    """

    need: Need
    station: int
    before_s: float
    load_s: float
    forming: bool
    pinned: bool


class TurnTaking(NamedTuple):
    """A way to take turns: how often an order goes there and back, which tools may come and go."""

    there: int
    back: int
    may_come: Callable[[SplitNeed], bool]
    may_go: Callable[[SplitNeed], bool]


def split_program(pad: ExchangePad, overflow: list[Need], sheets: int, turret: Turret) -> Split:
    """Exchange the needs that found no station in the middle of the program.

    ``sheets`` are those of the order, ``turret`` what stands before it.
    """
    groups, rest = _groups(pad, overflow)
    roles = _cheapest(groups, sheets)
    while standard := _must_stand(pad, rest if roles is not None else overflow):
        overflow = [need for need in _stand_first(pad, standard, overflow) if not _finds_free(pad, need)]
        groups, rest = _groups(pad, overflow)
        roles = _cheapest(groups, sheets)
    for group in groups:
        _let_stay(pad, group, roles if roles is not None else _cutting_first(group))
    if roles is None:
        rest += _unplaced(pad, groups)
    steps = [*_pairs(pad, roles or {}), *((need, -1) for need in rest)]
    states, there, lost = [_program_stands(pad)], list[Exchange](), list[Need]()
    for need, station in sorted(steps, key=lambda step: pad.room.forming[step[0].tool]):
        one = _step(pad, need, station, {exchange.station for exchange in there})
        if one is None:
            lost.append(need)
            continue
        there.append(one)
        states.append(_program_stands(pad))
    back = _way_back(pad.room, states)
    return _forming_last(pad.room, turret, states, Split(tuple(pad.exchanges), tuple(there), tuple(back), tuple(lost)))


def _must_stand(pad: ExchangePad, needs: Sequence[Need]) -> Need | None:
    """First of the needs that is a standard tool and can be loaded: it never leaves, so it takes no turns."""
    room = pad.room
    pinned = (need for need in needs if room.is_pinned(need.tool, need.clearance) and pad.spare_copy(need.tool))
    return next((need for need in pinned if _best_station(pad, need, set())), None)


def _stand_first(pad: ExchangePad, need: Need, overflow: Sequence[Need]) -> list[Need]:
    """Load a standard tool before the first sheet, in the place of others; return the needs without a station then."""
    station, touched = _best_station(pad, need, set()) or (-1, [])
    displaced = pad.put(need, pad.spare_copy(need.tool), station, touched)
    return [other for other in overflow if other != need] + displaced


def _finds_free(pad: ExchangePad, need: Need) -> bool:
    """Load a tool before the first sheet if that takes nothing from the program; tell whether it did."""
    copy, (station, touched) = pad.spare_copy(need.tool), _best_station(pad, need, set()) or (-1, [])
    if not copy or station < 0 or any(q in pad.kept for q in touched):
        return False
    pad.put(need, copy, station, touched)
    return True


def _groups(pad: ExchangePad, overflow: list[Need]) -> tuple[list[list[SplitNeed]], list[Need]]:
    """Needs of each size class that may change roles, where some are too many; and the needs to treat one by one."""
    room = pad.room
    used = Counter(need.tool for need in (*pad.kept.values(), *overflow))
    planned_s = dict.fromkeys(pad.kept, 0.0)
    for exchange in pad.exchanges:
        planned_s[exchange.station] += room.exchange_s[exchange.kind]

    def item(need: Need, station: int, before_s: float) -> SplitNeed:
        pinned = room.is_pinned(need.tool, need.clearance)
        return SplitNeed(need, station, before_s, _load_s(room, need), room.forming[need.tool], pinned)

    groups: dict[tuple[int, ...], list[SplitNeed]] = {}
    rest = []
    for need in overflow:
        if used[need.tool] > 1 or room.level[need.tool] or not pad.spare_copy(need.tool):
            rest.append(need)
            continue
        groups.setdefault(room.fits[need.tool], []).append(item(need, -1, _load_s(room, need)))
    for station, need in sorted(pad.kept.items()):
        plain = used[need.tool] == 1 and not room.level[need.tool] and station not in pad.fixed
        if plain and room.fits[need.tool] in groups:
            groups[room.fits[need.tool]].append(item(need, station, planned_s[station]))
    return list(groups.values()), rest


def _cheapest(groups: Sequence[list[SplitNeed]], sheets: int) -> dict[Need, str] | None:
    """Roles of all items at the least cost; None if there is no way to exchange them in pairs.

    Sheets take turns if no forming tool is exchanged. Otherwise forming tools come, after cutting tools that go;
    or only forming tools come, whatever goes.
    """
    turns, returns = ((sheets + 1) // 2, sheets // 2), (sheets, sheets - 1)
    forms = (
        TurnTaking(*turns, lambda item: not item.forming, lambda item: not item.forming),
        TurnTaking(*returns, lambda item: True, lambda item: not item.forming),
        TurnTaking(*returns, lambda item: item.forming, lambda item: True),
    )
    best: tuple[float, dict[Need, str]] | None = None
    for form in forms:
        found = [_roles(group, form) for group in groups]
        solved = [one for one in found if one is not None]
        if len(solved) < len(found):
            continue
        total_s = sum(cost[0] for cost, _ in solved)
        if best is None or total_s < best[0]:
            best = total_s, {need: role for _, roles in solved for need, role in roles.items()}
    return best[1] if best else None


def _roles(group: Sequence[SplitNeed], form: TurnTaking) -> tuple[Cost, dict[Need, str]] | None:
    """Let as many tools come and go as are too many, at the least cost; by numbers that come and go so far."""
    count = sum(item.station < 0 for item in group)
    best: dict[tuple[int, int], tuple[Cost, tuple[str, ...]]] = {(0, 0): (FREE, ())}
    for item in group:
        further: dict[tuple[int, int], tuple[Cost, tuple[str, ...]]] = {}
        for (come, go), (cost, roles) in best.items():
            for role, price in _prices(item, form):
                state = (come + (role == COMES), go + (role == GOES))
                total = _sum(cost, price)
                if max(state) <= count and (state not in further or total < further[state][0]):
                    further[state] = (total, (*roles, role))
        best = further
    if (count, count) not in best:
        return None
    cost, roles = best[count, count]
    return cost, {item.need: role for item, role in zip(group, roles, strict=True)}


def _prices(item: SplitNeed, form: TurnTaking) -> list[tuple[str, Cost]]:
    """Cost of each role that an item may have."""
    moved = int(item.station < 0)
    prices: list[tuple[str, Cost]] = [(STAYS, (item.before_s, moved, 0.0, 0))]
    if item.pinned:
        return prices
    if form.may_come(item):
        prices.append((COMES, (form.there * item.load_s, 0, item.load_s, 0)))
    if form.may_go(item):
        seconds = item.before_s + form.back * item.load_s
        prices.append((GOES, (seconds, moved, item.load_s, max(item.station, 0))))
    return prices


def _sum(one: Cost, other: Cost) -> Cost:
    return one[0] + other[0], one[1] + other[1], one[2] + other[2], one[3] + other[3]


def _cutting_first(group: Sequence[SplitNeed]) -> dict[Need, str]:
    """Let cutting tools stand first and forming tools come, where there is no way to exchange them in pairs."""
    places = sum(item.station >= 0 for item in group)
    ranked = sorted(group, key=lambda item: (not item.pinned, item.forming, item.station < 0))
    return {item.need: STAYS if rank < places else COMES for rank, item in enumerate(ranked)}


def _let_stay(pad: ExchangePad, group: Sequence[SplitNeed], roles: dict[Need, str]) -> None:
    """Give tools that have no station, but are to stand in the first half, those of tools that are to come later."""
    leave = [item.station for item in group if item.station >= 0 and roles[item.need] == COMES]
    enter = [item.need for item in group if item.station < 0 and roles[item.need] != COMES]
    for need, station in zip(enter, leave, strict=True):
        pad.put(need, pad.spare_copy(need.tool), station, [station])


def _unplaced(pad: ExchangePad, groups: Sequence[list[SplitNeed]]) -> list[Need]:
    """Needs of the groups that have no station now."""
    placed = set(pad.kept.values())
    return [item.need for group in groups for item in group if item.need not in placed]


def _pairs(pad: ExchangePad, roles: dict[Need, str]) -> list[tuple[Need, int]]:
    """Tools that come, forming last, with the stations of tools that go, by size class."""
    room = pad.room
    leave: dict[tuple[int, ...], list[int]] = {}
    for station, need in sorted(pad.kept.items()):
        if roles.get(need) == GOES:
            leave.setdefault(room.fits[need.tool], []).append(station)
    come = [need for need, role in roles.items() if role == COMES]
    come.sort(key=lambda need: (room.forming[need.tool], need))
    return [(need, leave[room.fits[need.tool]].pop(0)) for need in come]


def _swap(pad: ExchangePad, need: Need, copy: int, station: int, touched: Sequence[int]) -> Exchange:
    """Load a tool in the middle of the program; the exchanges planned before it stay as they are."""
    planned, pad.exchanges = pad.exchanges, []
    pad.put(need, copy, station, touched)
    one, pad.exchanges = pad.exchanges[-1], planned
    return one


def _step(pad: ExchangePad, need: Need, station: int, swapped: set[int]) -> Exchange | None:
    """Exchange a tool that comes: at the station chosen for it if that is as it was, else where it is best."""
    if station in pad.kept and station not in swapped:
        return _swap(pad, need, pad.spare_copy(need.tool), station, [station])
    return _angle_swap(pad, need) or _best_swap(pad, need, swapped)


def _angle_swap(pad: ExchangePad, need: Need) -> Exchange | None:
    """Turn the only copy to a second angle."""
    for station, other in pad.kept.items():
        placed = pad.stations[station]
        if placed and other[:2] == need[:2] and not pad.spare_copy(need.tool):
            pad.stations[station] = placed._replace(angle=need.angle)
            return Exchange("angle_change", station, placed._replace(angle=need.angle))
    return None


def _best_swap(pad: ExchangePad, need: Need, swapped: set[int]) -> Exchange | None:
    """Put a tool into the best station there is for it; None if there is none, or no copy."""
    copy = pad.spare_copy(need.tool)
    best = _best_station(pad, need, swapped) if copy else None
    return _swap(pad, need, copy, *best) if best else None


def _best_station(pad: ExchangePad, need: Need, swapped: set[int]) -> tuple[int, list[int]] | None:
    """Station where the fewest tools of the program leave and come back in the fewest seconds, and what leaves.

    A station that has been exchanged on the way there already comes after others, and so does one where a
    forming tool gives way to a cutting tool.
    """
    room = pad.room
    best: tuple[tuple[int, bool, int, float, int], list[int]] | None = None
    for at, station in enumerate(room.fits[need.tool]):
        touched = pad.touched(need.tool, station)
        if touched is None:
            continue
        leaving = [pad.kept[q] for q in touched if q in pad.kept]
        forming = 0 if room.forming[need.tool] else sum(room.forming[gone.tool] for gone in leaving)
        seconds = sum(_load_s(room, gone) for gone in leaving)
        cost = (len(leaving), station in swapped, forming, seconds, at)
        if best is None or cost < best[0]:
            best = (cost, touched)
    return (room.fits[need.tool][best[0][-1]], best[1]) if best else None


def _load_s(room: ToolRoom, placed: Need | Placed) -> float:
    return room.exchange_s[exchange_kind(room, placed, load=True)]


def _program_stands(pad: ExchangePad) -> list[Placed | None]:
    """What stands by station, as far as this program needs it."""
    return [placed if station in pad.kept else None for station, placed in enumerate(pad.stations)]


def _way_back(room: ToolRoom, states: list[list[Placed | None]]) -> list[Exchange]:
    """Exchanges that undo the middle of a program step by step, from the last state to the first."""
    back = []
    leaving: list[int] = []
    for target, present in zip(states[-2::-1], states[:0:-1], strict=True):
        changed = [q for q in range(len(target)) if target[q] != present[q]]
        leaving += [q for q in changed if target[q] is None]
        for q in changed:
            placed, before = target[q], present[q]
            if placed is None:
                continue
            turned = before is not None and before[:3] == placed[:3]
            kind = "angle_change" if turned else exchange_kind(room, placed, load=True)
            out = before.tool if before and not turned else -1
            back.append(Exchange(kind, q, placed, out, tuple(leaving)))
            leaving = []
    return back


def _forming_last(room: ToolRoom, turret: Turret, states: list[list[Placed | None]], split: Split) -> Split:
    """Start with the other half if forming tools would give way to cutting tools; say whether sheets return."""
    tools = [{placed.tool for placed in state if placed} for state in states]
    if _forms_too_early(room, tools) and not _forms_too_early(room, tools[::-1]):
        before = straightened(turret, (*split.before, *split.there))
        split = Split(before, split.back, split.there, split.lost)
    returns = any(room.forming[one.placed.tool] for one in (*split.there, *split.back) if one.kind in LOADS)
    return split._replace(returns=returns)


def _forms_too_early(room: ToolRoom, tools: Sequence[set[int]]) -> bool:
    """Tell whether a cutting tool comes when a forming tool has left, or at its place."""
    formed = False
    for present, after in pairwise(tools):
        formed |= any(room.forming[tool] for tool in present - after)
        if formed and not all(room.forming[tool] for tool in after - present):
            return True
    return False


def straightened(turret: Turret, exchanges: Sequence[Exchange]) -> tuple[Exchange, ...]:
    """Leave out loads that a later one in the same station undoes, and what stands there already.

    What the exchanges left out empty is emptied by the next.
    """
    last = {exchange.station: at for at, exchange in enumerate(exchanges) if exchange.kind in LOADS}
    stations = list(turret.stations)
    kept: list[Exchange] = []
    removed: list[int] = []
    for at, exchange in enumerate(exchanges):
        removed += exchange.removed
        station = exchange.station
        there = stations[station]
        if at < last.get(station, -1) or (there == exchange.placed and station not in removed):
            continue
        out = there.tool if there and there.tool != exchange.placed.tool else -1
        emptied = tuple(dict.fromkeys(q for q in removed if q != station and stations[q] is not None))
        for q in emptied:
            stations[q] = None
        stations[station] = exchange.placed
        kept.append(exchange._replace(out=out, removed=emptied))
        removed = []
    return tuple(kept)
