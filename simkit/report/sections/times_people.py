"""What times ask of people: lifts and kilograms by hand in a shift, who lifts what, and what the equation says."""

from __future__ import annotations

import math

from simkit.analysis.exposure import TOTAL, Amount, MassBand, mass_bands
from simkit.process.handling import KINDS
from simkit.process.lifting import ISO_REFERENCE_MASSES, index_in_words
from simkit.process.liftnotes import LIMITS, STRESSFUL, PieceLift, part_lifts, sheet_lifts
from simkit.process.physicsnote import CAUTIONS, LIFTING
from simkit.report.exhibits import Block, Row, paragraph, table
from simkit.report.studydata import TODAY
from simkit.report.timestudy import TimeStudy
from simkit.report.words import listing, number, percent, plural, plus_minus, with_unit

MOST_LIFTS = 10
NO_SHIFT = (
    "Lifts of a shift cannot be told: the weekly pattern has no attended shift, or the results hold no lifts by kind "
    "of "
    "piece (then simulate again)."
)
COUNTED = (
    "A sheet that two persons lift counts as one lift, one that a lifter or a loader takes as none; a skeleton or a "
    "scrapped sheet is one lift, whatever is cut off before; a tool is one set, of a mass estimated from its station. "
    "Means over all attended shifts of a week: single shifts ask for more."
)


def handling_table(view: TimeStudy) -> Block:
    """Lifts and kilograms of a shift of today by kind of piece, with the mass of a lift."""
    today = view.exposures.get(TODAY)
    if today is None:
        return paragraph(NO_SHIFT)
    total = today.asked[TOTAL]
    rows = [_kind_row(kind, today.asked[kind], total) for kind in KINDS]
    rows.append(_kind_row("all", total, total, "total"))
    title = (
        f"Hands lift {number(total.lifts.mean)} times and {number(total.kg.mean)} kg a shift today, "
        f"{percent(today.asked['parts'].lifts.mean / total.lifts.mean if total.lifts.mean else 0.0)} of the lifts are "
        "parts"
    )
    columns = ["piece", "lifts a shift", "kg a shift", "kg a lift", "share of the kg"]
    note = f"{_basis(view)} {plural(today.shifts_per_week, 'attended shift')} a week. {COUNTED}"
    return table(title, columns, rows, note=note)


def _kind_row(kind: str, amount: Amount, total: Amount, look: str = "") -> Row:
    each = number(amount.kg.mean / amount.lifts.mean) if amount.lifts.mean else "–"
    part = percent(amount.kg.mean / total.kg.mean) if total.kg.mean else "–"
    return Row(kind, (plus_minus(amount.lifts), plus_minus(amount.kg), each, part), look)


def _basis(view: TimeStudy) -> str:
    study = view.study
    return (
        f"Simulated, mean ± 95 % over {plural(study.run.replications, 'replication')}, demand {study.demand_factor:g}."
    )


def removed_table(view: TimeStudy) -> Block:
    """Exposure that each option takes away from a shift of today, by kind of piece."""
    found = {name: row for name, row in view.exposures.items() if name != TODAY}
    if TODAY not in view.exposures:
        return paragraph(NO_SHIFT)
    differing = [name for name, row in found.items() if row.differs]
    same = [view.study.named(name) for name in found if name not in differing]
    rest = f"No change of half a lift or a kilogram a shift: {listing(same)}." if same else ""
    if not differing:
        return paragraph(f"No case simulated takes lifts by hand away. {rest}".strip())
    ranked = sorted(differing, key=lambda name: -found[name].taken_away[TOTAL].kg.mean)
    today = view.exposures[TODAY].asked[TOTAL]
    rows = [_removed_row(view, name) for name in ranked]
    best, amount = ranked[0], found[ranked[0]].taken_away[TOTAL]
    title = (
        f"{view.study.named(best)} takes most away: {plus_minus(amount.lifts)} of {number(today.lifts.mean)} lifts "
        f"and "
        f"{plus_minus(amount.kg)} of {number(today.kg.mean)} kg a shift"
    )
    columns = ["case", *(f"{kind}: lifts; kg" for kind in KINDS), "all lifts", "all kg",
               "left, kg a shift of its own"]  # fmt: skip
    note = (
        f"Exposure removed, for today's sheets in today's shifts; a minus is exposure added. {_basis(view)} "
        f"Differences "
        "are paired, and their intervals hold together for all cases. The last column is what the case asks in a shift "
        f"of its own, with the sheets it then makes. {rest} Nothing is made safe by it: what is left, and what a "
        f"device "
        f"adds, needs its own assessment. {view.study.package_note}"
    )
    return table(title, columns, rows, note=note)


def _removed_row(view: TimeStudy, name: str) -> Row:
    row = view.exposures[name]
    kinds = (_change(row.taken_away[kind]) for kind in KINDS)
    total = row.taken_away[TOTAL]
    cells = (plus_minus(total.lifts), plus_minus(total.kg), plus_minus(row.asked[TOTAL].kg))
    return Row(_case(view, name), (*kinds, *cells))


