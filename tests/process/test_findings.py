"""Physics findings: each with a plant that has it and a twin that has not, by hand; never an error, never "safe"."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

import pytest

from simkit.plant.plant import PlantInputs
from simkit.plant.reading import read_plant
from simkit.plant.tables import Element
from simkit.process.findings import physics_notes
from simkit.process.physicsnote import HIGH, LEVELS, LOW, MIDDLE, PhysicsNote
from tests.small_plant import small_elements, small_plant

PUBLISHED = Path(__file__).parents[1] / "published" / "plants"


def without_loading() -> tuple[Element, ...]:
    """The elements of the small plant, sheets loaded by the machine."""
    return tuple(
        dataclasses.replace(row, task_of="machine") if row.state == "loading" else row for row in small_elements()
    )


def quiet(**changes: Any) -> PlantInputs:
    """The small plant, whose sheets nobody lifts: it has no physics findings."""
    return small_plant(**{"elements": without_loading(), **changes})


def with_rows(plant: PlantInputs, table: str, **columns: Any) -> PlantInputs:
    """The plant with columns of the first row of a table changed."""
    first, *rest = getattr(plant, table)
    return dataclasses.replace(plant, **{table: (dataclasses.replace(first, **columns), *rest)})


def notes(plant: PlantInputs, topic: str) -> list[PhysicsNote]:
    return [note for note in physics_notes(plant) if note.topic == topic]


def only(plant: PlantInputs, topic: str) -> PhysicsNote:
    (note,) = notes(plant, topic)
    return note


def test_a_plant_without_findings() -> None:
    assert physics_notes(quiet()) == ()


# ---- press ----


@pytest.mark.parametrize(("capacity_kn", "level"), [(65.0, HIGH), (66.0, MIDDLE), (81.0, MIDDLE), (82.0, "")])
def test_press_force(capacity_kn: float, level: str) -> None:
    """5 x 50 mm through 1.5 mm at 300 MPa: 110 x 1.5 x 0.3 = 49.5 kN, x 1.1 x 1.2 = 65.34 kN; 80 % of 81.7 kN."""
    found = notes(quiet(machine={"press_capacity_kn": capacity_kn}), "press force")
    assert [note.level for note in found] == ([level] if level else [])
    if level:
        text = str(found[0].finding)
        assert text.startswith(
            "tools.csv TL-005: rectangle 5x50 (rectangle 50 x 5 mm) through 1.5 mm MS-1.5 with 300 MPa"
        )
        assert "49.5 kN punching, 65.3 kN with stripping and margin" in text
        assert "programs P-1" in text
        # 40 % of 49.5 kN
        assert ("about 20 kN punching with 1.5 mm of it" in text) == (level == HIGH)


def test_margin_and_stripping_are_settings() -> None:
    tight = {"press_capacity_kn": 60.0, "stripping_share": 0.0, "force_margin": 1.0}
    assert only(quiet(machine=tight), "press force").level == MIDDLE
    assert only(quiet(machine={**tight, "force_margin": 1.25}), "press force").level == HIGH


def test_a_tool_that_no_program_uses_has_no_force() -> None:
    plant = quiet(machine={"press_capacity_kn": 60.0})
    uses = tuple(row for row in plant.program_tools if row.tool_id != "TL-005")
    assert notes(dataclasses.replace(plant, program_tools=uses), "press force") == []


# ---- clearance and narrow figures ----


@pytest.mark.parametrize(
    ("clearance_mm", "level", "words"),
    [(0.3, LOW, "20 % total (10 % per side) of the thickness is above 12 to 15 % total (6 to 7.5 % per side)"),
     (0.165, LOW, "11 % total (5.5 % per side) of the thickness is below 12 to 15 % total"),
     (0.6, MIDDLE, "40 % total (20 % per side) of the thickness is outside all printed advice seen, 10 to 30 % total"),
     (0.2, "", ""), (0.0, "", "")],
)  # fmt: skip
def test_die_clearance(clearance_mm: float, level: str, words: str) -> None:
    plant = with_rows(quiet(), "materials", handbook="mild steel", clearance_mm=clearance_mm)
    found = notes(plant, "punching tools")
    assert [note.level for note in found] == ([level] if level else [])
    assert all(words in str(note.finding) for note in found)


def test_a_metal_without_its_own_advice_is_held_against_the_advice_for_any() -> None:
    # for any metal: 7 to 12 % per side, and 10 to 20 % total
    plant = with_rows(quiet(), "materials", handbook="copper", density_kg_m3=8940.0, clearance_mm=0.45)
    assert "30 % total (15 % per side) of the thickness is outside all printed advice seen, 10 to 24 % total" in str(
        only(plant, "punching tools").finding
    )
    assert notes(with_rows(plant, "materials", clearance_mm=0.3), "punching tools") == []


def test_without_a_handbook_metal_all_that_is_in_print_counts() -> None:
    """9 to 30 % of 1.5 mm: 0.135 to 0.45 mm."""
    for clearance_mm, noted in ((0.134, 1), (0.135, 0), (0.45, 0), (0.456, 1)):
        plant = with_rows(quiet(), "materials", clearance_mm=clearance_mm)
        assert len(notes(plant, "punching tools")) == noted
    assert "no handbook metal, MS-1.5: die clearance 30.4 % total (15.2 % per side) of the thickness is outside" in str(
        only(plant, "punching tools").finding
    )


def test_a_figure_narrower_than_the_sheet() -> None:
    plant = with_rows(quiet(), "materials", thickness_mm=5.5, clearance_mm=1.0)
    assert [note.finding.place for note in notes(plant, "punching tools")] == ["tools.csv TL-005"]
    assert "is 5 mm wide and cuts 5.5 mm MS-1.5" in str(only(plant, "punching tools").finding)
    assert notes(with_rows(quiet(), "materials", thickness_mm=5.0, clearance_mm=1.0), "punching tools") == []


# ---- the sheet ----


@pytest.mark.parametrize(
    ("columns", "words"),
    [({"shear_strength_mpa": 440.0}, "440 MPa; printed for mild steel are 276 to 345 MPa"),
     ({"shear_strength_mpa": 200.0}, "200 MPa; printed for mild steel"),
     ({"density_kg_m3": 8040.0}, "8040 kg/m3; printed for mild steel are 7850 to 7850 kg/m3"),
     ({"shear_strength_mpa": 430.0, "density_kg_m3": 8000.0}, "")],
)  # fmt: skip
def test_strength_and_density_against_print(columns: dict[str, float], words: str) -> None:
    """A quarter more than 345 is 431, a quarter less than 276 is 221; 2 % of 7850 are 157."""
    plant = with_rows(quiet(), "materials", handbook="mild steel", clearance_mm=0.2, **columns)
    found = notes(plant, "punching tools")
    assert len(found) == bool(words)
    assert all(words in str(note.finding) for note in found)
    assert notes(with_rows(plant, "materials", handbook=""), "punching tools") == []


def test_slugs_heavier_than_what_the_parts_leave() -> None:
    """P-1 leaves 14.72 - 6 x 1.84 = 3.68 kg; 11.775 kg/m2 x 250 mm2 is 2.94 g a hit of TL-005."""
    plant = quiet()
    first = next(row for row in plant.program_tools if row.tool_id == "TL-005")

    def hits(count: int) -> PlantInputs:
        rows = tuple(dataclasses.replace(r, hits_per_sheet=count) if r is first else r for r in plant.program_tools)
        return dataclasses.replace(plant, program_tools=rows)

    assert notes(hits(1300), "punching tools") == []
    text = str(only(hits(1400), "punching tools").finding)
    assert "the slugs of P-1 weigh more than what the parts leave" in text
    assert "3.7 kg left by the parts" in text


# ---- laser and gas ----


@pytest.mark.parametrize(
    ("speed_m_min", "level"), [(11.0, ""), (400.0, HIGH), (150.0, MIDDLE), (100.0, LOW), (2.0, LOW)]
)
def test_cutting_speed(speed_m_min: float, level: str) -> None:
    """4 kW through 1.5 mm: 11 m/min are 14.5 J/mm2, published 7 to 22; the melt floor of 0.78 J/mm2 is 204 m/min."""
    plant = with_rows(quiet(), "materials", handbook="mild steel", clearance_mm=0.2, cutting_speed_m_min=speed_m_min)
    assert [note.level for note in notes(plant, "laser cutting")] == ([level] if level else [])
    assert notes(quiet(machine={"laser_power_kw": 0.0}, materials=plant.materials), "laser cutting") == []


def test_a_speed_of_no_handbook_metal_is_held_against_all_metals() -> None:
    """4 kW through 1.5 mm at 1.33 and 90 J/mm2: 2000 and 29.6 mm/s, 120 and 1.8 m/min."""
    for speed in (119, 1.8, 121, 1.7):
        found = notes(with_rows(quiet(), "materials", cutting_speed_m_min=speed), "laser cutting")
        assert len(found) == (speed in (121, 1.7))
        assert all("usual are 1.3 to 90, so 1.8 to 1.2e+02 m/min" in str(note.finding) for note in found)


def test_gas_of_the_nozzles_against_the_plants_figure() -> None:
    """1.5 mm at 12 bar: 15.376 m3/h (published), x 0.80 to 0.95: 12.3 to 14.6; 25 % more and less are 9.2 to 18.3."""
    nozzle = {"nozzle_mm": 1.5, "gas_pressure_bar": 12.0}
    note = only(with_rows(quiet(), "materials", **nozzle), "assist gas")
    assert note.level == LOW
    assert "38 m3/h of gas while cutting; the nozzles and pressures of MS-1.5 let 12.3 to 14.6 m3/h through" in str(
        note.finding
    )
    for figure, noted in ((9.1, 1), (9.3, 0), (18.2, 0), (18.4, 1)):
        plant = with_rows(quiet(machine={"gas_m3_per_h": figure}), "materials", **nozzle)
        assert len(notes(plant, "assist gas")) == noted


# ---- lifting ----


@pytest.mark.parametrize(
    ("one_person_kg", "lifter", "level", "words"),
    [(15.0, False, "", ""), (14.0, False, MIDDLE, "two persons lift them"), (14.0, True, LOW, "the lifter takes them"),
     (7.0, False, HIGH, "more than twice the limit of one person, and there is no lifter")],
)  # fmt: skip
def test_heavy_sheets(one_person_kg: float, lifter: bool, level: str, words: str) -> None:
    """A sheet of P-1 weighs 1.25 x 1 x 0.0015 x 7850 = 14.72 kg; P-2 of aluminium 5.0 kg."""
    plant = small_plant(machine={"one_person_kg": one_person_kg, "lifter": lifter})
    heavy = [note for note in notes(plant, "lifting") if "weigh more than" in note.finding.why]
    assert [note.level for note in heavy] == ([level] if level else [])
    if level:
        assert words in heavy[0].finding.why
        assert "11 sheets of the book, of 1 programs (P-1)" in heavy[0].finding.why


@pytest.mark.parametrize(("one_person_kg", "noted"), [(25.0, 0), (26.0, 1)])
def test_a_limit_above_the_reference_mass(one_person_kg: float, noted: int) -> None:
    found = notes(quiet(machine={"one_person_kg": one_person_kg}), "lifting")
    assert len(found) == noted
    assert all(
        "one person lifts up to 26 kg; the reference mass of ISO 11228-1 is 25 kg" in str(n.finding) for n in found
    )


def test_sheets_that_nobody_lifts_are_not_noted() -> None:
    assert notes(quiet(machine={"one_person_kg": 7.0}), "lifting") == []


def test_lifting_index_of_parts() -> None:
    """Parts of 500 x 310 mm: 20 + 15.5 = 35.5 cm, so HM 25 / 35.5 = 0.7042; see the limit by hand below."""
    plant = with_rows(quiet(), "program_parts", mass_kg=2.0)
    assert notes(plant, "lifting") == []
    note = only(with_rows(quiet(), "program_parts", mass_kg=14.0, per_sheet=1), "lifting")
    # VM 0.955 and 0.925, DM 0.82 + 4.5 / 40, AM 0.856, FM 60 / 13.5 a minute: 0.406, CM 0.9; the lower VM counts
    limit = 23 * (25 / 35.5) * 0.925 * (0.82 + 4.5 / 40) * 0.856 * (0.45 - 0.1 * (60 / 13.5 - 4)) * 0.9
    assert f"highest {14 / limit:.1f}, LOCK-A of P-1 with 14.0 kg against a recommended {limit:.1f} kg" in str(
        note.finding
    )
    assert note.level == MIDDLE
    assert "kg, above 3.0: highly stressful for many workers" in str(note.finding)
    light = only(with_rows(quiet(), "program_parts", mass_kg=5.0, per_sheet=1), "lifting")
    assert light.level == LOW
    assert "kg, above 1.0: the task asks for more than the recommended weight limit" in str(light.finding)


def test_a_part_out_of_reach_has_no_limit_and_a_heavy_one_no_single_person() -> None:
    far = with_rows(quiet(), "program_parts", length_mm=1000.0, width_mm=900.0, mass_kg=9.0)
    assert "for 1 of 2 kinds the lifting equation gives no limit" in str(only(far, "lifting").finding)
    heavy = with_rows(quiet(), "program_parts", mass_kg=26.0)
    assert "1 kinds of parts broken out at the bench weigh more than 25 kg" in str(only(heavy, "lifting").finding)


def test_lifts_say_what_the_equation_leaves_out_and_nothing_is_called_safe() -> None:
    for note in physics_notes(small_plant(machine={"press_capacity_kn": 30.0})):
        assert note.finding.severity == "note"
        assert "is safe" not in str(note.finding)
    note = only(with_rows(quiet(), "program_parts", mass_kg=12.0), "lifting")
    assert "are outside the equation" in str(note.finding)


# ---- order, and every plant ----


def test_what_matters_most_comes_first() -> None:
    plant = with_rows(small_plant(machine={"press_capacity_kn": 30.0}), "materials", handbook="mild steel")
    levels = [LEVELS.index(note.level) for note in physics_notes(plant)]
    assert levels == sorted(levels)
    assert len(set(levels)) == 3


@pytest.mark.parametrize("folder", sorted(PUBLISHED.iterdir()), ids=lambda folder: folder.name)
def test_textbook_plants_are_read_without_complaint(folder: Path) -> None:
    found = physics_notes(read_plant(folder))
    assert {note.finding.severity for note in found} <= {"note"}
