"""Checks of parts on their sheets and of what leaves the machine: masses, sizes, bins, stacks, scrap, marks."""

from __future__ import annotations

from collections.abc import Iterator

from simkit.base.messages import Finding, note, plain, some
from simkit.base.units import sheet_mass_kg
from simkit.base.vocabulary import BENCH, UNLOADING
from simkit.plant.check_register import reads, row_error, row_note
from simkit.plant.conditions import PART_DRIVERS, PART_FACTS, asks_about_part, holds, part_facts
from simkit.plant.part_ways import removed_share
from simkit.plant.plant import PlantInputs

MASS_TOLERANCE = 1.01
"""Parts may outweigh their sheet by this factor before it is an error: rounding of masses."""
AREA_SURE, AREA_ODD = 1.5, 1.05
"""Rectangles around the parts of a sheet over its area: beyond the first it is an error, since nested shapes lock into
one another by less; beyond the second a note. Common practice, no source."""
MASS_ODD = (0.02, 1.2)
"""Mass of a part over that of the rectangle around it, in its sheet. Common practice, no source."""
CONTOUR_MM = (2.0, 12_000.0)
"""Mean length of a contour. Common practice, no source."""
PART_WAYS = ("bench", "stack", "removal", "chute")
"""How a single part leaves its sheet; ``mixed`` is a hand-over of programs alone."""


@reads("programs", "program_parts")
def programs_without_parts(plant: PlantInputs) -> Iterator[Finding]:
    """Every program makes parts."""
    bare = [program for program in plant.programs if program.program_id not in plant.parts_of]
    if bare:
        why = f"{len(bare)} programs have no parts in program_parts.csv ({some([row.program_id for row in bare])})"
        mend = "Add their parts; without them no parts, bench time or scrap are counted for these programs"
        yield row_note(plant, bare[0], "", why, mend, "")


@reads("program_parts", "programs", "materials")
def part_masses(plant: PlantInputs) -> Iterator[Finding]:
    """The parts of a sheet do not outweigh it."""
    for program in plant.programs:
        if program.material_id not in plant.material_by_id:
            continue
        parts = plant.parts_of.get(program.program_id, ())
        parts_kg, sheet_kg = sum(part.mass_kg * part.per_sheet for part in parts), plant.sheet_kg(program)
        if parts_kg > MASS_TOLERANCE * sheet_kg:
            why = f"the parts of a sheet weigh {parts_kg:.1f} kg, the sheet itself {sheet_kg:.1f} kg"
            mend = "Correct mass_kg or per_sheet in program_parts.csv, or the size of the sheet"
            yield row_error(plant, program, "program_id", why, mend)


@reads("programs", "program_parts")
def parts_on_sheets(plant: PlantInputs) -> Iterator[Finding]:
    """Every part fits on its sheet, and all of them together; checked by the rectangles around them."""
    for program in plant.programs:
        sheet = f"{plain(program.sheet_length_mm)} x {plain(program.sheet_width_mm)} mm"
        sides = sorted((program.sheet_length_mm, program.sheet_width_mm))
        parts = plant.parts_of.get(program.program_id, ())
        large = [
            part for part in parts
            if any(a > b for a, b in zip(sorted((part.length_mm, part.width_mm)), sides, strict=True))
        ]  # fmt: skip
        for part in large:
            why = f"{plain(part.length_mm)} x {plain(part.width_mm)} mm is larger than its sheet, {sheet}"
            yield row_error(
                plant, part, "length_mm", why, "Correct the part or the sheet of its program; both are in mm"
            )
        share = removed_share(program, parts)
        if share > AREA_ODD and not large:
            why = f"{program.program_id}: the rectangles around its parts take {share:.3g} times the sheet, {sheet}"
            mend = "Correct per_sheet or the sides in program_parts.csv, or the sheet"
            yield (row_error if share > AREA_SURE else row_note)(plant, program, "program_id", why, mend)


@reads("programs", "program_parts", "materials")
def parts_weigh_what_they_are(plant: PlantInputs) -> Iterator[Finding]:
    """A part weighs about what its rectangle of sheet does."""
    of = {program.program_id: plant.material_by_id.get(program.material_id) for program in plant.programs}
    for part in plant.program_parts:
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
            yield row_note(plant, part, "mass_kg", why, mend)


@reads("programs")
def contours_have_a_length(plant: PlantInputs) -> Iterator[Finding]:
    """Contours are as long as contours are, on average."""
    odd = [
        row for row in plant.programs
        if row.contours and row.cut_length_mm and not CONTOUR_MM[0] <= row.cut_length_mm / row.contours <= CONTOUR_MM[1]
    ]  # fmt: skip
    for row in odd[:3]:
        why = (
            f"{row.program_id}: {plain(row.cut_length_mm)} mm in {row.contours} contours are "
            f"{row.cut_length_mm / row.contours:.3g} mm each; usual are {plain(CONTOUR_MM[0])} to "
            f"{plain(CONTOUR_MM[1])} mm (common practice, no source)"
        )
        why += f"; so it is in {len(odd) - 3} more programs" if len(odd) > 3 else ""
        mend = "Correct one of the two; the length is in mm and for one sheet"
        yield row_note(plant, row, "cut_length_mm", why, mend)


# ---- what leaves the machine ----


