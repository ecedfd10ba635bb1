"""What every run must obey; each check takes a trace with its workload and asserts exactly."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from simkit.base.vocabulary import SKILLS, STATES
from simkit.cell.openstacks import NIGHT_COMES
from simkit.cell.people import ELSEWHERE, WALKING
from simkit.cell.trace import RUN, STATE_CODE, Trace
from simkit.experiment.measures import measure_run, state_table
from simkit.process.shifts import merged, without
from simkit.process.workload import Workload


def check_all(trace: Trace, workload: Workload) -> None:
    stretches_fill_the_time(trace, workload)
    nobody_does_two_things(trace)
    work_lies_in_windows(trace, workload)
    only_the_end_of_a_window_breaks_work_off(trace, workload)
    attended_time_is_the_same_from_both_sides(trace, workload)
    sheets_are_conserved(trace, workload)
    bench_stays_within_its_places(trace, workload)
    mass_is_conserved(trace, workload)
    skeletons_and_stacks_are_conserved(trace, workload)
    people_queue_obeys_little(trace)
    no_bench_work_waits_for_somebody_free(trace, workload)
    hidden_exchanges_fit_into_cutting(trace, workload)
    nothing_runs_outside_open_hours_anew(trace, workload)


def stretches_fill_the_time(trace: Trace, workload: Workload) -> None:
    """Stretches of a machine follow each other without gap or overlap; its states sum to the calendar."""
    for log in trace.machines:
        assert log.start_s[0] == 0.0
        assert log.end_s[-1] == trace.end_s
        assert (log.start_s[1:] == log.end_s[:-1]).all()
        assert all(end > start for start, end in zip(log.start_s, log.end_s, strict=True))
        table = state_table(log, workload, trace.open_spans, (0.0, trace.end_s))
        assert len(table) == len(STATES)
        assert (table >= 0).all()
        assert float(np.sum(table)) == trace.end_s


def nobody_does_two_things(trace: Trace) -> None:
    rows = sorted(zip(trace.tasks.person, trace.tasks.start_s, trace.tasks.end_s, strict=True))
    for (one, _, end), (other, start, _) in pairwise(rows):
        assert one != other or start >= end


def work_lies_in_windows(trace: Trace, workload: Workload) -> None:
    """Each chunk starts in the person's own windows, overtime or a call and, if its task pauses, ends in it."""
    tasks, plan, rules = trace.tasks, workload.plan, workload.plant.settings.people.break_rules
    moved = rules.get("preparation", "pause") == "finish"  # moved work of any skill goes by this rule
    rule_of = {"technician": "clear"}  # a technician clears stops
    finish = {n for n, s in enumerate(SKILLS) if moved or rules.get(rule_of.get(s, s), "pause") == "finish"}
    finish |= {ELSEWHERE} if rules.get("clear", "pause") == "finish" else set()
    called: dict[int, list[tuple[float, float]]] = {}
    for person, start, end in zip(tasks.called, tasks.called_s, tasks.called_until_s, strict=True):
        called.setdefault(person, []).append((start, end))
    for person, task, start, end in zip(tasks.person, tasks.task, tasks.start_s, tasks.end_s, strict=True):
        if task == WALKING:
            continue
        windows = [*plan.person[person], *(w for w in trace.overtime_spans if plan.works_overtime(person, w))]
        windows += called.get(person, [])
        if task == SKILLS.index("upkeep") and any(row.planned_in_break for row in workload.plant.upkeep):
            shift = workload.plant.people[person].shift
            windows += [(a, np.inf) for name, a, b in plan.break_spans if name == shift and a <= start < b]
        inside = [b for a, b in windows if a <= start < b or a == start == b]  # a listed repair may take no time
        assert inside
        assert end <= max(inside) or task in finish


