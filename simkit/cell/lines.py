"""Requests that wait for people, in lines by the skills that they need; each line is in the order of service."""

from __future__ import annotations

from bisect import insort
from collections.abc import Iterator

from simkit.cell.requests import Request, Worker, key_of


class Lines:
    """Who waits for which skills. Somebody whom one request has for itself makes it a line of its own."""

    def __init__(self) -> None:
        self._lines: dict[tuple[int, ...], list[Request]] = {}
        self.count = 0

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
        return line.pop(0)

    def reserve(self, request: Request, worker: Worker) -> bool:
        """A request has somebody for itself, who does it without a pause; whether it still waited."""
        line = self._lines.get(request.skills, [])
        if request not in line:
            return False
        line.remove(request)
        request.arrived, request.pauses = (worker,), False
        self._lines[-1, request.key[4]] = [request]
        return True
