"""Bench work by tabs and by thickness: rows with conditions, by hand."""

from __future__ import annotations

import dataclasses

import pytest

from simkit.plant.tables import Element
from simkit.process.workload import Workload
from tests.oracle.plants import workload_of
from tests.small_plant import small_materials, small_plant

BENCH_ROWS = (
    Element(element="break_out", task_of="bench", unit="s/tab", state="bench", typical=1.5),
    Element(element="deburr", task_of="bench", unit="s/tab", state="bench", typical=1.0),
    Element(element="deburr", applies_to="thickness_mm>1.9", task_of="bench", unit="s/tab", state="bench", typical=3.0),
    Element(element="sort", task_of="bench", unit="s/part", state="bench", typical=2.0),
    Element(element="lay_down", applies_to="mass_kg>10", task_of="bench", unit="s/sheet", state="bench", typical=30.0),
)


def work(thickness_mm: float = 1.5, tabs: int = 6) -> Workload:
    """Six parts with so many tabs each on sheets of 1250 x 1000 mm steel; ten with four on aluminium."""
    plant = small_plant(elements=BENCH_ROWS, run={"source": "replay"})
    steel, aluminium = small_materials()
    lock, book = plant.program_parts
    return workload_of(dataclasses.replace(
        plant, materials=(dataclasses.replace(steel, thickness_mm=thickness_mm), aluminium),
        program_parts=(dataclasses.replace(lock, tabs=tabs), book),
    ))  # fmt: skip


def bench_s(found: Workload, program: int) -> float:
    return float(found.sheets.bench_s[found.sheets.program == program][0])


def test_break_out_and_deburr_go_by_tabs_and_sorting_by_parts() -> None:
    # P-1: 36 tabs of 1.5 + 1 s, 6 parts of 2 s, and a heavy sheet; P-2: 40 tabs, 10 parts, a light one
    assert bench_s(work(), 0) == 36 * 2.5 + 12 + 30
    assert bench_s(work(), 1) == 40 * 2.5 + 20
    assert bench_s(work(tabs=0), 0) == 12 + 30


BY_PART = (
    Element(element="break_out", task_of="bench", unit="s/tab", state="bench", typical=1.5),
    Element(element="sort", task_of="bench", unit="s/part", state="bench", typical=2.0),
    Element(element="sort", applies_to="part_kg>1.5", task_of="bench", unit="s/part", state="bench", typical=5.0),
    Element(element="wipe", applies_to="surface_sensitive=true and part_short_mm>100", task_of="bench", unit="s/part",
            state="bench", typical=9.0),
)  # fmt: skip


def test_a_mixed_nest_counts_each_part_by_its_own_row() -> None:
    """Four parts of 1.84 kg with 6 tabs, three bright ones of 0.5 kg with 2, of which strips are too narrow to wipe."""
    plant = small_plant(elements=BY_PART, run={"source": "replay"})
    lock, book = plant.program_parts
    small = dataclasses.replace(lock, part_id="small", per_sheet=2, mass_kg=0.5, tabs=2, surface_sensitive=True)
    strip = dataclasses.replace(small, part_id="strip", per_sheet=1, width_mm=90.0)
    mixed = (dataclasses.replace(lock, per_sheet=4), small, strip, book)
    found = workload_of(dataclasses.replace(plant, program_parts=mixed))
    assert bench_s(found, 0) == (4 * 6 + 3 * 2) * 1.5 + 4 * 5.0 + 3 * 2.0 + 2 * 9.0
    assert bench_s(found, 1) == 10 * 4 * 1.5 + 10 * 2.0 + 10 * 9.0


def test_thick_sheets_take_longer_to_deburr() -> None:
    assert bench_s(work(thickness_mm=2.0), 0) == 36 * (1.5 + 3.0) + 12 + 30
    assert bench_s(work(thickness_mm=2.0), 1) == bench_s(work(), 1)


def test_putting_a_remnant_back_takes_time_as_often_as_it_is_done() -> None:
    """P-1 leaves a remnant, P-2 none; three in four are kept, at 60 s each."""
    row = Element(element="put_back", task_of="bench", unit="s/remnant", state="bench", typical=60.0)
    plant = small_plant(elements=(row,), store={"remnants_kept": 0.75}, run={"source": "replay"})
    first, second = plant.programs
    found = workload_of(dataclasses.replace(plant, programs=(dataclasses.replace(first, remnant_share=0.1), second)))
    assert (bench_s(found, 0), bench_s(found, 1)) == (45.0, 0.0)


def test_heavy_parts_take_longer_by_their_kilograms() -> None:
    """Six parts of 1.84 kg at 2 s a part and 3 s a kilogram; without bench parts of that kind nothing."""
    rows = (Element(element="lift_out", task_of="bench", unit="s/kg", state="bench", typical=3.0),
            Element(element="sort", task_of="bench", unit="s/part", state="bench", typical=2.0))  # fmt: skip
    plant = small_plant(elements=rows, run={"source": "replay"})
    lock = plant.program_parts[0]
    assert bench_s(workload_of(plant), 0) == pytest.approx(lock.per_sheet * (2.0 + 3.0 * lock.mass_kg), abs=1e-5)
    only_heavy = dataclasses.replace(rows[0], applies_to="part_kg>100")
    light = dataclasses.replace(plant, elements=(only_heavy, rows[1]))
    assert bench_s(workload_of(light), 0) == lock.per_sheet * 2.0
