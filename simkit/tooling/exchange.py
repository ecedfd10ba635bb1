"""Which tools, dies and angles are exchanged for a program: the plan, and what it does to the turret.

Rules (each a plant setting or common practice, no source):

- What stands at the right clearance and angle stays. Otherwise the die or the angle is changed in place,
  before a spare copy is loaded. A copy pinned at a clearance keeps its die, unless the tool has no spare
  copy: then the order could not be made, and the pin yields.
- A tool to be loaded takes the lowest free station of its size, else the station whose tool leaves first
  under the eviction rule; never one that another tool bars, unless there is no other.
- Tools that must turn are placed first, then those that bar other stations, then the rest. A tool that is
  harder to place may move an easier one of the same program.
- Needs for which no station is left are exchanged in the middle of the program (see
  :mod:`simkit.tooling.split`). If tools that are hard to place stand badly and moving them saves such
  exchanges, they are moved.

Keeping the tool needed soonest is optimal for tools of one size (Tang and Denardo 1988); with several
sizes, barred neighbours or tools that take two stations it is a good rule, not an optimum (Crama et al. 2007).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

from simkit.base.vocabulary import GRIPPER_EXCHANGES
from simkit.tooling.pad import NO_OTHERS, ExchangePad, OtherMachines, exchange_kind
from simkit.tooling.split import split_program
from simkit.tooling.toolroom import Need, ToolRoom
from simkit.tooling.turret import CopyOf, Exchange, Placed, Turret

NO_COPIES: frozenset[CopyOf] = frozenset()


class ExchangePlan(NamedTuple):
    """What is exchanged for a program.

    ``exchanges`` come before the first sheet. In the middle of a sheet comes ``mid_program`` or ``mid_back``,
    which undoes it, in turns; with ``returns`` each sheet does ``mid_program`` in its middle and ``mid_back``
    before the next (see :func:`mid_exchanges`). ``missing`` are the needs as asked for that cannot be met as
    asked: a clearance not owned (the nearest owned one is planned instead) or a tool that no station can take
    (nothing is planned).
    """

    exchanges: tuple[Exchange, ...]
    mid_program: tuple[Exchange, ...] = ()
    missing: tuple[Need, ...] = ()
    mid_back: tuple[Exchange, ...] = ()
    returns: bool = False


ByTool = tuple[tuple[int, tuple[Need, ...]], ...]
"""Needs by tool."""


class ResolvedNeeds(NamedTuple):
    """Needs of a program by tool as the tool room can meet them, and those that it cannot meet as asked for."""

    by_tool: ByTool
    missing: tuple[Need, ...]


def plan_exchange(
    room: ToolRoom,
    turret: Turret,
    needs: Sequence[Need] | ResolvedNeeds,
    known_queue: Sequence[tuple[Need, ...]],
    locked: frozenset[int] | None = None,
    locked_tools: frozenset[CopyOf] = NO_COPIES,
    sheets: int = 1,
    others: OtherMachines = NO_OTHERS,
) -> ExchangePlan:
    """Plan the exchanges for ``needs``; ``known_queue`` are the needs of the orders after it, soonest first.

    Needs are resolved (:func:`resolved`) here, unless they are already.

    ``locked`` stations and ``locked_tools`` (tool, copy) are not touched: they belong to the program that
    runs during look-ahead. With ``locked`` given (it may be empty), no exchange depends on another one, and
    needs that cannot be met so are left out of the plan and stay visible later. ``sheets`` of the order weigh what is
    exchanged in the middle of each against what is exchanged before the first. ``others`` are the copies that other
    machines have.
    """
    wanted, missing = needs if isinstance(needs, ResolvedNeeds) else resolved(room, needs)
    pad = ExchangePad(room, turret, known_queue, locked, locked_tools, others)
    overflow = _placed(pad, wanted)
    if not overflow or pad.ahead:
        return ExchangePlan(tuple(pad.exchanges), (), missing)
    plans = [
        _settled(pad, wanted, missing, sheets) if pad.displaced else None,
        _with_split(pad, overflow, missing, sheets, turret),
        _replanted(pad, wanted, missing, sheets),
    ]
    return min((plan for plan in plans if plan), key=lambda plan: _size(room, plan, sheets))


def mid_exchanges(plan: ExchangePlan, sheet_number: int) -> tuple[Exchange, ...]:
    """Return what is exchanged for a sheet after it or an earlier one began: in its middle, or on the way back to it.

    ``sheet_number`` counts every run of a sheet from 0, also of one that is made again.
    """
    if plan.returns:
        return plan.mid_back + plan.mid_program if sheet_number else plan.mid_program
    return plan.mid_back if sheet_number % 2 else plan.mid_program


def turret_after(plan: ExchangePlan, turret: Turret, sheets: int, counter: int) -> Turret:
    """Return the turret after ``sheets`` sheets; ``turret`` is the one with ``plan.exchanges`` done.

    It is the same to apply :func:`mid_exchanges` sheet by sheet.
    """
    turret = turret.copy()
    for number in range(sheets):
        turret.exchange(mid_exchanges(plan, number), counter)
    return turret


def plan_seconds(room: ToolRoom, plan: ExchangePlan, sheets: int) -> float:
    """Return the mean seconds of all exchanges of an order with so many sheets."""
    kinds = [exchange.kind for exchange in plan.exchanges]
    for number in range(sheets):
        kinds += [exchange.kind for exchange in mid_exchanges(plan, number)]
    return sum(room.exchange_s[kind] for kind in kinds)


def apply_exchanges(turret: Turret, exchanges: Iterable[Exchange], counter: int) -> Turret:
    """Return the turret after the exchanges, done for the order with number ``counter``."""
    after = turret.copy()
    after.exchange(exchanges, counter)
    return after


def mark_used(turret: Turret, needs: Sequence[Need], counter: int) -> Turret:
    """Return the turret with the stations that serve ``needs`` marked as used by order ``counter``."""
    after = turret.copy()
    after.mark_used(needs, counter)
    return after


def fit_lookahead(
    exchanges: Iterable[Exchange], seconds_of: Callable[[Exchange], float], budget_s: float
) -> tuple[tuple[Exchange, ...], float]:
    """Return the exchanges that the gripper completes within ``budget_s`` of cutting, and the seconds it takes.

    Only whole exchanges by the magazine count, one after the other in the order given, until the next
    does not fit; exchanges by hand are passed over, they are never hidden. They must come from a plan made with
    ``locked`` given: only there does none depend on another.
    """
    done: list[Exchange] = []
    used_s = 0.0
    for exchange in exchanges:
        if exchange.kind not in GRIPPER_EXCHANGES:
            continue
        end_s = used_s + seconds_of(exchange)
        if end_s > budget_s:
            break
        done.append(exchange)
        used_s = end_s
    return tuple(done), used_s


def engagements(room: ToolRoom, turret: Turret, needs: Sequence[Need], middle: Sequence[Exchange] = ()) -> int:
    """Count the needs of a program that are served from a station whose die retracts: each a rise of it per sheet.

    ``turret`` stands before the first sheet; ``middle`` are the exchanges within a sheet (``mid_program``), for
    needs that are only served after them. Of several copies the one at the right clearance and angle serves.
    """
    if not any(room.retracting):
        return 0
    halves = [turret, apply_exchanges(turret, middle, 0)] if middle else [turret]
    served = (_served_from(room, halves, need) for need in needs)
    return sum(station >= 0 and room.retracting[station] for station in served)


def _served_from(room: ToolRoom, halves: Sequence[Turret], need: Need) -> int:
    """Station that serves a need, in the first half that has its tool; -1 if none."""
    for turret in halves:
        copies = [
            (placed[2] != need[1], placed[3] != need[2] and not room.turning[station], station)
            for station in turret.where.get(need[0], ())
            if (placed := turret.stations[station])
        ]
        if copies:
            return min(copies)[2]
    return -1


def in_use(turret: Turret, needs: Sequence[Need]) -> tuple[frozenset[int], frozenset[CopyOf]]:
    """Return the stations and the copies that a running program uses: ``locked`` and ``locked_tools``."""
    stations = turret.serving(needs)
    return frozenset(stations), frozenset(placed[:2] for s in stations if (placed := turret.stations[s]))


def resolved(room: ToolRoom, needs: Sequence[Need]) -> ResolvedNeeds:
    """Needs with owned clearances, and those that cannot be met as asked."""
    owned, fits = room.clearances, room.fits
    missing = tuple(n for n in needs if not fits[n.tool] or not (n.clearance < 0 or n.clearance in owned[n.tool]))
    wanted = (
        sorted({n._replace(clearance=room.owned_clearance(n)) for n in needs if fits[n.tool]}) if missing else needs
    )
    by_tool: dict[int, tuple[Need, ...]] = {}
    for need in wanted:
        by_tool[need[0]] = (*by_tool.get(need[0], ()), need)
    return ResolvedNeeds(tuple(by_tool.items()), missing)


def _placed(pad: ExchangePad, wanted: ByTool) -> list[Need]:
    """Give each need a station, at the least trouble; return the needs for which nothing is left."""
    return _load(pad, _stay(pad, wanted))


def _stay(pad: ExchangePad, wanted: ByTool) -> list[Need]:
    """Keep tools that stand, and change dies and angles in place; return the needs that are left, by tool."""
    kept, stations, stand, room, where = pad.kept, pad.stations, pad.stand, pad.room, pad.turret.where
    left: list[Need] = []
    for tool, needs in wanted:
        at = where.get(tool)
        if at is None:
            left += needs
            continue
        stand[tool] = at
        placed = stations[at[0]]
        if len(at) > 1 or len(needs) > 1 or placed is None or (tool, placed[2]) in room.pinned:
            left += _change_in_place(pad, _keep(pad, needs, at), at)
            continue
        (need,), (station,) = needs, at
        if placed[2] == need[1] and (placed[3] == need[2] or room.turning[station]):
            kept[station] = need
        elif station in pad.locked:
            left.append(need)
        else:
            _change(pad, need, station)
    return left


def _keep(pad: ExchangePad, needs: Iterable[Need], at: tuple[int, ...]) -> list[Need]:
    """Keep what is met without any exchange; return the other needs. A turning station serves every angle."""
    kept, stations, turning = pad.kept, pad.stations, pad.room.turning
    left = []
    for need in needs:
        for station in at:
            placed = stations[station]
            if placed is None or placed[2] != need[1]:
                continue
            if (placed[3] == need[2] and station not in kept) or turning[station]:
                kept[station] = need
                break
        else:
            left.append(need)
    return left


def _change_in_place(pad: ExchangePad, needs: Iterable[Need], at: tuple[int, ...]) -> list[Need]:
    """Change dies and angles where the tool already stands; return the needs that are left."""
    left = []
    for need in needs:
        station = _station_to_change(pad, need, at)
        if station < 0:
            left.append(need)
        else:
            _change(pad, need, station)
    return left


def _station_to_change(pad: ExchangePad, need: Need, at: tuple[int, ...]) -> int:
    """Station whose copy only turns, else the one whose die leaves first, else -1."""
    tool, clearance = need[0], need[1]
    dies: list[int] = []
    pinned: list[int] = []
    for station in at:
        placed = pad.stations[station]
        if placed is None or station in pad.kept or station in pad.locked:
            continue
        if placed[2] == clearance:
            return station
        (pinned if (tool, placed[2]) in pad.room.pinned else dies).append(station)
    if not dies and pinned and not pad.spare_copy(tool):
        dies = pinned
    return pad.leaves_first(dies)


def _change(pad: ExchangePad, need: Need, station: int) -> None:
    """Plan a change of die, of angle, or of both apart, in one station."""
    room, placed = pad.room, pad.stations[station]
    assert placed is not None
    tool, copy, clearance, angle = placed
    if clearance != need[1]:
        placed = Placed(tool, copy, need[1], angle)
        kind = exchange_kind(room, need, load=False) if room.has_magazine else "die_change"
        pad.exchanges.append(Exchange(kind, station, placed))
    if angle != need[2] and not room.turning[station]:
        placed = Placed(tool, copy, need[1], need[2])
        pad.exchanges.append(Exchange("angle_change", station, placed))
    pad.stations[station] = placed
    pad.kept[station] = need


def _load(pad: ExchangePad, needs: list[Need]) -> list[Need]:
    """Load tools, the hardest to place first; return the needs for which nothing is left."""
    room, level = pad.room, pad.room.level
    pending = _hardest_first(room, needs)
    overflow = []
    while pending:
        need = pending.pop(0)
        tool = need[0]
        if tool in pad.stand and _turns_already(pad, need):
            continue
        copy = pad.spare_copy(tool)
        station = pad.plain_station(tool) if copy and not level[tool] else -1
        if station >= 0:
            pad.load(need, copy, station)
            continue
        touched: list[int] = []
        if copy:
            station, touched = pad.hard_station(tool, pending)
        if copy and station < 0:
            station = pad.way_round(tool)
            touched = [station]
        if station < 0:
            overflow.append(need)
            continue
        displaced = pad.put(need, copy, station, touched)
        if displaced:
            pending = _hardest_first(room, pending + displaced)
    return overflow


def _hardest_first(room: ToolRoom, needs: list[Need]) -> list[Need]:
    """Order needs by how hard their tools are to place; alike ones stay in order."""
    if len(needs) < 2:
        return needs
    return sorted(needs, key=lambda need: -room.level[need[0]])


def _turns_already(pad: ExchangePad, need: Need) -> bool:
    """Tell whether the program's tool already stands in a turning station for another angle."""
    return any(
        pad.kept[station][:2] == need[:2] and pad.room.turning[station]
        for station in pad.stand[need[0]]
        if station in pad.kept
    )


