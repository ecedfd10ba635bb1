"""Sections about today's cell: where the time goes, people, bench, lateness, tools and stops."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from simkit.analysis.capacity import practical_capacity
from simkit.base.units import SECONDS_PER_MINUTE
from simkit.base.vocabulary import SKILLS, WEEKDAYS
from simkit.experiment.glossary import NEEDED, describe
from simkit.experiment.intervals import Estimate, spread
from simkit.experiment.ordermeasures import DAYS_TO_DUE, name_of_day, name_of_days
from simkit.process.bookweeks import BookWeek, book_weeks
from simkit.process.programs import program_tables
from simkit.report.exhibits import Block, Exhibit, Row, paragraph, table
from simkit.report.figures import hours_against_demand, lateness_bars, stacked_hours, time_in_state, week_ribbon
from simkit.report.figures.ribbon import TASK_LABELS
from simkit.report.palette import PERSON_COLOURS, STATE_COLOURS, STATE_LABELS
from simkit.report.sections.answers import element_minutes
from simkit.report.study import Study
from simkit.report.studydata import TODAY
from simkit.report.words import listing, number, percent, percent_plus_minus, plural, plus_minus, scaled

PER_WEEK = "per week"
TOOL_MEASURES = (
    ("tool_loads", "tools fetched and fitted by hand", ("tool_search", "tool_fit")),
    ("die_changes", "dies changed for clearance only, by hand", ("die_change",)),
    ("angle_changes", "tools turned to another angle, by hand", ("angle_change",)),
    ("magazine_exchanges", "tools exchanged by the magazine", ("magazine_exchange",)),
    ("magazine_die_changes", "dies exchanged by the magazine", ("magazine_die_change",)),
    ("magazine_misses", "tools wanted that were not in the magazine", ()),
)
SETUP_MEASURES = (
    ("state_changeover_h", "changeover"),
    ("state_first_piece_h", "first piece made, measured, released"),
    ("state_waiting_material_h", "waiting for material"),
    ("exchange_visible_h", "of changeover: tools and dies changed while the machine stands"),
    ("exchange_hidden_h", "changed by the magazine while the laser cuts (not machine time)"),
)
STOP_MEASURES = (
    ("stops", "stops"),
    ("stop_h", "hours lost to stops"),
    ("sheets_scrapped", "sheets scrapped"),
    ("parts_scrapped", "parts scrapped"),
    ("parts_reworked", "parts reworked"),
    ("rework_h", "hours of rework"),
    ("tools_broken", "tools broken"),
    ("tools_reground", "tools reground"),
)
OVER = (NEEDED, "overtime_h", "subcontract_h", "unmet_h")
RESOURCES = (("machine", "machine"), ("people", "people"), ("bench", "bench"))
QUEUE_MEASURES = (
    ("utilisation", "utilisation, %", 100.0),
    ("queue_mean", "waiting for it, mean number", 1.0),
    ("wait_mean_s", "mean wait, min", 1 / SECONDS_PER_MINUTE),
    ("wait_share", "requests that wait, %", 100.0),
)


def where_the_time_goes(study: Study) -> Exhibit:
    """Bars of hours by machine state, today and with the low-capital package."""
    hours = study.state_hours(dict.fromkeys([TODAY, study.package]))
    return time_in_state(hours.rename(index=study.named), PER_WEEK, calibrated=study.calibrated)


def state_table(study: Study) -> Block:
    """Hours by machine state with intervals, today."""
    span = sum(study.per_week(TODAY, f"state_{s}_h").mean for s in STATE_COLOURS)
    shown = [(s, study.per_week(TODAY, f"state_{s}_h")) for s in STATE_COLOURS]
    rows = [
        Row(STATE_LABELS[s], (plus_minus(e), percent(e.mean / span, 1)))
        for s, e in sorted(shown, key=lambda pair: -pair[1].mean)
        if e.mean > 0
    ]
    rows.append(Row("calendar of the machines", (number(span), percent(1, 1)), "total"))
    return table(
        f"Today's {number(span)} machine hours a week by state",
        ["state", "h per week, mean ± 95 %", "share of calendar"], rows, note=_basis_note(study),
    )  # fmt: skip


def a_week(study: Study, scenario: str = TODAY) -> Exhibit | Block:
    """The ribbon of one simulated week."""
    intervals, calendar = study.week(scenario)
    if intervals.empty:
        return paragraph(f"No week of {study.named(scenario)} was recorded for the ribbon.")
    return week_ribbon(intervals, calendar, name=study.named(scenario).lower())


def hours_needed(study: Study, scenarios: Sequence[str] = ()) -> Exhibit:
    """Hours needed against demand, with the simulated practical capacity."""
    names = [n for n in dict.fromkeys(scenarios or [TODAY, study.package]) if n in study.results.scenarios]
    limit = study.plant.settings.rules.late_share_limit
    capacities = {n: practical_capacity(study.results.selected([n]), n, limit) for n in names}
    rows = [
        (study.named(n), level.demand_factor, level.hours_needed, level.fits(limit))
        for n in names for level in capacities[n].levels
    ]  # fmt: skip
    frame = pd.DataFrame(rows, columns=["scenario", "demand_factor", "hours_h", "fits"])
    return hours_against_demand(
        frame, capacity=capacities[TODAY], attended_h=study.total(TODAY, "attended_h").mean,
        per=f"over {number(study.run.weeks, 0)} weeks",
    )  # fmt: skip


def demand_table(study: Study, scenarios: Sequence[str] = ()) -> Block:
    """Hours needed by demand level, and how they are met: overtime, bought hours, orders not made, lateness."""
    names = [n for n in dict.fromkeys(scenarios or [TODAY, study.package]) if n in study.results.scenarios]
    rows: list[Row] = []
    for name in names:
        rows.append(Row(study.named(name), (), "group"))
        rows += [
            _demand_row(study, name, f) for f in study.results.demand_factors if study.results.has(name, OVER[0], f)
        ]
    columns = [
        "demand",
        "hours needed, h",
        "overtime, h",
        "given out, h",
        "not made, h",
        "late orders, %",
        "backlog grows",
    ]
    title = (
        f"How {plural(len(study.results.demand_factors), 'demand level')} would be met, {plural(len(names), 'case')}"
    )
    note = "Over the whole book, mean ± 95 %. Backlog grows: in how many of the runs it is longer at the end."
    return table(title, columns, rows, note=note)


def _demand_row(study: Study, name: str, factor: float) -> Row:
    cells = [plus_minus(study.results.estimate(name, measure, factor)) for measure in OVER]
    late = percent_plus_minus(study.results.estimate(name, "late_share", factor))
    grows = study.results.values(name, "backlog_grows", factor)
    return Row(f"{factor:g}", (*cells, late, f"{int(grows.sum())} of {len(grows)} runs"))


def weeks_of_the_book(study: Study) -> Block:
    """Planned hours of each release week of the book: how much weeks differ."""
    weeks = book_weeks(study.plant, program_tables(study.plant))
    rows = [Row(str(week.monday), (number(week.planned_h, 1), str(week.orders), str(week.sheets))) for week in weeks]
    mean = (sum(values) / len(weeks) for values in zip(*map(_load_of_week, weeks), strict=True))
    rows.append(Row("mean week", tuple(number(value, 1) for value in mean), "total"))
    around = spread([week.planned_h for week in weeks])
    title = f"8 in 10 weeks of the book ask {number(around.low)} to {number(around.high)} planned hours"
    note = (
        f"Planned hours in today's plant of the orders released in a week. {study.luck_note} So intervals of means, "
        "which say how well a mean is known, do not hold how much weeks differ."
    )
    return table(title, ["week of release, from", "planned hours, h", "orders", "sheets"], rows, note=note)


def _load_of_week(week: BookWeek) -> tuple[float, int, int]:
    return week.planned_h, week.orders, week.sheets


def load_beside(study: Study) -> Block:
    """A mean week of the book, of the observed weeks and of the simulation side by side: is it the same work?"""
    weeks, seen = book_weeks(study.plant, program_tables(study.plant)), study.plant.observed
    observed = [(w.setup_h + w.handling_h + w.process_h + w.stopped_h, w.orders_finished, w.sheets) for w in seen]
    simulated = (study.per_week(TODAY, measure) for measure in (NEEDED, "orders_finished", "sheets"))
    book = [sum(values) / len(weeks) for values in zip(*map(_load_of_week, weeks), strict=True)]
    found = [sum(values) / len(seen) for values in zip(*observed, strict=True)] or book
    rows = [
        Row(label, (number(due), number(study.demand_factor * due), number(real) if seen else "–", plus_minus(runs)))
        for label, due, real, runs in zip(("machine hours", "orders", "sheets"), book, found, simulated, strict=True)
    ]
    columns = ["per week", "book", f"book at demand {study.demand_factor:g}", "observed", "simulated, mean ± 95 %"]
    note = (
        f"Book: {plural(len(weeks), 'release week')}, planned hours; observed: {plural(len(seen), 'week')}, hours of "
        "the machines; simulated: hours needed, orders and sheets made in house."
    )
    return table("Is it the same work? A mean week of the book, as observed and as simulated", columns, rows, note=note)


def given_out(study: Study) -> Block:
    """Hours given out by weekday of the decision and by days to due, or a sentence if there were none."""
    total = study.per_week(TODAY, "subcontract_h")
    if total.mean == 0:
        return paragraph("Today nothing is given out in any run.")
    by_day = [(name_of_day(day), day) for day in WEEKDAYS]
    by_days = [
        (name_of_days(name), f"more than {a:g} days" + (f", at most {b:g}" if b < float("inf") else ""))
        for name, (a, b) in DAYS_TO_DUE.items()
    ]
    rows: list[Row] = []
    for head, measures in (("day of the decision", by_day), ("from it to the end of the due date", by_days)):
        rows.append(Row(head, (), "group"))
        rows += [Row(label, (plus_minus(study.per_week(TODAY, measure)),)) for measure, label in measures]
    return table(
        f"Today {number(total.mean)} h a week are given out", ["when", "h per week"], rows,
        note="Mean ± 95 %. An order goes out when it is short of time before its due date: planned hours up to it, in "
        "the sequence of work, above the hours until then, with all overtime that is still possible.",
    )  # fmt: skip


def people_hours(study: Study, scenarios: Sequence[str] = ()) -> Exhibit:
    """Bars of people's hours by task."""
    names = list(dict.fromkeys(scenarios or [TODAY, study.package]))
    tasks = [t for t in SKILLS if study.has(TODAY, f"person_{t}_h")]
    table_h = {study.named(n): {TASK_LABELS[t]: study.per_week(n, f"person_{t}_h").mean for t in tasks} for n in names}
    frame = pd.DataFrame.from_dict(table_h, orient="index")
    first = frame.iloc[0].sort_values(ascending=False)
    title = (
        f"{study.named(names[0])}, people work {number(float(first.sum()))} h per week; "
        f"{first.index[0]} takes {number(float(first.iloc[0]))} h of them"
    )
    colours = {TASK_LABELS[t]: PERSON_COLOURS[t] for t in PERSON_COLOURS}
    return stacked_hours(frame, colours, "people's hours per week", title, calibrated=study.calibrated)


