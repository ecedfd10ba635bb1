"""Checks that thickness, clearance and cutting speed of a material fit together, and its metal at other thicknesses.

A note, never an error: the plant's own value comes first, and prints differ two to one.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Any

from simkit.base.messages import Finding
from simkit.base.units import MM_PER_M, SECONDS_PER_MINUTE, W_PER_KW
from simkit.plant.checking import reads
from simkit.plant.drafts import Draft, note

CLEARANCE_SHARES = (0.09, 0.30)
"""Total die clearance over thickness: all that was seen in print, Groover ch. 20 (0.09 to 0.15) and tooling charts."""
SEVERANCE_J_MM2 = (4.0, 30.0)
"""Laser power over thickness and speed: Steen and Mazumder, table after Powell, from memory (4 to 30 by metal)."""
SPEED_SLACK = 3.0
"""An effective speed holds corners and short contours, other lasers are faster: the range is stretched by this factor
both ways. Common practice, no source."""


@reads("materials")
def clearance_fits(draft: Draft) -> Iterator[Finding]:
    """The clearance is a usual share of the thickness; a material with a handbook metal is judged by that metal."""
    low, high = CLEARANCE_SHARES
    for row, line in draft.sheets["materials"]:
        share = row.clearance_mm / row.thickness_mm
        if row.clearance_mm > 0 and not row.handbook and not low <= share <= high:
            why = (
                f"{row.material_id}: {row.clearance_mm:g} mm is {100 * share:.3g} % of the thickness; printed advice "
                f"for any metal is {100 * low:g} to {100 * high:g} % in total, {_span(row.thickness_mm, low, high)} mm"
            )
            mend = "Correct the clearance (total, both sides together) or the thickness, or leave it if it works"
            yield note("materials.csv", why, mend, row=line, column="clearance_mm", value=f"{row.clearance_mm:g}")


def _span(thickness_mm: float, low: float, high: float) -> str:
    return f"{low * thickness_mm:.2g} to {high * thickness_mm:.2g}"


@reads("materials", "programs", settings=True)
def speed_fits(draft: Draft) -> Iterator[Finding]:
    """The cutting speed fits power and thickness; a material with a handbook metal is judged by that metal."""
    power_w = draft.settings.machine.laser_power_kw * W_PER_KW
    cut = {row.material_id for row in draft.sheets["programs"].rows if row.cut_length_mm > 0}
    low, high = SEVERANCE_J_MM2[0] / SPEED_SLACK, SEVERANCE_J_MM2[1] * SPEED_SLACK
    for row, line in draft.sheets["materials"]:
        spent = power_w / (row.thickness_mm * _mm_s(row.cutting_speed_m_min))
        if power_w and row.material_id in cut and not row.handbook and not low <= spent <= high:
            speeds = [power_w / (row.thickness_mm * energy) * _M_MIN_PER_MM_S for energy in (high, low)]
            why = (
                f"{row.material_id}: {row.thickness_mm:g} mm at {row.cutting_speed_m_min:g} m/min with "
                f"{power_w / W_PER_KW:g} kW spends {spent:.3g} J/mm2; usual are {low:.2g} to {high:.2g}, so "
                f"{speeds[0]:.2g} to {speeds[1]:.2g} m/min (table after Powell, from memory, times {SPEED_SLACK:g})"
            )
            mend = "Correct the speed, the thickness or machine.laser_power_kw; compare with a timed sheet"
            yield note("materials.csv", why, mend, row=line, column="cutting_speed_m_min",
                       value=f"{row.cutting_speed_m_min:g}")  # fmt: skip


_M_MIN_PER_MM_S = SECONDS_PER_MINUTE / MM_PER_M


def _mm_s(speed_m_min: float) -> float:
    return speed_m_min / _M_MIN_PER_MM_S


@reads("materials")
def thicker_is_slower(draft: Draft) -> Iterator[Finding]:
    """Of one metal with one gas the thicker sheet is cut no faster and needs no smaller clearance."""
    groups: dict[tuple[str, str], list[tuple[Any, int]]] = {}
    for row, line in draft.sheets["materials"]:
        groups.setdefault((row.metal, row.gas), []).append((row, line))
    for rows in groups.values():
        rows.sort(key=lambda pair: pair[0].thickness_mm)
        for (thin, _), (thick, line) in pairwise(rows):
            if thin.thickness_mm < thick.thickness_mm:
                yield from _out_of_order(thin, thick, line)


def _out_of_order(thin: Any, thick: Any, line: int) -> Iterator[Finding]:
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
        yield note("materials.csv", why, mend, row=line, column="cutting_speed_m_min",
                   value=f"{thick.cutting_speed_m_min:g}")  # fmt: skip
    if 0 < thick.clearance_mm < thin.clearance_mm:
        expected = thin.clearance_mm * thick.thickness_mm / thin.thickness_mm
        why = (
            f"the thicker sheet has the smaller clearance ({both} with {thin.clearance_mm:g} mm); at the share of the "
            f"thinner one it would be about {expected:.2g} mm"
        )
        yield note("materials.csv", why, mend, row=line, column="clearance_mm", value=f"{thick.clearance_mm:g}")
