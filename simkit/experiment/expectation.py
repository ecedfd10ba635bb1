"""Sheets lost and tools broken, each cause by its declared kind: probability times exposure, or the count of the run.

The exposure is what the run had: sheets and hours really run, exchanges really done, moments at which somebody was
there to look. So luck cancels in the difference of two scenarios, and the mean over many runs is that of the counts.
Counted are causes that say so, and causes that follow a list. A tool that passes its life is wear and no accident, so
it is counted too, but not which sheet it met: the sheet lost is a mean one, by the tool's hits. Two faults of one order
count as if each came alone, but for the sheet that both spoil at their first hit or as first piece.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from math import log1p

import numpy as np
from numpy.typing import NDArray

from simkit.base.arrays import Floats, Ints
from simkit.base.units import SECONDS_PER_HOUR
from simkit.base.vocabulary import COUNTED, NO_WORK, STOPPED
from simkit.cell.earlylife import EarlyLife, early_life
from simkit.cell.facts import sheet_exposures
from simkit.cell.orders import Job
from simkit.cell.toolfacts import tool_facts_of
from simkit.cell.toolwork import ToolCounts
from simkit.cell.trace import RUN, STATE_CODE, MachineStates, Trace, fault_cause
from simkit.plant.tables import LoadFault, Stop
from simkit.process.pickluck import picks_one_by_one
from simkit.process.shifts import Span
from simkit.process.workload import Workload

NOBODY = -1


@dataclass
class ExpectedLosses:
    """Sheets lost by program, and tools broken."""

    sheets: Floats
    tools: float = 0.0

    def add(self, program: Ints, stops: Floats, cause: Stop) -> None:
        """So many stops of a cause at sheets of these programs, :data:`NOBODY` where there was no sheet to lose."""
        stops = stops * (1.0 - cause.retry_success) ** cause.retries
        here = program != NOBODY
        self.sheets += np.bincount(program[here], stops[here], len(self.sheets)) * cause.sheets_scrapped
        self.tools += float(stops.sum()) * cause.break_share


def losses(trace: Trace, workload: Workload) -> ExpectedLosses:
    """What a run loses to stops, wrongly loaded and worn tools, each cause by its kind."""
    found = ExpectedLosses(np.zeros(len(workload.tables.flows)))
    for log, counts, own in zip(trace.machines, trace.tools, workload.by_machine, strict=True):
        _add_counted(found, log, counts, own)
        expected = [cause for cause in own.plant.stops if not _is_counted(cause) and _costs(cause)]
        if expected:
            runs = SheetRuns.of(log, trace.jobs, own)
            seen = _covers(trace.attended_spans)(runs.start_s)
            for cause in expected:
                _add_stops(found, cause, runs.chosen(_acting(cause, seen)), log, trace.jobs)
    if any(fault.priced != COUNTED for fault in workload.plant.load_faults):
        _add_faults(found, trace, workload)
    return found


def _is_counted(cause: Stop) -> bool:
    return cause.priced == COUNTED or bool(cause.file)


def _acting(cause: Stop, seen: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Which stretches a cause strikes in; ``seen`` says which of them begin with somebody there."""
    return np.where(seen, cause.acts_in(attended=True), cause.acts_in(attended=False))


def _costs(cause: Stop) -> bool:
    return cause.rate > 0 and (cause.sheets_scrapped > 0 or cause.break_share > 0)


def _add_counted(found: ExpectedLosses, log: MachineStates, counts: ToolCounts, own: Workload) -> None:
    kept = {row for row, cause in enumerate(own.plant.stops) if _is_counted(cause)}
    kept |= {fault_cause(row) for row, fault in enumerate(own.plant.load_faults) if fault.priced == COUNTED}
    sheets = [sheet for sheet, cause in zip(log.lost, log.lost_by, strict=True) if cause in kept and sheet >= 0]
    found.sheets += np.bincount(own.sheets.program[sheets], minlength=len(found.sheets)) if sheets else 0.0
    found.sheets += _worn(log, counts, own)
    found.tools += sum(tools for cause, tools in counts.broken_by.items() if cause in kept)


