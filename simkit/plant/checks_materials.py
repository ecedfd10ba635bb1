"""Check that clearance and cutting speed of a metal fit those at its other thicknesses: a note, never an error."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Any

from simkit.base.messages import Finding
from simkit.plant.checking import reads
from simkit.plant.drafts import Draft, note


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
