"""Numbers that cannot stand beside one another: laws and their spread, parts and sheets, hours and weeks."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from simkit.base.laws import CV_RANGES
from simkit.base.messages import Finding, some
from simkit.base.units import OTHER_UNITS, SECONDS_PER_HOUR, SECONDS_PER_WEEK, sheet_mass_kg
from simkit.plant.checking import reads
from simkit.plant.drafts import Draft, note, place_of
from simkit.plant.fields import columns_of
from simkit.plant.part_ways import removed_share
from simkit.plant.tables import TABLES
from simkit.plant.usual import plain
from simkit.plant.values import near

WEEK_H = SECONDS_PER_WEEK / SECONDS_PER_HOUR
AREA_SURE, AREA_ODD = 1.5, 1.05
"""Rectangles around the parts of a sheet over its area: beyond the first it is an error, since nested shapes lock into
one another by less; beyond the second a note. Common practice, no source."""
MASS_ODD = (0.02, 1.2)
"""Mass of a part over that of the rectangle around it, in its sheet. Common practice, no source."""
CONTOUR_MM = (2.0, 12_000.0)
"""Mean length of a contour. Common practice, no source."""
REACH = 1.1
"""A figure may be this much longer than the size of its station. Common practice, no source."""


# ---- laws ----


LAWS = {table: [name for name in columns_of(row_type) if name.endswith("law")] for table, row_type in TABLES.items()}


def _laws_hold(table: str, name: str) -> Any:
    spread = f"{name[:-3]}cv"

    def check(draft: Draft) -> Iterator[Finding]:
        for row, line in draft.sheets[table]:
            yield from _law(place_of(table), spread, getattr(row, name), getattr(row, spread), row=line)

    return check


for _table, _names in LAWS.items():
    for _name in _names:
        reads(_table)(_laws_hold(_table, _name))


@reads(settings=True)
def arrivals_hold(draft: Draft) -> Iterator[Finding]:
    """The law of arrivals keeps its mean."""
    run = draft.settings.run
    if run.source == "law":
        yield from _law("plant.toml", "run.arrival_cv", run.arrival_law, run.arrival_cv)


def _law(place: str, column: str, law: str, cv: float, row: int = 0) -> Iterator[Finding]:
    """A coefficient of variation with which a law would not keep its mean, or that a law does not read."""
    low, high = CV_RANGES.get(law, (0.0, float("inf")))
    if cv and not low <= cv <= high:
        why = f"the law {law} keeps its mean with a coefficient of variation of {plain(low)} to {plain(high)} only"
        why += f"; if {plain(cv)} is in percent, it is {plain(cv / 100)}" if low <= cv / 100 <= high else ""
        yield Finding(place, why, "Correct it (a fraction of the mean), or take gamma", row, column, plain(cv))
    elif cv and law == "constant":
        why = "does nothing: the law constant has no spread"
        mend = "Name a law, as gamma or lognormal, or write 0"
        yield note(place, why, mend, row=row, column=column, value=plain(cv))


# ---- parts and sheets ----


@reads("programs", "program_parts")
def parts_on_sheets(draft: Draft) -> Iterator[Finding]:
    """Every part fits on its sheet, and all of them together; checked by the rectangles around them."""
    parts: dict[str, list[tuple[Any, int]]] = {}
    for part, line in draft.sheets["program_parts"]:
        parts.setdefault(part.program_id, []).append((part, line))
    for program, line in draft.sheets["programs"]:
        sheet = f"{plain(program.sheet_length_mm)} x {plain(program.sheet_width_mm)} mm"
        sides = sorted((program.sheet_length_mm, program.sheet_width_mm))
        found = parts.get(program.program_id, [])
        large = [
            (part, at) for part, at in found
            if any(a > b for a, b in zip(sorted((part.length_mm, part.width_mm)), sides, strict=True))
        ]  # fmt: skip
        for part, at in large:
            why = f"{plain(part.length_mm)} x {plain(part.width_mm)} mm is larger than its sheet, {sheet}"
            mend = "Correct the part or the sheet of its program; both are in mm"
            yield Finding("program_parts.csv", why, mend, at, "length_mm", plain(part.length_mm))
        share = removed_share(program, tuple(part for part, _ in found))
        if share > AREA_ODD and not large:
            why = f"{program.program_id}: the rectangles around its parts take {share:.3g} times the sheet, {sheet}"
            mend = "Correct per_sheet or the sides in program_parts.csv, or the sheet"
            kind = Finding if share > AREA_SURE else note
            yield kind("programs.csv", why, mend, row=line, column="program_id", value=program.program_id)


@reads("programs", "program_parts", "materials")
def parts_weigh_what_they_are(draft: Draft) -> Iterator[Finding]:
    """A part weighs about what its rectangle of sheet does."""
    materials = {row.material_id: row for row in draft.sheets["materials"].rows}
    of = {row.program_id: materials.get(row.material_id) for row in draft.sheets["programs"].rows}
    for part, line in draft.sheets["program_parts"]:
        material = of.get(part.program_id)
        if material is None or not part.mass_kg or not part.length_mm or not part.width_mm:
            continue
        full_kg = sheet_mass_kg(part.length_mm, part.width_mm, material.thickness_mm, material.density_kg_m3)
        if not MASS_ODD[0] <= part.mass_kg / full_kg <= MASS_ODD[1]:
            why = (
                f"{part.part_id}: {plain(part.mass_kg)} kg, but a rectangle of {plain(part.length_mm)} x "
                f"{plain(part.width_mm)} mm of {material.material_id} weighs {full_kg:.3g} kg"
            )
            mend = "Correct the mass (kg), the sides (mm), or thickness and density of the material"
            yield note("program_parts.csv", why, mend, row=line, column="mass_kg", value=plain(part.mass_kg))


@reads("program_parts", "orders")
def orders_of_parts(draft: Draft) -> Iterator[Finding]:
    """The order of a part in a mixed nest is in the book."""
    known = draft.column("orders", "order_id") | draft.sheets["orders"].keys
    for part, line in draft.sheets["program_parts"]:
        if part.order_id and part.order_id not in known:
            mend = f"Correct the number, or leave it empty; {near(part.order_id, sorted(known))}"
            yield Finding("program_parts.csv", "is not in orders.csv", mend, line, "order_id", part.order_id)


@reads("programs")
def contours_have_a_length(draft: Draft) -> Iterator[Finding]:
    """Contours are as long as contours are, on average."""
    odd = [
        (row, line) for row, line in draft.sheets["programs"]
        if row.contours and row.cut_length_mm and not CONTOUR_MM[0] <= row.cut_length_mm / row.contours <= CONTOUR_MM[1]
    ]  # fmt: skip
    for row, line in odd[:3]:
        why = (
            f"{row.program_id}: {plain(row.cut_length_mm)} mm in {row.contours} contours are "
            f"{row.cut_length_mm / row.contours:.3g} mm each; usual are {plain(CONTOUR_MM[0])} to "
            f"{plain(CONTOUR_MM[1])} mm (common practice, no source)"
        )
        why += f"; so it is in {len(odd) - 3} more programs" if len(odd) > 3 else ""
        mend = "Correct one of the two; the length is in mm and for one sheet"
        yield note("programs.csv", why, mend, row=line, column="cut_length_mm", value=plain(row.cut_length_mm))


# ---- tools and starts ----


@reads("tools")
def figures_in_stations(draft: Draft) -> Iterator[Finding]:
    """A figure is no longer than the station it stands in is wide; forms may reach beyond theirs."""
    for tool, line in draft.sheets["tools"]:
        size = max(tool.length_mm, tool.width_mm)
        if tool.kind == "cutting" and size > REACH * tool.station_size_mm:
            why = f"{tool.tool_id}: {plain(size)} mm does not fit a station of {plain(tool.station_size_mm)} mm"
            mend = "Correct the sides or the size of the station, all in mm"
            yield note("tools.csv", why, mend, row=line, column="length_mm", value=plain(size))


@reads("start", "tools", "orders")
def starts_are_possible(draft: Draft) -> Iterator[Finding]:
    """A tool stands at a die that is owned, and of an order no more sheets wait than it has."""
    dies = {tool.tool_id: tool.clearances for tool in draft.sheets["tools"].rows}
    sheets = {order.order_id: order.sheets for order in draft.sheets["orders"].rows}
    for row, line in draft.sheets["start"]:
        owned = dies.get(row.item, ())
        if row.what == "turret" and row.clearance_mm and owned and row.clearance_mm not in owned:
            why = f"{row.item} has no die of this clearance"
            mend = f"Write one of those it has: {some([plain(die) for die in owned])}"
            yield note("start.csv", why, mend, row=line, column="clearance_mm", value=plain(row.clearance_mm))
        if row.what == "backlog" and row.sheets > sheets.get(row.item, row.sheets):
            why = f"{row.item} is an order of {sheets[row.item]} sheets"
            yield Finding(
                "start.csv", why, "Write how many of them wait, or 0 for all", line, "sheets", str(row.sheets)
            )


# ---- hours, limits ----


@reads("observed", "machines")
def observed_hours(draft: Draft) -> Iterator[Finding]:
    """A week has 168 hours at each machine, and its parts are no longer than the whole."""
    most = WEEK_H * len(draft.sheets["machines"].rows)
    for row, line in draft.sheets["observed"]:
        hours = {name: getattr(row, f"{name}_h") for name in ("setup", "handling", "process", "stopped")}
        for name, value in (("attended", row.attended_h), *hours.items()):
            if value > most:
                why = f"the week has {plain(most)} hours at {len(draft.sheets['machines'].rows)} machine(s)"
                hours_of_min = value * OTHER_UNITS["h"]["min"]
                why += f"; if {plain(value)} is in min, it is {plain(hours_of_min)} h" if hours_of_min <= most else ""
                yield Finding("observed.csv", why, "Write hours of one week", line, f"{name}_h", plain(value))
        total = sum(hours.values())
        if row.attended_h and most >= total > AREA_SURE * row.attended_h:
            why = f"set-up, handling, process and stops sum to {total:.3g} h of {plain(row.attended_h)} attended"
            yield note("observed.csv", why, "Correct one of them", row=line, column="attended_h",
                       value=plain(row.attended_h))  # fmt: skip


@reads(settings=True)
def limits_in_order(draft: Draft) -> Iterator[Finding]:
    """No week has more overtime than hours, and the removal's smallest side is below its largest."""
    rules, removal = draft.settings.rules, draft.settings.removal
    if rules.overtime_cap_h_per_week > WEEK_H:
        why, mend = f"a week has {plain(WEEK_H)} hours", "Write hours a week"
        yield Finding("plant.toml", why, mend, column="rules.overtime_cap_h_per_week",
                      value=plain(rules.overtime_cap_h_per_week))  # fmt: skip
    if removal.min_side_mm > removal.max_side_mm:
        why = f"is above removal.max_side_mm, {plain(removal.max_side_mm)}, so that no part can be taken"
        yield Finding("plant.toml", why, "Correct one of the two", column="removal.min_side_mm",
                      value=plain(removal.min_side_mm))  # fmt: skip
