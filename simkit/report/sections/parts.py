"""Sections about parts: the answer, the clocks of a sheet by family, and which parts a device can pick."""

from __future__ import annotations

from simkit.analysis.hand_over import CHUTE, CHUTE_DROP_S, CHUTE_SORT_S
from simkit.analysis.part_clocks import ALL, FamilyClocks
from simkit.analysis.part_limits import LIMITS, MOST_OF, PICKED, LimitGain, ReasonRow
from simkit.analysis.record_tables import NIGHT_PLACES
from simkit.base.units import SECONDS_PER_MINUTE
from simkit.experiment.glossary import UNATTENDED
from simkit.experiment.intervals import Estimate
from simkit.report.exhibits import Block, Exhibit, Row, paragraph, table
from simkit.report.figures.clocks import ClockRow, clock_dots
from simkit.report.palette import LINES, STATE_COLOURS
from simkit.report.partstudy import ENTRIES, PartStudy
from simkit.report.sections.answers import answer
from simkit.report.sections.parts_breaks import fail_words, pick_words
from simkit.report.studydata import TODAY
from simkit.report.words import NO_BREAK, listing, number, percent, plural, plus_minus

NO_REMOVAL = "No option of this plant brings part removal, and it has none: parts leave by hand."
NO_BOOK = "The order book holds no sheet."
BENCH_H = "person_bench_h"
MACHINE, PERSON, REMOVAL, PICKER = (
    "machine today", "person at the bench today", "machine with removal", "picker's own work",
)  # fmt: skip
CLOCKS = {MACHINE: (STATE_COLOURS["punching"], True), PERSON: (LINES[1], True), REMOVAL: (LINES[5], False),
          PICKER: (LINES[3], False)}  # fmt: skip
CLOSED_FORM = (
    "Closed form at mean times, no set-up, no stops, no waiting: a sheet takes the longer of machine (load, "
    "process, picks, pull out) and person. Every sheet of the order book counts."
)


def hours(estimate: Estimate, *, difference: bool = False) -> str:
    """Write hours with their interval."""
    return f"{plus_minus(estimate, difference=difference)}{NO_BREAK}h"


def answer_parts(view: PartStudy) -> Block:
    """Answer what removal gives and costs, by day and at night, beside its rivals."""
    if not view.study.plant.orders:
        return answer(view.study, [NO_BOOK])
    if view.removal is None:
        return answer(view.study, [_bound(view), NO_REMOVAL])
    sentences = [_bound(view), *_by_clocks(view), *_through_cell(view), *_at_night(view), *_places(view)]
    return answer(view.study, [*sentences, pick_words(view), *fail_words(view)])


def _bound(view: PartStudy) -> str:
    bench = view.per_week(TODAY, BENCH_H)
    return (
        f"The bench takes {hours(bench)} of people's time a week today, and the person there is slower than the "
        f"machine on {percent(float(view.clocks.person_bound.mean()))} of the sheets."
    )


def _by_clocks(view: PartStudy) -> list[str]:
    every, (whole, sheets) = view.families[-1], view.whole_sheets
    if view.removal == TODAY:
        return [f"The device empties {percent(whole / sheets)} of the sheets."]
    bound = (
        f"; on {percent(every.pick_bound)} the picker is the slowest clock" if every.pick_bound else
        "; the picker is the slowest clock on none"
    )  # fmt: skip
    return [
        f"Part removal ({view.named(view.removal or TODAY)}) can take {percent(picked_share(view))} of the parts and "
        f"empty {percent(whole / sheets)} of the sheets. {percent(every.slower)} of the sheets take longer with it "
        f"than with a person at the bench{bound}."
    ]


def picked_share(view: PartStudy) -> float:
    """Share of the parts of the book that the device can pick."""
    total = sum(row.parts for row in view.reasons)
    return sum(row.parts for row in view.reasons if row.reason == PICKED) / total if total else 0.0


def _through_cell(view: PartStudy) -> list[str]:
    name = view.removal
    if name in (None, TODAY):
        return []
    text = (
        f"Through the whole cell removal alone changes the hours needed by {_sure(view.change(name, TODAY))} a week "
        f"and bench work by {_sure(view.change(name, TODAY, BENCH_H))}"
    )
    entries = f"; people enter its guarded cell {plus_minus(view.per_week(name, ENTRIES), 0)} times a week" if view.has(
        name, ENTRIES) else ""  # fmt: skip
    return [f"{text}{entries}.", *_on_package(view)]


