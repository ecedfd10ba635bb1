"""Compare the cell with the oracle, record by record and to the last bit."""

from __future__ import annotations

from typing import Any

from simkit.base.vocabulary import SKILLS
from simkit.cell.people import ELSEWHERE, WALKING
from simkit.cell.run import simulate
from simkit.cell.trace import RUN, STATE_CODE, MachineStates, Trace
from simkit.process.workload import Workload
from tests.oracle.straight import Machine, Straight

NAMES = {code: name for name, code in STATE_CODE.items()} | {RUN: "run"}


def merged(rows: list[tuple[str, float, float]]) -> list[tuple[str, float, float]]:
    """Stretches without empty ones, neighbours of one state joined."""
    result: list[tuple[str, float, float]] = []
    for state, start, end in rows:
        if end <= start:
            continue
        if result and result[-1][0] == state and result[-1][2] == start:
            result[-1] = (state, result[-1][1], end)
        else:
            result.append((state, start, end))
    return result


def of_log(log: MachineStates) -> list[tuple[str, float, float]]:
    return merged([(NAMES[s], a, b) for s, a, b in zip(log.state, log.start_s, log.end_s, strict=True)])


def of_machine(machine: Machine, end_s: float) -> list[tuple[str, float, float]]:
    moments = [moment for moment, _ in machine.shown[1:]] + [end_s]
    return merged([(state, a, b) for (a, state), b in zip(machine.shown, moments, strict=True)])


def records_of_cell(trace: Trace) -> dict[str, Any]:
    tasks = trace.tasks
    names = dict(enumerate(SKILLS)) | {WALKING: "walk", ELSEWHERE: "elsewhere"}
    return {
        "made": [list(zip(log.made, log.made_at_s, strict=True)) for log in trace.machines],
        "lost": [list(zip(log.lost, log.lost_at_s, strict=True)) for log in trace.machines],
        "stops": [list(zip(log.stop_cause, log.stop_at_s, strict=True)) for log in trace.machines],
        "nights": [list(zip(log.night_wait_s, log.night_limit, strict=True)) for log in trace.machines],
        "states": [of_log(log) for log in trace.machines],
        "orders": [(job.fate, job.started_s, job.finished_s) for job in trace.jobs],
        "people": sorted(
            (person, names[task], start, end)
            for person, task, start, end in zip(tasks.person, tasks.task, tasks.start_s, tasks.end_s, strict=True)
            if end > start
        ),
        "waits": sorted(
            (SKILLS[task], asked, begun)
            for task, asked, begun in zip(tasks.request_task, tasks.asked_s, tasks.begun_s, strict=True)
        ),
        "calls": sorted(zip(tasks.called, tasks.called_s, tasks.called_until_s, strict=True)),
        "in_vain": sorted(
            (SKILLS[task], moment, seconds)
            for task, moment, seconds in zip(tasks.anew_task, tasks.anew_at_s, tasks.anew_s, strict=True)
        ),
        "bench": changes({moment: (taken, pile) for moment, taken, pile in trace.bench_level}),
        "outside": trace.outside_s,
        "stacks": trace.stacks_taken,
        "skeletons": list(trace.skeletons),
        "overtime": list(trace.overtime_spans),
        "decisions": list(trace.decisions),
        "tools": [(counts.by_tool, counts.hidden_s, counts.visible_s) for counts in trace.tools],
        "end": trace.end_s,
    }


def records_of_oracle(oracle: Straight) -> dict[str, Any]:
    return {
        "made": [m.made for m in oracle.machines],
        "lost": [m.lost for m in oracle.machines],
        "stops": [m.stopped for m in oracle.machines],
        "nights": [m.nights for m in oracle.machines],
        "states": [of_machine(m, oracle.env.now) for m in oracle.machines],
        "orders": [(job.fate, job.started_s, job.finished_s) for job in oracle.orders.jobs],
        "people": sorted(oracle.chunks),
        "waits": sorted(oracle.waits),
        "calls": sorted(oracle.calls),
        "in_vain": sorted(oracle.in_vain),
        "bench": changes(oracle.levels),
        "outside": oracle.outside,
        "stacks": oracle.taken,
        "skeletons": [(m.pallet.put_down, m.pallet.filled) for m in oracle.machines],
        "overtime": oracle.overtime,
        "decisions": oracle.planner.decisions,
        "tools": [(m.tools.counts.by_tool, m.tools.counts.hidden_s, m.tools.counts.visible_s) for m in oracle.machines],
        "end": oracle.env.now,
    }


def changes(levels: dict[float, tuple[int, int]]) -> list[tuple[float, tuple[int, int]]]:
    """The level at the end of each instant that changed it."""
    result, last = [], (0, 0)
    for moment, level in levels.items():
        if level != last:
            result.append((moment, level))
            last = level
    return result


def first_difference(workload: Workload, *, by_events: bool = False) -> str:
    """The first record in which cell and oracle differ, in words; empty if they agree."""
    cell = records_of_cell(simulate(workload, by_events=by_events))
    oracle = records_of_oracle(Straight(workload).run())
    return difference(cell, oracle)


def difference(cell: dict[str, Any], oracle: dict[str, Any]) -> str:
    found = []
    for name, ours in cell.items():
        theirs = oracle[name]
        if ours != theirs:
            found.append(f"{name}: {_where(ours, theirs)}")
    return "\n".join(found)


def _where(ours: Any, theirs: Any) -> str:
    if isinstance(ours, list) and isinstance(theirs, list):
        for number, (a, b) in enumerate(zip(ours, theirs, strict=False)):
            if a != b:
                return f"at {number}: {_where(a, b)}"
        return f"lengths {len(ours)}, {len(theirs)}; next {(ours + theirs)[min(len(ours), len(theirs)) :][:1]}"
    return f"cell {ours}, oracle {theirs}"
