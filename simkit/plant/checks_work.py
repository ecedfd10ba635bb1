"""Checks of orders, programs, parts and tools against each other."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from functools import partial
from typing import Any

from simkit.base.messages import Finding, also_rows, some
from simkit.base.units import sheet_mass_kg
from simkit.plant.checking import reads
from simkit.plant.drafts import Draft, note, place_of
from simkit.plant.fields import columns_of
from simkit.plant.tables import TABLES
from simkit.plant.values import near

CLEARANCE_TOLERANCE_MM = 1e-6
MASS_TOLERANCE = 1.01
"""Parts may outweigh their sheet by this factor before it is an error: rounding of masses."""


def references(table: str, name: str, target: str, draft: Draft) -> Iterator[Finding]:
    """Every reference meets a row; one finding per missing name, with the rows that name it."""
    sheet = draft.sheets[target]
    key = next(iter(columns_of(TABLES[target])))
    known = draft.column(target, key) | sheet.keys
    if sheet.spoiled and not known:
        return
    missing: dict[str, list[tuple[Any, int]]] = {}
    for row, line in draft.sheets[table]:
        if getattr(row, name) not in known:
            missing.setdefault(getattr(row, name), []).append((row, line))
    names = sorted(known)
    for value, found in missing.items():
        lines = [line for _, line in found]
        reach = _reach(draft, {row.program_id for row, _ in found})
        mend = f"Add it to {place_of(target)} or correct the name; {near(value, names)}"
        why = f"is not in {place_of(target)}{also_rows(lines)}{reach}"
        yield Finding(place_of(table), why, mend, row=lines[0], column=name, value=value)


for _table, _row_type in TABLES.items():
    for _name, _spec in columns_of(_row_type).items():
        if _spec.refers_to:
            reads()(partial(references, _table, _name, _spec.refers_to))


def _reach(draft: Draft, programs: set[str]) -> str:
    """Return how many orders and sheets hang on programs."""
    count = sum(draft.orders_of[program_id] for program_id in programs)
    if not count:
        return ""
    sheets = sum(draft.sheets_of[program_id] for program_id in programs)
    return f"; {count} order{'s' if count > 1 else ''} with {sheets} sheets cannot run"


@reads("orders")
def order_dates(draft: Draft) -> Iterator[Finding]:
    """An order is not due before it is released."""
    for row, line in draft.sheets["orders"]:
        if row.due < row.released:
            why = f"is before the day of release, {row.released}"
            mend = "Correct one of the two days; day and month may have changed places"
            yield Finding("orders.csv", why, mend, row=line, column="due", value=str(row.due))


@reads("programs", "program_tools", "tools")
def hit_sums(draft: Draft) -> Iterator[Finding]:
    """The hits of a program are the sums of its tools."""
    kinds = {row.tool_id: row.kind for row in draft.sheets["tools"].rows}
    sums: Counter[tuple[str, str]] = Counter()
    for row in draft.sheets["program_tools"].rows:
        sums[row.program_id, kinds.get(row.tool_id, "cutting")] += row.hits_per_sheet
    for column, kind in (("hits_per_sheet", "cutting"), ("forming_hits_per_sheet", "forming")):
        wrong = [
            (row, line) for row, line in draft.sheets["programs"] if getattr(row, column) != sums[row.program_id, kind]
        ]
        for row, line in wrong[:3]:
            others = f"; so it is in {len(wrong) - 1} more programs" if len(wrong) > 3 else ""
            why = f"the {kind} tools in program_tools.csv make {sums[row.program_id, kind]} hits a sheet{others}"
            mend = "Make both equal; the run takes the time from the program and the wear from the tools"
            value = str(getattr(row, column))
            yield note("programs.csv", f"{row.program_id}: {why}", mend, row=line, column=column, value=value)
            if others:
                break


@reads("programs", "materials", "program_tools", "tools")
def clearances_owned(draft: Draft) -> Iterator[Finding]:
    """Every cutting tool has a die for the materials it is used on."""
    tools = {row.tool_id: (row, line) for row, line in draft.sheets["tools"]}
    clearances = {row.material_id: row.clearance_mm for row in draft.sheets["materials"].rows}
    needed = {row.program_id: clearances.get(row.material_id) for row in draft.sheets["programs"].rows}
    uses: dict[tuple[str, float | None], list[str]] = {}
    for use in draft.sheets["program_tools"].rows:
        uses.setdefault((use.tool_id, needed.get(use.program_id)), []).append(use.program_id)
    for (tool_id, clearance), users in uses.items():
        if clearance is None or tool_id not in tools or _owned(tools[tool_id][0], clearance):
            continue
        used = list(dict.fromkeys(users))
        orders = sum(draft.orders_of[program_id] for program_id in used)
        need = f"which {orders} orders need (programs {some(used)})"
        why = f"{tool_id} has no die for a clearance of {clearance:g} mm, {need}"
        mend = "Add the clearance if the die is owned, or plan to buy it, or change clearance_mm of the material"
        yield note("tools.csv", why, mend, row=tools[tool_id][1], column="clearances")


def _owned(tool: Any, clearance_mm: float) -> bool:
    owned = any(abs(own - clearance_mm) <= CLEARANCE_TOLERANCE_MM for own in tool.clearances)
    return owned or tool.kind != "cutting"


@reads("program_parts", "programs", "materials")
def part_masses(draft: Draft) -> Iterator[Finding]:
    """The parts of a sheet do not outweigh it."""
    parts_kg: Counter[str] = Counter()
    for row in draft.sheets["program_parts"].rows:
        parts_kg[row.program_id] += row.mass_kg * row.per_sheet
    for row, line in draft.sheets["programs"]:
        mass_kg = sheet_kg(draft, row)
        if mass_kg is not None and parts_kg[row.program_id] > MASS_TOLERANCE * mass_kg:
            why = f"the parts of a sheet weigh {parts_kg[row.program_id]:.1f} kg, the sheet itself {mass_kg:.1f} kg"
            mend = "Correct mass_kg or per_sheet in program_parts.csv, or the size of the sheet"
            yield Finding("programs.csv", why, mend, row=line, column="program_id", value=row.program_id)


def sheet_kg(draft: Draft, program: Any) -> float | None:
    """Return the mass of a program's sheet, or None when its material is unknown."""
    for material in draft.sheets["materials"].rows:
        if material.material_id == program.material_id:
            mass_kg: float = sheet_mass_kg(
                program.sheet_length_mm, program.sheet_width_mm, material.thickness_mm, material.density_kg_m3
            )
            return mass_kg
    return None


