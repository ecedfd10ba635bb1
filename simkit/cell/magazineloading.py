"""Loading the magazine ahead: somebody puts in what the known orders need, as work away from the machine's time.

Where ``plant.magazine.loading`` is ``fixed`` the contents never change and nothing of this happens.

What is put in is decided twice. When somebody is asked, it says how much there is to do. When it is done, as much
is put in for the orders that were known when it was asked for, but as magazine and turret are by then: so no place
is given away whose copy has come to stand in the turret meanwhile.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from simkit.cell.packs import IsDone
from simkit.cell.toolfacts import ToolFacts, summed
from simkit.tooling.magazine import MagazineState
from simkit.tooling.refill import Move, apply_moves, refill, with_magazine
from simkit.tooling.toolroom import Need
from simkit.tooling.turret import Turret

Queue = Sequence[tuple[Need, ...]]
"""Needs of the orders known, soonest first."""


class _LoadingRequests(NamedTuple):
    """Requests for somebody's work, the orders that were known then, and how many moves are to be made."""

    requests: list[Any]
    queue: Queue
    moves: int


class MagazineLoading:
    """What is in one machine's magazine, and what somebody is asked to put in.

    ``room`` is the tool room with the contents of this moment.
    """

    def __init__(self, tool_facts: ToolFacts, *, ahead: bool, is_done: IsDone) -> None:
        self.room = tool_facts.room
        self.ahead = ahead and tool_facts.room.has_magazine
        self._load, self._is_done = tool_facts.magazine_load, is_done
        self._planned = tool_facts.room.magazine
        self._asked: list[_LoadingRequests] = []

    def plan(self, known_queue: Queue, turret: Turret) -> tuple[tuple[Move, ...], dict[str, float]]:
        """What to put in for the orders known now, beyond what is asked for already; seconds of work by task."""
        moves = refill(self._planned, self.room, known_queue, turret)
        return moves, summed(self._load[move.into.tool][1] for move in moves)

    def ask(self, known_queue: Queue, moves: tuple[Move, ...], requests: list[Any]) -> None:
        """Note that as many moves are made, for the orders known now, when all the requests are done."""
        self._planned = apply_moves(self._planned, moves)
        self._asked.append(_LoadingRequests(requests, known_queue, len(moves)))

    def settle(self, turret: Turret) -> None:
        """Count in what has been put in until now, in the order in which it was asked for."""
        state = self.room.magazine
        while self._asked and all(self._is_done(request) for request in self._asked[0].requests):
            state = self._after(state, self._asked.pop(0), turret)
        if state is not self.room.magazine:
            self.room = with_magazine(self.room, state)
            for asked in self._asked:
                state = self._after(state, asked, turret)
            self._planned = state

    def _after(self, state: MagazineState, asked: _LoadingRequests, turret: Turret) -> MagazineState:
        return apply_moves(state, refill(state, self.room, asked.queue, turret)[: asked.moves])