def people_and_bench(study: Study) -> Block:
    """Table of machine, people and bench: how busy, and who waits for them; refused while the backlog grows."""
    rows = [
        Row(label, tuple(_queue_cell(study, f"{name}_{ending}", factor) for ending, _, factor in QUEUE_MEASURES))
        for name, label in RESOURCES
    ]
    share, wait = study.total(TODAY, "people_wait_share"), study.total(TODAY, "people_wait_mean_s")
    title = (
        f"{percent(share.mean)} of requests at the machine wait for a person, "
        f"{number(wait.mean / SECONDS_PER_MINUTE)} min on average over all requests"
    )
    meanings = "; ".join(
        f"{label} {ending.split('_')[0]}: {describe(f'{name}_{ending}').meaning}"
        for name, label in RESOURCES
        for ending, _, _ in QUEUE_MEASURES
        if study.has(TODAY, f"{name}_{ending}")
    )
    overrun = study.per_week(TODAY, "person_overrun_h")
    note = (
        f"Mean ± half-width of its 95 % interval. Definitions: {meanings}. People work {plus_minus(overrun)} h a week "
        "past breaks and shift ends to finish what they had begun."
    )
    return table(title, ["resource", *(label for _, label, _ in QUEUE_MEASURES)], rows, note=note)


