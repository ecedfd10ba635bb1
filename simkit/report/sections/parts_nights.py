"""Sections about stacks and the bench: places a night needs, what waits by hour and in the morning, bench places."""

from __future__ import annotations

from collections.abc import Sequence

from simkit.analysis.cases import Case
from simkit.analysis.part_cases import BENCH, STACKS
from simkit.analysis.record_tables import BENCH_HOUR, MORNING, NIGHT_PLACES, NIGHT_SHEETS, NIGHT_SKELETONS, STACK_HOUR
from simkit.base.units import HOURS_PER_DAY, SECONDS_PER_HOUR
from simkit.base.vocabulary import NIGHT_LIMITS, NO_SOURCE
from simkit.cell.piles import WHY_TAKEN
from simkit.experiment.glossary import NEEDED, UNATTENDED, describe
from simkit.experiment.intervals import Estimate
from simkit.process.shifts import plan_shifts
from simkit.report.exhibits import Block, Exhibit, Row, paragraph, table
from simkit.report.figures.clocks import CountPanel, count_bars, hour_lines
from simkit.report.figures.sizes import SizeCurve, size_curves
from simkit.report.partstudy import PartStudy
from simkit.report.sections.nights import LIMITS
from simkit.report.sections.parts import BENCH_H
from simkit.report.sections.parts_ways import told
from simkit.report.studydata import TODAY
from simkit.report.words import listing, number, percent, plural, plus_minus

NO_NIGHT = "No night with removal was simulated: the plant allows none, or no option does."
NOT_COUNTED = "Nothing was counted by hour and night at this demand."
BLOCKED = "state_blocked_h"
OUTPUT = "night_lost_output_h"
DAYS_LAID_OUT = 9


# ---- stacks of a night ----


def place_bars(view: PartStudy) -> Exhibit | Block:
    """How many places for stacks, skeletons and whole sheets a night without stops comes to."""
    case = view.sizing
    if case is None or view.removal_plant is None:
        return paragraph(NO_NIGHT)
    places = _shares(view, case.name, NIGHT_PLACES)
    if not places:
        return paragraph(NOT_COUNTED)
    offered = view.removal_plant.settings.removal.stack_places
    panels = [
        CountPanel("Places for stacks of parts taken at most in a night", places, float(offered)),
        CountPanel("Skeletons put down in the night", _shares(view, case.name, NIGHT_SKELETONS), _skeleton_limit(view)),
    ]
    sheets = _shares(view, case.name, NIGHT_SHEETS)
    if max(sheets, default=0) > 0:
        panels.append(CountPanel("Whole sheets on the stack at most, those that the device cannot empty", sheets,
                                 _sheet_limit(view)))  # fmt: skip
    return count_bars(panels, title=_place_title(view, case, offered), note=(
        "Share of the nights in which the cell may run unattended, with no stop, no first piece and more places "
        f"than it can fill ({view.named(case.name)}): what a night could need at most; tools, material and queue "
        "still end it. Places taken are open stacks and those that wait to be taken away: nobody does it at night. "
        f"{view.study.package_note}".strip()))  # fmt: skip


def _shares(view: PartStudy, name: str, quantity: str) -> dict[int, float]:
    rows = view.counts(name, quantity)
    total = float(rows["mean"].sum())
    return {int(which): float(mean) / total for which, mean in zip(rows["which"], rows["mean"], strict=True) if total}


def _skeleton_limit(view: PartStudy) -> float | None:
    places = view.removal_plant.settings.removal.skeleton_places if view.removal_plant else 0
    return float(places) if places else None


def _sheet_limit(view: PartStudy) -> float | None:
    if view.roles.stack is None:
        return None
    places = view.over.with_options(view.roles.stack).settings.stack.places
    return float(places) if places else None


def _place_title(view: PartStudy, case: Case, offered: int) -> str:
    shares = _shares(view, case.name, NIGHT_PLACES)
    above = sum(share for places, share in shares.items() if places > offered)
    enough = view.enough_for(case.name, NIGHT_PLACES)
    return (
        f"A night without stops and first pieces takes {plural(enough or 0, 'place')} for stacks or fewer in 8 of 10 "
        f"and {max(shares)} at most; more than the {offered} on offer in {percent(above)}"
    )


def stack_table(view: PartStudy) -> Block:
    """The night with removal at other numbers of places and rules of stacking."""
    own = view.night_removal
    cases = view.cases(STACKS)
    if own is None or not cases:
        return paragraph(NO_NIGHT)
    names = [own, *(case.name for case in cases)]
    gaps = view.changes(names, own, UNATTENDED)
    rows = [_stack_row(view, name, gaps.get(name)) for name in names]
    columns = ["places and rule", "unattended h", "difference", "night hours lost at the output", "hours needed",
               "blocked, h", "stacks taken away", "most often because"]  # fmt: skip
    return table(_stack_title(view, own, cases, gaps), columns, rows, words=[6], note=(
        "Per week, mean ± 95 %; differences in unattended hours are paired and hold together. Night hours are lost "
        "at the output where a place is missing, and where a sheet that is not emptied must be pulled out by hand. "
        "A full pallet waits for somebody: by day it is exchanged, at night the cell stands until the morning. By "
        "order: a place for each kind of part; as nested: one place an order; kits: places are kept over several "
        f"orders. A skeleton pallet without a limit is never full. Other numbers of "
        f"places: {NO_SOURCE}. {view.nights_note}".strip()))  # fmt: skip


