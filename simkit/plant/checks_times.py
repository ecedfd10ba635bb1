"""Checks of times: ranges, laws and states of elements, and that nothing in the order book is without a time."""

from __future__ import annotations

import csv
import io
import statistics
from collections.abc import Iterator, Sequence
from functools import partial

from simkit.base.laws import CV_RANGES
from simkit.base.messages import Finding, plain, some
from simkit.base.vocabulary import (
    BENCH,
    CHANGEOVER,
    EXCHANGES,
    FIRST_PIECE,
    HANDLING_STATES,
    OUTSIDE,
    PROCESS_STATES,
    PUNCHING,
)  # fmt: skip
from simkit.plant.book_counts import BookCounts, wearing
from simkit.plant.check_register import reads, row_error, row_note
from simkit.plant.conditions import (
    NO_SHEET_DRIVERS,
    PART_DRIVERS,
    facts_of,
    holds,
    part_facts,
    tool_facts,
)
from simkit.plant.drivers import NEEDS, TimeNeed, UsualRow
from simkit.plant.fields import columns_of
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import TABLES, Element, Program

MEAN_TOLERANCE = 0.01
"""A value file's mean may differ from ``typical`` by this share before it is worth a note."""


@reads("elements", "sequences")
def means_of_files(plant: PlantInputs) -> Iterator[Finding]:
    """Value files have the mean that is stated."""
    for row in plant.elements:
        values = plant.sequences.get(row.file, ()) if row.file else ()
        mean = statistics.fmean(values) if values else row.typical
        if abs(mean - row.typical) > MEAN_TOLERANCE * row.typical:
            why = f"{row.element}: {row.file} has a mean of {mean:g}, not the typical value"
            mend = "Make typical the mean of the file; the run scales the file to typical"
            yield row_note(plant, row, "typical", why, mend)


@reads("elements")
def element_rows_used(plant: PlantInputs) -> Iterator[Finding]:
    """A general row does not follow the special rows that it would hide."""
    hidden: dict[str, list[int]] = {}
    for row in plant.elements:
        if not row.applies_to and row.element in hidden:
            why = f"this row is for all and stands below rows {hidden[row.element]} for some, which it hides"
            mend = "Put the general row first; of the rows that match, the last one holds"
            yield row_note(plant, row, "element", why, mend)
        hidden.setdefault(row.element, []).append(plant.line(row))


ANY_STATE = ("process", "store_exchange", "stack_exchange", "skeleton_exchange", "cell_entry")
STATES_OF: dict[str, tuple[str, ...]] = {
    **dict.fromkeys(("order", "new_program"), (CHANGEOVER, FIRST_PIECE, OUTSIDE)),
    **dict.fromkeys((*EXCHANGES, "regrind", "material_change"), (CHANGEOVER, OUTSIDE)),
    **dict.fromkeys(("nozzle_change", "clamp_change", "gas_change", "pack_change"), (CHANGEOVER,)),
    **dict.fromkeys(("store_load", "stored_sheet", "magazine_load"), (OUTSIDE,)),
    "engagement": (PUNCHING,),
}
"""States in which what is counted by a driver takes its time."""
OF_SHEETS = (*PROCESS_STATES, *HANDLING_STATES, BENCH, OUTSIDE)
"""The same of all other drivers, which are counted by sheets."""


@reads("elements")
def element_stages(plant: PlantInputs) -> Iterator[Finding]:
    """Every element belongs to a stage: what is counted per order is not time of a sheet, and the reverse."""
    for row in plant.elements:
        driver = row.driver
        states = STATES_OF.get(driver, OF_SHEETS)
        if driver not in ANY_STATE and row.state not in states:
            why = f"{row.element} is counted per {driver}, which takes no time in this state, so that it would be lost"
            yield row_error(plant, row, "state", why, f"Write one of {', '.join(states)}")


# ---- laws and their spread ----


def laws_hold(table: str, law: str, plant: PlantInputs) -> Iterator[Finding]:
    """A law keeps its mean at the coefficient of variation beside it."""
    cv = f"{law[:-3]}cv"
    for row in getattr(plant, table):
        for why, mend, severity in _spread_faults(getattr(row, law), getattr(row, cv)):
            yield row_error(plant, row, cv, why, mend, severity=severity)


for _table, _row_type in TABLES.items():
    for _law in (name for name in columns_of(_row_type) if name.endswith("law")):
        reads(_table)(partial(laws_hold, _table, _law))


@reads("settings")
def arrivals_hold(plant: PlantInputs) -> Iterator[Finding]:
    """The law of arrivals keeps its mean."""
    run = plant.settings.run
    for why, mend, severity in _spread_faults(run.arrival_law, run.arrival_cv) if run.source == "law" else ():
        yield Finding("plant.toml", why, mend, 0, "run.arrival_cv", plain(run.arrival_cv), severity)


