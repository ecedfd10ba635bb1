"""Indicators with their definitions, time standards, learning beside the ramp in force, and the method."""

from __future__ import annotations

import math

from simkit.analysis.indicators import BOOKED, NOT_SHOWN, Indicator
from simkit.analysis.time_basis import ACCURACY, Timing, ramp_weeks, standards, timings
from simkit.base.messages import BadInput, Finding
from simkit.experiment.intervals import Estimate
from simkit.experiment.kpis import ELEMENTS, Kpi
from simkit.process.motiontimes import motion_elements
from simkit.process.timestandards import CUMULATIVE_AVERAGE, UNIT
from simkit.report.exhibits import Block, Exhibit, Row, paragraph, table
from simkit.report.figures.estimates import ramp_lines
from simkit.report.studydata import TODAY
from simkit.report.timestudy import TimeStudy
from simkit.report.words import capitalised, number, percent, plural, plus_minus, with_unit

WITHOUT_MEASURE = "not defined"
OEE = "OEE index"
SHOWN_WEEKS = (1, 2, 4, 8, 13, 17, 26, 39, 52)


# ---- indicators ----


def indicator_table(view: TimeStudy) -> Block:
    """Every indicator for the main cases, each with definition, formula, unit, timing, trap and source."""
    if not view.indicators:
        return paragraph("No indicator has all of its elements.")
    groups: dict[str, list[Row]] = {}
    for row in view.indicators:
        groups.setdefault(_scope(row.kpi), []).append(_indicator_row(view, row))
    rows = [row for scope, own in groups.items() for row in (Row(scope, (), "group"), *own)]
    oee = next((row.values[TODAY] for row in view.indicators if row.kpi.name == OEE), None)
    value = "" if oee is None else f"; the OEE index of today is {_value(oee)}, not comparable with other plants"
    title = f"{plural(len(view.indicators), 'indicator')} in the manner of ISO 22400-2, each with its definition{value}"
    cases = (view.study.named(name) for name in view.main_cases)
    columns = ["indicator", *cases, "definition: formula; unit; what to mind"]
    count = len(view.main_cases)
    note = (
        f"Mean ± 95 % over {plural(view.study.run.replications, 'replication')}, over the simulated span at demand "
        f"{view.study.demand_factor:g}; time unit h, pieces are parts. {NOT_SHOWN} {view.study.package_note}"
    )
    return table(title, columns, rows, words=[count], note=note)


def _indicator_row(view: TimeStudy, row: Indicator) -> Row:
    values = (_value(row.values[name]) for name in view.main_cases)
    checks = (f"Check: {note}." for note in row.notes)
    return Row(row.kpi.name, (*values, " ".join([_printed(row.kpi), *checks])))


def _scope(kpi: Kpi) -> str:
    """For what an indicator is, when it is taken, and its source: the same for many, and said once above them."""
    return f"For {kpi.scope}; timing: {kpi.timing}; source: {kpi.source}"


def _printed(kpi: Kpi) -> str:
    """What an indicator is, its formula and its unit, and what to mind."""
    unit = "a ratio" if kpi.unit == "1" else kpi.unit
    mind = f" Mind: {kpi.trap}." if kpi.trap else ""
    return f"{capitalised(kpi.definition)}: {kpi.formula}; {unit}.{mind}"


def _value(estimate: Estimate) -> str:
    return plus_minus(estimate, 3 if abs(estimate.mean) < 1 else None) if math.isfinite(estimate.mean) else (
        WITHOUT_MEASURE
    )  # fmt: skip


def booked_table() -> Block:
    """Which hours and counts of the kit stand for each element of the indicators."""
    rows = [Row(name, (ELEMENTS[name], text)) for name, text in BOOKED]
    title = (
        f"{len(rows)} elements of the indicators and the hours that stand for them: a choice that changes the values"
    )
    return table(title, ["element", "meaning in the standard", "here"], rows, words=True)


# ---- standards ----


