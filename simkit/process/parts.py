"""Which parts a removal device can take, and how the parts of a sheet leave the machine."""

from __future__ import annotations

from dataclasses import dataclass

from simkit.plant.plant import Plant
from simkit.plant.settings import Removal
from simkit.plant.tables import Program, ProgramPart


@dataclass(frozen=True)
class PartFlow:
    """Parts of one sheet by the way they leave it; masses in kg.

    ``kinds`` counts the part kinds that are picked (each needs a stack), ``stack_step_mm`` is the height by
    which the tallest of those stacks grows with a sheet.
    """

    parts: int
    picked: int
    chute: int
    benched: int
    bench_tabs: int
    parts_kg: float
    benched_kg: float
    kinds: int
    stack_step_mm: float

    @property
    def to_bench(self) -> bool:
        """Whether the sheet goes to the bench: some of its parts do, or it is not told what parts there are."""
        return self.benched > 0 or self.parts == 0


def why_not_eligible(part: ProgramPart, limits: Removal) -> str:
    """Return the first limit that keeps a part from being picked, or an empty text."""
    long_side, short_side = max(part.length_mm, part.width_mm), min(part.length_mm, part.width_mm)
    checks = (
        (part.mass_kg > limits.max_mass_kg, f"heavier than {limits.max_mass_kg:g} kg"),
        (short_side < limits.min_side_mm, f"a side below {limits.min_side_mm:g} mm"),
        (long_side > limits.max_side_mm, f"a side above {limits.max_side_mm:g} mm"),
        (part.form_height_mm >= limits.max_form_height_mm, f"a form of {limits.max_form_height_mm:g} mm or more"),
        (part.flat_area_mm2 < limits.min_flat_area_mm2, f"less than {limits.min_flat_area_mm2:g} mm2 flat area"),
    )
    return next((text for fails, text in checks if fails), "")


def _picked(plant: Plant, program: Program) -> list[ProgramPart]:
    limits = plant.settings.removal
    by_device = limits.pickers > 0 and program.handover in ("removal", "mixed")
    parts = plant.parts_of.get(program.program_id, ())
    return [part for part in parts if by_device and not why_not_eligible(part, limits)]


def _chute(program: Program) -> bool:
    return program.handover in ("chute", "mixed")


def benched_parts(plant: Plant, program: Program) -> tuple[ProgramPart, ...]:
    """Kinds of parts that people break out of a program's sheets, in file order."""
    picked = _picked(plant, program)
    parts = plant.parts_of.get(program.program_id, ())
    return () if _chute(program) else tuple(part for part in parts if part not in picked)


def part_flow(plant: Plant, program: Program) -> PartFlow:
    """Sort the parts of a program's sheet by the way they leave it."""
    parts, picked = plant.parts_of.get(program.program_id, ()), _picked(plant, program)
    rest = [part for part in parts if part not in picked]
    down = _chute(program)
    thickness_mm = plant.material_by_id[program.material_id].thickness_mm
    return PartFlow(
        parts=sum(part.per_sheet for part in parts),
        picked=sum(part.per_sheet for part in picked),
        chute=sum(part.per_sheet for part in rest) if down else 0,
        benched=0 if down else sum(part.per_sheet for part in rest),
        bench_tabs=0 if down else sum(part.per_sheet * part.tabs for part in rest),
        parts_kg=sum(part.per_sheet * part.mass_kg for part in parts),
        benched_kg=0.0 if down else sum(part.per_sheet * part.mass_kg for part in rest),
        kinds=len(picked),
        stack_step_mm=max((part.per_sheet * thickness_mm for part in picked), default=0.0),
    )
