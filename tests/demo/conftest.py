"""The demo plant, read once."""

from __future__ import annotations

from pathlib import Path

import pytest

from simkit.plant.plant import PlantInputs
from simkit.plant.reading import read_plant
from tests.demo.described import described

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "data" / "tarnholt"


@pytest.fixture(scope="session")
def demo_folder() -> Path:
    """Return the folder of the demo plant."""
    return DEMO


@pytest.fixture(scope="session")
def demo() -> PlantInputs:
    """Return the demo plant with the book of its description, as the analyst first guessed it."""
    return described(read_plant(DEMO, calibrated=False))
