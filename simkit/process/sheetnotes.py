"""Notes about the sheet itself: strength and density against print, and slugs heavier than what the parts leave."""

from __future__ import annotations

from collections.abc import Iterator

from simkit.plant.plant import PlantInputs
from simkit.process.physicsnote import LOW, MIDDLE, TOOLS, PhysicsNote, listed, physics_note
from simkit.process.programs import program_tables
from simkit.process.punching import shear_strengths
from simkit.process.slugs import punched_out_kg

STRENGTH_SLACK, DENSITY_SLACK, SLUG_SLACK = 1.25, 1.02, 1.10
"""Factors outside print, or above what the parts leave, from which a number is noted: common practice, no source."""
DENSITIES: dict[str, dict[str, float]] = {
    "mild steel": {"steel": 7850.0},
    "stainless": {"1.4301": 7900.0, "1.4404": 8000.0, "1.4016": 7700.0},
    "aluminium": {"Al 99.5": 2710.0, "AlMg3": 2660.0, "6082": 2700.0},
    "copper": {"Cu-DHP": 8940.0},
    "brass": {"CuZn37": 8440.0},
    "titanium": {"Ti": 4510.0},
}
"""Densities by handbook metal and alloy, kg/m3: ordinary handbook values (from memory)."""


def sheet_notes(plant: PlantInputs) -> Iterator[PhysicsNote]:
    """Materials whose strength or density is far from print, and programs whose slugs weigh too much."""
    for row in plant.materials:
        strengths = [mpa for one in shear_strengths(row.handbook) for mpa in (one.low_mpa, one.high_mpa)]
        densities = printed_densities(row.handbook).values()
        for column, value, printed, slack, unit in (
            ("shear_strength_mpa", row.shear_strength_mpa, strengths, STRENGTH_SLACK, "MPa"),
            ("density_kg_m3", row.density_kg_m3, densities, DENSITY_SLACK, "kg/m3"),
        ):
            if value is not None and printed and not min(printed) / slack <= value <= max(printed) * slack:
                why = f"{value:g} {unit}; printed for {row.handbook} are {min(printed):g} to {max(printed):g} {unit}"
                mend = "Take it from the mill's certificate, or correct the number or the handbook metal"
                yield physics_note(LOW, TOOLS, f"materials.csv {row.material_id}", why, mend, column)
    yield from _slug_notes(plant)


def printed_densities(handbook: str) -> dict[str, float]:
    """Densities of a handbook metal by alloy, kg/m3; none for one that is not in the table.

    8040 is no density of steel: it is what the nominal weights of the manufacturers' standard gauge imply, 2.4 % more.
    """
    return DENSITIES.get(handbook, {})


def _slug_notes(plant: PlantInputs) -> Iterator[PhysicsNote]:
    """A sheet weighs what its parts, skeleton and slugs weigh: the hits knock out no more than the parts leave."""
    tables = program_tables(plant)
    found = []
    for program, sheet_kg, flow in zip(plant.programs, tables.sheet_kg, tables.flows, strict=True):
        slugs_kg, rest_kg = punched_out_kg(plant, program), sheet_kg - flow.parts_kg / flow.filled
        if slugs_kg > SLUG_SLACK * max(rest_kg, 0.0):
            found.append((slugs_kg / max(rest_kg, 1e-9), program.program_id, slugs_kg, rest_kg))
    if found:
        _, worst, slugs_kg, rest_kg = max(found)
        why = (
            f"the slugs of {listed([name for _, name, _, _ in found])} weigh more than what "
            f"the parts leave of the sheet; furthest off {worst}: {slugs_kg:.1f} kg of slugs by hits and punch, "
            f"{rest_kg:.1f} kg left by the parts, which is what counts"
        )
        mend = "Correct the hits, the sides of the tool or the parts; hits of a nibbled edge overlap and weigh less"
        yield physics_note(MIDDLE, TOOLS, "program_tools.csv", why, mend, "hits_per_sheet")
