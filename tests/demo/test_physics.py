"""What physics says of the demo: at least one force and one lifting note, and the shop's own clearance practice."""

from __future__ import annotations

import dataclasses

import pytest

from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Program
from simkit.process.estimate import run_estimates
from simkit.process.findings import physics_notes
from simkit.process.motiontimes import motion_uses


def test_notes_of_the_demo(demo: PlantInputs) -> None:
    notes = physics_notes(demo)
    assert {note.finding.severity for note in notes} == {"note"}
    texts = [str(note.finding) for note in notes]
    # 25 rounds of 5 mm through 3 mm at 300 MPa: 25 x 15.708 x 3 x 0.3 = 353.4 kN, x 1.32 = 466.5 kN of 300 kN
    assert "353.4 kN punching, 466.5 kN with stripping and margin: 156 % of 300 kN, exceeds the capacity" in texts[0]
    assert any("parts broken out at the bench" in text and "lifting index above 1" in text for text in texts)
    shop = next(text for text in texts if "mild steel, MS-1.0, MS-1.5, MS-2.0, MS-3.0" in text)
    assert "20 % total (10 % per side) of the thickness is above 12 to 15 % total" in shop


def test_the_demo_has_rows_so_that_its_runs_take_nothing_from_the_motion(demo: PlantInputs) -> None:
    assert motion_uses(demo) == ()


def test_every_program_has_an_estimate_by_the_motion(demo: PlantInputs) -> None:
    for row in run_estimates(demo):
        silent = {part.element for part in row.elements if part.motion_s is None}
        assert silent <= {"change of mode", "metre of cut"}


def test_motion_alone_can_carry_the_demo(demo: PlantInputs) -> None:
    """Without its rows for hits, index, forming, re-clamping and contours, runs take all of them from the motion."""
    rows = tuple(
        row for row in demo.elements if row.element not in ("hit", "form_hit", "index", "reposition", "contour_move")
    )
    names = {use.name for use in motion_uses(dataclasses.replace(demo, elements=rows))}
    assert names == {"motion_hit", "motion_forming_hit", "motion_tool", "motion_reposition", "motion_contour"}


@pytest.mark.parametrize("column", ["mean_pitch_mm", "rapid_mm"])
def test_travels_lie_on_the_sheet(demo: PlantInputs, column: str) -> None:
    def of(program: Program) -> float:
        return float(getattr(program, column))

    assert all(0 < of(program) < program.sheet_length_mm for program in demo.programs)
