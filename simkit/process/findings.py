"""Physics findings: everything about a plant's tools, cutting, gas and lifts that stands out, as notes.

They look at the plant's own settings; what machines.csv overrides for a single machine is not looked at. Each defers to
local codes and to licensed or competent persons, and none stops a run.
"""

from __future__ import annotations

from simkit.plant.plant import PlantInputs
from simkit.process.lasernotes import gas_notes, speed_notes
from simkit.process.liftnotes import lift_notes
from simkit.process.physicsnote import PhysicsNote
from simkit.process.pressnotes import clearance_notes, narrow_notes, press_notes
from simkit.process.sheetnotes import sheet_notes


def physics_notes(plant: PlantInputs) -> tuple[PhysicsNote, ...]:
    """Every note with its level, topic and caution, what matters most first: the rows of a table in a report."""
    found = [
        *press_notes(plant), *narrow_notes(plant), *clearance_notes(plant), *speed_notes(plant), *gas_notes(plant),
        *lift_notes(plant), *sheet_notes(plant),
    ]  # fmt: skip
    return tuple(sorted(found, key=lambda note: note.rank))
