"""Sections about run times: the answer, where estimate, rows and measured times differ, and where time goes."""

from __future__ import annotations

import pandas as pd

from simkit.analysis.sheet_times import TOLERANCE, FamilyTime, ProgramTime, in_order
from simkit.base.vocabulary import BASES
from simkit.process.physicsnote import TOPICS
from simkit.report.exhibits import Block, Exhibit, Row, paragraph, table
from simkit.report.figures import stacked_hours
from simkit.report.figures.estimates import Point, estimate_points
from simkit.report.palette import element_colours
from simkit.report.sections.answers import GUESSES, answer
from simkit.report.timestudy import TimeStudy
from simkit.report.words import UNKNOWN, listing, number, percent, plural, signed, with_unit

MOST_APART = 12
MOST_NAMED = 3
NO_MOTION = (
    "The motion of the machine is not given (machine.motion in plant.toml), so that there is no estimate beside the "
    "plant's rows: speed and acceleration of the sheet, the stroke of the ram and the turn of the turret would give "
    "one."
)
NO_SHEETS = "No program has a sheet in the order book."


# ---- answer ----


def answer_times(view: TimeStudy) -> Block:
    """Answer how well the times are known and what stands out."""
    return answer(view.study, [_measured(view), *_apart(view), _guesses(view), _stands_out(view)])


def _measured(view: TimeStudy) -> str:
    count, all_of = view.measured, len(view.times)
    with_time = "none" if count == 0 else number(count, 0)
    share = sum(row.hours for row in view.times if row.estimate.measured_s is not None)
    covered = "" if count == 0 or not view.book_h else f", {percent(share / view.book_h)} of them by measured programs"
    return (
        f"Of {plural(all_of, 'program')} {with_time} {'have' if count != 1 else 'has'} a measured run time; the run "
        f"time of the order book is {with_unit(view.book_h, 'h')}{covered}."
    )


def _apart(view: TimeStudy) -> list[str]:
    if not view.has_motion:
        return [NO_MOTION]
    if not view.apart:
        return ["The estimate by the motion of the machine agrees with the plant's time for every program."]
    first = view.apart[0]
    faster = "less" if view.gap_h < 0 else "more"
    estimate = first.estimate
    return [
        f"Estimate and plant differ most for {first.program.program_id}: {number(estimate.motion_s, 0)} against "
        f"{with_unit(estimate.run_s, 's', 0)} a sheet ({number(estimate.ratio, 2)} times), over "
        f"{plural(estimate.sheets, 'sheet')} {with_unit(abs(first.gap_h), 'h')} of the book. Over all programs the "
        f"estimate takes {with_unit(abs(view.gap_h), 'h')} {faster} ({percent(abs(view.gap_h) / view.book_h, 1)})."
    ]


def _guesses(view: TimeStudy) -> str:
    elements = view.study.plant.elements
    guesses = sum(row.basis in GUESSES for row in elements)
    return f"{guesses} of {plural(len(elements), 'time element')} are guesses; a timed sheet wins over all of them."


def _stands_out(view: TimeStudy) -> str:
    if not view.notes:
        return "Physics finds nothing that stands out; that declares nothing safe."
    topics = [f"{view.notes_by_topic[t]} about {t}" for t in TOPICS if view.notes_by_topic[t]]
    return f"Physics has {plural(len(view.notes), 'finding')}: {listing(topics)}; none declares anything safe."


# ---- disagreements ----


def estimate_scatter(view: TimeStudy) -> Exhibit | Block:
    """Points of the estimate against the plant's time, by family."""
    if not view.has_motion:
        return paragraph(NO_MOTION)
    points = [
        Point(row.program.program_id, row.program.family, row.estimate.run_s, row.estimate.motion_s,
              row.estimate.measured_s is not None) for row in view.times
    ]  # fmt: skip
    if not any(point.plant_s > 0 and point.estimate_s > 0 for point in points):
        return paragraph("No program has a run time to compare.")
    off = sum(row.differs for row in view.times)
    title = (
        f"{off} of {plural(len(points), 'program')} have an estimate more than {percent(TOLERANCE)} away from the "
        "plant's time"
    )
    note = (
        f"Filled: the plant's time was measured; hollow: it comes from element rows. Band: {percent(TOLERANCE)}. "
        f"Cutting "
        "and pierces are the same on both sides, from the table of speeds, so that the points differ in the rest alone."
    )
    named = [row.program.program_id for row in view.apart[:MOST_NAMED]]
    return estimate_points(points, named=named, tolerance=TOLERANCE, title=title, note=note)


