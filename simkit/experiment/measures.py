"""Measures of one run: plain totals over its span, from the records of the trace.

Hours are machine hours unless the name says otherwise. ``measure_run`` needs no pandas and runs in the
workers; the meaning of every name is in :data:`simkit.experiment.glossary.MEASURES`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from simkit.base.arrays import Floats
from simkit.base.units import SECONDS_PER_HOUR, SECONDS_PER_WEEK
from simkit.base.vocabulary import (
    CLOSED,
    CUTTING,
    FORMING,
    NO_WORK,
    PASSIVE_STATES,
    PUNCHING,
    SKILLS,
    STATES,
    UNLOADING,
)  # fmt: skip
from simkit.cell.orders import IN_HOUSE, REFUSED, SUBCONTRACT, Job
from simkit.cell.people import ELSEWHERE, WALKING
from simkit.cell.trace import RUN, STATE_CODE, MachineStates, Trace
from simkit.experiment.expectation import losses
from simkit.experiment.nights import night_totals, worked_h
from simkit.experiment.ordermeasures import given_out, lateness
from simkit.experiment.overlaps import busy_totals, covered_s, measured_span, overlap_s
from simkit.experiment.partmeasures import bench_totals, check_mass, part_totals
from simkit.experiment.records import record_run
from simkit.experiment.tables import Records, Table, column_sum
from simkit.experiment.toolmeasures import tool_totals
from simkit.process.shifts import Span, crew_spans, merged
from simkit.process.workload import Workload

Measures = dict[str, float]


def measure_run(trace: Trace, workload: Workload, records: Records | None = None) -> Measures:
    """All measures of one run as one flat dictionary; see the glossary for meaning and unit of each.

    ``records`` are those of the run, where they are known.
    """
    records = record_run(trace, workload) if records is None else records
    span = measured_span(trace, workload)
    measures: Measures = {"span_weeks": (span[1] - span[0]) / SECONDS_PER_WEEK}
    measures |= {
        name: hours for name in ("drawn_h", "drawn_mean_h") if (hours := getattr(workload.draws, name)) is not None
    }
    measures["attended_h"] = _attended_s(trace, workload, span) / SECONDS_PER_HOUR
    measures["overtime_h"] = covered_s(trace.overtime_spans, (0.0, trace.end_s)) / SECONDS_PER_HOUR
    measures |= _states(trace, workload, span)
    measures |= _orders(trace, records["orders"], span)
    measures |= _needed(trace, workload, records["orders"])
    measures |= _sheets(trace, workload, span)
    measures |= _people(trace, workload, span) | busy_totals(trace, workload, span)
    measures |= tool_totals(trace, records)
    measures |= night_totals(records["nights"])
    measures |= bench_totals(trace, span, records["mornings"])
    measures["visit_running_h"] = worked_h(trace, workload.plan.visits)
    return measures


def state_table(log: MachineStates, workload: Workload, open_spans: tuple[Span, ...], span: Span) -> Floats:
    """Seconds of one machine by state (rows of STATES) within a span; they sum to the span.

    Passive states outside open hours count as closed.
    """
    state, start, end = log.state, log.start_s, log.end_s
    low, high = np.clip(start, *span), np.clip(end, *span)
    totals = np.zeros(len(STATES))
    running = state == RUN
    _add_runs(totals, log, workload, running, low, high)
    open_s = overlap_s(low, high, open_spans)
    for code, name in enumerate(STATES):
        chosen = state == code
        if name in PASSIVE_STATES:
            totals[code] += open_s[chosen].sum()
            totals[STATE_CODE[CLOSED]] += (high - low - open_s)[chosen].sum()
        else:
            totals[code] += (high - low)[chosen].sum()
    return totals


def _add_runs(
    totals: Floats, log: MachineStates, workload: Workload, running: NDArray[np.bool_], low: Floats, high: Floats
) -> None:
    """Split stretches of sheet runs into punching, forming, cutting and waiting for picks, by the sheet's times."""
    sheets = log.sheet[running]
    offset = log.offset_s[running] + (low - log.start_s)[running]
    until = offset + (high - low)[running]
    times = workload.sheets
    edge = np.zeros(len(sheets))
    for name, seconds in (
        (PUNCHING, times.punch_s), (FORMING, times.form_s), (CUTTING, times.cut_s), (UNLOADING, times.tail_s),
    ):  # fmt: skip
        upper = edge + seconds[sheets]
        totals[STATE_CODE[name]] += np.clip(np.minimum(until, upper) - np.maximum(offset, edge), 0, None).sum()
        edge = upper