def timing_table(view: TimeStudy) -> Block:
    """Cycles to time until each element's mean is known well, and how many are behind it."""
    found = timings(view.study.plant)
    if not found:
        return paragraph("No time element takes time.")
    watched = [row for row in found if row.cv > 0]
    rows = [_timing_row(row) for row in sorted(watched, key=lambda row: -row.missing)]
    constant = len(found) - len(watched)
    observed = sum(row.row.n for row in found)
    missing = sum(row.missing for row in watched)
    title = (
        f"A standard to ±{percent(ACCURACY)} needs {number(missing, 0)} more timed cycles over "
        f"{plural(len(watched), 'element')}; {plural(observed, 'observation')} are behind all of them so far"
    )
    columns = ["element", "for", "mean", "cv", "basis", "observed, n", "cycles needed", "still to time"]
    note = (
        f"(1.96 times cv over {ACCURACY:g})², rounded up: 95 % confidence, textbook of work study from memory. cv is "
        f"the "
        f"plant's input, to be replaced by that of a first sample. {plural(constant, 'element')} without spread: one "
        "reading, and a check that it is really constant. A row for some programs alone is timed on those."
    )
    return table(title, columns, rows, words=[0, 3], note=note)


def _timing_row(found: Timing) -> Row:
    row = found.row
    mean = with_unit(row.typical, row.unit)
    cells = (row.applies_to or "all", mean, number(found.cv, 2), row.basis, number(row.n, 0))
    return Row(row.element, (*cells, number(found.needed, 0), number(found.missing, 0)))


def allowance_table(view: TimeStudy, allowance: float) -> Block:
    """Standard times of what people do by the two conventions of allowances. Raises BadInput outside 0 to below 1."""
    if not 0 <= allowance < 1:
        why = "an allowance is a share of the time, 0 or more and below 1"
        raise BadInput(
            [Finding("parameters", why, "Give a share, as in 0.12", column="allowance", value=f"{allowance:g}")]
        )
    found = standards(view.study.plant, allowance)
    if not found:
        return paragraph("No time element is a person's, so that allowances change nothing.")
    apart = (1 / (1 - allowance)) / (1 + allowance) - 1
    title = (
        f"The same allowance of {percent(allowance)} means two standards: the share of the workday gives "
        f"{percent(apart, 1)} more than the share of the job"
    )
    columns = [
        "element",
        "for",
        "mean as entered",
        "of the job: mean times (1 + a)",
        "of the workday: mean over (1 - a)",
    ]
    rows = [
        Row(
            row.row.element,
            (
                row.row.applies_to or "all", with_unit(row.row.typical, row.row.unit), number(row.by_job, 2),
                number(row.by_workday, 2),
            ),
        ) for row in found
    ]  # fmt: skip
    note = (
        "The allowance is a parameter of this study, an example and no recommendation; name the convention with every "
        "standard. Simulated runs use the mean as entered, at the pace at which it was taken: breaks are in the "
        "calendar, "
        "so that an allowance for rest on top would count rest twice."
    )
    return table(title, columns, rows, words=[0], note=note)


# ---- learning ----


def ramp_picture(view: TimeStudy, learning_rate: float) -> Exhibit | Block:
    """Lines of a learning curve by both conventions beside the ramp of finance."""
    _require_rate(learning_rate)
    weeks = ramp_weeks(view.study.plant.settings.finance, _orders(view), learning_rate)
    if not weeks:
        return paragraph(
            "Finance has no ramp (ramp_months 0): full benefit from acceptance, and no learning beside it."
        )
    finance = view.study.plant.settings.finance
    lines = {
        "ramp in force (finance)": [week.in_force for week in weeks],
        f"learning curve, {UNIT} model": [week.by_unit for week in weeks],
        f"same numbers as {CUMULATIVE_AVERAGE}": [week.by_average for week in weeks],
    }
    first = weeks[0]
    title = (
        f"Week 1 after acceptance: the ramp in force gives {percent(first.in_force)}, a learning curve of "
        f"rate {learning_rate:g} {percent(first.by_unit)} in the {UNIT} model and {percent(first.by_average)} as "
        f"{CUMULATIVE_AVERAGE}"
    )
    note = (
        f"In force and the only one in any result: finance's straight line from {percent(finance.ramp_start)} over "
        f"{finance.ramp_months:g} months, a share of an option's benefit. The curve is only beside it: learnt on "
        f"{number(_orders(view), 0)} orders a week (simulated, today), its last unit in the {UNIT} model takes the "
        f"standard "
        "time. Wright's curve, from memory; the rate is a parameter of this study, no measurement. A ramp has one "
        "owner: "
        "whoever simulates learning takes finance's away."
    )
    return ramp_lines([week.week for week in weeks], lines, title=title, note=note)


