"""Everything that one run did, so that an outsider can audit it from the file alone: see :mod:`.eventcolumns`.

Written on request only. The hours of a machine's state in it, within the calendar's row ``measured``, add up to the
measure of that state in the results, and so do waits and queues: an amount of money can be followed from the table of
cash to hours, and from hours to what happened.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator
from itertools import chain, groupby, pairwise
from operator import itemgetter
from pathlib import Path
from typing import Any

from simkit.base.files import whole_file
from simkit.base.messages import refuse_to_replace
from simkit.base.units import SECONDS_PER_DAY, SECONDS_PER_HOUR
from simkit.base.vocabulary import GRIPPER_EXCHANGES, SKILLS
from simkit.cell.eventnotes import MAGAZINE, NO_TOOL, NOWHERE, Notes, ToolMove
from simkit.cell.orders import SUBCONTRACT
from simkit.cell.people import ELSEWHERE, WALKING
from simkit.cell.planning import OverflowDecision
from simkit.cell.requests import NO_REQUEST, Request
from simkit.cell.run import simulate
from simkit.cell.trace import CHUNK, Trace, rows_of
from simkit.experiment.eventcolumns import CALENDAR, COLUMNS, LEVEL, MACHINE, ORDER, PERSON, PLANNER, REQUEST, TOOL
from simkit.experiment.overlaps import measured_span
from simkit.experiment.replication import draw_luck
from simkit.experiment.states import NOBODY, Stretch, calendar_stretches, machine_stretches
from simkit.plant.plant import ScenarioInputs
from simkit.process.workload import Workload, make_workload
from simkit.tooling.toolroom import NO_CLEARANCE

Row = dict[str, Any]
"""A row by the names of :data:`COLUMNS`; what is left out is empty."""

DECIMALS = 10
"""Of hours in the file: finer than the grid of 2^-20 s that all times of a run lie on."""
WAITS, WORKS, PAUSED = "waits", "works", "paused"
_OTHER_TASKS = {WALKING: "walking", ELSEWHERE: "elsewhere"}


def events_of(today: ScenarioInputs, scenario: ScenarioInputs, replication: int = 0) -> list[Row]:
    """Every row of one replication of a scenario, by the run settings of today's plant."""
    run = today.plant.settings.run
    luck = draw_luck(today, run.seed, replication, run.weeks, run.demand_factor)
    return run_as_rows(make_workload(scenario, luck), scenario.name, replication)


def run_as_rows(workload: Workload, scenario: str, replication: int = 0) -> list[Row]:
    """Run a workload and tell all that happens, as rows under these names."""
    notes = Notes()
    run = _Told(simulate(workload, notes=notes), workload, notes)
    return [{"scenario": scenario, "replication": replication, **row} for row in run.rows()]


def write_events(path: Path, runs: Iterable[list[Row]]) -> int:
    """Write the rows of runs as one table, whole or not at all; return how many there are."""
    refuse_to_replace(path)
    count = 0
    with whole_file(path) as part, part.open("w", encoding="utf-8", newline="") as file:
        table = csv.DictWriter(file, list(COLUMNS), lineterminator="\n")
        table.writeheader()
        for rows in runs:
            table.writerows(_rounded(row) for row in rows)
            count += len(rows)
    return count


def _rounded(row: Row) -> Row:
    return row | {name: round(row[name], DECIMALS) for name in ("start_h", "end_h", "decided_h") if name in row}


