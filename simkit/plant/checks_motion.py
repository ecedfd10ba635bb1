"""Checks of the machine's motion, of pitches and travels, and of strengths, nozzles and gas pressures."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from simkit.base.messages import Finding
from simkit.plant.checking import reads
from simkit.plant.drafts import Draft, note

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


@reads(settings=True)
def motion_complete(draft: Draft) -> Iterator[Finding]:
    """No key of the motion stands without those that give it a meaning."""
    motion = draft.settings.machine.motion
    for key, others in GOES_WITH:
        if getattr(motion, key) is not None and all(getattr(motion, other) is None for other in others):
            why = f"stands without {' or '.join(others)}, so that nothing can be worked out from it"
            mend = f"Give {' or '.join(f'{SECTION}.{other}' for other in others)}, or leave both out"
            yield Finding("plant.toml", why, mend, column=f"{SECTION}.{key}", value=f"{getattr(motion, key):g}")


@reads("programs")
def travels_on_the_sheet(draft: Draft) -> Iterator[Finding]:
    """Neither hits nor contours are on average farther apart than the corners of the sheet."""
    for row, line in draft.sheets["programs"]:
        corners_mm = math.hypot(row.sheet_length_mm, row.sheet_width_mm)
        for column in ("mean_pitch_mm", "rapid_mm"):
            value = getattr(row, column)
            if value is not None and value > corners_mm:
                why = f"is longer than the sheet from corner to corner, {corners_mm:.0f} mm"
                mend = "Give the mean distance on one sheet, in mm"
                yield Finding("programs.csv", why, mend, row=line, column=column, value=f"{value:g}")


@reads("materials")
def strengths(draft: Draft) -> Iterator[Finding]:
    """Sheet metal shears below its tensile strength."""
    for row, line in draft.sheets["materials"]:
        shear, tensile = row.shear_strength_mpa, row.tensile_mpa
        if shear is not None and tensile is not None and shear > tensile:
            why = f"is above the tensile strength, {tensile:g} MPa; it is usually 0.6 to 0.8 of it"
            mend = "Correct one of the two; they may have changed places"
            yield Finding("materials.csv", why, mend, row=line, column="shear_strength_mpa", value=f"{shear:g}")


@reads("materials")
def nozzles(draft: Draft) -> Iterator[Finding]:
    """A flow of gas needs both the opening and the pressure."""
    for row, line in draft.sheets["materials"]:
        yield from _alone(row, line, "nozzle_mm", "gas_pressure_bar")
        yield from _alone(row, line, "gas_pressure_bar", "nozzle_mm")


def _alone(row: Any, line: int, column: str, other: str) -> Iterator[Finding]:
    if getattr(row, column) is not None and getattr(row, other) is None:
        why = f"stands without {other}, so that no flow of gas can be worked out"
        mend = f"Give {other} as well; until then machine.gas_m3_per_h counts"
        yield note("materials.csv", why, mend, row=line, column=column, value=f"{getattr(row, column):g}")