def apart_table(view: TimeStudy) -> Block:
    """Programs whose estimate and plant's time differ most, with what that is worth in the book."""
    if not view.has_motion:
        return paragraph(NO_MOTION)
    if not view.apart:
        return paragraph("Estimate and plant's time agree for every program that the order book uses.")
    shown = view.apart[:MOST_APART]
    rows = [_apart_row(row) for row in shown]
    rest = view.apart[MOST_APART:]
    if rest:
        rows.append(_sum_row(f"{plural(len(rest), 'other program')}", rest))
    rows.append(_sum_row(f"all {len(view.apart)} that differ", view.apart, "total"))
    worth = sum(abs(row.gap_h) for row in shown)
    title = (
        f"The {len(shown)} programs to time first: estimate and plant are {with_unit(worth, 'h')} of the book apart, "
        f"of {number(sum(abs(row.gap_h) for row in view.apart))} h over all programs"
    )
    columns = ["program", "estimate, s", "plant's rows, s", "measured, s", "estimate over plant", "sheets in the book",
               "plant, h", "estimate less plant, h"]  # fmt: skip
    note = (
        "s a sheet; hours over the order book. Sorted by the size of the ratio's logarithm times sheets. Estimate: by "
        "the motion of the machine, rows where it is silent. Plant: the measured time if there is one, else the rows; "
        "simulated runs use it, and no estimate changes them. Run time only: loading, changeover and waiting are in "
        "the study of today's cell."
    )
    return table(title, columns, rows, note=note)


def _apart_row(row: ProgramTime) -> Row:
    estimate = row.estimate
    measured = "–" if estimate.measured_s is None else number(estimate.measured_s, 0)
    rows = "–" if row.rows_s is None else number(row.rows_s, 0)
    cells = (number(estimate.motion_s, 0), rows, measured, number(estimate.ratio, 2), number(estimate.sheets, 0))
    name = f"{row.program.program_id} {row.program.family}".strip()
    return Row(name, (*cells, number(row.hours), signed(row.gap_h, 2)))


def _sum_row(head: str, rows: tuple[ProgramTime, ...], look: str = "") -> Row:
    sheets, hours = sum(row.estimate.sheets for row in rows), sum(row.hours for row in rows)
    gap = sum(row.gap_h for row in rows)
    ratio = number(1 + gap / hours, 2) if hours else UNKNOWN
    return Row(head, ("", "", "", ratio, number(sheets, 0), number(hours), signed(gap, 2)), look)


# ---- where a sheet's time goes ----


def family_bars(view: TimeStudy) -> Exhibit | Block:
    """Bars of a mean sheet's run time by element, one a family."""
    families = [family for family in view.families if family.best_s > 0]
    if not families:
        return paragraph(NO_SHEETS)
    names = in_order(name for family in families for name in family.elements_s)
    frame = pd.DataFrame(
        [[family.elements_s.get(name, 0.0) for name in names] for family in families],
        columns=names, index=[family.family or "no family" for family in families],
    )  # fmt: skip
    first = families[0]
    element, seconds = max(first.elements_s.items(), key=lambda item: item[1])
    title = (
        f"{frame.index[0]} uses the most hours of the book, {number(first.hours)} h; of "
        f"{with_unit(first.best_s, 's', 0)} a sheet the largest part is {element}, {with_unit(seconds, 's', 0)}"
    )
    return stacked_hours(frame, element_colours(names), "s a sheet, mean over the sheets of the book", title)


def family_table(view: TimeStudy) -> Block:
    """Hours, seconds, laser share and hits by family."""
    if not view.families:
        return paragraph(NO_SHEETS)
    hours = sum(family.hours for family in view.families)
    laser = sum(family.laser_share * family.hours for family in view.families)
    title = (
        f"The laser cuts in {percent(laser / hours if hours else 0.0)} of the {number(hours)} run hours of the order "
        f"book; {plural(len(view.families), 'family').replace('familys', 'families')} of programs"
    )
    columns = ["family", "programs", "sheets", "run time, h", "share, %", "runs use, s a sheet", "believed, s a sheet",
               "cutting, % of run time", "hits a sheet", "forming hits a sheet"]  # fmt: skip
    note = (
        "Run time only, over the order book; cutting as the simulated runs count it, moves of the head included. "
        "Believed: a measured time, then rows that were measured or logged, then the motion, then the other rows."
    )
    return table(title, columns, [_family_row(family, hours) for family in view.families], note=note)


def _family_row(row: FamilyTime, hours: float) -> Row:
    return Row(
        row.family or "no family",
        (
            number(row.programs, 0), number(row.sheets, 0), number(row.hours),
            number(100 * row.hours / (hours or 1), 0), number(row.run_s, 0), number(row.best_s, 0),
            number(100 * row.laser_share, 0), number(row.hits, 0), number(row.forming_hits, 0),
        ),
    )  # fmt: skip


def element_bases(view: TimeStudy) -> Block:
    """How many elements, and how many run hours of the book, rest on which basis."""
    elements = view.study.plant.elements
    rows = []
    for basis in BASES:
        names = list(dict.fromkeys(row.element for row in elements if row.basis == basis))
        rows.append(Row(basis, (number(sum(row.basis == basis for row in elements), 0), listing(names))))
    observed = sum(row.n for row in elements)
    timed = sum(row.basis in ("measured", "logged") for row in elements)
    title = (
        f"{timed} of {plural(len(elements), 'time element')} are measured or logged, with "
        f"{plural(observed, 'observation')} in all"
    )
    return table(title, ["basis", "elements", "which"], rows, words=[1])
