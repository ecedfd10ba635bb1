"""Lifts, stacks, skeletons and slugs of a run, by hand: sheets of 8 kg with parts of 1 kg."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

from simkit.cell.openstacks import WHY_TAKEN
from simkit.cell.run import simulate
from simkit.experiment.glossary import MEASURES
from simkit.experiment.measures import measure_run
from simkit.experiment.partmeasures import check_mass
from simkit.plant.tables import ProgramTool, Quality
from tests.cell.bench_plant import order, part, plant, program, tool
from tests.oracle.plants import workload_of

SQUARE = dataclasses.replace(tool("T0"), shape="square 50", length_mm=50, width_mm=50)


def measured(
    handover: str, remnant_share: float = 0.0, sort: float = 0.0, bench_min: float = 0.0, **changes: Any
) -> dict[str, float]:
    """Five sheets with two parts each, punched 100 times with a square of 50 mm: 2 kg of slugs."""
    sheet = program("A", 10.0, handover=handover, remnant_share=remnant_share)
    sheet = dataclasses.replace(sheet, hits_per_sheet=100)
    use = ProgramTool(program_id="A", tool_id="T0", hits_per_sheet=100)
    times = {"load": 1.0, "pick": 0.0, "stack": 1.0, "sort": sort, "bench": bench_min}
    work = workload_of(plant(
        orders=(order("1", "A", 5),), programs=(sheet,), program_parts=(part("A", 2),), tools=(SQUARE,),
        program_tools=(use,), times=times, **changes,
    ))  # fmt: skip
    return measure_run(simulate(work), work)


def test_by_hand_sheets_parts_and_skeletons_are_lifted() -> None:
    found = measured("bench")
    assert (found["lifts_sheets"], found["lifted_sheets_kg"]) == (5, 40)
    assert (found["lifts_parts"], found["lifted_parts_kg"]) == (10, 10)
    assert found["lifts_skeletons"] == 5
    assert found["lifted_skeletons_kg"] == pytest.approx(5 * (8 - 2 - 2))
    assert (found["lifts_by_hand"], found["lifted_kg"]) == (15, 50)
    assert (found["stacks_exchanged"], found["skeletons_by_device"]) == (0, 0)


def test_what_the_device_takes_nobody_lifts() -> None:
    removal = {"pickers": 1, "skeleton_places": 2, "stack_height_mm": 4.0}
    found = measured("removal", removal=removal)
    assert (found["lifts_sheets"], found["lifts_parts"], found["lifts_skeletons"]) == (5, 0, 0)
    assert (found["skeletons_by_device"], found["skeleton_pallets"]) == (5, 2)
    assert (found["stacks_taken_height"], found["stacks_taken_order"], found["stacks_exchanged"]) == (2, 1, 3)


def test_what_went_down_the_chute_is_lifted_only_by_those_who_sort_it() -> None:
    """Ten parts of 1 kg drop into a container: nobody lifts them, unless each is sorted out of it by hand."""
    chute = measured("chute")
    assert (chute["lifts_parts"], chute["lifted_parts_kg"]) == (0, 0)
    by_hand = measured("chute", sort=0.1)
    assert (by_hand["lifts_parts"], by_hand["lifted_parts_kg"]) == (10, pytest.approx(10))
    assert by_hand["lifts_by_hand"] - chute["lifts_by_hand"] == 10
    nobody = measured("chute", sort=0.1, who={"sort": "machine"})
    assert nobody["lifts_parts"] == 0
    assert measured("bench")["lifts_parts"] == 10


def test_rework_is_no_bench_work_but_hours_of_people_all_the_same() -> None:
    """Ten parts, a tenth marked and half of these reworked in 12 minutes: 6 minutes; five sheets of 3 minutes."""
    marks = Quality(cause="marks", rate=0.1, rework_min=12.0, scrap_share=0.5)
    clean, found = (measured("bench", bench_min=3.0, quality=rows) for rows in ((), (marks,)))
    assert clean["bench_h"] == found["bench_h"] == pytest.approx(15 / 60)
    assert (clean["rework_h"], found["rework_h"]) == (0, pytest.approx(6 / 60))
    assert found["person_bench_h"] == pytest.approx(21 / 60)
    assert found["busy_h_BE"] + found["busy_h_OP"] - clean["busy_h_BE"] - clean["busy_h_OP"] == pytest.approx(6 / 60)


def test_mass_by_where_it_goes() -> None:
    found = measured("bench")
    assert found["slug_kg"] == pytest.approx(5 * 2)
    assert found["skeleton_kg"] == pytest.approx(5 * 4)
    assert (found["material_kg"], found["parts_kg"], found["scrap_kg"]) == (40, 10, 30)


def test_yield_lost_takes_more_sheets_for_the_same_parts() -> None:
    """A sixth of the places is lost: five sheets become six, for the same 10 kg of parts and 10 kg of slugs."""
    found = measured("removal", removal={"pickers": 1, "yield_loss": 1 / 6})
    assert (found["sheets"], found["parts"]) == (6, pytest.approx(10))
    assert (found["parts_kg"], found["slug_kg"]) == (pytest.approx(10), pytest.approx(10))
    assert (found["material_kg"], found["skeleton_kg"]) == (pytest.approx(6 * 8), pytest.approx(6 * 8 - 10 - 10))
    assert (found["full_sheets"], found["sheets_in_span"]) == (pytest.approx(5), pytest.approx(5))
    assert found["lost_kg_MS"] == pytest.approx(found["material_kg"] - 5 * 8)  # money pays for these 8 kg, once


def test_slugs_by_metal_are_all_slugs() -> None:
    found = measured("bench")
    assert found["slug_kg_MS"] == pytest.approx(5 * 2)
    assert found["slug_kg_AL"] == 0
    assert found["slug_kg_MS"] <= found["scrap_kg_MS"]


def test_with_a_lifter_a_heavy_sheet_is_not_lifted_by_hand() -> None:
    found = measured("bench", machine={"lifter": True, "one_person_kg": 7.0})
    assert (found["lifts_sheets"], found["lifts_parts"]) == (0, 10)


def test_every_reason_is_told_in_the_glossary() -> None:
    assert all(f"stacks_taken_{why}" in MEASURES for why in WHY_TAKEN)


def test_mass_that_vanishes_stops_the_run() -> None:
    """40 kg of sheets are 10 of parts, 20 of skeletons and 10 of slugs; a kilogram less anywhere is an error."""
    found = {"material_kg": 40.0, "parts_kg": 10.0, "skeleton_kg": 20.0, "slug_kg": 10.0}
    check_mass(found)
    for name in found:
        with pytest.raises(AssertionError, match="sheets of"):
            check_mass({**found, name: found[name] - 1.0})


@pytest.mark.parametrize(
    ("share", "kept", "remnant"),
    [(0.25, 1.0, 2.0), (0.25, 0.5, 1.0), (0.25, 0.0, 0.0), (0.0, 1.0, 0.0), (1.0, 1.0, 4.0)],
)
def test_a_remnant_that_is_used_again_is_no_scrap(share: float, kept: float, remnant: float) -> None:
    """A sheet of 8 kg: 2 kg of parts, 2 of slugs, and of the other 4 a remnant, which cannot be more than they are."""
    found = measured("bench", share, store={"remnants_kept": kept})
    assert (found["remnant_kg"], found["material_kg"]) == pytest.approx((5 * remnant, 5 * (8 - remnant)))
    assert found["skeleton_kg"] == pytest.approx(5 * (4 - remnant))
    assert found["scrap_kg"] == pytest.approx(5 * (6 - remnant))
    assert found["lost_kg_MS"] == pytest.approx(-5 * remnant)
