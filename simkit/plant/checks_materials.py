"""Checks of the machine's motion, and of a metal at its thicknesses."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from simkit.base.messages import Finding
from simkit.plant.check_register import reads, row_note
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Material

SECTION = "machine.motion"

GOES_WITH = (
    ("x_speed_m_s", ("x_accel_m_s2",)),
    ("x_accel_m_s2", ("x_speed_m_s",)),
    ("y_speed_m_s", ("x_speed_m_s",)),
    ("y_accel_m_s2", ("x_accel_m_s2",)),
    ("jerk_m_s3", ("x_speed_m_s",)),
    ("ram_s", ("x_speed_m_s",)),
    ("forming_ram_s", ("x_speed_m_s",)),
    ("clamping_s", ("x_speed_m_s",)),
    ("rapid_m_s", ("rapid_m_s2", "x_accel_m_s2")),
    ("rapid_m_s2", ("rapid_m_s",)),
)
"""A key of the motion, and the keys of which one at least must stand beside it."""


@reads("settings")
def motion_complete(plant: PlantInputs) -> Iterator[Finding]:
    """No key of the motion stands without those that give it a meaning."""
    motion = plant.settings.machine.motion
    for key, others in GOES_WITH:
        if getattr(motion, key) is not None and all(getattr(motion, other) is None for other in others):
            why = f"stands without {' or '.join(others)}, so that nothing can be worked out from it"
            mend = f"Give {' or '.join(f'{SECTION}.{other}' for other in others)}, or leave both out"
            yield Finding("plant.toml", why, mend, column=f"{SECTION}.{key}", value=f"{getattr(motion, key):g}")


@reads("materials")
def thicker_is_slower(plant: PlantInputs) -> Iterator[Finding]:
    """Of one metal with one gas the thicker sheet is cut no faster and needs no smaller clearance."""
    groups: dict[tuple[str, str], list[Material]] = {}
    for row in plant.materials:
        groups.setdefault((row.metal, row.gas), []).append(row)
    for rows in groups.values():
        for thin, thick in pairwise(sorted(rows, key=lambda row: row.thickness_mm)):
            if thin.thickness_mm < thick.thickness_mm:
                yield from _out_of_order(plant, thin, thick)


def _out_of_order(plant: PlantInputs, thin: Material, thick: Material) -> Iterator[Finding]:
    both = f"{thick.material_id} of {thick.thickness_mm:g} mm, {thin.material_id} of {thin.thickness_mm:g} mm"
    mend = (
        "Correct one of the two, or its thickness: when that changes, speed, pierce time and clearance change with it"
    )
    if thick.cutting_speed_m_min > thin.cutting_speed_m_min:
        expected = thin.cutting_speed_m_min * thin.thickness_mm / thick.thickness_mm
        why = (
            f"the thicker sheet is cut faster ({both} at {thin.cutting_speed_m_min:g} m/min); at the energy of the "
            f"thinner one it would be about {expected:.2g} m/min"
        )
        yield row_note(plant, thick, "cutting_speed_m_min", why, mend)
    if 0 < thick.clearance_mm < thin.clearance_mm:
        expected = thin.clearance_mm * thick.thickness_mm / thin.thickness_mm
        why = (
            f"the thicker sheet has the smaller clearance ({both} with {thin.clearance_mm:g} mm); at the share of the "
            f"thinner one it would be about {expected:.2g} mm"
        )
        yield row_note(plant, thick, "clearance_mm", why, mend)