def _queue_cell(study: Study, measure: str, factor: float) -> str:
    if not study.has(TODAY, measure):
        return "–"
    refused = study.results.refusal(TODAY, measure, study.demand_factor)
    return refused or plus_minus(scaled(study.total(TODAY, measure), factor))


def late_orders(study: Study, scenarios: Sequence[str] = ()) -> Exhibit | Block:
    """Bars of the share of late orders, or a sentence if no order was late in any run."""
    names = list(dict.fromkeys(scenarios or [TODAY, *study.low_capital]))
    rows = []
    for name in names:
        runs = study.runs(name, "late_share")
        mean = study.total(name, "late_share").mean
        rows.append({"scenario": study.named(name), "share": mean, "low": runs.low, "high": runs.high})
    if not any(row["high"] or row["share"] for row in rows):
        cases = listing(study.named(name) for name in names)
        return paragraph(f"No order was late in any run of {plural(len(names), 'case')}: {cases}.")
    return lateness_bars(pd.DataFrame(rows), limit_share=study.plant.settings.rules.late_share_limit)


def tools(study: Study) -> Block:
    """Tool loads against die-only changes: counts per week and the time each takes by input."""
    elements = study.plant.elements
    rows = []
    for measure, label, names in TOOL_MEASURES:
        if not study.has(TODAY, measure) or study.per_week(TODAY, measure).mean == 0:
            continue
        each = " + ".join(element_minutes(elements, n) for n in names) or "–"
        rows.append(Row(label, (plus_minus(study.per_week(TODAY, measure)), each)))
    loads, dies = study.per_week(TODAY, "tool_loads").mean, study.per_week(TODAY, "die_changes").mean
    title = f"Today {number(loads)} tool loads and {number(dies)} die-only changes a week"
    return table(
        title, ["change", "per week, mean ± 95 %", "time each, by input"], rows, note=_basis_note(study), words=[1]
    )


