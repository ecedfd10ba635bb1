"""Tools of several machines: what is worth a note before somebody buys a magazine for each."""

from __future__ import annotations

import dataclasses

from simkit.plant.plant import PlantInputs
from simkit.plant.tables import MachineRow
from tests.plant.test_checks import said
from tests.small_plant import small_plant

PLACES = {"16": 20, "30": 20, "55": 20, "90": 20}


def cell(machines: int, copies: int) -> PlantInputs:
    plant = small_plant(magazine={"places": PLACES, "dies_per_place": dict.fromkeys(PLACES, 1)})
    return dataclasses.replace(
        plant,
        machines=tuple(MachineRow(machine_id=f"M-{row}") for row in range(machines)),
        tools=tuple(dataclasses.replace(tool, copies=copies) for tool in plant.tools),
    )


def notes(plant: PlantInputs) -> list[str]:
    return [text for text in said(plant, "note") if "keep a magazine each" in text]


def test_machines_whose_magazines_would_list_one_copy_twice_are_noted() -> None:
    (told,) = notes(cell(machines=2, copies=1))
    assert "2 machines keep a magazine each" in told
    assert notes(cell(machines=2, copies=2)) == []
    assert notes(cell(machines=1, copies=1)) == []
