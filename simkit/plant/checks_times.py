"""The check that no time is missing: all that occurs in the order book has an element row, or an explicit zero."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence

from simkit.base.messages import Finding, some
from simkit.base.vocabulary import EXCHANGES, PROCESS_STATES
from simkit.plant.book import Book, wearing
from simkit.plant.checking import reads
from simkit.plant.conditions import (
    NO_SHEET_DRIVERS,
    PART_DRIVERS,
    can_be_shared,
    facts_of,
    holds,
    part_facts,
    split_unit,
    tool_facts,
)
from simkit.plant.drafts import Draft, note
from simkit.plant.drivers import NEEDS, TimeNeed, UsualRow
from simkit.plant.fields import columns_of
from simkit.plant.plant import Plant
from simkit.plant.tables import Element, Program


@reads("orders", "programs", "program_parts", "program_tools", "tools", "materials", "elements", settings=True)
def times_given(draft: Draft) -> Iterator[Finding]:
    """All that occurs in the book and takes time has an element row; what truly takes none has a row of zero."""
    sheets = draft.sheets
    plant = Plant(
        settings=draft.settings, orders=sheets["orders"].rows, programs=sheets["programs"].rows,
        materials=sheets["materials"].rows, elements=sheets["elements"].rows, machines=(), people=(),
        program_parts=sheets["program_parts"].rows, program_tools=sheets["program_tools"].rows,
        tools=sheets["tools"].rows,
    )  # fmt: skip
    yield from missing_times(plant, sheets["elements"].heads)


@reads("elements")
def shares_in_place(draft: Draft) -> Iterator[Finding]:
    """Only of set-up by hand a second person does a share."""
    for row, line in draft.sheets["elements"]:
        if row.parallel_share > 0 and not can_be_shared(row):
            why = (
                f"{row.element}: a share is told for a second person, but only set-up by hand is shared (state "
                "changeover, by a person, not per regrind), so that it does nothing"
            )
            mend = "Write 0, or move the share to the set-up rows; at heavy sheets a second person helps in any case"
            where = {"row": line, "column": "parallel_share", "value": f"{row.parallel_share:g}"}
            yield note("elements.csv", why, mend, **where)


def missing_times(plant: Plant, heads: Sequence[str] = ()) -> Iterator[Finding]:
    """Yield what a plant needs a time for and has no row; ``heads`` are the columns of its file of elements."""
    book = Book(plant)
    for need in NEEDS:
        found = unanswered(book, need)
        if found:
            yield _missing(book, need, found, heads or tuple(columns_of(Element)))


def _missing(book: Book, need: TimeNeed, found: dict[str, float], heads: Sequence[str]) -> Finding:
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


def unanswered(book: Book, need: TimeNeed) -> dict[str, float]:
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


def _answered(book: Book, program: Program, need: TimeNeed, rows: list[Element]) -> bool:
    if not rows:
        return False
    return all(any(holds(row.applies_to, facts) for row in rows) for facts in _entities(book, program, need.driver))


def _entities(book: Book, program: Program, driver: str) -> list[dict[str, float | str]]:
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


def _moved(plant: Plant, program: Program, driver: str) -> bool:
    """Whether the run takes this time from the motion of the machine: no row counts it, and nothing is missing."""
    motion, parts = plant.settings.machine.motion, MOTION.get(driver)
    if parts is None or any(
        split_unit(row.unit)[1] == driver and row.state in PROCESS_STATES for row in plant.elements
    ):
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