def setup_parts(study: Study) -> Block:
    """Hours of set-up by part, today and with the package."""
    names = list(dict.fromkeys([TODAY, study.package]))
    rows = [
        Row(label, tuple(plus_minus(study.per_week(n, m)) for n in names))
        for m, label in SETUP_MEASURES
        if any(study.per_week(n, m).mean > 0 for n in names if study.has(n, m))
    ]
    columns = ["part of set-up", *(f"{study.named(n)}, h per week" for n in names)]
    first = study.per_week(TODAY, "state_changeover_h").mean
    return table(f"Changeover takes {number(first)} h a week today", columns, rows, note=_basis_note(study))


def stops(study: Study) -> Block:
    """Stops by count and by hours, and what they cost in sheets and tools."""
    rows = [Row(label, (plus_minus(study.per_week(TODAY, m)),)) for m, label in STOP_MEASURES if study.has(TODAY, m)]
    count, lost = study.per_week(TODAY, "stops").mean, study.per_week(TODAY, "stop_h").mean
    title = f"{number(count)} stops a week cost {number(lost)} h today"
    return table(title, ["what", "per week, mean ± 95 %"], rows, note=_basis_note(study))


def package_steps(study: Study) -> Block:
    """The low-capital options one by one and the package, against today."""
    gaps = study.gaps(TODAY)
    rows = [_low_capital_row(study, name, gaps[name]) for name in study.low_capital]
    count = plural(len(rows), "low-capital case")
    title = (
        f"{count} against today: the package of {plural(len(study.package_options), 'option')} "
        f"changes the hours needed by {plus_minus(gaps[study.package], difference=True)} h"
        if study.package != TODAY
        else f"None of {count} does better than today"
    )
    columns = ["case", "what", "hours needed against today, h", f"capital, {study.currency}", "owner"]
    return table(title, columns, rows, words=[0, 3], note=(
        "Differences are paired: the same orders and the same luck in both cases; mean over the whole book with 95 % "
        f"intervals that hold together for all {plural(len(gaps), 'case')} of this study. Less is better. Grey: not "
        "enough replications to tell. Moved work occupies a named person and is counted; the gain fades without an "
        "owner."))  # fmt: skip


def _low_capital_row(study: Study, name: str, gap: Estimate) -> Row:
    owners = ", ".join(dict.fromkeys(o.owner or "not named" for o in study.options_of(name)))
    look = "total" if name == study.package else "" if gap.tells else "grey"
    capital = number(study.capital(name), 0)
    return Row(study.named(name), (study.described(name), plus_minus(gap, difference=True), capital, owners), look)


def _basis_note(study: Study) -> str:
    return (
        f"Per week of the simulated span; mean ± half-width of its 95 % interval, "
        f"{plural(study.run.replications, 'replication')}, demand {study.demand_factor:g}."
    )
