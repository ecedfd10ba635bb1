"""Motion of the machine, pitches and materials: what is refused or noted, and that none of it is required."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

from simkit.plant.checks_materials import thicker_is_slower
from simkit.plant.plant import PlantInputs
from simkit.plant.scenarios import make_scenario
from simkit.plant.settings import MachineSettings
from simkit.plant.tables import Material
from simkit.process.punching import MARGIN_FACTOR, STRIPPING_SHARE
from tests.plant.conftest import Folder
from tests.plant.test_checks import only, said
from tests.small_plant import small_plant

AXIS = {"x_speed_m_s": 1.2, "x_accel_m_s2": 6.0}


def with_motion(**motion: float) -> PlantInputs:
    return small_plant(machine={"motion": motion})


def with_program(**columns: float) -> PlantInputs:
    plant = small_plant()
    return dataclasses.replace(plant, programs=(dataclasses.replace(plant.programs[0], **columns), plant.programs[1]))


def with_material(**columns: Any) -> PlantInputs:
    plant = small_plant()
    return dataclasses.replace(
        plant, materials=(dataclasses.replace(plant.materials[0], **columns), plant.materials[1])
    )


def test_nothing_is_required_and_a_whole_motion_is_sound() -> None:
    assert said(small_plant()) == []
    assert said(with_motion(**AXIS, ram_s=0.1, clamping_s=4, turret_step_s=0.2, rapid_m_s=1.2)) == []


@pytest.mark.parametrize(
    ("motion", "expected"),
    [({"x_speed_m_s": 1.2}, 'machine.motion.x_speed_m_s "1.2": stands without x_accel_m_s2'),
     ({"x_accel_m_s2": 6.0}, "stands without x_speed_m_s"),
     ({"ram_s": 0.1}, "stands without x_speed_m_s"),
     ({"rapid_m_s": 1.0}, "stands without rapid_m_s2 or x_accel_m_s2"),
     ({**AXIS, "rapid_m_s2": 5.0}, "stands without rapid_m_s")],
)  # fmt: skip
def test_half_a_motion_is_refused(motion: dict[str, float], expected: str) -> None:
    assert expected in only(with_motion(**motion))


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [("ram_s = 0.1", "ram_s = 0", "should be greater than 0"),
     ("ram_s = 0.1", "ram_s = 60", "should be less than or equal to 10"),
     ("x_speed_m_s = 1.2", "x_speed_m_s = 72", "should be less than or equal to 10"),
     ("settle_s = 0.0", "settle_s = -1", "should be greater than or equal to 0"),
     ("force_margin = 1.2", "force_margin = 0.9", "should be greater than or equal to 1"),
     ("stripping_share = 0.1", "stripping_share = 10", "10 means 1000 %; 0.1 is 10 %"),
     ("twist_deg = 45.0", "twist_deg = 180", "should be less than or equal to 135"),
     ("x_speed_m_s = 1.2", "x_sped_m_s = 1.2", "did you mean 'x_speed_m_s'?")],
)  # fmt: skip
def test_impossible_settings_are_refused(folder: Folder, old: str, new: str, expected: str) -> None:
    folder.change(
        "plant.toml", "[machine.motion]\n", "[machine.motion]\nx_speed_m_s = 1.2\nx_accel_m_s2 = 6\nram_s = 0.1\n"
    )
    assert folder.messages() == []
    folder.change("plant.toml", old, new)
    assert expected in folder.messages()[0]


@pytest.mark.parametrize("column", ["mean_pitch_mm", "rapid_mm"])
def test_travels_beyond_the_corners_of_the_sheet_are_refused(column: str) -> None:
    # 1250 x 1000 mm: corner to corner 1600.8 mm
    assert said(with_program(**{column: 1600.0})) == []
    assert f'{column} "1601": is longer than the sheet from corner to corner, 1601 mm' in only(
        with_program(**{column: 1601.0})
    )


def test_a_shear_strength_above_the_tensile_strength_is_refused() -> None:
    assert said(with_material(shear_strength_mpa=300.0, tensile_mpa=370.0)) == []
    assert "is above the tensile strength, 300 MPa" in only(with_material(shear_strength_mpa=370.0, tensile_mpa=300.0))


def test_a_pressure_without_a_nozzle_is_noted() -> None:
    assert "stands without nozzle_mm" in only(with_material(gas_pressure_bar=12.0), "note")
    assert said(with_material(gas_pressure_bar=12.0, nozzle_mm=1.5)) == []


def test_a_thicker_sheet_of_the_same_metal_is_cut_no_faster_and_has_no_smaller_clearance() -> None:
    first, *rest = small_plant().materials
    second = dataclasses.replace(first, material_id="MS-2.0", thickness_mm=2.0, clearance_mm=0.4, cutting_speed_m_min=8)

    def noted(*materials: Material) -> str:
        found = list(thicker_is_slower(small_plant(materials=(*materials, *rest))))
        assert {finding.severity for finding in found} <= {"note"}
        return " ".join(map(str, found))

    assert noted(first, second) == ""
    fast = dataclasses.replace(second, cutting_speed_m_min=12.0)
    assert "at the energy of the thinner one it would be about 8.2 m/min" in noted(fast, first)
    assert "it would be about 0.4 mm" in noted(first, dataclasses.replace(second, clearance_mm=0.2))
    assert noted(first, dataclasses.replace(fast, gas="oxygen")) == ""


@pytest.mark.parametrize(
    ("line", "expected"),
    [("0.2,", 'nozzle_mm "0.2": is out of range, it must be 0.3 to 10 mm'),
     ("1.5,600", 'gas_pressure_bar "600": is out of range, it must be 0 to 60 bar gauge')],
)  # fmt: skip
def test_nozzles_out_of_range_are_refused(folder: Folder, line: str, expected: str) -> None:
    text = (folder.path / "materials.csv").read_text(encoding="utf-8").splitlines()
    text[1] = f"{text[1].rsplit(',', 3)[0]},{line},"
    (folder.path / "materials.csv").write_text("\n".join(text) + "\n", encoding="utf-8")
    assert expected in folder.messages()[0]


def test_motion_is_physics() -> None:
    assert make_scenario(small_plant()).physics_hash != make_scenario(with_motion(**AXIS)).physics_hash


def test_a_nested_setting_can_be_changed_by_its_path() -> None:
    plant = make_scenario(with_motion(**AXIS), (), ("plant.machine.motion.ram_s=0.2",)).plant
    assert plant.settings.machine.motion.ram_s == 0.2


def test_defaults_are_those_of_the_formulas() -> None:
    assert (MachineSettings().stripping_share, MachineSettings().force_margin) == (STRIPPING_SHARE, MARGIN_FACTOR)
