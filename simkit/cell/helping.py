"""The second pair of hands at a task that can be shared: who helps, with how much, and when. Told the moment; no clock.

It is asked once, at the instant at which somebody begins with such a task, when all that waits has been assigned. In
row order the first one helps who is free, has the skill, could do nothing of what still waits, and is there until his
own part is done; so a helper is never called off, and no break falls into his part. Work that is begun anew after a
break is shared only if the first person, too, can finish before the next one. Nobody waits for a helper.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from simkit.cell.requests import Request, Worker

HELPING = -4
"""Rule of a helper's part: no task, so that nothing interrupts it."""


class Helpers:
    """Shared tasks that begin at this instant, and who helps with them."""

    def __init__(self, workers: Sequence[Worker], busy: dict[int, Request], numbers: Iterator[int]) -> None:
        self._workers, self._busy, self._numbers = workers, busy, numbers
        self.beginning: list[Request] = []

    def wait_for(self, request: Request, persons: tuple[Worker, ...], now_s: float) -> None:
        """A shared task has its first person, and begins when all that waits has been assigned."""
        request.persons, request.begun_s = persons, now_s
        for worker in persons:
            worker.free, self._busy[worker.row] = False, request
        self.beginning.append(request)

    def begin(self, waiting: Iterable[Request], now_s: float) -> Iterator[Request]:
        """Yield each task that begins now with what is left of it to the first person, and the helper's part of it."""
        beginning, self.beginning = self.beginning, []
        wanted = {skill for request in waiting for skill in request.skills} if beginning else set()
        for request in beginning:
            part_s, request.helped_s = min(request.helped_s, request.remaining_s - request.helped_s), 0.0
            helper = self._helper(request, part_s, wanted, now_s)
            if helper is not None:
                helper.free = False
                request.remaining_s -= part_s
            yield request
            if helper is not None:
                yield self._part(request, part_s, helper)

    def _helper(self, request: Request, part_s: float, wanted: set[int], now_s: float) -> Worker | None:
        """The first in row order who can take over so many seconds of a task."""
        first_s = now_s + request.remaining_s - part_s
        anew = request.anew_s > 0 and request.pauses
        in_one_piece = not anew or all(worker.window_end(now_s) >= first_s for worker in request.persons)
        if not in_one_piece or part_s <= 0:
            return None
        for worker in self._workers:
            able = worker.free and request.skills[0] in worker.skills and worker.skills.isdisjoint(wanted)
            if able and worker.window_end(now_s) >= now_s + part_s:
                return worker
        return None

    def _part(self, request: Request, seconds: float, helper: Worker) -> Request:
        """What the helper does, in one piece; nobody has asked for it."""
        _, asked_s, machine, order, number = request.key
        key = (0, asked_s, machine, order, next(self._numbers))
        part = Request(request.task, seconds, request.skills, key, False, frozenset({helper.row}))
        part.rule, part.helps, part.persons = HELPING, number, (helper,)
        return part