def _settled(first: ExchangePad, wanted: ByTool, missing: tuple[Need, ...], sheets: int) -> ExchangePlan:
    """Plan with none of the program's tools moved that stand: what is hard to place then comes in the middle."""
    pad = first.anew(first.turret)
    pad.settled = True
    return _with_split(pad, _placed(pad, wanted), missing, sheets, first.turret)


def _replanted(first: ExchangePad, wanted: ByTool, missing: tuple[Need, ...], sheets: int) -> ExchangePlan | None:
    """Plan again as if the program's tools that are hard to place could be moved; None if that is no use."""
    room, turret = first.room, first.turret
    hard = {tool for tool, _ in wanted if room.level[tool] and room.copies[tool] == 1}
    homes = {
        s: p for s, p in enumerate(turret.stations) if p and p.tool in hard and not room.is_pinned(p.tool, p.clearance)
    }
    if not homes:
        return None
    cleared = [None if s in homes else p for s, p in enumerate(turret.stations)]
    pad = first.anew(Turret(cleared, turret.last_used, turret.loaded_at))
    overflow = _placed(pad, wanted)
    if any(need.tool in hard for need in overflow):
        return None
    pad.exchanges = _moves(pad, homes)
    return _with_split(pad, overflow, missing, sheets, turret)


