"""Clearance and speed of a metal at its thicknesses: what does not fit together is a note."""

from __future__ import annotations

import dataclasses

from simkit.plant.checks_materials import thicker_is_slower
from simkit.plant.plant import Plant
from tests.small_plant import small_plant


def said(plant: Plant) -> list[str]:
    """What the check notes."""
    found = list(thicker_is_slower(plant))
    assert {finding.severity for finding in found} <= {"note"}
    return [str(finding) for finding in found]


def only(plant: Plant) -> str:
    (message,) = said(plant)
    return message


def test_a_thicker_sheet_of_the_same_metal_is_cut_no_faster_and_has_no_smaller_clearance() -> None:
    first, *rest = small_plant().materials
    second = dataclasses.replace(first, material_id="MS-2.0", thickness_mm=2.0, clearance_mm=0.4, cutting_speed_m_min=8)
    assert said(small_plant(materials=(first, second, *rest))) == []
    fast = dataclasses.replace(second, cutting_speed_m_min=12.0)
    assert "at the energy of the thinner one it would be about 8.2 m/min" in only(
        small_plant(materials=(fast, first, *rest))
    )
    tight = dataclasses.replace(second, clearance_mm=0.2)
    assert "it would be about 0.4 mm" in only(small_plant(materials=(first, tight, *rest)))
    other = dataclasses.replace(fast, gas="oxygen")
    assert said(small_plant(materials=(first, other, *rest))) == []