def _attended_s(trace: Trace, workload: Workload, span: Span) -> float:
    """Seconds in which at least one person who works at the machine is there (breaks only while covered)."""
    crew = crew_spans(workload.plant.people, workload.plan.person, workload.plan.attended)
    return covered_s(merged((*crew, *trace.overtime_spans)), span)


def _states(trace: Trace, workload: Workload, span: Span) -> Measures:
    machines = list(zip(trace.machines, workload.by_machine, strict=True))
    tables = [state_table(log, own, trace.open_spans, span) for log, own in machines]
    total = np.sum(tables, axis=0)
    measures = {f"state_{name}_h": float(total[code]) / SECONDS_PER_HOUR for code, name in enumerate(STATES)}
    machines_s = len(trace.machines) * (span[1] - span[0])
    if abs(total.sum() - machines_s) > 1e-6 * max(machines_s, 1.0):
        raise AssertionError(f"machine states sum to {total.sum()} s, not to {machines_s} s")
    run_s = sum(float(total[STATE_CODE[state]]) for state in (PUNCHING, FORMING, CUTTING))
    measures["run_h"] = run_s / SECONDS_PER_HOUR
    measures["cut_h"] = float(total[STATE_CODE[CUTTING]]) / SECONDS_PER_HOUR
    measures["machine_utilisation"] = run_s / machines_s if machines_s else 0.0
    measures["machine_availability"] = 1.0 - float(total[STATE_CODE["stopped"]]) / machines_s if machines_s else 0.0
    stops = [moment for log in trace.machines for moment in log.stop_at_s]
    measures["stops"] = float(sum(span[0] <= moment < span[1] for moment in stops))
    measures["stop_h"] = measures["state_stopped_h"]
    return measures


def _needed(trace: Trace, workload: Workload, orders: Table) -> Measures:
    """Hours needed: in house until the book is done, plus orders subcontracted or refused at the same measure.

    A machine that waits in an unattended night is not needed there: those hours are night hours lost.
    """
    run = (0.0, trace.end_s)
    machines = zip(trace.machines, workload.by_machine, strict=True)
    whole = np.sum([state_table(log, own, trace.attended_spans, run) for log, own in machines], axis=0)
    busy_s = float(whole.sum() - whole[STATE_CODE[NO_WORK]] - whole[STATE_CODE[CLOSED]])
    fates = (IN_HOUSE, SUBCONTRACT, REFUSED)
    hours = {fate: column_sum(orders["planned_h"][orders["fate"] == fate]) for fate in fates}
    invoiced = {fate: column_sum(orders["invoice_h"][orders["fate"] == fate]) for fate in fates}
    inhouse_h = busy_s / SECONDS_PER_HOUR
    machine = workload.plant.settings.machine
    run_h = sum(whole[STATE_CODE[state]] for state in (PUNCHING, FORMING, CUTTING)) / SECONDS_PER_HOUR
    on_h = (whole.sum() - whole[STATE_CODE[CLOSED]]) / SECONDS_PER_HOUR
    scale = inhouse_h / hours[IN_HOUSE] if hours[IN_HOUSE] > 0 else 1.0
    given_out_h = hours[SUBCONTRACT] + hours[REFUSED]
    return {
        "inhouse_h": inhouse_h,
        "subcontract_h": invoiced[SUBCONTRACT],
        "unmet_h": invoiced[REFUSED],
        "hours_needed": inhouse_h + given_out_h * scale,
        "energy_kwh": float(run_h * machine.running_kw + (on_h - run_h) * machine.idle_kw),
        "gas_m3": float(whole[STATE_CODE[CUTTING]]) / SECONDS_PER_HOUR * machine.gas_m3_per_h,
    }