def _moves(pad: ExchangePad, homes: dict[int, Placed]) -> list[Exchange]:
    """Turn loads of tools that stood at ``homes`` into nothing, a change in place, or a move."""
    home_of = {placed.tool: station for station, placed in homes.items()}
    planned, pad.exchanges = pad.exchanges, []
    for exchange in planned:
        home = home_of.get(exchange.placed.tool, -1)
        if home == exchange.station:
            pad.stations[home] = homes[home]
            _change(pad, pad.kept[home], home)
            continue
        leaves = (home,) if home >= 0 and pad.stations[home] is None else ()
        standing = homes.get(exchange.station)
        out = standing.tool if standing else exchange.out
        pad.exchanges.append(exchange._replace(out=out, removed=exchange.removed + leaves))
    return pad.exchanges


def _with_split(
    pad: ExchangePad, overflow: list[Need], missing: tuple[Need, ...], sheets: int, turret: Turret
) -> ExchangePlan:
    """Exchange the needs that found no station in the middle of the program."""
    split = split_program(pad, overflow, sheets, turret)
    return ExchangePlan(split.before, split.there, (*missing, *split.lost), split.back, split.returns)


def _size(room: ToolRoom, plan: ExchangePlan, sheets: int) -> tuple[int, int, float]:
    """Order plans by needs unmet, exchanges within the program, seconds of the order."""
    return len(plan.missing), len(plan.mid_program) + len(plan.mid_back), plan_seconds(room, plan, sheets)
