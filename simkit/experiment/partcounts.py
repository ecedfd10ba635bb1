"""What waits, stands open and fails by the hour, the night and the sheet: a model of its own, run for a few cases.

Every name is ``<quantity>_<which>``. Totals are over the measured span, those of nights, mornings and picks over the
whole run. This module is what a worker loads: it must not import pandas.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from simkit.base.units import SECONDS_PER_WEEK
from simkit.cell.run import simulate
from simkit.cell.trace import MachineLog, Trace
from simkit.experiment.backlog import by_hour, mornings
from simkit.experiment.task import Luck, Model, Totals, draw_luck
from simkit.plant.plant import Scenario
from simkit.process.shifts import Span, without
from simkit.process.workload import Workload, make_workload

SPAN = "span_weeks"
BENCH_HOUR, STACK_HOUR = "bench_hour", "stack_hour"
MORNING, NIGHT_PLACES, NIGHT_SHEETS, NIGHT_SKELETONS = "morning", "night_places", "night_sheets", "night_skeletons"
PICK = "pick"
PICKED, STOPPED, EXPECTED = "sheets", "stopped", "expected"

UNITS = {
    SPAN: "weeks", BENCH_HOUR: "sheets", STACK_HOUR: "sheets", MORNING: "mornings", NIGHT_PLACES: "nights",
    NIGHT_SHEETS: "nights", NIGHT_SKELETONS: "nights", PICK: "sheets",
}  # fmt: skip
"""Unit of each quantity. ``bench_hour`` and ``stack_hour`` are mean sheets at the bench and on the whole-sheet stack in
an hour of the day (0 to 23); ``morning`` counts days on which so many sheets waited when people came; the quantities of
nights count allowed nights in which at most so many places for stacks were taken at once, so many whole sheets lay on
the stack, and so many skeletons were put down. Of ``pick``: good sheets with picked parts, those on which a pick failed
at least once, and how many that would be by the closed form."""


def count_parts(scenario: Scenario, luck: Luck) -> Totals:
    """Simulate one scenario with given luck and count what waits, stands open and fails."""
    draws, tables_today = luck
    workload = make_workload(scenario, draws, tables_today)
    return part_counts(simulate(workload), workload)


def part_counts(trace: Trace, workload: Workload) -> Totals:
    """Totals by hour, morning, night and sheet of one run."""
    span = (0.0, min(workload.span_s, trace.end_s))
    totals: Totals = {SPAN: span[1] / SECONDS_PER_WEEK}
    for name, value in (*_hours(trace, span), *_counts(trace, workload, span), *_picks(trace, workload)):
        totals[name] = totals.get(name, 0.0) + float(value)
    return totals


def part_units() -> dict[str, str]:
    """Unit of each quantity."""
    return dict(UNITS)


def apart(measure: str) -> tuple[str, str]:
    """Take the name of a total apart: quantity and which; the latter is empty for the span."""
    if measure == SPAN:
        return SPAN, ""
    quantity, _, which = measure.rpartition("_")
    return quantity, which


PART_COUNTS = Model(draw_luck, count_parts, part_units)
"""The cell, counted by hour, night and sheet."""

Rows = Iterator[tuple[str, float]]


def _hours(trace: Trace, span: Span) -> Rows:
    for hour, (bench, stack) in enumerate(by_hour(trace.bench_level, span)):
        yield f"{BENCH_HOUR}_{hour:02d}", bench
        yield f"{STACK_HOUR}_{hour:02d}", stack


def _counts(trace: Trace, workload: Workload, span: Span) -> Rows:
    """One count for each morning and each allowed night."""
    for sheets in mornings(trace.bench_level, trace.attended_spans, span).sheets:
        yield f"{MORNING}_{int(sheets)}", 1.0
    sheets_on_stack = [(moment, stack) for moment, _, stack in trace.bench_level]
    for night in without(workload.plan.nights, trace.overtime_spans):
        if night[0] < trace.end_s:
            cut = (night[0], min(night[1], trace.end_s))
            yield f"{NIGHT_PLACES}_{most_in(trace.stack_level, cut)}", 1.0
            yield f"{NIGHT_SHEETS}_{most_in(sheets_on_stack, cut)}", 1.0
            yield f"{NIGHT_SKELETONS}_{_skeletons(trace, workload, cut)}", 1.0


def most_in(level: Sequence[tuple[float, int]], span: Span) -> int:
    """The highest level within a span of (moment, level from then on), the level at its start included."""
    before = [amount for moment, amount in level if moment <= span[0]][-1:]
    return max([*before, *(amount for moment, amount in level if span[0] < moment < span[1])], default=0)


def _skeletons(trace: Trace, workload: Workload, night: Span) -> int:
    flows, program = workload.tables.flows, workload.sheets.program
    return sum(
        flows[int(program[sheet])].leaves_skeleton
        for log in trace.machines
        for sheet, moment in zip(log.made, log.made_at_s, strict=True)
        if night[0] < moment <= night[1]
    )


def _picks(trace: Trace, workload: Workload) -> Rows:
    """Good sheets with picks, those that a failed pick stopped, and their number by 1 - (1 - p)^n."""
    causes = [number for number, row in enumerate(workload.plant.stops) if row.exposure == "pick"]
    if not causes:
        return
    passes = float(np.prod([1.0 - min(workload.plant.stops[number].rate, 1.0) for number in causes]))
    picked = np.array([flow.picked for flow in workload.tables.flows], np.int64)
    for log in trace.machines:
        made = picked[workload.sheets.program[np.array(log.made, np.int64)]]
        yield f"{PICK}_{PICKED}", float((made > 0).sum())
        yield f"{PICK}_{STOPPED}", float(len(_stopped(log, causes)))
        yield f"{PICK}_{EXPECTED}", float((1.0 - passes**made).sum())


def _stopped(log: MachineLog, causes: list[int]) -> NDArray[np.int64]:
    """Good sheets in whose making one of these causes struck: the sheet that is finished next after the stop."""
    moments = [at for cause, at in zip(log.stop_cause, log.stop_at_s, strict=True) if cause in causes]
    place = np.searchsorted(np.array(log.made_at_s), np.array(moments), side="right")
    return np.unique(place[place < len(log.made)])
