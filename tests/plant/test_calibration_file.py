"""The calibration file: it counts while all that it rests on is as it was, and never by hand."""

from __future__ import annotations

from pathlib import Path

import pytest

from simkit.plant.calibration_file import (
    CALIBRATION_FILE,
    Calibration,
    Check,
    Multiplier,
    calibration_text,
    foundation,
    read_calibration,
)
from simkit.plant.hashes import inputs_sha256
from simkit.plant.options import Edit
from simkit.plant.plant import PlantInputs
from simkit.plant.reading import check_plant, read_plant
from tests.small_plant import write_small_plant

HISTORY = "order_id,machine,started,finished,sheets,scrap\n1001,M-1,2026-01-05 06:10,2026-01-05 07:00,3,0\n"


def a_check(*, holds: bool = True, use: str = "validate", week: int = 0) -> Check:
    return Check(run="replay", use=use, week=week, measure="sheets", unit="sheets", observed=100, simulated=103, low=99,
                 high=107, difference=0.03, tolerance=0.05, holds=holds)  # fmt: skip


def a_factor(value: float = 1.1, wanted: float = 1.1, note: str = "") -> Multiplier:
    return Multiplier(name="stops", value=value, low=1.0, high=1.2, wanted=wanted, note=note)


def a_calibration(plant: PlantInputs, folder: Path, **more: object) -> Calibration:
    edits = (Edit(path="elements[load|].typical", op="multiply", value=1.25),)
    values = {"checks": (a_check(),), "multipliers": (a_factor(),), "edits": edits, **more}
    return Calibration(seed=1, replications=4, rests_on=foundation(plant, folder), **values).sealed()


def put(folder: Path, calibration: Calibration) -> None:
    (folder / CALIBRATION_FILE).write_text(calibration_text(calibration), encoding="utf-8")


def load_of(plant: PlantInputs) -> float:
    return next(row.typical for row in plant.elements if row.element == "load")


def lapsed(folder: Path) -> str:
    """What is said of a calibration that does not count; the plant is then read without it."""
    plant, findings = check_plant(folder)
    assert plant is not None
    assert plant.calibration is None
    told = [str(finding) for finding in findings if finding.place == CALIBRATION_FILE]
    assert len(told) == 1
    return told[0]


def replace(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = write_small_plant(tmp_path / "plant")
    (made / "history.csv").write_text(HISTORY, encoding="utf-8")
    put(made, a_calibration(read_plant(made), made))
    return made


def test_a_plant_is_read_by_its_calibration(folder, tmp_path):
    first = load_of(read_plant(write_small_plant(tmp_path / "other")))
    plant = read_plant(folder)
    assert plant.calibration is not None
    assert plant.calibration.calibrated
    assert load_of(plant) == pytest.approx(1.25 * first)


def test_a_calibration_is_read_back_as_it_was_written(folder):
    found, problem = read_calibration(folder)
    assert problem == ""
    assert found == read_plant(folder).calibration


@pytest.mark.parametrize(
    ("name", "old", "new", "said"),
    [
        (
            "elements.csv",
            "\nload,,load,min/sheet,loading,constant,",
            "\nload,,load,min/sheet,loading,constant,1",
            "elements",
        ),
        ("history.csv", ",3,0", ",4,0", "history"),
        ("plant.toml", "\nplaces = 3", "\nplaces = 4", "settings"),
    ],
)
def test_a_changed_input_ends_it(folder, name, old, new, said):
    replace(folder / name, old, new)
    assert f"what it rests on has changed: {said}" in lapsed(folder)


def test_a_log_that_comes_or_goes_ends_it(folder):
    (folder / "events.csv").write_text("time_utc,item,value\n", encoding="utf-8")
    assert "has changed: events" in lapsed(folder)


def test_prices_and_orders_outside_the_weeks_do_not_touch_it(folder):
    text = (folder / "plant.toml").read_text(encoding="utf-8")
    replace(folder / "plant.toml", "subcontract_per_h = 110", "subcontract_per_h = 99")
    lines = (folder / "orders.csv").read_text(encoding="utf-8").splitlines()
    last = lines[-1].replace("1006", "1007")
    (folder / "orders.csv").write_text("\n".join([*lines, last]) + "\n", encoding="utf-8")
    assert text != (folder / "plant.toml").read_text(encoding="utf-8")
    assert read_plant(folder).calibration is not None


def test_an_order_of_the_weeks_that_changes_ends_it(folder):
    lines = (folder / "orders.csv").read_text(encoding="utf-8").splitlines()
    assert lines[1].startswith("1001,")
    lines[1] = lines[1].replace(",3,", ",4,", 1)
    (folder / "orders.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    assert "has changed: orders" in lapsed(folder)


def test_a_verdict_that_is_typed_does_not_count(folder):
    plant = read_plant_raw(folder)
    put(folder, a_calibration(plant, folder, checks=(a_check(holds=False),)))
    assert "not calibrated: sheets 103 sheets for 100 observed" in lapsed(folder)
    replace(folder / CALIBRATION_FILE, "holds = false", "holds = true")
    assert "its content is not what simkit fit wrote" in lapsed(folder)


def read_plant_raw(folder: Path) -> PlantInputs:
    """The plant as its tables have it."""
    (folder / CALIBRATION_FILE).unlink()
    return read_plant(folder)


@pytest.mark.parametrize(
    ("more", "calibrated"),
    [
        ({}, True),
        ({"checks": ()}, False),
        ({"checks": (a_check(use="calibrate"),)}, False),
        ({"checks": (a_check(), a_check(holds=False, week=3))}, True),
        ({"multipliers": (a_factor(1.6, 2.4),)}, False),
        ({"multipliers": (a_factor(2.4, 2.4, note="counted anew"),)}, True),
    ],
)
def test_what_calibrated_means(folder, more, calibrated):
    assert a_calibration(read_plant_raw(folder), folder, **more).calibrated == calibrated


def test_the_hash_of_the_inputs_knows_it(folder):
    """A report that was made without it is stale with it, since it changes times."""
    before = inputs_sha256(folder)
    (folder / CALIBRATION_FILE).unlink()
    assert inputs_sha256(folder) != before


def test_a_broken_file_is_told(folder):
    (folder / CALIBRATION_FILE).write_text("seed = \n", encoding="utf-8")
    assert "the calibration counts no longer: is not valid TOML" in lapsed(folder)