def _spread_faults(law: str, cv: float) -> Iterator[tuple[str, str, str]]:
    """Why, mend and severity where a law would not keep its mean with this spread, or does not read it."""
    low, high = CV_RANGES.get(law, (0.0, float("inf")))
    if cv and not low <= cv <= high:
        why = f"the law {law} keeps its mean with a coefficient of variation of {plain(low)} to {plain(high)} only"
        why += f"; if {plain(cv)} is in percent, it is {plain(cv / 100)}" if low <= cv / 100 <= high else ""
        yield why, "Correct it (a fraction of the mean), or take gamma", "error"
    elif cv and law == "constant":
        yield "does nothing: the law constant has no spread", "Name a law, as gamma or lognormal, or write 0", "note"


# ---- no time is missing ----


@reads("orders", "programs", "program_parts", "program_tools", "tools", "materials", "elements", "settings")
def missing_times(plant: PlantInputs) -> Iterator[Finding]:
    """All that occurs in the book and takes time has an element row; what truly takes none has a row of zero."""
    book = BookCounts(plant)
    heads = plant.files["elements"].heads if plant.files else tuple(columns_of(Element))
    for need in NEEDS:
        found = unanswered(book, need)
        if found:
            yield _missing(book, need, found, heads)


def _missing(book: BookCounts, need: TimeNeed, found: dict[str, float], heads: Sequence[str]) -> Finding:
    orders = sum(book.plant.orders_of[name] for name in found)
    count = sum(found.values())
    often = f"up to {count:,.0f} times" if count >= 1.5 else "once"
    why = (
        f"no row says how long this takes: {need.meaning}; it happens {often}, in {orders} of the "
        f"{len(book.plant.orders)} orders of the book (programs {some(list(found))}), and would take no time"
    )
    rows = " and ".join(f"`{pasted(row, heads)}`" for row in need.usual)
    mend = (
        f"Add a row with your own time, or 0 if it truly takes none; to start from: {rows} (common practice, no source)"
    )
    return Finding("elements.csv", why, mend, column="unit", value=need.usual[0].unit)


def pasted(row: UsualRow, heads: Sequence[str]) -> str:
    """A usual row as a line of a file of elements with these columns."""
    cells = row.cells()
    text = io.StringIO()
    csv.writer(text, lineterminator="").writerow([cells.get(head, "") for head in heads])
    return text.getvalue()


def unanswered(book: BookCounts, need: TimeNeed) -> dict[str, float]:
    """Occurrences of a need by program of the book, of programs for which some of them have no row.

    A time that the motion of the machine gives is answered, as the run takes it.
    """
    rows = [row for row in book.plant.elements if need.answers(row)]
    if any(not row.applies_to for row in rows):
        return {}
    counts = {program: need.count(book, program) for program in book.programs}
    return {
        program.program_id: count
        for program, count in counts.items()
        if count > 0 and not _moved(book.plant, program, need.driver) and not _answered(book, program, need, rows)
    }


def _answered(book: BookCounts, program: Program, need: TimeNeed, rows: list[Element]) -> bool:
    if not rows:
        return False
    return all(any(holds(row.applies_to, facts) for row in rows) for facts in _entities(book, program, need.driver))


def _entities(book: BookCounts, program: Program, driver: str) -> list[dict[str, float | str]]:
    """What conditions can ask about each thing of a program that a row must be for: tools, parts, or its sheet."""
    tools = book.plant.tool_by_id
    if driver in NO_SHEET_DRIVERS:
        uses = [use for use, _ in wearing(book, program)] if driver == "regrind" else book.uses[program.program_id]
        return [tool_facts(tools[use.tool_id]) for use in uses]
    facts = facts_of(book.plant, program, book.plant.sheet_kg(program))
    if driver in EXCHANGES:
        return [{**facts, **tool_facts(tools[use.tool_id])} for use in book.uses[program.program_id]]
    if driver in PART_DRIVERS:
        return [{**facts, **part_facts(part)} for part in book.plant.parts_of.get(program.program_id, ())]
    return [facts]


def _moved(plant: PlantInputs, program: Program, driver: str) -> bool:
    """Whether the run takes this time from the motion of the machine: no row counts it, and nothing is missing."""
    motion, parts = plant.settings.machine.motion, MOTION.get(driver)
    if parts is None or any(row.driver == driver and row.state in PROCESS_STATES for row in plant.elements):
        return False
    keys, column = parts
    rapid = driver != "contour" or motion.rapid_m_s2 is not None or motion.x_accel_m_s2 is not None
    known = not column or getattr(program, column) is not None
    return rapid and known and all(getattr(motion, key) is not None for key in keys)


MOTION: dict[str, tuple[tuple[str, ...], str]] = {
    "hit": (("x_speed_m_s", "x_accel_m_s2", "ram_s"), "mean_pitch_mm"),
    "forming_hit": (("x_speed_m_s", "x_accel_m_s2", "forming_ram_s"), "mean_pitch_mm"),
    "tool": (("turret_step_s",), ""),
    "reposition": (("x_speed_m_s", "x_accel_m_s2", "clamping_s"), ""),
    "contour": (("rapid_m_s",), "rapid_mm"),
}
"""What of ``machine.motion`` and of a program gives the time of a driver."""
