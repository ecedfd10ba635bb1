"""Filling the magazine ahead: what is put in from outside for the orders that are known, and what makes room.

Rules:

- Looked at are the needs of the known queue, soonest first, for a tool at a clearance that stands neither in
  the magazine nor in the turret.
- A die goes to its tool if a place of that tool has room for it. Else it takes an empty place, with the other
  dies that the queue needs and the place has room for: together with a copy if its tool has no place yet, or
  has a spare copy that takes no more room, and otherwise alone.
- Where nothing is free, what the known queue needs latest leaves, if that is later than what comes in: a die
  of the same tool, or all that is in a place. Of what is not needed at all dies alone leave first, then the
  highest place is emptied: there the default contents have the tools used least. This is the rule of keeping
  what is needed soonest (Tang and Denardo 1988, for tools of one size; a good rule where some take two places).
- The last copy of a tool takes the dies that lie alone with it.
- A place whose copy stands in the turret is kept for it, and so are the dies that stand there.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import NamedTuple

from simkit.tooling.magazine import MagazineState, Shelf, Stored
from simkit.tooling.toolroom import Need, ToolRoom
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


def with_magazine(room: ToolRoom, state: MagazineState) -> ToolRoom:
    """Return the room with what is in its magazine now."""
    return replace(room, magazine=state)


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
    may be emptied: the order that needs them first, whether they hold dies alone, the place; what leaves first
    stands last.
    """

    def __init__(self, filling: _Filling, shelf: Shelf) -> None:
        self.filling, self.room, self.shelf = filling, filling.room, shelf
        self.places = list(shelf.places)
        self.free = [place for place, stored in enumerate(self.places) if stored is None]
        self.homes: dict[int, list[int]] = {}
        self.leaving: list[tuple[int, bool, int]] = []
        for place, stored in enumerate(self.places):
            if stored is not None and all(self.places[home] != stored for home in self.homes.get(stored.tool, ())):
                self.homes.setdefault(stored.tool, []).append(place)
        for home in (home for homes in self.homes.values() for home in homes):
            stored = self._stored(home)
            if self._may_leave(stored):
                self.leaving.append((self._needed(stored), stored.copy == 0, home))
        self.leaving.sort()

    def _may_leave(self, stored: Stored) -> bool:
        """A place is kept while its copy stands in the turret, or a die of it, or one that lies alone with its tool."""
        lying = [stored, *(self._alone(stored.tool) if stored.copy else ())]
        out = self.filling.dies_out
        return stored[:2] not in self.filling.copies_out and not any(
            (one.tool, die) in out for one in lying for die in one.dies
        )

    def _alone(self, tool: int) -> list[Stored]:
        return [stored for home in self.homes[tool] if (stored := self._stored(home)).copy == 0]

    def _needed(self, stored: Stored) -> int:
        """The order that needs a copy with any die, or dies alone."""
        if stored.copy:
            return self.filling.soonest.get(stored.tool, NEVER)
        return min(self.filling.first.get((stored.tool, die), NEVER) for die in stored.dies)

    def put_in(self, tool: int, clearance: float, at: int) -> Move | None:
        """Find room for one tool at one clearance: the first way that is open, or none."""
        for place in self.homes.get(tool, ()):
            stored = self._stored(place)
            if len(stored.dies) < self.shelf.dies_per_place:
                return self._change_dies(place, (*stored.dies, clearance))
        copy = self._copy_for_place(tool)
        short = self._width(tool, copy) - len(self.free)
        if short <= 0:
            return self._give_place(tool, copy, clearance, [])
        leaving = self._leaving_for(short, at)
        latest, place, die = self._latest_die(tool, at)
        if place >= 0 and (not leaving or leaving[-1][0] <= latest):
            return self._change_dies(place, tuple(clearance if one == die else one for one in self._stored(place).dies))
        return self._give_place(tool, copy, clearance, leaving) if leaving else None

    def _copy_for_place(self, tool: int) -> int:
        """The copy to get a place, rather one that is not in the turret; 0 for dies alone."""
        homes = self.homes.get(tool, ())
        if homes and self.room.positions[tool] > 1:
            return 0
        stored = {self._stored(home).copy for home in homes}
        copies = [copy for copy in range(1, self.room.copies[tool] + 1) if copy not in stored]
        return min(copies, key=lambda copy: ((tool, copy) in self.filling.copies_out, copy), default=0)

    def _width(self, tool: int, copy: int) -> int:
        return self.room.positions[tool] if copy else 1

    def _latest_die(self, tool: int, at: int) -> tuple[int, int, float]:
        """Return when the die of this tool that is needed latest is needed, its place and which it is.

        The place is -1 if none is needed later than ``at``. Dies in the turret stay.
        """
        first, dies_out = self.filling.first, self.filling.dies_out
        found = (at, -1, 0.0)
        for home in self.homes.get(tool, ()):
            for die in self._stored(home).dies:
                needed = first.get((tool, die), NEVER)
                if needed > found[0] and (tool, die) not in dies_out:
                    found = (needed, home, die)
        return found

    def _change_dies(self, place: int, dies: tuple[float, ...]) -> Move:
        out = self._stored(place)
        places = [p for p, stored in enumerate(self.places) if stored == out]
        if out.copy == 0:
            self.leaving = [entry for entry in self.leaving if entry[2] != place]
        return self._moved("die", places, (out,), out._replace(dies=dies))

    def _leaving_for(self, width: int, at: int) -> list[tuple[int, bool, int]]:
        """Return the fewest of ``leaving`` that free ``width`` places, needed latest first; none if too few may."""
        found: list[tuple[int, bool, int]] = []
        for entry in reversed(self.leaving):
            if entry[0] <= at:
                break
            stored = self._stored(entry[2])
            if self._width(stored.tool, stored.copy) >= width:
                return [entry]
            found.append(entry)
            if len(found) == width:
                return found
        return []

    def _give_place(self, tool: int, copy: int, clearance: float, leaving: list[tuple[int, bool, int]]) -> Move:
        """Give a copy of a tool, or dies alone, free places after those that leave."""
        out = self._taken_out([place for _, _, place in leaving])
        self.free += [place for place, stored in enumerate(self.places) if stored in out] if out else []
        width = self._width(tool, copy)
        places, self.free = self.free[:width], self.free[width:]
        self.homes.setdefault(tool, []).append(min(places))
        into = Stored(tool, copy, self.filling.dies_for(tool, clearance, self.shelf.dies_per_place))
        from_outside = copy and (tool, copy) not in self.filling.copies_out
        return self._moved("tool" if from_outside else "die", places, out, into)

    def _taken_out(self, leave: list[int]) -> tuple[Stored, ...]:
        """Take these homes off the list, and with the last copy of a tool the dies that lie alone."""
        for tool in {self._stored(place).tool for place in leave}:
            stay = [home for home in self.homes[tool] if home not in leave]
            if not any(self._stored(home).copy for home in stay):
                leave, stay = leave + stay, []
            self.homes[tool] = stay
        self.leaving = [entry for entry in self.leaving if entry[2] not in leave]
        return tuple(self._stored(place) for place in leave)

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