def _orders(trace: Trace, orders: Table, span: Span) -> Measures:
    """Waits, lateness and work on the way; of orders that are merged, only what is late or given out counts singly."""
    inhouse = [job for job in trace.jobs if job.fate == IN_HOUSE]
    begun = [job for job in inhouse if job.started_s >= 0]
    waits = np.array([max(job.started_s - job.released_s, 0.0) for job in begun if span[0] <= job.released_s < span[1]])
    queue_s = sum(_waiting_s(job.released_s, max(job.started_s, job.gone_s), span) for job in trace.jobs)
    process_s = sum(_waiting_s(job.started_s, job.finished_s, span) for job in begun)
    length_s = max(span[1] - span[0], 1e-9)
    open_h = [_open_h(trace.jobs, share * span[1]) for share in (0.5, 1.0)]
    return {
        "orders_finished": float(sum(len(job.members) for job in inhouse if job.finished_s >= 0)),
        **lateness(orders, trace.end_s / SECONDS_PER_HOUR),
        **given_out(orders),
        "orders_in_process_mean": float(process_s) / length_s,
        "machine_queue_mean": float(queue_s) / length_s,
        "machine_wait_mean_s": float(waits.mean()) if len(waits) else 0.0,
        "machine_wait_share": float((waits > 0).mean()) if len(waits) else 0.0,
        "backlog_end_h": open_h[1],
        "backlog_grows": float(open_h[1] > 1.25 * open_h[0] + 20.0),
    }


def _open_h(jobs: Sequence[Job], moment_s: float) -> float:
    """Planner's hours released and neither finished nor gone at a moment."""
    ended_s = ((job, max(job.finished_s, job.gone_s)) for job in jobs if job.released_s <= moment_s)
    return sum(job.hours for job, end_s in ended_s if not 0 <= end_s <= moment_s)


def _waiting_s(from_s: float, to_s: float, span: Span) -> float:
    """Seconds between two moments within a span; a missing second moment means still going on."""
    end_s = to_s if to_s >= 0 else span[1]
    return max(min(end_s, span[1]) - max(from_s, span[0]), 0.0)


def _sheets(trace: Trace, workload: Workload, span: Span) -> Measures:
    """Sheets, parts and mass, over the whole run (the book), and sheets within the span."""
    plant, tables, program = workload.plant, workload.tables, workload.sheets.program
    made = np.array([sheet for log in trace.machines for sheet in log.made], np.int64)
    made_at = np.array([moment for log in trace.machines for moment in log.made_at_s])
    lost = np.array([sheet for log in trace.machines for sheet in log.lost if sheet >= 0], np.int64)
    flows = tables.flows
    parts = np.array([flow.parts for flow in flows], float)
    parts_kg = np.array([flow.parts_kg for flow in flows])
    by_made = np.bincount(program[made], minlength=len(flows)).astype(float)
    by_lost = np.bincount(program[lost], minlength=len(flows)).astype(float)
    remnant_kg = by_made * tables.remnant_kg
    used_kg = (by_made + by_lost) * tables.sheet_kg - remnant_kg
    good_kg = by_made * parts_kg
    picked = np.array([flow.picked for flow in flows], float)
    whole = np.array([flow.picked > 0 and flow.benched == 0 for flow in flows], bool)
    measures = {
        "sheets": float(len(made)),
        "full_sheets": float(by_made @ tables.filled),
        "sheets_in_span": float(tables.filled[program[made]][(made_at >= span[0]) & (made_at < span[1])].sum()),
        "parts": float(by_made @ parts),
        "sheets_scrapped": float(len(lost)),
        "material_kg": float(used_kg.sum()),
        "remnant_kg": float(remnant_kg.sum()),
        "parts_kg": float(good_kg.sum()),
        "scrap_kg": float((used_kg - good_kg).sum()),
        "bench_h": float(workload.sheets.bench_s[made].sum()) / SECONDS_PER_HOUR,
        "eligible_parts_share": float(by_made @ picked) / max(float(by_made @ parts), 1.0),
        "eligible_sheets_share": float(by_made[whole].sum()) / max(len(made), 1),
    }
    for row, material in enumerate(plant.materials):
        measures[f"material_kg_{material.material_id}"] = float(used_kg[tables.material == row].sum())
    expected = losses(trace, workload)
    measures |= {"sheets_scrapped_expected": float(expected.sheets.sum()), "tools_broken_expected": expected.tools}
    lost_kg = (by_made * (1.0 - tables.filled) + by_lost) * tables.sheet_kg - remnant_kg
    other_lost_kg = (expected.sheets - by_lost) * tables.sheet_kg
    for metal in dict.fromkeys(material.metal for material in plant.materials):
        chosen = np.array([plant.materials[row].metal == metal for row in tables.material], bool)
        measures[f"scrap_kg_{metal}"] = float((used_kg - good_kg)[chosen].sum())
        measures[f"lost_kg_{metal}"] = float(lost_kg[chosen].sum())
        measures[f"lost_expected_kg_{metal}"] = float((lost_kg + other_lost_kg)[chosen].sum())
    measures |= _quality(workload, by_made) | part_totals(trace, workload, by_made, by_lost)
    check_mass(measures)
    return measures


