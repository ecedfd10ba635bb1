"""Physics findings: everything about a plant's tools, cutting, gas, lifts and times that stands out, as notes.

They look at the plant's own settings; what machines.csv overrides for a single machine is not looked at. Each defers to
local codes and to licensed or competent persons, and none stops a run.
"""

from __future__ import annotations

from collections.abc import Iterator

from simkit.base.messages import Finding
from simkit.plant.plant import Plant
from simkit.plant.settings import Motion
from simkit.process.estimate import run_estimates
from simkit.process.lasernotes import gas_notes, speed_notes
from simkit.process.liftnotes import lift_notes
from simkit.process.motiontimes import missing_drivers
from simkit.process.physicsnote import HIGH, TIMES, PhysicsNote, listed, physics_note
from simkit.process.pressnotes import clearance_notes, narrow_notes, press_notes


def physics_notes(plant: Plant) -> tuple[PhysicsNote, ...]:
    """Every note with its level, topic and caution, what matters most first: the rows of a table in a report."""
    found = [
        *press_notes(plant), *narrow_notes(plant), *clearance_notes(plant), *speed_notes(plant), *gas_notes(plant),
        *lift_notes(plant), *time_notes(plant),
    ]  # fmt: skip
    return tuple(sorted(found, key=lambda note: note.rank))


def physics_findings(plant: Plant) -> tuple[Finding, ...]:
    """The findings of :func:`physics_notes`, what matters most first; all are notes."""
    return tuple(note.finding for note in physics_notes(plant))


def time_notes(plant: Plant) -> Iterator[PhysicsNote]:
    """What takes no time in a run: no element row counts it, and the motion that is given does not reach it."""
    if plant.settings.machine.motion == Motion() or not missing_drivers(plant):
        return
    silent: dict[str, list[str]] = {}
    for estimate in run_estimates(plant):
        for row in estimate.elements:
            if not row.has_row and row.motion_s is None and estimate.measured_s is None:
                silent.setdefault(row.element, []).append(estimate.program_id)
    for element, names in silent.items():
        why = f"{element} of {len(names)} programs ({listed(names)}) take no time: no row, and the motion is silent"
        mend = "Give an element row, or what machine.motion, mean_pitch_mm and rapid_mm lack"
        yield physics_note(HIGH, TIMES, "elements.csv", why, mend)