def only_the_end_of_a_window_breaks_work_off(trace: Trace, workload: Workload) -> None:
    """What is begun anew was worked on until its person's window ended; no more is lost than was spent on such work."""
    tasks, rules = trace.tasks, workload.plant.settings.people.break_rules
    spent: dict[int, float] = {}
    ends = set()
    for task, start, end, window_end in zip(tasks.task, tasks.start_s, tasks.end_s, tasks.window_end_s, strict=True):
        spent[task] = spent.get(task, 0.0) + end - start
        ends.add((task, end) if end == window_end else None)
    for task, moment, seconds in zip(tasks.anew_task, tasks.anew_at_s, tasks.anew_s, strict=True):
        assert "stop" in rules.values()
        assert (task, moment) in ends
        assert seconds > 0
    for task in set(tasks.anew_task):
        assert sum(s for t, s in zip(tasks.anew_task, tasks.anew_s, strict=True) if t == task) <= spent[task]


def attended_time_is_the_same_from_both_sides(trace: Trace, workload: Workload) -> None:
    """Seconds that machines spend with people equal the seconds that people spend at machines, chunk by chunk."""
    chunks = sorted(
        (start, end)
        for task, start, end in zip(trace.tasks.task, trace.tasks.start_s, trace.tasks.end_s, strict=True)
        if task != WALKING
    )
    covered = set(chunks)
    alone = {"load", "unload"} & {stage for stage, who in workload.who.items() if who == "machine"}
    for log in trace.machines:
        for state, start, end in zip(log.state, log.start_s, log.end_s, strict=True):
            if state == STATE_CODE["loading"] and "load" not in alone:
                assert (start, end) in covered


def sheets_are_conserved(trace: Trace, workload: Workload) -> None:
    """Sheets started are made, lost or in process; an order is finished when all of its sheets are out."""
    made = [sheet for log in trace.machines for sheet in log.made]
    assert len(made) == len(set(made))
    for job in trace.jobs:
        done = sum(sheet in set(job.sheets) for sheet in made)
        assert done <= len(job.sheets)
        if job.finished_s >= 0:
            assert done == len(job.sheets)
            assert job.released_s <= job.started_s <= job.finished_s <= trace.end_s
        if job.fate != "in_house":
            assert job.started_s < 0
    for log in trace.machines:
        assert log.made_at_s == sorted(log.made_at_s)
        runs = [sheet for state, sheet in zip(log.state, log.sheet, strict=True) if state == RUN]
        # a sheet that a stop strikes before it has run at all is lost without a run
        assert {*log.made} <= {*runs, *np.flatnonzero(workload.sheets.run_s == 0).tolist()}
        assert len({*runs} - {*log.made, *log.lost}) <= 1


def bench_stays_within_its_places(trace: Trace, workload: Workload) -> None:
    settings = workload.plant.settings
    moments = [moment for moment, _, _ in trace.bench_level]
    assert moments == sorted(moments)
    for _, taken, stacked in trace.bench_level:
        assert 0 <= taken <= settings.bench.places
        assert stacked >= 0  # those set aside before a night wait beside the stack
        assert stacked <= settings.stack.places or "output" in settings.rules.before_leaving


def mass_is_conserved(trace: Trace, workload: Workload) -> None:
    """Mass of the sheets used is that of parts, slugs and skeletons, added up sheet by sheet from the tables."""
    plant, measures = workload.plant, measure_run(trace, workload)
    used_kg = parts_kg = 0.0
    for log in trace.machines:
        for sheet, good in [(sheet, True) for sheet in log.made] + [(sheet, False) for sheet in log.lost]:
            if sheet >= 0:
                program = plant.programs[workload.sheets.program[sheet]]
                material = plant.material_by_id[program.material_id]
                volume_mm3 = program.sheet_length_mm * program.sheet_width_mm * material.thickness_mm
                picked = workload.tables.flows[workload.sheets.program[sheet]].picked > 0
                filled = 1.0 - plant.settings.removal.yield_loss if picked else 1.0
                kept = workload.tables.remnant_kg[workload.sheets.program[sheet]] if good else 0.0
                used_kg += volume_mm3 * 1e-9 * material.density_kg_m3 - kept
                parts = plant.parts_of.get(program.program_id, ()) if good else ()
                parts_kg += filled * sum(part.per_sheet * part.mass_kg for part in parts)
    assert measures["parts_kg"] == pytest.approx(parts_kg)
    assert measures["material_kg"] == pytest.approx(used_kg)
    assert measures["skeleton_kg"] + measures["slug_kg"] == pytest.approx(used_kg - parts_kg)
    if (workload.tables.skeleton_kg >= 0).all():  # parts made up for tests may weigh more than their sheet
        assert min(measures["skeleton_kg"], measures["slug_kg"]) >= -1e-9 * used_kg


