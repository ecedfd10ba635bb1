"""What holds for every demo plant: the frozen folder is what its program makes, and has no fault."""

from __future__ import annotations

import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

from simkit.analysis.option_sets import nights
from simkit.plant.calibration_file import CALIBRATION_FILE
from simkit.plant.plant import PlantInputs
from simkit.plant.reading import check_plant, read_plant
from simkit.plant.scenarios import make_scenario
from simkit.process.draws import make_draws
from tests.demo.conftest import ROOT

DATA = ROOT / "data"
GENERATORS = {"tarnholt": "make_demo", "quennow": "make_quennow", "uthmarsh": "make_uthmarsh"}
NOT_MADE_BY_THEM = {"observed.csv", "history.csv", "events.csv", CALIBRATION_FILE}
"""Made by the independent scripts of Tarnholt's observed weeks and log, and by ``simkit fit``."""

NEEDED = {
    "tarnholt": {"A4s": ("A4",), "A4p": ("A5b",), "C1": ("A1", "A5b", "A4"), "C5": ("A1", "A5b", "A8")},
    "quennow": {"C1": ("A5b", "A8", "N12")},
    "uthmarsh": {"C1": ("A1", "A5a", "A8", "N12")},
}
"""One way to have what an option needs, by plant."""

SHAPES = {
    # programs, tools, materials, fewest and most sheets an order
    "quennow": (24, 17, 2, 12, 40), "uthmarsh": (300, 70, 8, 1, 3),
}  # fmt: skip

every_plant = pytest.mark.parametrize("name", GENERATORS)


@cache
def plant_of(name: str) -> PlantInputs:
    return read_plant(DATA / name)


@every_plant
def test_the_folder_is_what_the_generator_makes(name: str, tmp_path: Path) -> None:
    made, frozen = tmp_path / "made", DATA / name
    program = DATA / f"{name}_source" / f"{GENERATORS[name]}.py"
    subprocess.run([sys.executable, str(program), "--into", str(made)], check=True, cwd=ROOT)
    written = {path.name for path in made.iterdir()}
    assert written == {path.name for path in frozen.iterdir()} - NOT_MADE_BY_THEM
    assert [one for one in sorted(written) if (made / one).read_bytes() != (frozen / one).read_bytes()] == []


@every_plant
def test_the_folder_has_no_fault(name: str) -> None:
    plant, findings = check_plant(DATA / name)
    assert plant is not None
    assert [str(finding) for finding in findings if finding.severity != "note"] == []


@every_plant
def test_prices_are_marked_as_invented_and_names_are_short(name: str) -> None:
    options = plant_of(name).options
    assert {option.price_source for option in options} == {"invented for the demo"}
    assert all(option.owner and option.note for option in options)
    assert all(1 <= len(option.short.split()) <= 3 for option in options)
    assert {option.kind for option in options} == {"low_capital", "bought", "calendar"}


@every_plant
def test_every_option_makes_a_scenario_that_differs_from_what_it_needs(name: str) -> None:
    plant = plant_of(name)
    for option in plant.options:
        needed = NEEDED[name].get(option.id, ())
        before, after = make_scenario(plant, needed), make_scenario(plant, (*needed, option.id))
        assert after.physics_hash != before.physics_hash, option.id


@every_plant
def test_the_same_option_costs_the_same_everywhere(name: str) -> None:
    """A device has one price in the demo; what is sized to its plant (the stack, the drawer) has its own."""
    for option in plant_of(name).options:
        other = plant_of("tarnholt").option_by_id.get(option.id)
        if other is not None and option.name == other.name and option.id != "A8":
            assert option.capital == other.capital, option.id


@pytest.mark.parametrize("name", SHAPES)
def test_the_book_has_the_shape_of_its_description(name: str) -> None:
    plant = plant_of(name)
    sheets = [order.sheets for order in plant.orders]
    found = (len(plant.programs), len(plant.tools), len(plant.materials), min(sheets), max(sheets))
    assert found == SHAPES[name]
    assert {order.program_id for order in plant.orders} <= {program.program_id for program in plant.programs}


@every_plant
def test_the_pages_find_a_night_of_every_plant(name: str) -> None:
    """With all that the night needs, be it bought or a way of working."""
    found = nights(plant_of(name), ())
    assert {"Night, whole-sheet stack", "Night, part removal"} <= set(found)
    assert all("N12" in options for options in found.values()) or name == "tarnholt"


def test_quennow_has_a_place_in_the_turret_for_every_tool_at_both_clearances() -> None:
    plant = plant_of("quennow")
    stands = {(row.item, row.clearance_mm) for row in plant.start if row.what == "turret"}
    wanted = {
        (tool.tool_id, clearance) for tool in plant.tools
        for clearance in ((None,) if tool.kind == "forming" else tool.clearances)
    }  # fmt: skip
    assert stands == wanted
    assert all(program.proven for program in plant.programs)


@every_plant
def test_draws_of_a_plant_are_the_same_each_time(name: str) -> None:
    plant = make_scenario(plant_of(name)).plant
    one, two = (make_draws(plant, plant.settings.run.seed, 0) for _ in range(2))
    assert one.book.released_s.tolist() == two.book.released_s.tolist()
    assert len({len(plant_of(other).orders) for other in GENERATORS}) == len(GENERATORS)
