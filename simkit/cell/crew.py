"""The people of a cell: who can do what, who is there and free, and what kinds of requests there are for them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from simkit.base.messages import CellError
from simkit.base.vocabulary import ON_CALL, RULE_OF, SKILLS, TASKS
from simkit.cell.breakrules import RUSH, SKILL_CODE, BreakRules, pair_of_tasks
from simkit.cell.requests import Request, Worker
from simkit.cell.trace import TaskLog
from simkit.plant.settings import People
from simkit.plant.tables import Person
from simkit.process.shifts import Span


class RequestKind(NamedTuple):
    """A kind of request: codes of its task, of the task whose rules it follows, and of the skills it needs; its rank;
    whether it pauses at the end of a window, whether it is begun anew then; rows of the people who have any of its
    skills, and those with the first, in row order; whether one person does it whom nothing interrupts; whether, beyond
    that, those who can do it can do nothing else."""

    task: int
    rule: int
    skills: tuple[int, ...]
    rank: int
    pauses: bool
    anew: bool
    who: frozenset[int]
    able: tuple[Worker, ...]
    simple: bool
    apart: bool


class Crew:
    """People, the plant's rules for their tasks, what each does now, and the log of what they did."""

    def __init__(self, rules: People, people: Sequence[Person], windows: Sequence[Sequence[Span]]) -> None:
        self.workers = [
            Worker(row, frozenset(SKILL_CODE[s] for s in person.abilities), windows[row])
            for row, person in enumerate(people)
        ]
        order = rules.priorities or TASKS
        rank = {task: number for number, task in enumerate((*order, *(t for t in TASKS if t not in order)))}
        rules_of = [RULE_OF.get(skill, skill) for skill in SKILLS]
        self.rank = [rank.get(task, len(rank)) for task in rules_of]
        self.rush_rank = rank[RUSH]
        self.breaks = BreakRules(rules, [(worker.skills, worker.spans) for worker in self.workers])
        self.pairs = frozenset(pair_of_tasks(text) for text in rules.may_interrupt)
        self.victims = frozenset(victim for _, victim in self.pairs)
        self.able = frozenset(
            code for worker in self.workers for code in worker.skills if people[worker.row].shift != ON_CALL
        )
        self.busy: dict[int, Request] = {}
        self.log = TaskLog()
        self.chunks, self.begun = self.log.chunks, self.log.begun
        self._able: dict[int, tuple[Worker, ...]] = {}
        self._kinds: dict[tuple[str, tuple[str, ...]], RequestKind] = {}

    def kind(self, task: str, skills: tuple[str, ...] = ()) -> RequestKind:
        """The kind of a request: a task, and the skills it needs if they are not its own.

        Raises :class:`CellError` if nobody has them.
        """
        return self._kinds.get((task, skills)) or self._new_kind(task, skills)

    def _new_kind(self, task: str, skills: tuple[str, ...]) -> RequestKind:
        code = SKILL_CODE[task]
        needed = tuple(SKILL_CODE[skill] for skill in skills) if skills else (code,)
        missing = [SKILLS[skill] for skill in needed if skill not in self.able]
        if missing:
            raise CellError(f"nobody in people.csv has the skill '{missing[0]}' that the task '{task}' needs")
        if len(needed) > len([worker for worker in self.workers if not worker.skills.isdisjoint(needed)]):
            raise CellError(f"the task '{task}' needs two people at once, and only one in people.csv can help with it")
        able = tuple(worker for worker in self.workers if needed[0] in worker.skills)
        simple = len(needed) == 1 and SKILL_CODE[RULE_OF.get(task, task)] not in self.victims
        kind = self._kinds[task, skills] = RequestKind(
            code, SKILL_CODE[RULE_OF.get(task, task)], needed, self.rank[code], self.breaks.pauses[code],
            self.breaks.anew[code], frozenset(w.row for w in self.workers if not w.skills.isdisjoint(needed)),
            able, simple, simple and all(worker.skills == {code} for worker in able),
        )  # fmt: skip
        return kind

    def free(self, skills: tuple[int, ...], now_s: float) -> tuple[Worker, ...]:
        """The first free persons in row order with these skills, or an empty tuple."""
        first, *others = skills
        able = self._able.get(first)
        if able is None:
            able = self._able[first] = tuple(worker for worker in self.workers if first in worker.skills)
        for worker in able:
            if worker.free and (worker.inside if worker.from_s <= now_s < worker.until_s else worker.hold(now_s)):
                if not others:
                    return (worker,)
                worker.free = False
                rest = self.free(tuple(others), now_s)
                worker.free = True
                if rest:
                    return (worker, *rest)
        return ()

    def first_free(self, kind: RequestKind, now_s: float) -> Worker | None:
        """The first in row order who has the first skill of a kind and is there and free."""
        for worker in kind.able:
            if worker.free and (worker.inside if worker.from_s <= now_s < worker.until_s else worker.hold(now_s)):
                return worker
        return None

    def rank_of(self, kind: RequestKind, *, rush: bool) -> int:
        """How urgent a request is: by its task, or that of a rush order if that comes before."""
        return min(kind.rank, self.rush_rank) if rush else kind.rank

    def could_help(self, kind: RequestKind, now_s: float) -> bool:
        """Whether a second person is there and free for a kind of work."""
        return sum(worker.free and worker.hold(now_s) for worker in kind.able) > 1

    def worked(self, worker: Worker, task: int, start_s: float, end_s: float) -> None:
        """One person worked on a task."""
        in_window = worker.called_s is None and not worker.in_break
        window_end_s = worker.window_end(start_s) if in_window else end_s
        self.chunks += (worker.row, task, start_s, end_s, window_end_s)

    def call_over(self, worker: Worker, now_s: float) -> None:
        """Who was called, if so, leaves again."""
        if worker.called_s is not None:
            self.log.calls += (worker.row, worker.called_s, now_s)
            worker.called_s = None