def _case(view: TimeStudy, name: str) -> str:
    """Name of a case, with the option's own name where it is one option alone."""
    options = view.study.options_of(name)
    alone = len(options) == 1 and name != view.study.package
    return f"{view.study.named(name)} {options[0].name}" if alone else view.study.named(name)


def _change(amount: Amount) -> str:
    """Lifts and kilograms taken away, with a dash for each where there is no change to speak of."""
    if not amount.matters:
        return "–"
    lifts, kg = amount.shown
    return f"{'–' if lifts is None else number(lifts, 1)}; {'–' if kg is None else number(kg, 0)}"


def mass_table(view: TimeStudy) -> Block:
    """Sheets of the book by mass, and who loads them."""
    bands = mass_bands(view.study.plant)
    if not bands:
        return paragraph("The order book has no sheet.")
    limit = view.study.plant.settings.machine.one_person_kg
    sheets = sum(band.sheets for band in bands)
    heavy = sum(band.sheets for band in bands if band.low_kg >= limit)
    title = (
        f"{number(heavy, 0)} of {plural(sheets, 'sheet')} ({percent(heavy / sheets)}) weigh more than "
        f"{with_unit(limit, 'kg')}, the plant's limit for one person"
    )
    rows = [_band_row(band, sheets) for band in bands]
    note = (
        "Sheets of the order book, mass from size, thickness and density; the limit is one_person_kg of plant.toml, a "
        "rule of the plant and no reference mass of a standard."
    )
    return table(title, ["sheet mass, kg", "sheets", "share", "heaviest, kg", "who loads"], rows, words=[3], note=note)


def _band_row(band: MassBand, sheets: int) -> Row:
    span = f"above {band.low_kg:g}" if math.isinf(band.high_kg) else f"{band.low_kg:g} to {band.high_kg:g}"
    return Row(span, (number(band.sheets, 0), percent(band.sheets / sheets), number(band.heaviest_kg), band.who))


def lift_table(view: TimeStudy) -> Block:
    """Lifts of one person that ask for most, held against the lifting equation, and what the equation leaves out."""
    plant = view.study.plant
    lifts = [*part_lifts(plant), *sheet_lifts(plant)]
    used = [lift for lift in lifts if lift.per_book > 0 and lift.mass_kg > 0]
    if not used:
        return paragraph("No piece is lifted by one person by hand, so that the lifting equation has nothing to say.")
    ranked = sorted(used, key=lambda lift: (-lift.index, -lift.mass_kg))
    count = sum(lift.per_book for lift in used)
    beyond = sum(lift.per_book for lift in used if math.isinf(lift.index))
    above = sum(lift.per_book for lift in used if 1 < lift.index < math.inf)
    high = sum(lift.per_book for lift in used if STRESSFUL < lift.index < math.inf)
    title = (
        f"{number(above, 0)} of {plural(count, 'lift')} of one person have a lifting index above 1, "
        f"{number(high, 0)} of "
        f"them above {STRESSFUL:g}; for {number(beyond, 0)} the equation gives no limit"
    )
    finite = [lift for lift in ranked if math.isfinite(lift.index)]
    shown = finite[:MOST_LIFTS] or ranked[:MOST_LIFTS]
    columns = ["piece of program", "mass, kg", "reach, cm", "lifts a minute", "recommended limit, kg", "lifting index",
               "lifts in the book"]  # fmt: skip
    hands = plant.settings.handling
    worst = f" The manual on the highest: {index_in_words(finite[0].index)}." if finite else ""
    note = (
        f"The {len(shown)} highest with a limit. Revised lifting equation (NIOSH 94-110, read in a retyped copy): "
        f"{LIMITS}. Heights {hands.bench_height_mm:g} mm at the bench, {hands.stack_height_mm:g} mm at the stack, turn "
        f"{hands.twist_deg:g}°, grip {hands.grip}. An index of 1 or less is the equation's goal for design and no "
        "approval; where it gives no limit the hands are too far away or the pace is too high for it."
        f"{worst}"
    )
    return table(title, columns, [_lift_row(lift) for lift in shown], note=note)


def _lift_row(lift: PieceLift) -> Row:
    name = lift.piece if lift.program_id in lift.piece else f"{lift.piece} of {lift.program_id}"
    index = "no limit" if math.isinf(lift.index) else number(lift.index, 1)
    limit = "–" if math.isinf(lift.index) else number(lift.limit_kg, 1)
    cells = (number(lift.mass_kg, 1), number(lift.reach_cm, 0), number(lift.lifts_per_min, 1), limit, index)
    return Row(name, (*cells, number(lift.per_book, 0)))


def reference_masses() -> Block:
    """Reference masses of another standard, for orientation, each with how far it can be trusted."""
    rows = [Row(f"{row.kg:,.0f} kg", (row.meaning, row.source)) for row in ISO_REFERENCE_MASSES]
    title = f"{len(rows)} reference masses for orientation, from memory: check the edition"
    return table(title, ["mass", "for what", "source"], rows, words=True)


def lifting_caution() -> Block:
    """To whom everything about lifting defers."""
    return paragraph(CAUTIONS[LIFTING], "caution")
