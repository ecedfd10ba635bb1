"""Checks of what leaves the machine: bins by mass, stacks, remnants, mixed scrap, and marks by hand-over."""

from __future__ import annotations

from collections.abc import Iterator

from simkit.base.messages import Finding
from simkit.base.vocabulary import BENCH, UNLOADING
from simkit.plant.checking import reads
from simkit.plant.conditions import PART_DRIVERS, PART_FACTS, asks_about_part, holds, part_facts, split_unit
from simkit.plant.drafts import Draft, note

PART_WAYS = ("bench", "stack", "removal", "chute")
"""How a single part leaves its sheet; ``mixed`` is a hand-over of programs alone."""


@reads("upkeep", "program_tools", "tools")
def bins_fill(draft: Draft) -> Iterator[Finding]:
    """Care that is due by the mass of slugs is due some time."""
    cutting = {row.tool_id for row, _ in draft.sheets["tools"] if row.kind == "cutting"}
    if any(use.tool_id in cutting and use.hits_per_sheet > 0 for use, _ in draft.sheets["program_tools"]):
        return
    for row, line in draft.sheets["upkeep"]:
        if row.exposure == "slug_kg":
            why = f"{row.task} is due by the kilograms of slugs, but no program punches with a tool that cuts"
            mend = "Give the hits of each tool in program_tools.csv, or count it by hours or sheets"
            yield note("upkeep.csv", why, mend, row=line, column="exposure", value=row.exposure)


@reads("programs", settings=True)
def stacks_have_places(draft: Draft) -> Iterator[Finding]:
    """Programs that hand whole sheets to the stack find one, and a stack for such programs alone has some."""
    stack = draft.settings.stack
    lines = [line for row, line in draft.sheets["programs"] if row.handover == "stack"]
    if lines and stack.places == 0:
        why = f"{len(lines)} program(s) hand whole sheets to the stack, but there is none, so they go to the bench"
        mend = "Give plant.stack.places, or set handover = bench"
        yield note("programs.csv", why, mend, row=lines[0], column="handover", value="stack")
    elif not lines and stack.places > 0 and stack.use == "by_program":
        place = {"column": "stack.use", "value": stack.use}
        yield note("plant.toml", "no program hands its sheets to the stack", "Set handover = stack for some", **place)


@reads("programs", settings=True)
def remnants_exist(draft: Draft) -> Iterator[Finding]:
    """Remnants that are kept exist."""
    kept = draft.settings.store.remnants_kept
    if kept and not any(row.remnant_share > 0 for row, _ in draft.sheets["programs"]):
        place = {"column": "store.remnants_kept", "value": f"{kept:g}"}
        yield note("plant.toml", "no program leaves a remnant", "Give remnant_share in programs.csv", **place)


@reads("elements")
def skeletons_on_equal_terms(draft: Draft) -> Iterator[Finding]:
    """A device's time for a skeleton does not stand against no time by hand."""
    rows = [(row, split_unit(row.unit)[1]) for row, _ in draft.sheets["elements"]]
    device_min = [row.typical for row, driver in rows if driver == "skeleton" and row.state == UNLOADING]
    hand_min = [row.typical for row, driver in rows if driver == "sheet" and row.state == BENCH]
    if any(device_min) and hand_min and not any(hand_min):
        why = "a device takes time for a skeleton, people at the bench take none"
        mend = "Give the time of a skeleton by hand, 0.5 to 4 min a sheet (common practice, no source)"
        yield note("elements.csv", why, mend, column="typical", value="0")


@reads("materials", settings=True)
def mixed_scrap_has_its_credit(draft: Draft) -> Iterator[Finding]:
    """Scrap of several metals that is sold mixed has a credit, and none above that of the cheapest metal."""
    scrap = draft.settings.scrap
    metals = {row.metal: row.scrap_price_per_kg for row, _ in draft.sheets["materials"]}
    if "mixed" not in (scrap.slugs, scrap.skeletons) or len(metals) < 2:
        return
    place = {"column": "scrap.mixed_per_kg", "value": f"{scrap.mixed_per_kg:g}"}
    if scrap.mixed_per_kg == 0:
        yield note("plant.toml", "scrap is sold mixed and earns nothing", "Give what a dealer pays for it", **place)
    elif scrap.mixed_per_kg > min(metals.values()):
        why = "mixed scrap earns more than the scrap of the cheapest metal by itself"
        yield note("plant.toml", why, "Ask the dealer again", **place)


@reads("elements", "program_parts")
def parts_meant(draft: Draft) -> Iterator[Finding]:
    """An element that asks about parts is counted by parts in all its rows; a row that asks is for some part."""
    rows = list(draft.sheets["elements"])
    asking = {row.element for row, _ in rows if asks_about_part(row)}
    parts = [part_facts(part) for part, _ in draft.sheets["program_parts"]]
    for row, line in rows:
        driver, where = row.unit.partition("/")[2], {"row": line, "column": "unit", "value": row.unit}
        if row.element in asking and driver not in PART_DRIVERS:
            why = f"{row.element} asks about the part in another row, but is not counted by parts here"
            yield Finding("elements.csv", why, f"Count all its rows per {', '.join(PART_DRIVERS)}", **where)
        if asks_about_part(row) and not any(holds(row.applies_to, facts, PART_FACTS) for facts in parts):
            why, mend = "is for no part of program_parts.csv, so that the row does nothing", "Correct the condition"
            yield note("elements.csv", why, mend, row=line, column="applies_to", value=row.applies_to)


@reads("quality")
def marks_can_happen(draft: Draft) -> Iterator[Finding]:
    """A cause that asks for the hand-over asks for one that a part can have."""
    for row, line in draft.sheets["quality"]:
        if "handover" in row.applies_to and not any(
            holds(row.applies_to, {"handover": way}, asked=("handover",)) for way in PART_WAYS
        ):
            why = f"{row.cause} is for no part: each leaves its sheet as {', '.join(PART_WAYS[:-1])} or {PART_WAYS[-1]}"
            mend = "Ask for one of these, in one row each"
            yield note("quality.csv", why, mend, row=line, column="applies_to", value=row.applies_to)
