"""People: a pool on a shift clock. A task asks for so many seconds, and who asks is told when it is done.

Breaks are arithmetic on each person's own windows: at the end of a window a task pauses and goes back to the pool with
what remains of it, is finished first (the overrun is overtime), or is broken off and goes back whole. Requests of one
instant are collected and assigned together by priority, then time of request, machine row and order;
people are taken in row order.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import count

from simkit.base.units import on_grid_s
from simkit.base.vocabulary import SKILLS
from simkit.cell.atonce import AtOnce
from simkit.cell.breakrules import RUSH_CODE, SKILL_CODE
from simkit.cell.clock import LAST, MACHINE, Act, Clock
from simkit.cell.crew import Crew, RequestKind
from simkit.cell.elsewhere import Elsewhere
from simkit.cell.helping import Helpers
from simkit.cell.oncall import OnCall
from simkit.cell.openhours import OpenHours
from simkit.cell.requests import LISTED_S, NO_REQUEST, Request, ServiceKey, Worker
from simkit.cell.waitinglines import WaitingLines
from simkit.plant.settings import People
from simkit.plant.tables import Person
from simkit.process.shifts import Span

WALKING, ELSEWHERE = -1, -3
"""Task codes of the way after a task, and of work in other cells."""


class Pool:
    """The people of the cell."""

    serves_at_once = True
    """Whether work that nothing can come between is done without a request."""

    def __init__(
        self, clock: Clock, rules: People, people: Sequence[Person], windows: Sequence[Sequence[Span]],
        open_hours: OpenHours, on_call: OnCall, elsewhere: Elsewhere,
    ) -> None:  # fmt: skip
        self.clock, self.walk_s, self.crew = clock, on_grid_s(rules.walk_s), Crew(rules, people, windows)
        self.workers, self.busy, self.log = self.crew.workers, self.crew.busy, self.crew.log
        self.open_hours, self.on_call, self.elsewhere = open_hours, on_call, elsewhere
        self.waiting_lines = WaitingLines(clock, self._assign)
        self._numbers = count()
        self.helpers = Helpers(self.workers, self.busy, self._numbers)
        possible = self.serves_at_once and clock.jumping and not self.walk_s and not elsewhere.leaving
        self.at_once = AtOnce(clock, self.crew, self.waiting_lines, possible=possible, calls=bool(on_call.rows))
        self._wake_s = float("inf")
        for row in elsewhere.called:
            self.workers[row].skills |= {_own_code(row)}
            for moment in elsewhere.calls(row, windows[row]):
                clock.at(moment, lambda row=row: self._enqueue(self._called_away(row)))  # type: ignore[misc]
        for row in elsewhere.leaving:
            for start, _ in windows[row]:
                clock.at(start, self._assign, LAST)

    def ask(
        self, task: str, seconds: float, machine: int, order: int, *, rush: bool = False,
        skills: tuple[str, ...] = (), then: Act | None = None, outside: bool = False,
    ) -> Request:  # fmt: skip
        """Queue a request; ``then`` happens when the work is done.

        Moved work (``outside``) has the rank of preparation and pauses, whichever skill it needs.
        """
        request = self._request(self.crew.kind(task, skills), seconds, machine, order, rush, outside)
        if then is not None:
            request.thens.append(then)
        self._enqueue(request)
        return request

    def serve(
        self, task: str, seconds: float, machine: int, order: int, *, rush: bool = False, skills: tuple[str, ...] = (),
        measure: Callable[[], float] | None = None, helped_s: float = 0.0,
    ) -> Request | None:  # fmt: skip
        """Like :meth:`ask`, for a machine that waits; None when it is done already, at the moment that is now.

        It is begun at once where that is the same as if it had been asked for, see :class:`AtOnce`.
        """
        kind, start_s, at_once = self.crew.kind(task, skills), self.clock.now, self.at_once
        worker = None
        if at_once.possible and not (helped_s and self.crew.could_help(kind, start_s)):
            worker = at_once.given(kind, self.crew.rank_of(kind, rush=rush), listed=measure is not None)
            if worker is not None and kind.simple:
                if measure is not None:
                    seconds, measure = measure(), None
                if at_once.works(kind, worker, seconds, machine):
                    return None
        persons = () if worker is None else (worker,) if kind.simple else self.crew.free(kind.skills, start_s)
        request = self._request(kind, seconds, machine, order, rush)
        request.measure, request.asked_s = measure, start_s
        if persons:  # and nobody could help them
            self._begin(request, persons, start_s)
        else:
            request.helped_s = helped_s
            self._enqueue(request)
        return request

    def at_hand(self, task: str) -> bool:
        """Whether somebody with the skill is there and free."""
        return bool(self.crew.free((SKILL_CODE[task],), self.clock.now))

    def can(self, task: str) -> bool:
        """Whether anybody has the skill."""
        return SKILL_CODE[task] in self.crew.able

    def add_window(self, person: int, span: Span) -> None:
        """Let a person work an extra window (overtime)."""
        worker = self.workers[person]
        worker.change(sorted((*worker.spans, span)))
        if person in self.elsewhere.leaving:
            self.clock.at(span[0], self._assign, LAST)
        self.poke()

    def poke(self) -> None:
        """Look again at who can do what, at the end of this instant."""
        self.waiting_lines.look(anyway=bool(self.elsewhere.leaving))

    def close(self, end_s: float) -> None:
        """Record the work in progress at the end of the run."""
        for request in {id(request): request for request in self.busy.values()}.values():
            if request.persons and request.begun_s < end_s:
                self._record(request, request.persons, request.begun_s, end_s)
                request.chunks.append((request.begun_s, end_s))
        for worker in self.workers:
            self.at_once.record(worker, end_s)
            self.crew.call_over(worker, end_s)

    def _request(
        self, kind: RequestKind, seconds: float, machine: int, order: int, rush: bool, outside: bool = False
    ) -> Request:
        key = (self.crew.rank_of(kind, rush=rush), self.clock.now, machine, order, next(self._numbers))
        request = Request(kind.task, seconds, kind.skills, key, kind.pauses, kind.who)
        request.rule, request.rush, anew = kind.rule, rush, kind.anew
        if outside:
            request.rule = code = SKILL_CODE["preparation"]
            request.key = (self.crew.rank[code], *request.key[1:])
            request.rush, request.pauses, anew = False, self.crew.breaks.pauses[code], self.crew.breaks.anew[code]
        if anew and seconds < LISTED_S:
            self._begins_anew(request)
        return request

    def _begins_anew(self, request: Request) -> None:
        self.crew.breaks.must_fit(request.skills, request.remaining_s)
        request.anew_s = request.remaining_s

    def _enqueue(self, request: Request) -> None:
        self.waiting_lines.add(request)
        self.poke()

    def _assign(self) -> None:
        """Give the waiting requests to free people, most urgent first."""
        self.waiting_lines.due = False
        now = self.clock.now
        if self._wake_s <= now:
            self._wake_s = float("inf")
        served, left = self.waiting_lines.lines(), []
        while served:
            line = served[0] if len(served) == 1 else min(served, key=_first_key)
            request = line[0]
            persons = request.arrived or self.crew.free(request.skills, now)
            if persons:
                self.waiting_lines.take_first(line)
                if request.helped_s:
                    self.helpers.wait_for(request, persons, now)
                else:
                    self._begin(request, persons, now)
            else:
                left.append(request)
            if not (persons and line):
                served = [other for other in served if other is not line]
        if left:
            self._wake_later(left, now)
            if self.crew.pairs and self._interrupt_for(now):
                return
        if self.helpers.beginning:
            for request in self.helpers.begin(left, now):
                self._begin(request, request.persons, now)
        if left and self.on_call.rows:
            self._call_for(now)
        if self.elsewhere.leaving:
            self._send_away(left, now)

    def _send_away(self, waiting: list[Request], now_s: float) -> None:
        """Who has work elsewhere, and could do nothing of what waits here, leaves for a piece of it."""
        for row in self.elsewhere.leaving:
            worker = self.workers[row]
            end_s = worker.window_end(now_s)
            if worker.free and end_s and all(worker.skills.isdisjoint(request.skills) for request in waiting):
                seconds = min(self.elsewhere.piece_s(row), end_s - now_s)
                piece = Request(
                    ELSEWHERE, seconds, (), (0, now_s, -1, row, next(self._numbers)), False, frozenset({row})
                )
                self._begin(piece, (worker,), now_s)

    def _called_away(self, row: int) -> Request:
        """A call from elsewhere for one person: as urgent as a stop here, by the rule of stops at breaks."""
        clear = SKILL_CODE["clear"]
        key = (self.crew.rank[clear], self.clock.now, -1, row, next(self._numbers))
        request = Request(
            ELSEWHERE,
            self.elsewhere.piece_s(row),
            (_own_code(row),),
            key,
            self.crew.breaks.pauses[clear],
            frozenset({row}),
        )
        request.rule = clear
        return request

    def _interrupt_for(self, now_s: float) -> bool:
        """Take a person from a task for the most urgent request that may; whether there was one.

        The person is free at once, and all that waits is assigned anew by priority.
        """
        for request in self.waiting_lines:
            for worker in self.workers:
                victim = self.busy.get(worker.row)
                if victim is not None and self._may(request, victim, worker, now_s):
                    victim.turn += 1
                    self._end_chunk(victim, now_s)
                    self._back(victim)
                    return True
        return False

    def _may(self, request: Request, victim: Request, worker: Worker, now_s: float) -> bool:
        """Whether a request may take this person from what he or she does; who cares in a break is not on hand."""
        paired = (request.rule, victim.rule) in self.crew.pairs or (
            request.rush and (RUSH_CODE, victim.rule) in self.crew.pairs
        )
        alone = len(request.skills) == 1 and request.skills[0] in worker.skills and victim.persons == (worker,)
        earlier = request.key[0] < victim.key[0] and victim.begun_s < now_s
        return paired and alone and earlier and not worker.in_break and worker.window_end(now_s) > 0

    def _call_for(self, now_s: float) -> None:
        """Call somebody for what waits at a machine in an allowed night, most urgent first."""
        night = self.open_hours.night_of(now_s)
        for request in self.waiting_lines:
            here = request.key[2] >= 0 and not request.called and len(request.skills) == 1
            if night is None or not here or not self.on_call.may_call(night, request.asked_s, now_s):
                continue
            able = (self.workers[row] for row in self.on_call.rows if request.skills[0] in self.workers[row].skills)
            worker = next((worker for worker in able if worker.free), None)
            if worker is not None:
                self.on_call.note(night)
                worker.free, worker.called_s, request.called = False, now_s, True
                moment_s = now_s + self.on_call.response_s
                self.clock.at(moment_s, lambda w=worker, r=request: self._arrive(w, r))  # type: ignore[misc]

    def _arrive(self, worker: Worker, request: Request) -> None:
        """Who was called is there: for the request, or in vain."""
        if self.waiting_lines.reserve(request, worker):
            self.poke()
        else:
            self.release((worker,))

    def _chunk_end(self, request: Request, persons: tuple[Worker, ...], now_s: float) -> float:
        end = now_s + request.remaining_s
        if request.pauses:
            for worker in persons:
                end = min(end, worker.window_end(now_s))
        return end

    def _begin(self, request: Request, persons: tuple[Worker, ...], now_s: float) -> None:
        if request.measure is not None:
            request.remaining_s, request.measure = request.measure(), None
            if self.crew.breaks.anew[request.rule]:
                self._begins_anew(request)
        end = self._chunk_end(request, persons, now_s)
        request.persons, request.begun_s = persons, now_s
        for worker in persons:
            worker.free = False
            self.busy[worker.row] = request
        whole = end - now_s == request.remaining_s
        if request.rule in self.crew.victims:
            self.clock.at(end, lambda turn=request.turn: self._end_turn(request, turn), MACHINE + request.key[2])  # type: ignore[misc]
        elif whole:
            self.clock.at(end, lambda: self._complete(request), MACHINE + request.key[2])
        else:
            self.clock.at(end, lambda: self._window_over(request))

    def _end_turn(self, request: Request, turn: int) -> None:
        """The end of work that could have been interrupted, unless it was."""
        if request.turn == turn:
            if self.clock.now - request.begun_s < request.remaining_s:
                self._window_over(request)
            else:
                self._complete(request)

    def _complete(self, request: Request) -> None:
        """The work is done; who waits for it goes on."""
        request.done = True
        self._finish(request)
        for then in request.thens:
            then()

    def _finish(self, request: Request) -> None:
        now = self.clock.now
        self._record(request, request.persons, request.begun_s, now)
        request.chunks.append((request.begun_s, now))
        persons, request.persons = request.persons, ()
        if self.walk_s and request.key[2] >= 0:
            self._walk(persons, now)
            self.clock.at(now + self.walk_s, lambda: self.release(persons))
        else:
            self.release(persons)

    def _walk(self, persons: tuple[Worker, ...], now_s: float) -> None:
        """The way after a task at a machine; the machine does not wait for it."""
        for worker in persons:
            self.busy.pop(worker.row, None)
            worker.free_at_s = now_s + self.walk_s
            self.crew.worked(worker, WALKING, now_s, worker.free_at_s)

    def _window_over(self, request: Request) -> None:
        """A window ended: work pauses, or is broken off, unless its people stay on (for overtime)."""
        now = self.clock.now
        self._end_chunk(request, now)
        if request.anew_s:
            if all(worker.window_end(now) for worker in request.persons):
                self._begin(request, request.persons, now)
                return
            in_vain_s = (request.anew_s - request.remaining_s) * len(request.persons)
            self.log.broken_off += (request.task, now, in_vain_s)
            request.remaining_s = request.anew_s
        self._back(request)

    def _end_chunk(self, request: Request, now_s: float) -> None:
        self._record(request, request.persons, request.begun_s, now_s)
        request.chunks.append((request.begun_s, now_s))
        request.remaining_s -= now_s - request.begun_s

    def _back(self, request: Request) -> None:
        """What remains waits again for somebody."""
        persons, request.persons = request.persons, ()
        self.waiting_lines.add(request)
        self.release(persons)

    def release(self, persons: tuple[Worker, ...]) -> None:
        """People are free again."""
        for worker in persons:
            worker.free = True
            self.busy.pop(worker.row, None)
            self.crew.call_over(worker, self.clock.now)
        self.poke()

    def _wake_later(self, waiting: list[Request], now_s: float) -> None:
        """Look again when the next able person who is away comes back: free, or from then on to be interrupted."""
        moment, victims = self._wake_s, self.crew.victims
        for request in waiting:
            for row in request.who:
                worker = self.workers[row]
                on_hand = worker.free or (victims and row in self.busy and self.busy[row].rule in victims)
                if on_hand and not worker.hold(now_s) and worker.until_s < moment:
                    moment = worker.until_s
        if moment < self._wake_s:
            self._wake_s = moment
            self.clock.at(moment, self._assign, LAST)

    def _record(self, request: Request, persons: tuple[Worker, ...], start_s: float, end_s: float) -> None:
        for worker in persons:
            self.crew.worked(worker, request.task, start_s, end_s)
        if not request.chunks and request.task != ELSEWHERE and request.helps == NO_REQUEST:
            self.crew.begun += (request.task, request.key[2], request.asked_s, start_s)


def _first_key(line: list[Request]) -> ServiceKey:
    return line[0].key


def _own_code(row: int) -> int:
    """Code of what only this person may do."""
    return len(SKILLS) + row
