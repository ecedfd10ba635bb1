"""Requests that wait for people, in lines by the skills that they need; each line is in the order of service."""

from __future__ import annotations

from bisect import insort
from collections.abc import Iterator

from simkit.cell.clock import LAST, Act, Clock
from simkit.cell.requests import Request, Worker, key_of


class WaitingLines:
    """Who waits for which skills. Somebody whom one request has for itself makes it a line of its own.

    ``assign`` gives people to requests; ``due`` tells whether it is to happen at the end of this instant.
    """

    def __init__(self, clock: Clock, assign: Act) -> None:
        self._clock, self.assign = clock, assign
        self._lines: dict[tuple[int, ...], list[Request]] = {}
        self.count = 0
        self.due = False

    def look(self, *, anyway: bool = False) -> None:
        """Let the assignment happen at the end of this instant, if somebody waits, or anyway."""
        if (self.count or anyway) and not self.due:
            self.due = True
            self._clock.at(self._clock.now, self.assign, LAST)

    def rival(self, who: frozenset[int], rank: int) -> bool:
        """Whether a request of at least this rank waits for some of these people."""
        return any(line and line[0].key[0] <= rank and not who.isdisjoint(line[0].who) for line in self._lines.values())

    def __iter__(self) -> Iterator[Request]:
        return iter(sorted((request for line in self._lines.values() for request in line), key=key_of))

    def lines(self) -> list[list[Request]]:
        """The lines in which somebody waits."""
        return [line for line in self._lines.values() if line]

    def add(self, request: Request) -> None:
        """A request waits."""
        line = self._lines.setdefault(request.skills, [])
        self.count += 1
        if line and line[-1].key > request.key:
            insort(line, request, key=key_of)
        else:
            line.append(request)

    def take_first(self, line: list[Request]) -> Request:
        """The first request of a line waits no more."""
        self.count -= 1
        request = line.pop(0)
        if request.arrived:
            self._lines.pop((-1, request.key[4]), None)
        return request

    def reserve(self, request: Request, worker: Worker) -> bool:
        """A request has somebody for itself, who does it without a pause; whether it still waited."""
        line = self._lines.get(request.skills, [])
        if request not in line:
            return False
        line.remove(request)
        request.arrived, request.pauses = (worker,), False
        self._lines[-1, request.key[4]] = [request]
        return True
