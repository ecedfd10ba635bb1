"""The scratch pad of one exchange decision: what stands where so far, what may leave, where a tool can go."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from simkit.tooling.room import Need, ToolRoom
from simkit.tooling.turret import Placed, Turret, covering

NEVER = 10**9
"""Place in the known queue of a tool that it does not need."""

LOADS = ("tool_load", "magazine_exchange")
MAGAZINE_KINDS = frozenset({"magazine_exchange", "magazine_die_change"})


CopyOf = tuple[int, int]
"""A copy of a tool: row of the tool, copy number from 1."""


class Others(NamedTuple):
    """Copies that other machines of the cell have: ``used`` by their orders, and ``standing`` there unused."""

    used: frozenset[CopyOf] = frozenset()
    standing: frozenset[CopyOf] = frozenset()


NO_OTHERS = Others()


class Exchange(NamedTuple):
    """One exchange: its kind, the station, what stands there afterwards, and what left.

    ``out`` is the tool evicted from the station itself (-1: it was free, or the tool stayed), ``removed``
    the other stations that are emptied because the new tool bars them.
    """

    kind: str
    station: int
    placed: Placed
    out: int = -1
    removed: tuple[int, ...] = ()


def exchange_kind(room: ToolRoom, placed: Placed | Need, *, load: bool) -> str:
    """Return the kind of a load or die change: by the magazine if it gives the copy with that die, else by hand.

    For a need, whose copy is not chosen yet, any copy counts.
    """
    copy = placed.copy if load and isinstance(placed, Placed) else 0
    if room.has_magazine and room.magazine.gives(placed.tool, placed.clearance, copy):
        return "magazine_exchange" if load else "magazine_die_change"
    return "tool_load" if load else "die_change"


class Desk:
    """Mutable scratch of one decision; never outlives it.

    ``kept`` are the needs met so far by station, ``stand`` the stations of each tool of the program,
    ``fixed`` the stations that may not be touched, ``barred`` how many tools bar a station.

    With ``ahead`` set (look-ahead while another program runs) nothing is planned that depends on another
    exchange of the same plan, so that any selection of its exchanges can be carried out. With ``settled`` set
    tools of the program that have a station keep it; ``displaced`` tells whether one has lost it.

    Of ``others`` copies that only stand at another machine can be fetched there by hand, if no other is left.
    """

    __slots__ = (
        "ahead", "barred", "displaced", "exchanges", "fixed", "kept", "locked", "locked_tools", "order", "others",
        "queue", "room", "settled", "stand", "stations", "turret",
    )  # fmt: skip

    def __init__(
        self,
        room: ToolRoom,
        turret: Turret,
        queue: Sequence[tuple[Need, ...]],
        stand: dict[int, list[int]],
        kept: dict[int, Need],
        locked: frozenset[int] | None,
        locked_tools: frozenset[CopyOf],
        others: Others = NO_OTHERS,
    ) -> None:
        self.room = room
        self.turret = turret
        self.queue = queue
        self.locked = locked or frozenset()
        self.locked_tools = locked_tools
        self.others = others
        self.ahead = locked is not None or bool(locked_tools)
        self.settled = self.ahead
        self.displaced = False
        self.stations = list(turret.stations)
        self.stand = stand
        self.kept = kept
        self.exchanges: list[Exchange] = []
        self.order: Sequence[int] | None = None
        self.fixed = [False] * len(self.stations)
        self.barred = [0] * len(self.stations)
        self._survey()

    def _survey(self) -> None:
        """Note which stations may not be touched and which are barred."""
        room, pinned = self.room, self.room.pinned
        for station, placed in enumerate(self.stations):
            if placed is None or not room.special[placed[0]]:
                continue
            tool = placed[0]
            if tool in room.pinned_tools or (tool, placed[2]) in pinned:
                self.fixed[station] = True
            for other in room.bars[tool][station]:
                self.barred[other] += 1
        if self.ahead:
            for station, placed in enumerate(self.stations):
                self.fixed[station] |= station in self.locked or (
                    placed is not None and placed[:2] in self.locked_tools
                )

    def leave_order(self) -> Sequence[int]:
        """Return a rank per station under the eviction rule: the smallest leaves first."""
        if self.order is None:
            rule = self.room.eviction
            if rule == "soonest":
                self.order = self._soonest()
            else:
                self.order = self.turret.last_used if rule == "lru" else self.turret.loaded_at
        return self.order

    def _soonest(self) -> list[int]:
        """Rank by next use in the known queue; of several copies that stand, each by its own clearance."""
        queue = self.queue
        first_use = {need[0]: place for place in range(len(queue) - 1, -1, -1) for need in queue[place]}
        tools = [-1 if placed is None else placed[0] for placed in self.stations]
        ranks = [-first_use.get(tool, NEVER) for tool in tools]
        if len(set(tools)) - (-1 in tools) < len(tools) - tools.count(-1):
            for station, placed in enumerate(self.stations):
                if placed and tools.count(placed[0]) > 1:
                    ranks[station] = -next((i for i, needs in enumerate(queue) if _asks(needs, placed)), NEVER)
        return ranks

    def spare_copy(self, tool: int) -> int:
        """Return the lowest copy that is neither in the turret nor in use, 0 if there is none.

        One that has a place in the magazine is preferred: the gripper can bring it. One that stands at another
        machine comes last.
        """
        standing = [placed[1] for s in self.stand.get(tool, ()) if (placed := self.stations[s])]
        free = [
            copy
            for copy in range(1, self.room.copies[tool] + 1)
            if copy not in standing and (tool, copy) not in self.locked_tools and (tool, copy) not in self.others.used
        ]
        if self.others.standing:
            free.sort(key=lambda copy: (tool, copy) in self.others.standing)
        if len(free) > 1 and self.room.has_magazine:
            at_hand = self.room.magazine.copies - self.others.standing
            return next((copy for copy in free if (tool, copy) in at_hand), free[0])
        return free[0] if free else 0

    def plain_station(self, tool: int) -> int:
        """Return the lowest free fitting station, else the one whose tool leaves first, else -1.

        Only stations that nothing bars count. Of two that rank alike, the one loaded last stays, then the
        lowest leaves.
        """
        stations, kept, fixed, barred = self.stations, self.kept, self.fixed, self.barred
        usable = [s for s in self.room.fits[tool] if not (barred[s] or fixed[s] or s in kept)]
        for s in usable:
            if stations[s] is None:
                return s
        return self.leaves_first(usable)

    def leaves_first(self, stations: Sequence[int]) -> int:
        """Return the station whose tool leaves first under the eviction rule, -1 if there is none to choose."""
        if len(stations) < 2:
            return stations[0] if stations else -1
        order, loaded_at = self.leave_order(), self.turret.loaded_at
        best = stations[0]
        for s in stations:
            if order[s] < order[best] or (order[s] == order[best] and loaded_at[s] < loaded_at[best]):
                best = s
        return best

    def hard_station(self, tool: int, pending: Sequence[Need]) -> tuple[int, list[int]]:
        """Return the best station for a tool that bars others, must turn, or finds no plain one; -1 if none.

        Least first: needs of the program left without a station, tools of the program displaced, tools that
        leave, stations that must stay empty (none beside a die that retracts), the rank of the most valuable
        tool that leaves, the place in the list of stations that take the tool. Also returns the stations to be
        emptied.
        """
        best: tuple[tuple[int, int, int, int, int, int], list[int]] | None = None
        order = self.leave_order()
        level = self.room.level[tool]
        bars = self.room.bars[tool]
        for at, s in enumerate(self.room.fits[tool]):
            touched = self.touched(tool, s)
            if touched is None or not self._may_displace(touched, level):
                continue
            displaced = sum(q in self.kept for q in touched)
            shortage = self._shortage(tool, s, touched, pending)
            worst = max((order[q] for q in touched), default=-NEVER - 1)
            cost = (shortage, displaced, len(touched), len(bars[s]), worst, at)
            if best is None or cost < best[0]:
                best = (cost, touched)
        return (self.room.fits[tool][best[0][-1]], best[1]) if best else (-1, [])

    def way_round(self, tool: int) -> int:
        """Return the station that a tool can have if tools of its own program move on, -1 if there is none.

        That happens where size classes share stations: the tool there goes to a station that only it can take,
        perhaps through others. Of several ways the one with the fewest moves. Not for look-ahead or hard tools.
        """
        room = self.room
        if not room.shared or self.settled or room.level[tool]:
            return -1
        first = {station: station for station in room.fits[tool]}
        reached = list(first)
        for station in reached:
            if self.barred[station] or self.fixed[station]:
                continue
            kept = self.kept.get(station)
            if kept is None:
                return first[station]
            if not room.level[kept[0]]:
                further = [q for q in room.fits[kept[0]] if q not in first]
                first.update(dict.fromkeys(further, first[station]))
                reached.extend(further)
        return -1

    def touched(self, tool: int, station: int) -> list[int] | None:
        """Return the stations that must be emptied for a tool to stand there; None if one may not be."""
        beside = self.room.bars[tool][station]
        claimed = (station, *beside) if self.room.positions[tool] > 1 else (station,)
        touched = [q for q in (station, *beside) if self.stations[q] is not None]
        touched += [q for q in covering(self.room, self.stations, beside) if q not in touched]
        if any(self.barred[q] for q in claimed):
            if self.ahead:
                return None
            touched += [q for q in self._barring(claimed) if q not in touched]
        if self.fixed[station] or any(self.fixed[q] for q in touched):
            return None
        return touched

    def _barring(self, claimed: Iterable[int]) -> list[int]:
        """Stations whose tools bar one of those claimed."""
        wanted = set(claimed)
        room = self.room
        return [
            q for q, placed in enumerate(self.stations) if placed and not wanted.isdisjoint(room.bars[placed[0]][q])
        ]

    def _may_displace(self, touched: list[int], level: int) -> bool:
        """Tools of this program give way only to tools that are harder to place, and never in look-ahead."""
        levels = (self.room.level[self.kept[q].tool] for q in touched if q in self.kept)
        return all(other < level and not self.settled for other in levels)

    def _shortage(self, tool: int, station: int, touched: list[int], pending: Sequence[Need]) -> int:
        """How many needs still to be placed would find no station if the tool stood there."""
        room = self.room
        waiting = [need.tool for need in pending] + [self.kept[q].tool for q in touched if q in self.kept]
        if not waiting:
            return 0
        staying = [q for q in range(len(self.stations)) if (q in self.kept or self.fixed[q]) and q not in touched]
        closed = {station, *room.bars[tool][station], *staying}
        for q in staying:
            placed = self.stations[q]
            closed.update(room.bars[placed.tool][q] if placed else ())
        short = 0
        for fits in {room.fits[other] for other in waiting}:
            short += max(0, sum(room.fits[o] == fits for o in waiting) - sum(q not in closed for q in fits))
        return short

    def put(self, need: Need, copy: int, station: int, touched: Sequence[int]) -> list[Need]:
        """Plan to load a copy for a need into a station; return the needs this displaces.

        Loads planned into the stations touched are undone; what they would have emptied is emptied by this one.
        """
        tool, room = need[0], self.room
        before = self.stations[station]
        out = before[0] if before else -1
        undone = [exchange for exchange in self.exchanges if exchange.station in touched and exchange.kind in LOADS]
        displaced = [gone for q in touched if (gone := self._take_out(q))]
        removed = tuple([q for q in touched if q != station]) if len(touched) > 1 or station not in touched else ()
        for exchange in undone:
            removed += tuple(q for q in exchange.removed if q != station and self.stations[q] is None)
            if exchange.station == station:
                out = exchange.out
        placed = Placed(tool, copy, need[1], need[2])
        self.stations[station] = placed
        self.stand.setdefault(tool, []).append(station)
        self.kept[station] = need
        if room.special[tool]:
            self.fixed[station] = room.is_pinned(tool, need[1])
            for other in room.bars[tool][station]:
                self.barred[other] += 1
        kind = "tool_load" if placed[:2] in self.others.standing else exchange_kind(room, placed, load=True)
        self.exchanges.append(Exchange(kind, station, placed, out, removed))
        self.displaced |= bool(displaced)
        return displaced

    def _take_out(self, station: int) -> Need | None:
        """Empty a station; in look-ahead what its tool barred stays barred, as it may not leave after all."""
        placed = self.stations[station]
        if placed is None:
            return None
        tool = placed[0]
        self.stations[station] = None
        if tool in self.stand:
            self.stand[tool].remove(station)
        if not self.ahead and self.room.special[tool]:
            for other in self.room.bars[tool][station]:
                self.barred[other] -= 1
        displaced = self.kept.pop(station, None)
        if displaced:
            self.exchanges = [exchange for exchange in self.exchanges if exchange.station != station]
        return displaced


def _asks(needs: Iterable[Need], placed: Placed) -> bool:
    return any(need[0] == placed[0] and need[1] == placed[2] for need in needs)