def ramp_table(view: TimeStudy, learning_rate: float) -> Block:
    """The same in numbers, for some weeks."""
    _require_rate(learning_rate)
    weeks = ramp_weeks(view.study.plant.settings.finance, _orders(view), learning_rate)
    shown = [week for week in weeks if week.week in SHOWN_WEEKS or week is weeks[-1]]
    if not shown:
        return paragraph("There is no week of a ramp to show.")
    rows = [Row(f"{w.week}", (percent(w.in_force), percent(w.by_unit), percent(w.by_average))) for w in shown]
    title = f"Output in week {shown[-1].week} is {percent(shown[-1].by_unit)} of the standard's in the {UNIT} model"
    columns = ["week", "ramp in force", f"learning, {UNIT} model", f"as {CUMULATIVE_AVERAGE}"]
    return table(title, columns, rows)


def _orders(view: TimeStudy) -> float:
    return view.study.per_week(TODAY, "orders_finished").mean


def _require_rate(rate: float) -> None:
    if not 0.5 < rate <= 1:
        why = "a learning rate lies above 0.5 and up to 1: what is left of the time after twice the units"
        raise BadInput(
            [Finding("parameters", why, "Give a share, as in 0.9", column="learning_rate", value=f"{rate:g}")]
        )


# ---- register ----


def motion_register(view: TimeStudy) -> Block:
    """What runs take from the motion of the machine because no element row gives it."""
    rows = motion_elements(view.study.plant)
    if not rows:
        why = "the motion is not given" if not view.has_motion else "every element has a row of its own"
        return paragraph(f"No simulated time comes from the motion of the machine: {why}.")
    cells = [
        Row(row.element, (number(row.typical), f"{number(row.low or 0.0)} to {number(row.high or 0.0)}", row.unit,
                          row.basis, row.source)) for row in rows
    ]  # fmt: skip
    title = f"{plural(len(rows), 'time')} of simulated runs come from the motion of the machine, no row gives them"
    return table(
        title, ["element", "mean over programs", "least to most", "unit", "basis", "source"], cells, words=[2, 3, 4]
    )


def times_method(view: TimeStudy) -> Block:
    """How the times of this page come about, and what is left out."""
    items = [
        ("Estimate", "moves of the sheet by speed and acceleration over the mean pitch, the stroke of the ram, turns "
         "of "
         "the turret in the order of fewest steps, repositions, rapid moves and heights of the laser head; cutting and "
         "pierces from the table of speeds"),
        ("Believed", "a measured run time first, then rows that were measured or logged, then the motion, then rows "
         "that "
         "are estimated, quoted or defaults; with a measured time the elements are stretched alike to it"),
        ("Simulated", "runs use the measured time or the rows, never the estimate, save where no row gives an element"),
        ("Left out", "luck, slower corners at small contours, waiting inside a program, and machines of machines.csv "
         "that differ from the plant's own"),
        ("Nothing simulated here", "this page reads the results of the common simulate step; prices other than of "
         "gas and "
         "power do not change it"),
    ]  # fmt: skip
    return Block("list", {"items": [{"head": head, "text": f"{capitalised(text)}."} for head, text in items]},
                 "How the times come about")  # fmt: skip