@reads("programs", "program_parts")
def programs_without_parts(draft: Draft) -> Iterator[Finding]:
    """Every program makes parts."""
    made = {row.program_id for row in draft.sheets["program_parts"].rows}
    bare = [(row.program_id, line) for row, line in draft.sheets["programs"] if row.program_id not in made]
    if bare:
        why = f"{len(bare)} programs have no parts in program_parts.csv ({some([name for name, _ in bare])})"
        mend = "Add their parts; without them no parts, bench time or scrap are counted for these programs"
        yield note("programs.csv", why, mend, row=bare[0][1])


@reads("measured", "elements")
def measured_elements(draft: Draft) -> Iterator[Finding]:
    """What was measured is an element of the plant."""
    known = {(row.element, row.applies_to) for row in draft.sheets["elements"].rows}
    for row, line in draft.sheets["measured"]:
        if (row.element, row.applies_to) not in known:
            value = " for ".join(filter(None, (row.element, row.applies_to)))
            mend = f"Name a row of elements.csv; {near(row.element, sorted({name for name, _ in known}))}"
            yield Finding("measured.csv", "is no row of elements.csv", mend, line, "element", value)


@reads("history", "orders")
def history_orders(draft: Draft) -> Iterator[Finding]:
    """History tells of orders of the book, and finishes after it starts."""
    known = draft.column("orders", "order_id")
    strange = [(row.order_id, line) for row, line in draft.sheets["history"] if row.order_id not in known]
    if strange:
        why = f"{len(strange)} orders are not in orders.csv ({some([name for name, _ in strange])})"
        yield note("history.csv", why, "Add them to the book; a replay leaves them out", row=strange[0][1])
    for row, line in draft.sheets["history"]:
        if row.finished < row.started:
            why = f"is before the start, {row.started}"
            yield Finding("history.csv", why, "Correct one of the two", line, "finished", str(row.finished))


@reads("calendar")
def calendar_days(draft: Draft) -> Iterator[Finding]:
    """A moved or added shift says when it starts and ends."""
    for row, line in draft.sheets["calendar"]:
        if row.change != "closed" and not (row.start and row.end):
            why = f"a shift that is {row.change} needs its start and end"
            yield Finding("calendar.csv", why, "Write both as HH:MM", row=line, column="start", value=row.start)