class _Told:
    """One run told as rows, with the names of the plant's tables."""

    def __init__(self, trace: Trace, workload: Workload, notes: Notes) -> None:
        self.trace, self.workload, self.notes, self.plant = trace, workload, notes, workload.plant
        self.machines = [machine.machine_id for machine in self.plant.machines]
        self.people = [person.person_id for person in self.plant.people]
        self.work: dict[int, list[tuple[tuple[int, ...], float, float]]] = {}
        for number, persons, start_s, end_s in notes.work:
            self.work.setdefault(number, []).append((persons, start_s, end_s))

    def rows(self) -> Iterator[Row]:
        """All rows, kind by kind."""
        waits = self._waits_at_machines()
        for stretch in machine_stretches(self.trace, self.workload, waits):
            yield self._row(MACHINE, stretch, waiting=stretch.waiting)
        yield from self._people()
        measured = measured_span(self.trace, self.workload)
        whole = (Stretch("calendar", "run", 0.0, self.trace.end_s), Stretch("calendar", "measured", *measured))
        for stretch in (*whole, *calendar_stretches(self.trace, self.workload)):
            yield self._row(CALENDAR, stretch)
        yield from self._orders()
        for number in sorted(self.notes.requests):
            yield from self._request(self.notes.requests[number])
        yield from map(self._move, self.notes.moves)
        yield from self._levels()
        yield from map(self._decided, self.trace.decisions)

    def _row(self, kind: str, stretch: Stretch, **more: Any) -> Row:
        row: Row = {"kind": kind, "resource": stretch.resource, "state": stretch.state}
        row |= {"start_h": stretch.start_s / SECONDS_PER_HOUR, "end_h": stretch.end_s / SECONDS_PER_HOUR}
        if stretch.job != NOBODY:
            order = self.plant.orders[int(self.workload.draws.book.row[self.trace.jobs[stretch.job].members[0]])]
            row |= {"job": stretch.job, "order_id": order.order_id, "program_id": order.program_id}
        return row | ({"sheet": stretch.sheet} if stretch.sheet != NOBODY else {}) | more

    # --- people and what they are asked for ---------------------------------------------------------

    def _people(self) -> Iterator[Row]:
        for number, persons, start_s, end_s in self.notes.work:
            request = self.notes.requests[number]
            for person in persons:
                stretch = Stretch(self.people[person], _task(request), start_s, end_s, _job(request))
                yield self._row(PERSON, stretch, request=number)
        log = self.trace.tasks
        for person, task, start_s, end_s, _ in rows_of(log.chunks, CHUNK):
            if task == WALKING:
                yield self._row(PERSON, Stretch(self.people[person], _OTHER_TASKS[task], start_s, end_s))

    def _request(self, request: Request) -> Iterator[Row]:
        number, machine, job = request.key[4], request.key[2], _job(request)
        resource, sheet = "", NOBODY
        if machine >= 0:
            log, resource = self.trace.machines[machine], self.machines[machine]
            at = int(log.start_s.searchsorted(request.asked_s))
            sheet = int(log.sheet[at]) if at < len(log.sheet) else NOBODY
        spans = list(self._spans(request))
        ended = number not in self.notes.waiting | self.notes.unfinished
        for at, (state, start_s, end_s, persons) in enumerate(spans):
            more: Row = {"waiting": self._skills(request)}
            if state == WORKS:
                more = {"by": self._names(persons), "done": _yes(ended and at == len(spans) - 1)}
            stretch = Stretch(resource, state, start_s, end_s, job, sheet)
            yield self._row(REQUEST, stretch, request=number, task=_task(request), priority=request.key[0],
                            **({"helps": request.helps} if request.helps != NO_REQUEST else {}), **more)  # fmt: skip

    def _spans(self, request: Request) -> Iterator[tuple[str, float, float, tuple[int, ...]]]:
        """States of a request; the first wait also if it takes no time. Nobody asks for a helper's part."""
        number, asked = request.key[4], request.helps == NO_REQUEST
        state, edge_s = (WAITS, request.asked_s) if asked else (PAUSED, float("inf"))
        for persons, start_s, end_s in self.work.get(number, ()):
            if start_s > edge_s or state == WAITS:
                yield state, edge_s, start_s, ()
            yield WORKS, start_s, end_s, persons
            state, edge_s = PAUSED, end_s
        if number in self.notes.waiting:
            yield state, edge_s, self.trace.end_s, ()

    def _waits_at_machines(self) -> list[dict[float, str]]:
        """By machine and the moment at which its waiting begins: the skills of the people that it waits for."""
        waits: list[dict[float, str]] = [{} for _ in self.machines]
        for request in self.notes.requests.values():
            if request.key[2] >= 0:
                skills, spans = self._skills(request), self._spans(request)
                waits[request.key[2]] |= {a: skills for state, a, b, _ in spans if state != WORKS and b > a}
        return waits

    def _skills(self, request: Request) -> str:
        """Skills asked for; of one who is called away the person."""
        return "+".join(SKILLS[s] if s < len(SKILLS) else self.people[s - len(SKILLS)] for s in request.skills)

    def _names(self, persons: Iterable[int]) -> str:
        return "+".join(self.people[person] for person in persons)

    # --- orders, tools, places, planner -------------------------------------------------------------

    def _orders(self) -> Iterator[Row]:
        end_s = self.trace.end_s
        for job in self.trace.jobs:
            if job.released_s <= end_s:
                left_s = max(job.started_s, job.gone_s)
                until_s = left_s if left_s >= 0 else end_s
                yield self._row(ORDER, Stretch(str(job.number), WAITS, job.released_s, until_s, job.number))
            if job.started_s >= 0:
                done_s = job.finished_s if job.finished_s >= 0 else end_s
                stretch = Stretch(str(job.number), "in_work", job.started_s, done_s, job.number)
                yield self._row(ORDER, stretch, done=_yes(job.finished_s >= 0))

    def _move(self, move: ToolMove) -> Row:
        more: Row = {"from_place": self._place(move, move.source), "to_place": self._place(move, move.target)}
        if move.tool != NO_TOOL:
            more |= {"tool_id": self.plant.tools[move.tool].tool_id, "copy": move.copy, "seconds": move.seconds}
            more |= {"clearance_mm": move.clearance} if move.clearance != NO_CLEARANCE else {}
            more |= {"angle_deg": move.angle} if max(move.source, move.target) >= 0 else {}
            more["hidden"] = _yes(move.hidden) if move.source != NOWHERE else ""
        if move.kind in GRIPPER_EXCHANGES:
            more["by"] = "gripper"
        elif move.asked:
            work = [persons for number in move.asked for persons, _, _ in self.work.get(number, ())]
            more |= {"request": move.asked[0], "by": self._names(dict.fromkeys(chain.from_iterable(work)))}
        stretch = Stretch(self.machines[move.machine], move.kind, move.at_s, move.at_s, move.job)
        return self._row(TOOL, stretch, **more)

    def _place(self, move: ToolMove, place: int) -> str:
        if place < 0:
            return "" if place == NOWHERE else "magazine" if place == MAGAZINE else "outside"
        ring = self.notes.rings[move.machine]
        beside = [at for at, position in enumerate(ring) if position == ring[place]]
        return f"station {ring[place] + 1}" + (f"/{beside.index(place) + 1}" if len(beside) > 1 else "")

    def _levels(self) -> Iterator[Row]:
        """Places taken and sheets on the stack, from each change to the next."""
        settings, trace = self.plant.settings, self.trace
        bench = [(moment_s, taken) for moment_s, taken, _ in trace.bench_level]
        stack = [(moment_s, lying) for moment_s, _, lying in trace.bench_level]
        for resource, places, changes in (
            ("bench", settings.bench.places, bench), ("stack", settings.stack.places, stack),
            ("part_stacks", settings.removal.stack_places, trace.stack_level),
        ):  # fmt: skip
            changed = [next(same) for _, same in groupby([(0.0, 0), *changes], key=itemgetter(1))]
            for (start_s, level), (end_s, _) in pairwise([*changed, (trace.end_s, 0)]):
                yield self._row(LEVEL, Stretch(resource, "taken", start_s, end_s), level=level, places=places)

    def _decided(self, decision: OverflowDecision) -> Row:
        """Hours of overtime, or the time until an order that is given out is delivered."""
        lead_s = self.plant.settings.overflow.subcontract_lead_days * SECONDS_PER_DAY
        at_s = decision.moment_s
        span = decision.window or (at_s, at_s + (lead_s if decision.what == SUBCONTRACT else 0.0))
        job = decision.job if decision.job != NOBODY else decision.short_job
        return self._row(
            PLANNER, Stretch("planner", decision.what, *span, job), decided_h=at_s / SECONDS_PER_HOUR,
            slack_days=round(decision.slack_days, 3),
        )  # fmt: skip


def _job(request: Request) -> int:
    """The order it is for; work in other cells is for none."""
    return NOBODY if request.task == ELSEWHERE else request.key[3]


def _task(request: Request) -> str:
    return _OTHER_TASKS.get(request.task) or SKILLS[request.task]


def _yes(so: bool) -> str:
    return "yes" if so else "no"
