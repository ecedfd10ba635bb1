"""Thickness, clearance and speed of a material: what does not fit together is a note with the usual values."""

from __future__ import annotations

import dataclasses
from typing import Any

from simkit.plant.checks_materials import clearance_fits, speed_fits, thicker_is_slower
from simkit.plant.drafts import Draft
from simkit.plant.plant import Plant
from tests.small_plant import small_plant


def said(plant: Plant) -> list[str]:
    """What the checks of this file note."""
    draft = Draft.of(plant)
    found = [*clearance_fits(draft), *speed_fits(draft), *thicker_is_slower(draft)]
    assert {finding.severity for finding in found} <= {"note"}
    return [str(finding) for finding in found]


def only(plant: Plant) -> str:
    (message,) = said(plant)
    return message


def steel(**columns: Any) -> Plant:
    """The small plant with columns of its steel (1.5 mm, 0.3 mm clearance, 11 m/min, 4 kW) changed."""
    first, *rest = small_plant().materials
    return small_plant(materials=(dataclasses.replace(first, **columns), *rest))


def test_a_clearance_outside_all_print_is_noted_with_the_usual_one() -> None:
    """9 to 30 % of 1.5 mm: 0.135 to 0.45 mm."""
    assert said(steel(clearance_mm=0.135)) == said(steel(clearance_mm=0.45)) == []
    assert "MS-1.5: 0.5 mm is 33.3 % of the thickness" in only(steel(clearance_mm=0.5))
    assert "9 to 30 % in total, 0.14 to 0.45 mm" in only(steel(clearance_mm=0.012))
    assert said(steel(clearance_mm=0.5, handbook="mild steel")) == []
    assert said(steel(clearance_mm=0.0)) == []


def test_a_speed_that_fits_neither_power_nor_thickness_is_noted_with_the_usual_one() -> None:
    """4 kW through 1.5 mm at 1.33 and 90 J/mm2: 2000 and 29.6 mm/s, 120 and 1.8 m/min."""
    assert said(steel(cutting_speed_m_min=119)) == said(steel(cutting_speed_m_min=1.8)) == []
    for speed in (121, 1.7):
        assert "usual are 1.3 to 90, so 1.8 to 1.2e+02 m/min" in only(steel(cutting_speed_m_min=speed))
    assert said(small_plant(machine={"laser_power_kw": 0.0})) == []


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
