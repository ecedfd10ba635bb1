"""Upkeep planned in breaks by the crew: whose break it falls into, and the break that is taken after it instead.

Of the people who can do the upkeep of the machine, the one whose break starts next does it, as the break starts or, if
still at some work, after that. The break is then taken as long as it would have been: breaks are not planned away.
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
    """Breaks of those who do the upkeep, as they really have them. Pure: told the moment."""

    def __init__(self, plan: ShiftPlan, people: Sequence[Person]) -> None:
        self._coming = sorted(
            (span, row)
            for row, person in enumerate(people)
            if "upkeep" in person.skills and person.shift not in (ALWAYS, ON_CALL)
            for span in _breaks_of(person, plan, plan.person[row])
        )
        self._booked: dict[tuple[Span, int], int] = {}

    def book(self, now_s: float) -> tuple[int, Span] | None:
        """Whose next break another piece of upkeep falls into, who has least of it first; None where no break comes."""
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


def break_after(end_s: float, upkeep_from_s: float, upkeep_to_s: float) -> float:
    """When a break until ``end_s`` is over into which upkeep fell: later by what the upkeep took of it."""
    return max(upkeep_to_s, end_s) + max(min(upkeep_to_s, end_s) - upkeep_from_s, 0.0)


@dataclass
class _BreakWithUpkeep:
    """A break with upkeep in it: when it is over, what upkeep is still due in it, and whether some is being done."""

    end_s: float
    due: list[float]
    working: bool = False


class BreakUpkeep:
    """Upkeep in breaks, in time; ``ask`` makes a request for so many seconds of it."""

    def __init__(self, pool: Pool, breaks: Breaks, ask: Callable[[float], Request]) -> None:
        self.pool, self.clock, self.breaks, self._ask = pool, pool.clock, breaks, ask
        self._breaks: dict[int, _BreakWithUpkeep] = {}

    def plan(self, seconds: float) -> bool:
        """Plan upkeep into the next break; whether there is one."""
        found = self.breaks.book(self.clock.now)
        if found is None:
            return False
        row, span = found
        worker = self.pool.workers[row]
        self._later(worker, span, seconds, span[0])
        return True

    def _begin(self, worker: Worker, span: Span, seconds: float) -> None:
        """Take the person for it, now or as soon as he or she is free."""
        held, busy = self._breaks.get(worker.row), self.pool.busy.get(worker.row)
        if held is not None:
            held.due.append(seconds)
            held.end_s = max(held.end_s, span[1])
            if not held.working:
                self._next(worker, held)
        elif worker.free:
            held = self._breaks[worker.row] = _BreakWithUpkeep(span[1], [seconds])
            worker.free = False
            self._next(worker, held)
        elif busy is not None:
            busy.thens.insert(0, lambda: self._later(worker, span, seconds, self.clock.now))  # before its machine acts
        else:  # taken without a request
            self._later(worker, span, seconds, worker.free_at_s)

    def _later(self, worker: Worker, span: Span, seconds: float, moment_s: float) -> None:
        self.clock.at(moment_s, lambda: self._begin(worker, span, seconds), BEFORE_ASSIGNMENT)

    def _next(self, worker: Worker, held: _BreakWithUpkeep) -> None:
        held.working = worker.in_break = True
        request = self._ask(held.due.pop(0))
        self.pool.waiting_lines.reserve(request, worker)
        request.thens.append(lambda: self._done(worker, held, request))

    def _done(self, worker: Worker, held: _BreakWithUpkeep, request: Request) -> None:
        """Go on with what else is due in this break, else take the rest of it and what the upkeep took of it."""
        held.working = worker.in_break = worker.free = False
        now = self.clock.now
        held.end_s = break_after(held.end_s, request.chunks[0][0], now)
        if held.due:
            self._next(worker, held)
        else:
            self.pool.log.breaks_left.append((worker.row, now, held.end_s))
            self.clock.at(held.end_s, lambda: self._over(worker, held))

    def _over(self, worker: Worker, held: _BreakWithUpkeep) -> None:
        if not held.working and self.clock.now == held.end_s and worker.row in self._breaks:
            del self._breaks[worker.row]
            self.pool.release((worker,))
