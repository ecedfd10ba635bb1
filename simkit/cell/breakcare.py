"""Care planned in breaks by the crew: whose break it falls into, and the break that is taken after it instead.

Of the people who can care for the machine, the one whose break starts next does it, as the break starts or, if still at
some work, after that. The break is then taken as long as it would have been: breaks are not planned away.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from simkit.base.vocabulary import ALWAYS, ON_CALL
from simkit.cell.clock import LAST
from simkit.cell.people import Pool
from simkit.cell.requests import Request, Worker
from simkit.plant.tables import Person
from simkit.process.shifts import ShiftPlan, Span

BEFORE_ASSIGNMENT = LAST - 1


class Breaks:
    """Breaks of those who care for the machine, as they really have them. Pure: told the moment."""

    def __init__(self, plan: ShiftPlan, people: Sequence[Person]) -> None:
        self._coming = sorted(
            (span, row)
            for row, person in enumerate(people)
            if "upkeep" in person.skills and person.shift not in (ALWAYS, ON_CALL)
            for span in _breaks_of(person, plan, plan.person[row])
        )
        self._booked: dict[tuple[Span, int], int] = {}

    def book(self, now_s: float) -> tuple[int, Span] | None:
        """Whose next break another piece of care falls into, who has least of it first; None where no break comes."""
        starts = [span[0] for span, _ in self._coming if span[0] >= now_s]
        if not starts:
            return None
        able = [pair for pair in self._coming if pair[0][0] == starts[0]]
        span, row = min(able, key=lambda pair: (self._booked.get(pair, 0), pair[1]))
        self._booked[span, row] = self._booked.get((span, row), 0) + 1
        return row, span


def _breaks_of(person: Person, plan: ShiftPlan, windows: Sequence[Span]) -> list[Span]:
    """Breaks of the person's shift between two windows of work; an absent person has none."""
    ends, starts = {end for _, end in windows}, {start for start, _ in windows}
    return [(a, b) for name, a, b in plan.break_spans if name == person.shift and a in ends and b in starts]


def break_after(end_s: float, care_from_s: float, care_to_s: float) -> float:
    """When a break until ``end_s`` is over into which care fell: later by what the care took of it."""
    return max(care_to_s, end_s) + max(min(care_to_s, end_s) - care_from_s, 0.0)


@dataclass
class _Rest:
    """A break with care in it: when it is over, what care is still due in it, and whether some is being done."""

    end_s: float
    due: list[float]
    working: bool = False


class BreakCare:
    """Care in breaks, in time; ``ask`` makes a request for so many seconds of it."""

    def __init__(self, pool: Pool, breaks: Breaks, ask: Callable[[float], Request]) -> None:
        self.pool, self.clock, self.breaks, self._ask = pool, pool.clock, breaks, ask
        self._rests: dict[int, _Rest] = {}

    def plan(self, seconds: float) -> bool:
        """Plan care into the next break; whether there is one."""
        found = self.breaks.book(self.clock.now)
        if found is None:
            return False
        row, span = found
        worker = self.pool.workers[row]
        self._later(worker, span, seconds, span[0])
        return True

    def _begin(self, worker: Worker, span: Span, seconds: float) -> None:
        """Take the person for it, now or as soon as he or she is free."""
        rest, busy = self._rests.get(worker.row), self.pool.busy.get(worker.row)
        if rest is not None:
            rest.due.append(seconds)
            rest.end_s = max(rest.end_s, span[1])
            if not rest.working:
                self._next(worker, rest)
        elif worker.free:
            rest = self._rests[worker.row] = _Rest(span[1], [seconds])
            worker.free = False
            self._next(worker, rest)
        elif busy is not None:
            busy.thens.insert(0, lambda: self._later(worker, span, seconds, self.clock.now))  # before its machine acts
        else:  # taken without a request
            self._later(worker, span, seconds, worker.free_at_s)

    def _later(self, worker: Worker, span: Span, seconds: float, moment_s: float) -> None:
        self.clock.at(moment_s, lambda: self._begin(worker, span, seconds), BEFORE_ASSIGNMENT)

    def _next(self, worker: Worker, rest: _Rest) -> None:
        rest.working = worker.in_break = True
        request = self._ask(rest.due.pop(0))
        self.pool.queue.reserve(request, worker)
        request.thens.append(lambda: self._done(worker, rest, request))

    def _done(self, worker: Worker, rest: _Rest, request: Request) -> None:
        """Go on with what else is due in this break, else take the rest of it and what the care took of it."""
        rest.working = worker.in_break = worker.free = False
        now = self.clock.now
        rest.end_s = break_after(rest.end_s, request.chunks[0][0], now)
        if rest.due:
            self._next(worker, rest)
        else:
            self.pool.log.rest.append((worker.row, now, rest.end_s))
            self.clock.at(rest.end_s, lambda: self._over(worker, rest))

    def _over(self, worker: Worker, rest: _Rest) -> None:
        if not rest.working and self.clock.now == rest.end_s and worker.row in self._rests:
            del self._rests[worker.row]
            self.pool.release((worker,))