def _stack_title(view: PartStudy, own: str, cases: Sequence[Case], gaps: dict[str, Estimate]) -> str:
    lost = plus_minus(view.per_week(own, OUTPUT))
    plenty = max(cases, key=lambda case: case.facts["places"])
    if told(gaps[plenty.name]) == "none":
        return (
            f"Places are not what ends the nights: {plenty.facts['places']:g} of them change nothing, while {lost} h "
            "a week are lost at the output to sheets that somebody must pull out"
        )
    return f"Nights lose {lost} h a week at the output; {_best_stack(view, cases, gaps)}"


def _best_stack(view: PartStudy, cases: Sequence[Case], gaps: dict[str, Estimate]) -> str:
    surely = [case for case in cases if gaps[case.name].tells and gaps[case.name].mean > 0]
    if not surely:
        return "no other number of places or rule surely runs longer"
    best = max(surely, key=lambda case: gaps[case.name].mean)
    return f"{best.what} add {plus_minus(gaps[best.name], difference=True)} h"


def _stack_row(view: PartStudy, name: str, gap: Estimate | None) -> Row:
    taken = {why: view.per_week(name, f"stacks_taken_{why}").mean for why in WHY_TAKEN}
    most = max(taken, key=lambda why: taken[why])
    why = describe(f"stacks_taken_{most}").meaning.removeprefix("stacks taken away ") if taken[most] else "–"
    removal = view.removal_plant.settings.removal if view.removal_plant else None
    case = view.own_cases.get(name)
    offered = (
        f"{removal.stack_places} stack places, {removal.stacking.replace('_', ' ')} (on offer)" if removal else name
    )
    cells = (
        plus_minus(view.per_week(name, UNATTENDED)),
        told(gap),
        plus_minus(view.per_week(name, OUTPUT)), plus_minus(view.per_week(name, NEEDED)),
        plus_minus(view.per_week(name, BLOCKED)), number(view.per_week(name, "stacks_exchanged").mean, 0), why,
    )  # fmt: skip
    return Row(case.what if case and case.group == STACKS else offered, cells)


def night_end_table(view: PartStudy) -> Block:
    """What ends the nights with each way to hand over."""
    names = [name for name in (view.night_stack, view.night_removal, view.night_both) if name is not None]
    if not names:
        return paragraph(NO_NIGHT)
    rows = [_end_row(view, name) for name in names]
    first = view.night_removal or names[-1]
    ends = {limit: view.per_week(first, f"night_ended_{limit}").mean for limit in NIGHT_LIMITS}
    worst = max(ends, key=lambda limit: ends[limit])
    nights = view.per_week(first, "nights").mean
    title = f"{number(ends[worst], 1)} of {number(nights, 1)} nights a week with removal end by {LIMITS[worst]}"
    columns = ["case", "nights", "allowed, h", "run, h", *(f"ended by {LIMITS[limit]}" for limit in NIGHT_LIMITS)]
    return table(title, columns, rows, note=(
        "Per week. A night ends at the first thing that needs a person: a stop, a release or first piece, a tool, "
        f"material, a full output, an empty queue. {view.nights_note}".strip()))  # fmt: skip


def _end_row(view: PartStudy, name: str) -> Row:
    ends = (number(view.per_week(name, f"night_ended_{limit}").mean, 1) for limit in NIGHT_LIMITS)
    cells = (number(view.per_week(name, "nights").mean, 1), number(view.per_week(name, "night_allowed_h").mean, 0),
             plus_minus(view.per_week(name, UNATTENDED)), *ends)  # fmt: skip
    return Row(view.spoken(name), cells)


# ---- the bench ----


def backlog_lines(view: PartStudy) -> Exhibit | Block:
    """Sheets that wait at bench and stack by hour of the day, for today, removal, and both nights."""
    names = [n for n in (TODAY, view.removal, view.night_stack, view.night_removal) if n is not None]
    lines = {view.spoken(n): _by_hour(view, n) for n in dict.fromkeys(names) if not view.counts(n, BENCH_HOUR).empty}
    if not lines:
        return paragraph(NOT_COUNTED)
    peak = {name: max(e.mean for e in each) for name, each in lines.items()}
    most = max(peak, key=lambda name: peak[name])
    hour = max(range(len(lines[most])), key=lambda h: lines[most][h].mean)
    title = (
        f"Most sheets wait with “{most}”: {plus_minus(lines[most][hour])} on average from {hour} to {hour + 1} o'clock"
        if most != "Today" else
        f"Most sheets wait today: {plus_minus(lines[most][hour])} on average from {hour} to {hour + 1} o'clock"
    )  # fmt: skip
    return hour_lines(
        lines, closed=_closed_hours(view), axis_label="sheets at bench and stack", title=title, note=(
        "Mean over all days of the released weeks, weekends included, with the 95 % band; sheets in work and "
        f"waiting. The shading is that of today's shifts. {view.nights_note}".strip()))  # fmt: skip


