"""The scratch pad of one exchange decision: what stands where so far, what may leave, where a tool can go."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from simkit.tooling.toolroom import Need, ToolRoom
from simkit.tooling.turret import LOADS, CopyOf, Exchange, Placed, Turret, covering

NEVER = 10**9
"""Place in the known queue of a tool that it does not need."""


class OtherMachines(NamedTuple):
    """Copies that other machines of the cell have: ``used`` by their orders, and ``standing`` there unused."""

    used: frozenset[CopyOf] = frozenset()
    standing: frozenset[CopyOf] = frozenset()


NO_OTHERS = OtherMachines()
_NOWHERE: frozenset[int] = frozenset()


def exchange_kind(room: ToolRoom, placed: Placed | Need, *, load: bool) -> str:
    """Return the kind of a load or die change: by the magazine if it gives the copy with that die, else by hand.

    For a need, whose copy is not chosen yet, any copy counts.
    """
    copy = placed.copy if load and isinstance(placed, Placed) else 0
    if room.has_magazine and room.magazine.gives(placed.tool, placed.clearance, copy):
        return "magazine_exchange" if load else "magazine_die_change"
    return "tool_load" if load else "die_change"


class ExchangePad:
    """Mutable scratch of one decision; never outlives it.

    ``kept`` are the needs met so far by station, ``stand`` the stations of each tool of the program,
    ``locked`` those in use by the program that runs, ``fixed`` all that may not be touched, ``barred`` how many tools
    bar a station.

    With ``ahead`` set (look-ahead while another program runs) nothing is planned that depends on another
    exchange of the same plan, so that any selection of its exchanges can be carried out. With ``settled`` set
    tools of the program that have a station keep it; ``displaced`` tells whether one has lost it.

    Copies in use, here or by ``others``, are ``taken``. Of ``others`` copies that only stand at another machine can be
    fetched there by hand, if no other is left.
    """

    __slots__ = (
        "ahead", "barred", "displaced", "exchanges", "fixed", "kept", "locked", "order", "others", "queue", "room",
        "settled", "stand", "stations", "taken", "turret",
    )  # fmt: skip

    def __init__(
        self,
        room: ToolRoom,
        turret: Turret,
        queue: Sequence[tuple[Need, ...]],
        locked: frozenset[int] | None = None,
        locked_tools: frozenset[CopyOf] = frozenset(),
        others: OtherMachines = NO_OTHERS,
    ) -> None:
        self.room, self.turret, self.queue, self.others = room, turret, queue, others
        self.ahead = self.settled = locked is not None or bool(locked_tools)
        self.displaced = False
        self.stations = [*turret.stations]
        self.stand: dict[int, tuple[int, ...]] = {}
        self.kept: dict[int, Need] = {}
        self.exchanges: list[Exchange] = []
        self.order: Sequence[int] | None = None
        self.taken = locked_tools | others.used if locked_tools else others.used
        self.locked = locked or _NOWHERE
        if locked_tools:
            at = [(s, copy) for copy in locked_tools for s in turret.where.get(copy[0], ()) if s not in self.locked]
            self.locked |= {s for s, copy in at if turret.holds(s, copy)}
        self.fixed = {*self.locked}
        self.barred: dict[int, int] = {}
        self._survey()

    def anew(self, turret: Turret) -> ExchangePad:
        """Return a pad for the same decision from the start, with another turret."""
        return ExchangePad(self.room, turret, self.queue, others=self.others)

    def _survey(self) -> None:
        """Note where standard tools stand, and which stations are barred."""
        room, where = self.room, self.turret.where
        for tool in room.special:
            for station in where.get(tool, ()):
                placed = self.stations[station]
                if placed and room.is_pinned(tool, placed[2]):
                    self.fixed.add(station)
                self._bar(tool, station, 1)

    def _bar(self, tool: int, station: int, more: int) -> None:
        """Count one tool more, or less, that bars what it bars from a station."""
        for other in self.room.bars[tool][station]:
            count = self.barred.pop(other, 0) + more
            if count:
                self.barred[other] = count

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
        copies, stand, taken, room = self.room.copies[tool], self.stand.get(tool), self.taken, self.room
        if copies == 1 and not taken:
            return 0 if stand else 1
        standing = [placed[1] for s in stand or () if (placed := self.stations[s])]
        free = [copy for copy in range(1, copies + 1) if copy not in standing and (tool, copy) not in taken]
        if self.others.standing:
            free.sort(key=lambda copy: (tool, copy) in self.others.standing)
        if len(free) > 1 and room.has_magazine:
            at_hand = room.magazine.copies - self.others.standing
            return next((copy for copy in free if (tool, copy) in at_hand), free[0])
        return free[0] if free else 0

    def plain_station(self, tool: int) -> int:
        """Return the lowest free fitting station, else the one whose tool leaves first, else -1.

        Only stations that nothing bars count. Of two that rank alike, the one loaded last stays, then the
        lowest leaves.
        """
        stations, closed = self.stations, self.kept.keys() | self.fixed | self.barred.keys()
        usable = [s for s in self.room.fits[tool] if s not in closed]
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
        least = order[best]
        for s in stations:
            rank = order[s]
            if rank < least or (rank == least and loaded_at[s] < loaded_at[best]):
                best, least = s, rank
        return best

    def hard_station(self, tool: int, pending: Sequence[Need]) -> tuple[int, list[int]]:
        """Return the best station for a tool that bars others, must turn, or finds no plain one; -1 if none.

        Least first: needs of the program left without a station, tools of the program displaced, tools that
        leave, stations that must stay empty (none beside a die that retracts), the rank of the most valuable
        tool that leaves, the place in the list of stations that take the tool. Also returns the stations to be
        emptied.
        """
        best: tuple[tuple[int, int, int, int, int, int], list[int]] | None = None
        order, room, kept = self.leave_order(), self.room, self.kept
        bars, crowd = room.bars[tool], self._crowd(pending, ())
        for at, s in enumerate(room.fits[tool]):
            touched = self.touched(tool, s)
            if touched is None:
                continue
            displaced = [q for q in touched if q in kept]
            if displaced and not self._may_displace(displaced, room.level[tool]):
                continue
            wanted, closed = self._crowd(pending, displaced) if displaced else crowd
            taken = closed.union((s,), bars[s])
            short = [count - len(fits) + len(taken.intersection(fits)) for fits, count in wanted.items()]
            worst = max([order[q] for q in touched], default=-NEVER - 1)
            cost = (sum(max(0, count) for count in short), len(displaced), len(touched), len(bars[s]), worst, at)
            if best is None or cost < best[0]:
                best = (cost, touched)
        return (room.fits[tool][best[0][-1]], best[1]) if best else (-1, [])

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
            if station in self.barred or station in self.fixed:
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
        if not self.barred.keys().isdisjoint(claimed):
            if self.ahead:
                return None
            touched += [q for q in self._barring(claimed) if q not in touched]
        if station in self.fixed or not self.fixed.isdisjoint(touched):
            return None
        return touched

    def _barring(self, claimed: Iterable[int]) -> list[int]:
        """Stations whose tools bar one of those claimed."""
        wanted = set(claimed)
        room = self.room
        return [
            q for q, placed in enumerate(self.stations) if placed and not wanted.isdisjoint(room.bars[placed[0]][q])
        ]

    def _may_displace(self, stations: Iterable[int], level: int) -> bool:
        """Tools of this program give way only to tools that are harder to place, and never in look-ahead."""
        return not self.settled and all(self.room.level[self.kept[q][0]] < level for q in stations)

    def _crowd(
        self, pending: Sequence[Need], displaced: Sequence[int]
    ) -> tuple[Mapping[tuple[int, ...], int], set[int]]:
        """How many needs still to be placed want each set of stations, and the stations closed to them, if the tools of
        some stations of the program give way."""
        room = self.room
        staying = (self.kept.keys() | self.fixed).difference(displaced)
        closed = set(staying)
        for q in staying:
            placed = self.stations[q]
            if placed and placed[0] in room.special:
                closed.update(room.bars[placed[0]][q])
        wanted: dict[tuple[int, ...], int] = {}
        for tool in [need[0] for need in pending] + [self.kept[q][0] for q in displaced]:
            fits = room.fits[tool]
            wanted[fits] = wanted.get(fits, 0) + 1
        return wanted, closed

    def put(self, need: Need, copy: int, station: int, touched: Sequence[int]) -> list[Need]:
        """Plan to load a copy for a need into a station; return the needs this displaces.

        Loads planned into the stations touched are undone; what they would have emptied is emptied by this one.
        """
        before = self.stations[station]
        out = before[0] if before else -1
        undone = [exchange for exchange in self.exchanges if exchange[1] in touched and exchange[0] in LOADS]
        displaced = [gone for q in touched if (gone := self._take_out(q))]
        removed = tuple([q for q in touched if q != station])
        for exchange in undone:
            removed += tuple(q for q in exchange.removed if q != station and self.stations[q] is None)
            if exchange.station == station:
                out = exchange.out
        self._stand(need, copy, station, out, removed)
        self.displaced |= bool(displaced)
        return displaced

    def load(self, need: Need, copy: int, station: int) -> None:
        """Plan to load a copy for a need into a station that the program does not use yet."""
        before = self.stations[station]
        out = before[0] if before else -1
        if out in self.stand or out in self.room.special:
            self._take_out(station)
        self._stand(need, copy, station, out, ())

    def _stand(self, need: Need, copy: int, station: int, out: int, removed: tuple[int, ...]) -> None:
        tool, clearance, angle = need
        room, placed = self.room, Placed(tool, copy, clearance, angle)
        self.stations[station] = placed
        self.stand[tool] = (*self.stand.get(tool, ()), station)
        self.kept[station] = need
        if tool in room.special:
            if room.is_pinned(tool, clearance):
                self.fixed.add(station)
            self._bar(tool, station, 1)
        by_hand = not room.has_magazine or placed[:2] in self.others.standing
        kind = "tool_load" if by_hand else exchange_kind(room, placed, load=True)
        self.exchanges.append(Exchange(kind, station, placed, out, removed))

    def _take_out(self, station: int) -> Need | None:
        """Empty a station; in look-ahead what its tool barred stays barred, as it may not leave after all."""
        placed = self.stations[station]
        if placed is None:
            return None
        tool = placed[0]
        self.stations[station] = None
        if tool in self.stand:
            self.stand[tool] = tuple([s for s in self.stand[tool] if s != station])
        if not self.ahead and tool in self.room.special:
            self._bar(tool, station, -1)
        displaced = self.kept.pop(station, None)
        if displaced:
            self.exchanges = [exchange for exchange in self.exchanges if exchange.station != station]
        return displaced


def _asks(needs: Iterable[Need], placed: Placed) -> bool:
    return any(need[0] == placed[0] and need[1] == placed[2] for need in needs)