def _worn(log: MachineStates, counts: ToolCounts, own: Workload) -> Floats:
    """Sheets lost to tools past their life, by program: of each tool as its hits were, lost sheets taken for whole."""
    lost = np.zeros(len(own.tables.flows))
    if counts.wear.failed:
        begun = [sheet for sheet in (*log.made, *log.lost) if sheet >= 0]
        made = np.bincount(own.sheets.program[begun], minlength=len(lost))
        book = tool_facts_of(own)
        for tool, times in counts.wear.failed.items():
            hits = made * [sum(amount for need, amount in program if need.tool == tool) for program in book.hits]
            lost += times * hits / hits.sum()
    return lost


# --- stops -----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class SheetRuns:
    """Stretches of sheets' runs at a machine: program, share of the sheet, when, and the tool loads that count there.

    A sheet that takes no time has no stretch: it counts as it is made. ``per_sheet`` are exposures by program.
    """

    program: Ints
    share: Floats
    start_s: Floats
    end_s: Floats
    loads: Floats
    per_sheet: dict[str, Floats]

    def chosen(self, which: NDArray[np.bool_]) -> SheetRuns:
        """Some of the stretches."""
        return SheetRuns(
            self.program[which],
            self.share[which],
            self.start_s[which],
            self.end_s[which],
            self.loads[which],
            self.per_sheet,
        )

    @staticmethod
    def of(log: MachineStates, jobs: tuple[Job, ...], own: Workload) -> SheetRuns:
        """The stretches of a machine's log."""
        ran = log.state == RUN
        sheet, job = log.sheet[ran], log.job[ran]
        start, end = log.start_s[ran], log.end_s[ran]
        done = log.offset_s[ran]
        run_s = own.sheets.run_s
        loads = _loads(sheet, job, jobs) * _first_attempt(sheet, done, done + (end - start))
        at_once = run_s[np.array(log.made, np.int64)] == 0 if log.made else np.zeros(0, bool)
        short, moment = np.array(log.made, np.int64)[at_once], np.array(log.made_at_s)[at_once]
        whole = np.where(run_s[sheet] > 0, (end - start) / np.where(run_s[sheet] > 0, run_s[sheet], 1.0), 1.0)
        exposures = sheet_exposures(own.tables)
        return SheetRuns(
            own.sheets.program[np.concatenate([sheet, short])], np.concatenate([whole, np.ones(len(short))]),
            np.concatenate([start, moment]), np.concatenate([end, moment]),
            np.concatenate([loads, np.zeros(len(short))]),
            {name: np.array([getattr(row, name) for row in exposures]) for name in exposures[0]._fields},
        )  # fmt: skip


def _loads(sheet: Ints, job: Ints, jobs: tuple[Job, ...]) -> Floats:
    """Tool loads of the order where the sheet is its first, else none."""
    return np.array(
        [jobs[n].loads if jobs[n].sheets[0] == at else 0.0 for at, n in zip(sheet.tolist(), job.tolist(), strict=True)]
    )


def _first_attempt(sheet: Ints, done: Floats, until: Floats) -> NDArray[np.bool_]:
    """Whether a stretch belongs to the first time that its sheet was begun."""
    if not len(sheet):
        return np.zeros(0, bool)
    anew = np.concatenate([[True], (sheet[1:] != sheet[:-1]) | (done[1:] < until[:-1])])
    attempt = np.cumsum(anew)
    _, first, which = np.unique(sheet, return_index=True, return_inverse=True)
    return np.asarray(attempt == attempt[first][which], bool)


def _add_stops(found: ExpectedLosses, cause: Stop, runs: SheetRuns, log: MachineStates, jobs: tuple[Job, ...]) -> None:
    early = early_life(cause)
    if cause.exposure in ("running_hour", "calendar_hour"):
        per_s = cause.rate / SECONDS_PER_HOUR
        found.add(runs.program, per_s * _grown_s(early, runs.start_s, runs.end_s), cause)
        if cause.exposure == "calendar_hour":
            program, start, end = _beside_runs(log, jobs)
            found.add(program, per_s * _grown_s(early, start, end), cause)
        return
    per_sheet = runs.per_sheet[cause.exposure][runs.program]
    units = (per_sheet + (runs.loads if cause.exposure == "tool_load" else 0.0)) * runs.share
    if picks_one_by_one(cause):
        weight = np.array([1.0 if early is None else early.rate_at(moment) for moment in runs.start_s.tolist()])
        found.add(runs.program, units * np.minimum(weight * cause.rate, 1.0), cause)
    elif early is None or cause.rate >= 1:
        found.add(runs.program, units * cause.rate, cause)
    else:  # units weigh more than one, so that parts of units count, at the rate of an exponential gap
        weight = np.array([early.rate_at(moment) for moment in runs.start_s.tolist()])
        found.add(runs.program, units * weight * -log1p(-cause.rate), cause)


