"""Which parts a removal device can take, and how the parts of a sheet leave the machine."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from simkit.plant.plant import PlantInputs
from simkit.plant.settings_parts import Removal
from simkit.plant.tables import Program, ProgramPart


@dataclass(frozen=True)
class StackStep:
    """What one sheet adds to a stack of picked parts: height in mm, mass in kg. ``kind`` tells stacks apart."""

    kind: str
    height_mm: float
    mass_kg: float


@dataclass(frozen=True)
class PartFlow:
    """Parts of one sheet by the way they leave it; masses in kg.

    ``filled`` is the share of the program's places that hold a part: below 1 where room for the device costs yield,
    so that an order needs the more sheets. Counts and masses are those of the parts there are, a mean over sheets.
    ``stacks`` are the stacks that the picked parts of a sheet grow, by the plant's rule ``removal.stacking``.
    """

    parts: float
    picked: float
    chute: float
    benched: float
    bench_tabs: float
    parts_kg: float
    benched_kg: float
    chute_kg: float
    stacks: tuple[StackStep, ...]
    filled: float = 1.0

    @property
    def places_picked(self) -> int:
        """Places of a sheet from which the device picks."""
        return round(self.picked / self.filled)

    @property
    def to_bench(self) -> bool:
        """Whether the sheet goes to the bench: some of its parts do, or it is not told what parts there are."""
        return self.benched > 0 or self.parts == 0

    @property
    def leaves_skeleton(self) -> bool:
        """Whether the device has taken out all there is to take, so that it puts the skeleton on its pallet."""
        return self.picked > 0 and self.benched == 0


def why_not_eligible(part: ProgramPart, limits: Removal) -> str:
    """Return the first limit that keeps a part from being picked, or an empty text."""
    long_side, short_side = max(part.length_mm, part.width_mm), min(part.length_mm, part.width_mm)
    checks = (
        (part.mass_kg > limits.max_mass_kg, f"heavier than {limits.max_mass_kg:g} kg"),
        (short_side < limits.min_side_mm, f"a side below {limits.min_side_mm:g} mm"),
        (long_side > limits.max_side_mm, f"a side above {limits.max_side_mm:g} mm"),
        (part.form_height_mm >= limits.max_form_height_mm, f"a form of {limits.max_form_height_mm:g} mm or more"),
        (part.flat_area_mm2 < limits.min_flat_area_mm2, f"less than {limits.min_flat_area_mm2:g} mm2 flat area"),
        (
            part.clear_circle_mm is not None and part.clear_circle_mm < limits.min_clear_circle_mm,
            f"no circle of {limits.min_clear_circle_mm:g} mm free of holes at its centre",
        ),
        (part.surface_sensitive and not limits.takes_sensitive, "a sensitive surface"),
    )
    return next((text for fails, text in checks if fails), "")


def removed_share(program: Program, parts: tuple[ProgramPart, ...]) -> float:
    """Share of a sheet's area that is open when these parts are out of it, by the rectangles around them.

    A rectangle is the outline of most parts and more than the outline of the others, so the share is on the safe side.
    """
    open_mm2 = sum(part.per_sheet * part.length_mm * part.width_mm for part in parts)
    return open_mm2 / (program.sheet_length_mm * program.sheet_width_mm)


def why_not(plant: PlantInputs, program: Program, part: ProgramPart) -> str:
    """Return why a part of a program cannot be picked, whatever the program's hand-over; empty if it can.

    A part that is picked by itself stays in the sheet if the skeleton would be too weak without all of its kind.
    """
    limits = plant.settings.removal
    return why_not_eligible(part, limits) or _too_weak(plant, program, limits)


def _too_weak(plant: PlantInputs, program: Program, limits: Removal) -> str:
    if limits.max_removed_share >= 1.0:
        return ""
    parts = plant.parts_of.get(program.program_id, ())
    eligible = tuple(part for part in parts if not why_not_eligible(part, limits))
    weak = removed_share(program, eligible) > limits.max_removed_share
    return f"more than {100 * limits.max_removed_share:g} % of the sheet would be out" if weak else ""


def picked_parts(plant: PlantInputs, program: Program) -> tuple[ProgramPart, ...]:
    """Kinds of parts that the removal device takes out of a program's sheets, in file order."""
    by_device = plant.settings.removal.pickers > 0 and program.handover in ("removal", "mixed")
    parts = plant.parts_of.get(program.program_id, ())
    return tuple(part for part in parts if by_device and not why_not(plant, program, part))


