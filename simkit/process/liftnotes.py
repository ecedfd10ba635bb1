"""Lifts by hand of a plant: sheets loaded and parts broken out, held against the lifting equation where it covers them.

Heights, turn of the body and grip are ``handling`` of plant.toml, assumed until measured; the reach follows from the
size of the piece, the pace from the bench elements. A screening for planning that declares no task safe.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simkit.base.arrays import Floats
from simkit.base.units import MM_PER_CM, SECONDS_PER_MINUTE
from simkit.base.vocabulary import BENCH, LOADING
from simkit.plant.part_ways import benched_parts
from simkit.plant.plant import PlantInputs
from simkit.process.lifting import (
    LEAST_FREQUENCY,
    METRIC,
    REFERENCE_KG,
    STRESSFUL,
    Hands,
    assess_lift,
    duration_class,
    index_in_words,
    sheet_handling,
)
from simkit.process.physicsnote import HIGH, LIFTING, LOW, MIDDLE, PhysicsNote, listed, physics_note
from simkit.process.programs import ProgramTables, program_tables

DURATION = duration_class(work_h=8.0, recovery_h=0.0)
"""Lifts are spread over a shift of up to 8 h, and no stretch of light work after it is known."""
LOW_HANDS_CM = 25.0
REACH_CM, LOW_REACH_CM = 20.0, 25.0
"""Reach beyond half the piece, hands at 25 cm or higher, and lower (manual of the equation, from memory)."""
LIMITS = (
    "assumed heights, turn and grip of plant.toml handling, reach from the size of the piece, 2 to 8 h; lifts by two "
    "or with one hand, carrying, pushing, sliding, tilting, sitting, kneeling, tight space, unsteady loads, fast "
    "lifts, poor footing, air outside 19 to 26 C or 35 to 50 % humidity are outside the equation"
)


@dataclass(frozen=True)
class PieceLift:
    """A piece that one person lifts, and its place in the lifting equation; masses in kg, reach in cm.

    ``index`` is infinite where the equation gives no limit: the hands are too far away, or the pace is too high.
    ``per_book`` counts such lifts in the order book.
    """

    piece: str
    program_id: str
    mass_kg: float
    reach_cm: float
    lifts_per_min: float
    limit_kg: float
    index: float
    per_book: int


def part_lifts(plant: PlantInputs) -> tuple[PieceLift, ...]:
    """Parts broken out at the bench that one person lifts, in the order of the programs."""
    tables, sheets = program_tables(plant), plant.sheets_of
    hands, pace = plant.settings.handling, _lifts_per_min(tables)
    ends = hands.bench_height_mm / MM_PER_CM, hands.stack_height_mm / MM_PER_CM
    return tuple(
        _lift(plant, part.part_id, program.program_id, part.mass_kg, min(part.length_mm, part.width_mm), ends,
              float(pace[number]), part.per_sheet * sheets[program.program_id])
        for number, program in enumerate(plant.programs)
        for part in benched_parts(plant, program)
        if part.mass_kg <= plant.settings.machine.one_person_kg
    )  # fmt: skip


def sheet_lifts(plant: PlantInputs) -> tuple[PieceLift, ...]:
    """Sheets that one person loads by hand, in the order of the programs."""
    tables, sheets = program_tables(plant), plant.sheets_of
    hands, by_hand = plant.settings.handling, loaded_by_hand(tables)
    ends = hands.sheet_stack_height_mm / MM_PER_CM, hands.table_height_mm / MM_PER_CM
    return tuple(
        _lift(plant, "sheet", program.program_id, float(tables.sheet_kg[number]),
              min(program.sheet_length_mm, program.sheet_width_mm), ends, LEAST_FREQUENCY, sheets[program.program_id])
        for number, program in enumerate(plant.programs)
        if by_hand[number] and tables.sheet_kg[number] <= plant.settings.machine.one_person_kg
    )  # fmt: skip


def _lift(
    plant: PlantInputs, piece: str, program_id: str, mass_kg: float, side_mm: float, ends_cm: tuple[float, float],
    lifts_per_min: float, per_book: int,
) -> PieceLift:  # fmt: skip
    hands = plant.settings.handling
    reaches_cm = [reach_cm(side_mm, height_cm) for height_cm in ends_cm]
    first, last = (Hands(reach, height, hands.twist_deg) for reach, height in zip(reaches_cm, ends_cm, strict=True))
    found = assess_lift(mass_kg, first, last, lifts_per_min, DURATION, hands.grip, control=True)
    return PieceLift(
        piece=piece, program_id=program_id, mass_kg=mass_kg, reach_cm=max(reaches_cm),
        lifts_per_min=lifts_per_min, limit_kg=float(found.limit), index=float(found.index), per_book=per_book,
    )  # fmt: skip


def reach_cm(side_mm: float, height_cm: float) -> float:
    """Distance of the hands from the ankles for a piece whose shorter side points away from the body, cm.

    ``20 + side / 2`` with hands at 25 cm or higher, ``25 + side / 2`` below (manual of the equation, from memory).
    """
    near = REACH_CM if height_cm >= LOW_HANDS_CM else LOW_REACH_CM
    return near + side_mm / MM_PER_CM / 2


def _lifts_per_min(tables: ProgramTables) -> Floats:
    """Parts a minute while somebody breaks out the parts of a sheet, by the bench elements; 0.2 without any."""
    seconds = tables.sheet_s(BENCH, by_person=True)
    parts = np.array([flow.benched for flow in tables.flows], float)
    pace = np.divide(parts * SECONDS_PER_MINUTE, seconds, out=np.full(len(parts), LEAST_FREQUENCY), where=seconds > 0)
    return np.asarray(np.maximum(pace, LEAST_FREQUENCY))


def loaded_by_hand(tables: ProgramTables) -> NDArray[np.bool_]:
    """Whether somebody loads the sheets of each program."""
    found = np.zeros(len(tables.programs), bool)
    for use in tables.uses:
        if use.state == LOADING and use.by_person:
            found |= use.count > 0
    return found


# ---- notes ----


def lift_notes(plant: PlantInputs) -> Iterator[PhysicsNote]:
    """Sheets that one person does not lift, and lifts of one person above the recommended limit."""
    yield from _heavy_notes(plant)
    one_kg = plant.settings.machine.one_person_kg
    if one_kg > REFERENCE_KG:
        why = (
            f"one person lifts up to {one_kg:g} kg; the reference mass of ISO 11228-1 is {REFERENCE_KG:g} kg, and less "
        )
        why += "for many people (from memory, check the edition)"
        mend = "Compare with the limit that holds where the plant stands"
        yield physics_note(MIDDLE, LIFTING, "plant.toml", why, mend, "machine.one_person_kg")
    yield from _index_note("parts broken out at the bench", "program_parts.csv", part_lifts(plant))
    yield from _index_note(f"sheets up to {one_kg:g} kg loaded by one person", "programs.csv", sheet_lifts(plant))
    heavy = [
        (part.mass_kg, part.part_id)
        for program in plant.programs
        for part in benched_parts(plant, program)
        if part.mass_kg > one_kg
    ]
    if heavy:
        why = (
            f"{len(heavy)} kinds of parts broken out at the bench weigh more than {one_kg:g} kg, up to "
            f"{max(heavy)[0]:.1f} kg ({max(heavy)[1]}): two persons or a lifting aid, outside the lifting equation"
        )
        yield physics_note(
            MIDDLE, LIFTING, "program_parts.csv", why, "Say how they are taken from the bench", "mass_kg"
        )


def _heavy_notes(plant: PlantInputs) -> Iterator[PhysicsNote]:
    tables, sheets, machine = program_tables(plant), plant.sheets_of, plant.settings.machine
    who = sheet_handling(tables.sheet_kg, machine.one_person_kg, machine.lifter)
    by_hand = loaded_by_hand(tables)
    groups = (
        (HIGH, by_hand & who.beyond_two, "more than twice the limit of one person, and there is no lifter",
         "Plan a lifter: the rule of two persons has no answer for them"),
        (MIDDLE, by_hand & (who.persons == 2) & ~who.beyond_two, "two persons lift them",
         "See in people.csv that a second person is there, or plan a lifter"),
        (LOW, by_hand & who.by_lifter, "the lifter takes them",
         "Say what happens when the lifter is out of order"),
    )  # fmt: skip
    for level, chosen, how, mend in groups:
        if chosen.any():
            names = [program.program_id for program, yes in zip(plant.programs, chosen, strict=True) if yes]
            count, heaviest_kg = sum(sheets[name] for name in names), float(tables.sheet_kg[chosen].max())
            why = (
                f"{count} sheets of the book, of {len(names)} programs ({listed(names)}), weigh more than "
                f"{machine.one_person_kg:g} kg, up to {heaviest_kg:.1f} kg: {how}"
            )
            yield physics_note(level, LIFTING, "programs.csv", why, mend)


def _index_note(what: str, place: str, lifts: tuple[PieceLift, ...]) -> Iterator[PhysicsNote]:
    """One note for all lifts above the recommended limit, and one for those for which there is none."""
    above = sorted((lift for lift in lifts if 1 < lift.index < math.inf), key=lambda lift: -lift.index)
    beyond = [lift for lift in lifts if math.isinf(lift.index) and lift.mass_kg > 0]
    mend = "Measure heights, reach and pace, and have the task assessed; think of lifting aids, cutting height and size"
    if above:
        worst, count = above[0], sum(lift.per_book for lift in above)
        why = (
            f"{what}: {len(above)} of {len(lifts)} kinds have a lifting index above 1, {count} lifts in the book; "
            f"highest {worst.index:.1f}, {worst.piece} of {worst.program_id} with {worst.mass_kg:.1f} kg against a "
            f"recommended {worst.limit_kg:.1f} kg, {index_in_words(worst.index)} (NIOSH 94-110; {LIMITS})"
        )
        yield physics_note(MIDDLE if worst.index > STRESSFUL else LOW, LIFTING, place, why, mend)
    if beyond:
        heaviest, count = max(beyond, key=lambda lift: lift.mass_kg), sum(lift.per_book for lift in beyond)
        why = (
            f"{what}: for {len(beyond)} of {len(lifts)} kinds the lifting equation gives no limit, {count} lifts in "
            f"the book: hands farther than {METRIC.reach_most:g} cm from the ankles, or too many lifts a minute; "
            f"heaviest {heaviest.mass_kg:.1f} kg, {heaviest.piece} of {heaviest.program_id}, hands at "
            f"{heaviest.reach_cm:.0f} cm ({LIMITS})"
        )
        yield physics_note(MIDDLE, LIFTING, place, why, mend)