@reads("settings")
def sides_in_order(plant: PlantInputs) -> Iterator[Finding]:
    """The removal's smallest side is below its largest."""
    removal = plant.settings.removal
    if removal.min_side_mm > removal.max_side_mm:
        why = f"is above removal.max_side_mm, {plain(removal.max_side_mm)}, so that no part can be taken"
        value = plain(removal.min_side_mm)
        yield Finding("plant.toml", why, "Correct one of the two", column="removal.min_side_mm", value=value)


@reads("upkeep", "program_tools", "tools")
def bins_fill(plant: PlantInputs) -> Iterator[Finding]:
    """Upkeep that is due by the mass of slugs is due some time."""
    cutting = {row.tool_id for row in plant.tools if row.kind == "cutting"}
    if any(use.tool_id in cutting and use.hits_per_sheet > 0 for use in plant.program_tools):
        return
    for row in plant.upkeep:
        if row.exposure == "slug_kg":
            why = f"{row.task} is due by the kilograms of slugs, but no program punches with a tool that cuts"
            mend = "Give the hits of each tool in program_tools.csv, or count it by hours or sheets"
            yield row_note(plant, row, "exposure", why, mend)


@reads("programs", "settings")
def stacks_have_places(plant: PlantInputs) -> Iterator[Finding]:
    """Programs that hand whole sheets to the stack find one, and a stack for such programs alone has some."""
    stack = plant.settings.stack
    stacked = [row for row in plant.programs if row.handover == "stack"]
    if stacked and stack.places == 0:
        why = f"{len(stacked)} program(s) hand whole sheets to the stack, but there is none, so they go to the bench"
        mend = "Give plant.stack.places, or set handover = bench"
        yield row_note(plant, stacked[0], "handover", why, mend)
    elif not stacked and stack.places > 0 and stack.use == "by_program":
        place = {"column": "stack.use", "value": stack.use}
        yield note("plant.toml", "no program hands its sheets to the stack", "Set handover = stack for some", **place)


@reads("programs", "settings")
def remnants_exist(plant: PlantInputs) -> Iterator[Finding]:
    """Remnants that are kept exist."""
    kept = plant.settings.store.remnants_kept
    if kept and not any(row.remnant_share > 0 for row in plant.programs):
        place = {"column": "store.remnants_kept", "value": f"{kept:g}"}
        yield note("plant.toml", "no program leaves a remnant", "Give remnant_share in programs.csv", **place)


@reads("elements")
def skeletons_on_equal_terms(plant: PlantInputs) -> Iterator[Finding]:
    """A device's time for a skeleton does not stand against no time by hand."""
    rows = plant.elements
    device_min = [row.typical for row in rows if row.driver == "skeleton" and row.state == UNLOADING]
    hand_min = [row.typical for row in rows if row.driver == "sheet" and row.state == BENCH]
    if any(device_min) and hand_min and not any(hand_min):
        why = "a device takes time for a skeleton, people at the bench take none"
        mend = "Give the time of a skeleton by hand, 0.5 to 4 min a sheet (common practice, no source)"
        yield note("elements.csv", why, mend, column="typical", value="0")


@reads("materials", "settings")
def mixed_scrap_has_its_credit(plant: PlantInputs) -> Iterator[Finding]:
    """Scrap of several metals that is sold mixed has a credit, and none above that of the cheapest metal."""
    scrap = plant.settings.scrap
    metals = {row.metal: row.scrap_price_per_kg for row in plant.materials}
    if "mixed" not in (scrap.slugs, scrap.skeletons) or len(metals) < 2:
        return
    place = {"column": "scrap.mixed_per_kg", "value": f"{scrap.mixed_per_kg:g}"}
    if scrap.mixed_per_kg == 0:
        yield note("plant.toml", "scrap is sold mixed and earns nothing", "Give what a dealer pays for it", **place)
    elif scrap.mixed_per_kg > min(metals.values()):
        why = "mixed scrap earns more than the scrap of the cheapest metal by itself"
        yield note("plant.toml", why, "Ask the dealer again", **place)


@reads("elements", "program_parts")
def parts_meant(plant: PlantInputs) -> Iterator[Finding]:
    """An element that asks about parts is counted by parts in all its rows; a row that asks is for some part."""
    asking = {row.element for row in plant.elements if asks_about_part(row)}
    parts = [part_facts(part) for part in plant.program_parts]
    for row in plant.elements:
        if row.element in asking and row.driver not in PART_DRIVERS:
            why = f"{row.element} asks about the part in another row, but is not counted by parts here"
            yield row_error(plant, row, "unit", why, f"Count all its rows per {', '.join(PART_DRIVERS)}")
        if asks_about_part(row) and not any(holds(row.applies_to, facts, PART_FACTS) for facts in parts):
            why, mend = "is for no part of program_parts.csv, so that the row does nothing", "Correct the condition"
            yield row_note(plant, row, "applies_to", why, mend)


@reads("quality")
def marks_can_happen(plant: PlantInputs) -> Iterator[Finding]:
    """A cause that asks for the hand-over asks for one that a part can have."""
    for row in plant.quality:
        if "handover" in row.applies_to and not any(
            holds(row.applies_to, {"handover": way}, asked=("handover",)) for way in PART_WAYS
        ):
            why = f"{row.cause} is for no part: each leaves its sheet as {', '.join(PART_WAYS[:-1])} or {PART_WAYS[-1]}"
            mend = "Ask for one of these, in one row each"
            yield row_note(plant, row, "applies_to", why, mend)