def goes_down_chute(program: Program) -> bool:
    """Whether parts that no device takes go down the chute; else they stay in the sheet for the bench."""
    return program.handover in ("chute", "mixed")


LIFTS = {"removal": 1, "chute": 2, "bench": 2, "stack": 3}
"""How often a part is lifted after it is cut, by the way it leaves: picked and put down; dropped and sorted; pulled out
with its sheet and taken out of it; put on the stack, drawn to the bench and taken out. Common practice, no source."""


def way_of(plant: PlantInputs, program: Program, part: ProgramPart) -> str:
    """How a part leaves its sheet, a word of :data:`LIFTS`: a part that cannot be picked goes the way of the rest."""
    if part in picked_parts(plant, program):
        return "removal"
    if goes_down_chute(program):
        return "chute"
    return "stack" if program.handover == "stack" else "bench"


def benched_parts(plant: PlantInputs, program: Program) -> tuple[ProgramPart, ...]:
    """Kinds of parts that people break out of a program's sheets, in file order."""
    picked = picked_parts(plant, program)
    parts = plant.parts_of.get(program.program_id, ())
    return () if goes_down_chute(program) else tuple(part for part in parts if part not in picked)


def _stack_steps(
    plant: PlantInputs, program: Program, picked: tuple[ProgramPart, ...], filled: float
) -> tuple[StackStep, ...]:
    """Stacks that a sheet grows: of each kind its parts one on another, or all beside one another as they lay."""
    thickness_mm = plant.material_by_id[program.material_id].thickness_mm
    if picked and plant.settings.removal.stacking == "as_nested":
        mass_kg = filled * sum(part.per_sheet * part.mass_kg for part in picked)
        return (StackStep(program.program_id, thickness_mm, mass_kg),)
    counts = [(part, filled * part.per_sheet) for part in picked]
    return tuple(StackStep(part.part_id, count * thickness_mm, count * part.mass_kg) for part, count in counts)


def part_flow(plant: PlantInputs, program: Program) -> PartFlow:
    """Sort the parts of a program's sheet by the way they leave it; with picked ones, ``removal.yield_loss`` acts."""
    parts, picked = plant.parts_of.get(program.program_id, ()), picked_parts(plant, program)
    down, benched = goes_down_chute(program), benched_parts(plant, program)
    dropped = [part for part in parts if part not in picked] if down else []
    filled = 1.0 - plant.settings.removal.yield_loss if picked else 1.0

    def on_a_sheet(of: Iterable[ProgramPart], each: Callable[[ProgramPart], float] = lambda part: 1) -> float:
        return filled * sum(part.per_sheet * each(part) for part in of)

    return PartFlow(
        parts=on_a_sheet(parts),
        picked=on_a_sheet(picked),
        chute=on_a_sheet(dropped),
        benched=on_a_sheet(benched),
        bench_tabs=on_a_sheet(benched, lambda part: part.tabs),
        parts_kg=on_a_sheet(parts, lambda part: part.mass_kg),
        benched_kg=on_a_sheet(benched, lambda part: part.mass_kg),
        chute_kg=on_a_sheet(dropped, lambda part: part.mass_kg),
        stacks=_stack_steps(plant, program, picked, filled), filled=filled,
    )  # fmt: skip