def _on_package(view: PartStudy) -> list[str]:
    both = view.scenario_of(view.package, view.roles.removal)
    if not view.package or both is None or view.study.package == TODAY:
        return []
    return [f"On top of the low-capital package it changes them by {_sure(view.change(both, view.study.package))}."]


def _sure(gap: Estimate) -> str:
    doubt = "" if gap.tells else f" ({gap.verdict})"
    return f"{hours(gap, difference=True)}{doubt}"


def _at_night(view: PartStudy) -> list[str]:
    removal, stack, both = view.night_removal, view.night_stack, view.night_both
    if removal is None or stack is None:
        return []
    ran = {name: view.per_week(name, UNATTENDED) for name in (removal, stack)}
    text = (
        f"At night a cell with removal runs {hours(ran[removal])} a week unattended, one that stacks whole sheets "
        f"{hours(ran[stack])}: removal in place of the stack changes it by "
        f"{_sure(view.change(removal, stack, UNATTENDED))}"
    )
    more = f", both together by {_sure(view.change(both, stack, UNATTENDED))}" if both else ""
    return [f"{text}{more}."]


def _places(view: PartStudy) -> list[str]:
    if view.sizing is None or view.removal_plant is None:
        return []
    places, as_it_is = (view.enough_for(name, NIGHT_PLACES) for name in (view.sizing.name, view.night_removal))
    if places is None:
        return []
    offered = view.removal_plant.settings.removal.stack_places
    now = f" (with them, as simulated, {as_it_is})" if as_it_is is not None else ""
    return [
        f"A night without stops and first pieces needs {plural(places, 'place')} for stacks in 8 of 10{now}; "
        f"{offered} are on offer."
    ]


# ---- clocks ----


def clock_figure(view: PartStudy) -> Exhibit | Block:
    """The clocks of a sheet by family, today and with removal."""
    if not len(view.clocks.program):
        return paragraph(NO_BOOK)
    compared = view.removal_clocks is not None and view.removal != TODAY
    rows = [_clock_row(row, compared) for row in view.families]
    note = f"{CLOSED_FORM} {_whose_clock(view)}"
    return clock_dots(rows, CLOCKS, title=_clock_title(view, compared), note=note)


def _whose_clock(view: PartStudy) -> str:
    if view.clocks.shared:
        return "The person at the bench also loads and pulls out, so that this work counts on both clocks."
    return "The person at the bench does nothing else; with several of them divide that clock by their number."


def _clock_row(row: FamilyClocks, compared: bool) -> ClockRow:
    seconds = {MACHINE: row.machine_s, PERSON: row.person_s}
    if compared:
        seconds |= {REMOVAL: row.removal_s, PICKER: row.pick_s}
    minutes = {name: s / SECONDS_PER_MINUTE for name, s in seconds.items()}
    name = "all sheets" if row.family == ALL else f"{row.family} ({percent(row.share)} of sheets)"
    return ClockRow(name, minutes, row.slower)


def _clock_title(view: PartStudy, compared: bool) -> str:
    every = view.families[-1]
    bound = f"The person at the bench is the slower clock on {percent(every.person_bound)} of the sheets today"
    if not compared:
        return bound
    return f"{percent(every.slower)} of the sheets take longer with removal than today; {bound[0].lower()}{bound[1:]}"


def clock_table(view: PartStudy) -> Block:
    """Clocks and what bounds the sheets of each family."""
    if not len(view.clocks.program):
        return paragraph(NO_BOOK)
    compared = view.removal_clocks is not None and view.removal != TODAY
    columns = ["family", "sheets in the book", "machine, s", "person, s", "person-bound, %"]
    if compared:
        columns += ["machine with removal, s", "picker, s", "person left, s", "pick-bound, %",
                    "slower with removal, %", "what removal does to a sheet, s"]  # fmt: skip
    rows = [_clock_cells(row, compared) for row in view.families]
    worst = max(view.families[:-1], key=lambda row: row.removal_cycle_s - row.cycle_s)
    gap = worst.removal_cycle_s - worst.cycle_s
    title = (
        f"{worst.family} loses most by removal: {number(gap)} s a sheet" if compared and gap > 0 else
        f"No family's mean sheet takes longer with removal; {worst.family} gains least" if compared else
        f"{len(rows) - 1} families by what bounds their sheets"
    )  # fmt: skip
    return table(title, columns, rows, note=(
        f"Mean seconds a sheet. {CLOSED_FORM} Person-bound: the person is slower than the machine. Pick-bound: the "
        "sheet stays on the machine for its picks beyond process and standing still. The last column is plus where "
        f"a sheet takes longer. {_whose_clock(view)}"))  # fmt: skip


