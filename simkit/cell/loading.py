"""Loading the magazine ahead: somebody puts in what the known orders need, as work away from the machine's time.

Where ``plant.magazine.loading`` is ``fixed`` the contents never change and nothing of this happens.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from simkit.cell.toolbook import ToolBook
from simkit.tooling.refill import Move, apply_moves, refill, with_contents
from simkit.tooling.room import Need
from simkit.tooling.turret import Turret

Needs = tuple[Need, ...]
IsDone = Callable[[Any], bool]
"""Tells whether a request for somebody's work is done."""


class MagazineLoading:
    """What is in one machine's magazine, and what somebody is asked to put in.

    ``room`` is the tool room with the contents of this moment.
    """

    def __init__(self, book: ToolBook, *, ahead: bool, is_done: IsDone) -> None:
        self.room = book.room
        self.ahead = ahead and book.room.has_magazine
        self._load_s, self._is_done = book.magazine_load_s, is_done
        self._state = self._planned = book.room.magazine
        self._asked: list[tuple[list[Any], tuple[Move, ...]]] = []

    def plan(
        self, known_queue: Sequence[tuple[Need, ...]], turret: Turret
    ) -> tuple[tuple[Move, ...], dict[str, float]]:
        """What to put in for the orders known now, beyond what is asked for already; seconds of work by task."""
        if not self.ahead:
            return (), {}
        moves = refill(self._planned, self.room, known_queue, turret)
        return moves, {task: len(moves) * seconds for task, seconds in self._load_s.items()}

    def ask(self, moves: tuple[Move, ...], requests: list[Any]) -> None:
        """Note that these moves are done when all the requests are."""
        self._planned = apply_moves(self._planned, moves)
        self._asked.append((requests, moves))

    def settle(self) -> None:
        """Count in what has been put in until now, in the order in which it was asked for."""
        while self._asked and all(self._is_done(request) for request in self._asked[0][0]):
            self._state = apply_moves(self._state, self._asked.pop(0)[1])
            self.room = with_contents(self.room, self._state.contents)