def _by_hour(view: PartStudy, name: str) -> list[Estimate]:
    """Bench and stack together; half-widths are added, which is on the safe side."""
    bench, stack = view.counts(name, BENCH_HOUR), view.counts(name, STACK_HOUR)
    runs = view.study.run.replications
    columns = (bench["mean"], stack["mean"], bench["mean_half_width"], stack["mean_half_width"])
    return [Estimate(float(a + b), float(c + d), runs) for a, b, c, d in zip(*columns, strict=True)]


def _closed_hours(view: PartStudy) -> list[int]:
    """Hours of the day in which nobody is there on any day of the first week."""
    attended = plan_shifts(view.study.plant, DAYS_LAID_OUT).attended
    hour_s = SECONDS_PER_HOUR
    day = int(HOURS_PER_DAY)
    held = {
        hour % day
        for start, end in attended
        for hour in range(int(start // hour_s), int(-(-end // hour_s)))
        if min(end, (hour + 1) * hour_s) > max(start, hour * hour_s)
    }
    return [hour for hour in range(day) if hour not in held]


def morning_table(view: PartStudy) -> Block:
    """What waits when the day's people come, and what the bench then has to do."""
    names = [n for n in (TODAY, view.removal, view.night_stack, view.night_removal) if n is not None]
    names = [n for n in dict.fromkeys(names) if not view.counts(n, MORNING).empty]
    if not names:
        return paragraph(NOT_COUNTED)
    rows = [_morning_row(view, name) for name in names]
    worst = max(names, key=lambda name: view.per_week(name, "bench_morning_most").mean)
    title = (
        f"“{view.spoken(worst)}”: up to {plus_minus(view.per_week(worst, 'bench_morning_most'))} sheets wait on the "
        "worst morning"
    )
    columns = ["case", "sheets on a mean morning", "in 8 of 10 mornings at most", "on the worst morning",
               "bench places", "bench work, h a week", "machine blocked, h a week"]  # fmt: skip
    return table(title, columns, rows, note=(
        "Sheets at the bench and on the stack just before the first people of a day come, mean ± 95 %; the worst "
        "morning is the mean over runs of each run's worst. Sheets that find no place at the bench block the "
        "machine; what lies on the stack moves to the bench as places get free."))  # fmt: skip


def _morning_row(view: PartStudy, name: str) -> Row:
    cells = (
        plus_minus(view.per_week(name, "bench_morning_mean"), 1), str(view.enough_for(name, MORNING)),
        plus_minus(view.per_week(name, "bench_morning_most"), 1), str(view.study.plant.settings.bench.places),
        plus_minus(view.per_week(name, BENCH_H)), plus_minus(view.per_week(name, BLOCKED)),
    )  # fmt: skip
    return Row(view.spoken(name), cells)


def bench_curve(view: PartStudy) -> Exhibit | Block:
    """Hours needed and blocked hours over the places of the bench, today's cell."""
    places = view.study.plant.settings.bench.places
    points = [(case.facts["places"], case.name) for case in view.cases(BENCH)]
    if not points:
        return paragraph("The bench was not simulated with other numbers of places.")
    points = sorted([*points, (float(places), TODAY)])
    gaps = view.changes([name for _, name in points], TODAY)
    zero = Estimate(0.0, 0.0, view.study.run.replications)
    change = SizeCurve("Hours needed a week against the places of today, h",
                       tuple((x, gaps.get(name, zero)) for x, name in points), zero=True)  # fmt: skip
    blocked = SizeCurve("Machine blocked by the bench, h a week",
                        tuple((x, view.per_week(name, BLOCKED)) for x, name in points))  # fmt: skip
    fewer = [x for x, name in points if name in gaps and gaps[name].tells and gaps[name].mean > 0]
    more = [x for x, name in points if name in gaps and gaps[name].tells and gaps[name].mean < 0]
    title = f"{_costs(fewer, gaps, points)}; {_saves(more, places)}"
    return size_curves([change, blocked], axis_label="places at the bench, sheets in work included", own=float(places),
                       title=title, note="Today's cell, whole sheets to the bench; dotted line: today's "
                                         f"places. Other numbers of places: {NO_SOURCE}.")  # fmt: skip


def _costs(fewer: Sequence[float], gaps: dict[str, Estimate], points: Sequence[tuple[float, str]]) -> str:
    if not fewer:
        return "Fewer bench places cost no sure hours"
    worst = min(fewer)
    gap = gaps[next(name for x, name in points if x == worst)]
    return f"{plural(int(worst), 'bench place')} would cost {plus_minus(gap, difference=True)} h a week"


def _saves(more: Sequence[float], own: int) -> str:
    if not more:
        return f"more than the {own} of today save none for sure"
    return f"{listing(f'{x:g}' for x in more)} places surely save hours against the {own} of today"
