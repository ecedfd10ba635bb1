"""Filling the magazine ahead: what is put in from outside for the orders that are known, and what makes room.

Rules:

- Looked at are the needs of the known queue, soonest first, for a tool at a clearance that stands neither in
  the magazine nor in the turret.
- A die goes to its tool if a place of that tool has room for it. Else a copy that is not in the magazine
  gets a place of its own, with all dies of it that the queue needs and the place has room for.
- Where nothing is free, what the known queue needs latest leaves, if that is later than what comes in. Of
  what is not needed at all the highest place is emptied first: there the default contents have the tools
  used least. This is the rule of keeping what is needed soonest (Tang and Denardo 1988, for tools of one
  size; a good rule where some take two places).
- A place whose copy stands in the turret is kept for it, and so are the dies that stand there.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import NamedTuple

from simkit.tooling.magazine import MagazineState, Shelf, Stored
from simkit.tooling.room import Need, ToolRoom
from simkit.tooling.turret import Turret

NEVER = 10**9
"""Place in the known queue of what it does not need."""


class Move(NamedTuple):
    """One tool (``kind`` tool, with its dies) or one die (``kind`` die) put into the magazine from outside.

    ``into`` is what ``places`` of the shelf hold afterwards, ``out`` what stood or lay there before: nothing,
    other tools, or the same tool with its dies as they were.
    """

    kind: str
    size_mm: float
    places: tuple[int, ...]
    out: tuple[Stored, ...]
    into: Stored


def with_contents(room: ToolRoom, contents: frozenset[tuple[int, float]]) -> ToolRoom:
    """Return the room with these (tool, clearance) pairs in its magazine."""
    return replace(room, contents=contents)


def refill(
    state: MagazineState, room: ToolRoom, known_queue: Sequence[Sequence[Need]], turret: Turret
) -> tuple[Move, ...]:
    """Return what to put into the magazine for the known queue (needs by order, soonest first), in that order.

    Any first part of the moves can be carried out without the rest. What cannot be put in without taking out
    something needed as soon stays a miss.
    """
    first = _first_needs(room, known_queue)
    held = state.contents
    if all(pair in held for pair in first):
        return ()
    filling = _Filling(state, room, first, turret)
    for pair in first:
        filling.put_in(*pair)
    return tuple(filling.moves)


def apply_moves(state: MagazineState, moves: Iterable[Move]) -> MagazineState:
    """Return the magazine after the moves. Raises ValueError for a move that does not fit what is there."""
    shelves = {shelf.size_mm: shelf for shelf in state.shelves}
    for move in moves:
        shelf = shelves[move.size_mm]
        goes = {None, *move.out}
        if not set(move.out) <= set(shelf.places) or any(shelf.places[place] not in goes for place in move.places):
            raise ValueError(f"the magazine is not as it was when this was planned: {move}")
        places = [None if stored in move.out else stored for stored in shelf.places]
        for place in move.places:
            places[place] = move.into
        shelves[move.size_mm] = Shelf(shelf.size_mm, shelf.dies_per_place, tuple(places))
    return MagazineState(tuple(shelves.values()), state.shelf_of)


def _first_needs(room: ToolRoom, queue: Sequence[Sequence[Need]]) -> dict[tuple[int, float], int]:
    """Return the order that needs a tool first, soonest first, by tool and the owned clearance it will use."""
    asked: dict[tuple[int, float], int] = {}
    for at, needs in enumerate(queue):
        for tool, clearance, _ in needs:
            if (tool, clearance) not in asked:
                asked[tool, clearance] = at
    owned = room.clearances
    if all(clearance < 0 or clearance in owned[tool] for tool, clearance in asked):
        return asked
    first: dict[tuple[int, float], int] = {}
    for (tool, clearance), at in asked.items():
        first.setdefault((tool, room.owned_clearance(Need(tool, clearance, 0.0))), at)
    return first


class _Filling:
    """Mutable scratch of one refill; never outlives it.

    ``first`` is the order that needs a (tool, clearance) first and ``soonest`` that of a tool, ``inside`` what
    is in the magazine so far, ``copies_out`` and ``dies_out`` what stands in the turret.
    """

    def __init__(
        self, state: MagazineState, room: ToolRoom, first: dict[tuple[int, float], int], turret: Turret
    ) -> None:
        self.state, self.room, self.first = state, room, first
        self.soonest: dict[int, int] = {}
        for (tool, _), at in first.items():
            self.soonest.setdefault(tool, at)
        self.inside = set(state.contents)
        standing = [placed for placed in turret.stations if placed is not None]
        self.copies_out = {(placed[0], placed[1]) for placed in standing}
        self.dies_out = {(placed[0], placed[2]) for placed in standing}
        self.open: dict[int, _OpenShelf] = {}
        self.moves: list[Move] = []

    def put_in(self, tool: int, clearance: float) -> None:
        """Put a tool at a clearance in, if it is nowhere at hand and there is a way."""
        pair = (tool, clearance)
        number = self.state.shelf_of[tool]
        if pair in self.inside or pair in self.dies_out or number < 0 or not self.room.fits[tool]:
            return
        shelf = self.open.get(number)
        if shelf is None:
            shelf = self.open[number] = _OpenShelf(self, self.state.shelves[number])
        move = shelf.put_in(tool, clearance, self.first[pair])
        if move is not None:
            self.moves.append(move)

    def dies_for(self, tool: int, clearance: float, room_for: int) -> tuple[float, ...]:
        """Return the die asked for and the others of the tool that the queue needs, as many as a place holds."""
        others = (die for row, die in self.first if row == tool and die != clearance)
        wanted = [die for die in others if (tool, die) not in self.inside and (tool, die) not in self.dies_out]
        return (clearance, *wanted[: room_for - 1])


class _OpenShelf:
    """The places of one size during a refill.

    ``homes`` are the (first) places of each tool, ``free`` the places that are empty, ``leaving`` those that
    may be emptied with the order that needs their tool, the one needed latest last.
    """

    def __init__(self, filling: _Filling, shelf: Shelf) -> None:
        self.filling, self.room, self.shelf = filling, filling.room, shelf
        self.places = list(shelf.places)
        self.free = [place for place, stored in enumerate(self.places) if stored is None]
        self.homes: dict[int, list[int]] = {}
        self.leaving: list[tuple[int, int]] = []
        soonest, out = filling.soonest, filling.copies_out
        for place, stored in enumerate(self.places):
            if stored is None:
                continue
            tool, copy, _ = stored
            homes = self.homes.setdefault(tool, [])
            if self.room.positions[tool] > 1 and any(self.places[home] == stored for home in homes):
                continue
            homes.append(place)
            if (tool, copy) not in out:
                self.leaving.append((soonest.get(tool, NEVER), place))
        self.leaving.sort()

    def put_in(self, tool: int, clearance: float, at: int) -> Move | None:
        """Find room for one tool at one clearance: the first way that is open, or none."""
        homes = self.homes.get(tool, ())
        for place in homes:
            stored = self._stored(place)
            if len(stored.dies) < self.shelf.dies_per_place:
                return self._change_dies(place, (*stored.dies, clearance))
        spare = len(homes) < self.room.copies[tool]
        if spare and len(self.free) >= self.room.positions[tool]:
            return self._give_place(tool, clearance, [])
        if homes and (swap := self._swap_die(tool, clearance, at)):
            return swap
        leaving = self._leaving_for(self.room.positions[tool] - len(self.free), at) if spare else []
        return self._give_place(tool, clearance, leaving) if leaving else None

    def _swap_die(self, tool: int, clearance: float, at: int) -> Move | None:
        """Put a die in the stead of the one of this tool needed latest, if that is later than this one."""
        first, dies_out = self.filling.first, self.filling.dies_out
        latest, place, gone = at, -1, clearance
        for home in self.homes[tool]:
            for die in self._stored(home).dies:
                needed = first.get((tool, die), NEVER)
                if needed > latest and (tool, die) not in dies_out:
                    latest, place, gone = needed, home, die
        if place < 0:
            return None
        return self._change_dies(place, tuple(clearance if die == gone else die for die in self._stored(place).dies))

    def _change_dies(self, place: int, dies: tuple[float, ...]) -> Move:
        out = self._stored(place)
        places = [place]
        if self.room.positions[out.tool] > 1:
            places = [p for p, stored in enumerate(self.places) if stored == out]
        return self._moved("die", places, (out,), out._replace(dies=dies))

    def _leaving_for(self, width: int, at: int) -> list[tuple[int, int]]:
        """Return the fewest of ``leaving`` that free ``width`` places, needed latest first; none if too few may."""
        found: list[tuple[int, int]] = []
        for needed, place in reversed(self.leaving):
            if needed <= at:
                break
            gain = self.room.positions[self._stored(place).tool]
            if gain >= width:
                return [(needed, place)]
            found.append((needed, place))
            if len(found) == width:
                return found
        return []

    def _give_place(self, tool: int, clearance: float, leaving: list[tuple[int, int]]) -> Move:
        """Give a copy of a tool free places, after those that leave; rather a copy that is not in the turret."""
        out = tuple(self._stored(place) for _, place in leaving)
        for each, stored in zip(leaving, out, strict=True):
            self.leaving.remove(each)
            self.homes[stored.tool].remove(each[1])
        self.free += [place for place, stored in enumerate(self.places) if stored in out] if out else []
        width = self.room.positions[tool]
        places, self.free = self.free[:width], self.free[width:]
        stored_copies = {self._stored(home).copy for home in self.homes.get(tool, ())}
        copies = [copy for copy in range(1, self.room.copies[tool] + 1) if copy not in stored_copies]
        standing = self.filling.copies_out
        copy = min(copies, key=lambda copy: ((tool, copy) in standing, copy))
        self.homes.setdefault(tool, []).append(min(places))
        into = Stored(tool, copy, self.filling.dies_for(tool, clearance, self.shelf.dies_per_place))
        return self._moved("die" if (tool, copy) in standing else "tool", places, out, into)

    def _stored(self, place: int) -> Stored:
        stored = self.places[place]
        assert stored is not None
        return stored

    def _moved(self, kind: str, places: list[int], out: tuple[Stored, ...], into: Stored) -> Move:
        """Note a move and what it leaves on the shelf and in the magazine."""
        self.places = [None if stored in out else stored for stored in self.places]
        for place in places:
            self.places[place] = into
        inside = self.filling.inside
        for one in out:
            inside.difference_update((one.tool, die) for die in one.dies)
            for home in self.homes.get(one.tool, ()):
                inside.update((one.tool, die) for die in self._stored(home).dies)
        inside.update((into.tool, die) for die in into.dies)
        return Move(kind, self.shelf.size_mm, tuple(places), out, into)
