"""Care that is due by what falls into the bin, by hand."""

from __future__ import annotations

import dataclasses
import math

from simkit.plant.tables import ProgramTool, Upkeep
from tests.cell.bench_plant import order, plant, program, run, story, tool

SLUG_KG = math.pi / 4 * 36e-6 * 8.0  # a round of 6 mm out of 1 mm at 8000 kg/m3


def emptied(hits: int, bin_kg: float) -> list[tuple[str, float]]:
    """Six sheets of ten minutes with so many hits each; emptying the bin takes four minutes."""
    care = Upkeep(task="bin", exposure="slug_kg", interval=bin_kg, duration_min=3, isolation_min=1)
    use = ProgramTool(program_id="A", tool_id="T0", hits_per_sheet=hits)
    sheet = dataclasses.replace(program("A", 10.0), hits_per_sheet=hits)
    return story(run(plant(orders=(order("1", "A", 6),), programs=(sheet,), program_parts=(), tools=(tool("T0"),),
                           program_tools=(use,), upkeep=(care,))))  # fmt: skip


def test_the_bin_is_emptied_by_the_mass_of_slugs() -> None:
    two_sheets = 2 * 1000 * SLUG_KG
    assert emptied(1000, two_sheets * (1 - 1e-9)) == [
        ("run", 20.0), ("upkeep", 24.0), ("run", 44.0), ("upkeep", 48.0), ("run", 68.0),
    ]  # fmt: skip
    assert emptied(500, two_sheets * (1 - 1e-9)) == [("run", 40.0), ("upkeep", 44.0), ("run", 64.0)]


def test_a_large_bin_and_sheets_without_slugs_are_never_emptied() -> None:
    assert emptied(1000, 1000.0) == emptied(0, 0.001) == [("run", 60.0)]