def _grown_s(early: EarlyLife | None, start: Floats, end: Floats) -> Floats:
    """Settled seconds of each stretch."""
    if early is None:
        return end - start
    return np.array([early.grown(a, b) for a, b in zip(start.tolist(), end.tolist(), strict=True)])


def _beside_runs(log: MachineStates, jobs: tuple[Job, ...]) -> tuple[Ints, Floats, Floats]:
    """Stretches in which calendar hours pass beside runs: the program of the order, or :data:`NOBODY`, and when."""
    state, job = log.state, log.job
    chosen = (state != RUN) & (state != STATE_CODE[STOPPED])
    idle = (job < 0) | (state == STATE_CODE[NO_WORK])
    of_job = np.array([each.program for each in jobs], np.int64)
    program = np.where(idle, NOBODY, of_job[np.maximum(job, 0)])
    return program[chosen], log.start_s[chosen], log.end_s[chosen]


# --- tools loaded wrongly --------------------------------------------------------------------------


def _add_faults(found: ExpectedLosses, trace: Trace, workload: Workload) -> None:
    made_at = np.full(len(workload.sheets.program), np.inf)
    for log in trace.machines:
        made_at[log.made] = log.made_at_s
    was_made, attended = np.isfinite(made_at), _covers(trace.attended_spans)(made_at)
    for job in trace.jobs:
        if job.risked and (made := was_made[job.sheets]).any():
            sheets, tools = fault_losses(job, workload.plant.load_faults, attended[job.sheets][made])
            found.sheets[job.program] += sheets
            found.tools += tools


def fault_losses(job: Job, faults: tuple[LoadFault, ...], seen: NDArray[np.bool_]) -> tuple[float, float]:
    """Sheets and tools that the exchanges done for an order are expected to cost; rows that are counted left out.

    ``seen`` says for each sheet of the order, as it is made, whether somebody is there to look.
    """
    whole = at_once = 1.0
    late = tools = 0.0
    for row, count in job.risked.items():
        fault = faults[row]
        if fault.priced == COUNTED:
            continue
        breaks, first = fault.rate * fault.break_share, fault.found_first_piece * job.measured
        stays = fault.rate - breaks
        tools += count * breaks
        whole *= (1.0 - breaks) ** count
        at_once *= (1.0 - stays * first) ** count
        late += count * stays * (1.0 - first) * sheets_until_seen(fault.found_after_sheets, seen)
    return (1.0 - whole) + (1.0 - at_once) * job.measured_after + late, tools


def sheets_until_seen(mean_sheets: float, seen: NDArray[np.bool_]) -> float:
    """Mean sheets made until a fault is found, of an order's sheets; at the latest with the last.

    Each sheet shows it with chance 1 / ``mean_sheets`` (1 or more), and it is found with the first sheet from then on
    at which somebody looks. Geometric law, textbook standard (from memory): with somebody always there it is
    mean x (1 - (1 - 1 / mean)^n).
    """
    return _until_seen(mean_sheets, seen.tobytes())


@lru_cache(maxsize=4096)
def _until_seen(mean_sheets: float, seen_of_each: bytes) -> float:
    """The same; many orders are as long as others and made with somebody there."""
    seen = np.frombuffer(seen_of_each, bool)
    number = np.arange(1, len(seen) + 1)
    found_at = np.where(seen, number, len(seen))
    found_at = np.minimum.accumulate(found_at[::-1])[::-1]
    missed = 1.0 - 1.0 / mean_sheets
    shows = missed ** (number - 1) / mean_sheets
    return float(shows @ found_at + missed ** len(seen) * len(seen))


def _covers(spans: tuple[Span, ...]) -> Callable[[Floats], NDArray[np.bool_]]:
    """Whether moments lie in spans that are sorted and apart."""
    edges = np.array(spans).reshape(-1, 2)

    def inside(moments: Floats) -> NDArray[np.bool_]:
        at = np.searchsorted(edges[:, 0], moments, side="right") - 1
        return (at >= 0) & (moments < edges[np.maximum(at, 0), 1]) if len(edges) else np.zeros(len(moments), bool)

    return inside