def skeletons_and_stacks_are_conserved(trace: Trace, workload: Workload) -> None:
    """Each good sheet whose parts the device takes all leaves one skeleton; full pallets hold what they can."""
    flows, removal = workload.tables.flows, workload.plant.settings.removal
    for log, (put_down, filled) in zip(trace.machines, trace.skeletons, strict=True):
        handed = [sheet for sheet in log.made if flows[workload.sheets.program[sheet]].leaves_skeleton]
        again = [sheet for sheet in log.lost if flows[workload.sheets.program[sheet]].leaves_skeleton]
        assert len(handed) <= put_down <= len(handed) + len(again)
        assert filled == (put_down // removal.skeleton_places if removal.skeleton_places else 0)
    if not any(flow.picked for flow in flows):
        assert trace.stacks_taken == {}
    whys = {"by_order": {"height", "mass", "order"}, "as_nested": {"height", "mass", "order"}}
    night = {NIGHT_COMES} if "output" in workload.plant.settings.rules.before_leaving else set()
    usual = whys.get(removal.stacking, {"height", "mass", "kit", "places", "no_work"})
    assert set(trace.stacks_taken) <= usual | night


def people_queue_obeys_little(trace: Trace) -> None:
    """The integral of the number of requests that wait equals the sum of their waits."""
    asked, begun = np.array(trace.tasks.asked_s), np.array(trace.tasks.begun_s)
    moments = np.unique(np.concatenate([asked, begun]))
    waiting = np.array([((asked <= moment) & (begun > moment)).sum() for moment in moments[:-1]])
    assert float((waiting * np.diff(moments)).sum()) == pytest.approx(float((begun - asked).sum()), rel=1e-9)


def nothing_runs_outside_open_hours_anew(trace: Trace, workload: Workload) -> None:
    """A sheet that needs nobody to load it starts only in open hours."""
    if workload.who["load"] != "machine":
        return
    for log in trace.machines:
        for state, start in zip(log.state, log.start_s, strict=True):
            if state == STATE_CODE["loading"]:
                assert any(a <= start < b for a, b in trace.open_spans)


def no_bench_work_waits_for_somebody_free(trace: Trace, workload: Workload) -> None:
    """While bench work waits, everybody on duty who could do it is busy."""
    tasks, bench = trace.tasks, SKILLS.index("bench")
    free: list[tuple[float, float]] = []
    for row, person in enumerate(workload.plant.people):
        if "bench" in person.skills:
            overtime = [w for w in trace.overtime_spans if workload.plan.works_overtime(row, w)]
            windows = merged((*workload.plan.person[row], *(overtime if person.shift != "always" else ())))
            rows = zip(tasks.person, tasks.start_s, tasks.end_s, strict=True)
            away = [(start, end) for who, start, end in rows if who == row]
            free += without(windows, away + [(start, end) for who, start, end in tasks.breaks_left if who == row])
    for task, asked, begun in zip(tasks.request_task, tasks.asked_s, tasks.begun_s, strict=True):
        if task == bench:
            assert not any(max(a, asked) < min(b, begun) for a, b in free)


def hidden_exchanges_fit_into_cutting(trace: Trace, workload: Workload) -> None:
    """What is hidden is no more than the cutting of the sheets that were run, nor than all exchanges."""
    for log, counts in zip(trace.machines, trace.tools, strict=True):
        runs = [sheet for state, sheet in zip(log.state, log.sheet, strict=True) if state == RUN]
        assert 0 <= counts.hidden_s <= float(workload.sheets.cut_s[runs].sum())
        assert counts.visible_s >= 0