def _clock_cells(row: FamilyClocks, compared: bool) -> Row:
    cells = [
        number(row.sheets, 0),
        number(row.machine_s, 0),
        number(row.person_s, 0),
        number(100 * row.person_bound, 0),
    ]
    if compared:
        gap = row.removal_cycle_s - row.cycle_s
        cells += [number(row.removal_s, 0), number(row.pick_s, 0), number(row.left_s, 0),
                  number(100 * row.pick_bound, 0), number(100 * row.slower, 0),
                  f"{'+' if gap > 0 else ''}{number(gap, 0)}"]  # fmt: skip
    name = "all sheets" if row.family == ALL else row.family
    return Row(name, tuple(cells), "total" if row.family == ALL else "")


# ---- eligibility ----


def reason_table(view: PartStudy) -> Block:
    """Parts, sheets and bench hours of the book by why the device cannot pick them."""
    if view.removal_plant is None:
        return paragraph(NO_REMOVAL)
    if not view.reasons:
        return paragraph("The order book names no parts, so that nothing can be said about picking them.")
    parts, bench_h = sum(r.parts for r in view.reasons), sum(r.bench_h for r in view.reasons)
    whole, sheets = view.whole_sheets
    rows = [
        _reason_row(row, parts, sheets) for row in sorted(view.reasons, key=lambda r: (r.reason != PICKED, -r.parts))
    ]
    rows.append(Row("all parts", (number(parts, 0), "100", "", "", number(bench_h, 1)), "total"))
    title = (
        f"{percent(picked_share(view))} of {number(parts, 0)} parts can be picked, and {percent(whole / sheets)} of "
        f"{number(sheets, 0)} sheets leave nothing for the bench"
    )
    columns = ["why it cannot be picked", "parts", "% of parts", "sheets with such parts", "% of sheets",
               "bench work on them today, h"]  # fmt: skip
    return table(title, columns, rows, note=(
        "Every part of the order book, whatever its hand-over is today; the first limit that a part fails counts. "
        "Hours: bench work of the whole book at mean times, split evenly over the parts of a sheet. A sheet can "
        "stand in several rows. "
        "Surface and holes count where the plant states them and the device has such a limit."))  # fmt: skip


def _reason_row(row: ReasonRow, parts: int, sheets: int) -> Row:
    cells = (number(row.parts, 0), number(100 * row.parts / parts, 1), number(row.sheets, 0),
             number(100 * row.sheets / sheets, 1), number(row.bench_h, 1))  # fmt: skip
    return Row("can be picked" if row.reason == PICKED else row.reason, cells)


def limit_table(view: PartStudy) -> Block:
    """What each limit of the device alone holds back, and the value that would let most of it through."""
    if view.removal_plant is None:
        return paragraph("Without a device no limit holds parts back.")
    if not view.limits:
        held = any(row.reason != PICKED for row in view.reasons)
        return paragraph(
            "No limit alone holds parts back: what cannot be picked fails two limits." if held else
            "No limit of the device holds a part back."
        )  # fmt: skip
    best = view.limits[0]
    title = (
        f"The limit “{LIMITS[best.limit][0]}” holds back the most: without it {number(best.parts, 0)} more parts and "
        f"{number(best.sheets, 0)} more whole sheets"
    )
    columns = ["limit", "in force", "parts it alone holds back", "whole sheets", "bench work, h",
               f"enough for {percent(MOST_OF)} of them"]  # fmt: skip
    return table(title, columns, [_limit_row(row) for row in view.limits], note=(
        "Each limit taken away by itself, the others kept; parts that fail two limits are in no row. A quotation "
        "with another limit must show that it holds: grip, mass, stacking height and a skeleton that stays in one "
        "piece."))  # fmt: skip


def _limit_row(row: LimitGain) -> Row:
    name, unit, _ = LIMITS[row.limit]
    enough = "–" if row.enough is None else f"{number(row.enough, 0)}{NO_BREAK}{unit}"
    value = {"1": percent(row.value), "": "left out"}.get(unit, f"{row.value:,g}{NO_BREAK}{unit}")
    return Row(name, (value, number(row.parts, 0), number(row.sheets, 0), number(row.bench_h, 1), enough))


def chute_words(view: PartStudy) -> str:
    """What a case with parts down the chute rests on."""
    names = [view.named(case.name) for case in view.cases("way") if CHUTE in case.options]
    if not names:
        return ""
    return (
        f"{listing(names)}: parts that cannot be picked go down the chute and are sorted later, for {CHUTE_DROP_S:g} s "
        f"at the machine and {CHUTE_SORT_S:g} s of sorting a part where the plant has no such rows (common practice, "
        "no source)."
    )