def _quality(workload: Workload, by_made: Floats) -> Measures:
    """Expected marked, reworked and scrapped parts."""
    scrapped = reworked = rework_min = 0.0
    for cause, parts in zip(workload.plant.quality, workload.tables.at_risk, strict=True):
        at_risk = float(by_made @ parts)
        scrapped += at_risk * cause.rate * cause.scrap_share
        reworked += at_risk * cause.rate * (1 - cause.scrap_share)
        rework_min += at_risk * cause.rate * (1 - cause.scrap_share) * cause.rework_min
    return {"parts_scrapped": scrapped, "parts_reworked": reworked, "rework_h": rework_min / 60.0}


def _in_vain_s(trace: Trace, span: Span) -> float:
    log = trace.tasks
    return float(log.anew_s[(span[0] <= log.anew_at_s) & (log.anew_at_s < span[1])].sum())


def _people(trace: Trace, workload: Workload, span: Span) -> Measures:
    """People's hours by task within the span, overrun past their windows, and how long requests wait."""
    log = trace.tasks
    task, start, end = log.task, log.start_s, log.end_s
    here = task != ELSEWHERE
    inside = np.clip(end, *span) - np.clip(start, *span)
    overrun = np.clip(end - np.maximum(log.window_end_s, start), 0, None) if len(end) else np.zeros(0)
    measures = {
        f"person_{skill}_h": float(inside[task == code].sum()) / SECONDS_PER_HOUR for code, skill in enumerate(SKILLS)
    }
    measures["person_walking_h"] = float(inside[task == WALKING].sum()) / SECONDS_PER_HOUR
    windows_s = sum(covered_s(windows, span) for windows in workload.plan.person)
    for row, person in enumerate(workload.plant.people):
        if person.shift != "always":
            worked = tuple(window for window in trace.overtime_spans if workload.plan.works_overtime(row, window))
            windows_s += covered_s(worked, span)
    measures["person_elsewhere_h"] = float(inside[~here].sum()) / SECONDS_PER_HOUR
    measures["person_busy_h"] = float(inside[here].sum()) / SECONDS_PER_HOUR
    measures["person_overrun_h"] = float(overrun[here].sum()) / SECONDS_PER_HOUR
    measures["person_in_vain_h"] = _in_vain_s(trace, span) / SECONDS_PER_HOUR
    measures["people_utilisation"] = float(inside[here].sum()) / windows_s if windows_s else 0.0
    measures["preparation_h"] = trace.outside_s.get("preparation", 0.0) / SECONDS_PER_HOUR
    measures["programming_h"] = trace.outside_s.get("programming", 0.0) / SECONDS_PER_HOUR
    away = np.clip(log.called_until_s, *span) - np.clip(log.called_s, *span)
    measures["care_by_others_h"] = sum(log.care_by_others_s for log in trace.machines) / SECONDS_PER_HOUR
    measures["on_call_calls"] = float(((span[0] <= log.called_s) & (log.called_s < span[1])).sum())
    measures["on_call_h"] = float(away.sum()) / SECONDS_PER_HOUR
    bench = log.request_task == SKILLS.index("bench")
    at_machine = log.request_machine >= 0
    return measures | _waits(trace, span, "people", at_machine) | _waits(trace, span, "bench", bench)


def _waits(trace: Trace, span: Span, name: str, chosen: NDArray[np.bool_]) -> Measures:
    asked, begun = trace.tasks.asked_s[chosen], trace.tasks.begun_s[chosen]
    queue_s = float((np.clip(begun, *span) - np.clip(asked, *span)).sum())
    counted = (asked >= span[0]) & (asked < span[1])
    waits = (begun - asked)[counted]
    return {
        f"{name}_queue_mean": queue_s / max(span[1] - span[0], 1e-9),
        f"{name}_wait_mean_s": float(waits.mean()) if len(waits) else 0.0,
        f"{name}_wait_share": float((waits > 0).mean()) if len(waits) else 0.0,
    }
