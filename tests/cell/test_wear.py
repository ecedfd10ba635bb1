"""Wear of tools: which copy wears, what a regrind takes at the machine, and the luck of lives."""

from __future__ import annotations

import dataclasses

from simkit.plant.tables import StartRow
from tests.cell.bench_plant import order, plant, program, run, story, tool, use
from tests.cell.test_by_hand import AUTOMATIC, NIGHT

TRACKED = {"tracked": True, "life_hits": 250.0, "regrind_limit_hits": 250.0}


def with_hits(hits: int, *programs: str) -> tuple:
    return tuple(dataclasses.replace(row, hits_per_sheet=hits) for name in programs for row in use(name, "T0"))


def test_of_twins_the_one_at_the_right_clearance_wears_from_its_own_start() -> None:
    twins = dataclasses.replace(tool("T0"), clearances=(0.2, 0.3), copies=2, **TRACKED)
    base = plant()
    materials = (base.materials[0], dataclasses.replace(base.materials[1], clearance_mm=0.3))
    start = (StartRow(what="turret", item="T0", station=1, clearance_mm=0.2, hits=240.0),
             StartRow(what="turret", item="T0", station=2, clearance_mm=0.3, hits=10.0))  # fmt: skip
    for name, reground in (("A", 1), ("B", 0)):
        trace = run(plant(tools=(twins,), program_tools=with_hits(100, "A", "B"), materials=materials, start=start,
                          orders=(order("1", name),)))  # fmt: skip
        assert trace.tools[0].reground == reground


def test_hits_at_two_angles_wear_one_copy_with_their_sum() -> None:
    limits = {**TRACKED, "regrind_limit_hits": 200.0}
    angles = (*with_hits(60, "A"), *(dataclasses.replace(row, angle=90.0) for row in with_hits(60, "A")))
    trace = run(plant(tools=(dataclasses.replace(tool("T0"), **limits),), program_tools=angles,
                      orders=(order("1", "A"), order("2", "A"))))  # fmt: skip
    assert trace.tools[0].reground == 1  # 120 + 120 hits pass 200


def test_a_standing_tool_that_is_reground_is_fitted_again_and_a_night_ends_there() -> None:
    cell = {"tools": (dataclasses.replace(tool("T0"), **TRACKED),), "program_tools": with_hits(100, "A"),
            "times": {"tool": 1.0}}  # fmt: skip
    trace = run(plant(orders=(order("1", "A", 2), order("2", "A", 2)), **cell))
    assert story(trace) == [("changeover", 1.0), ("run", 21.0), ("changeover", 22.0), ("run", 42.0)]
    assert trace.tools[0].kinds == {"tool_load": 2}
    night = run(plant(orders=(order("1", "A", 49), order("2", "A")), who=AUTOMATIC, calendar={"night": NIGHT}, **cell))
    assert night.machines[0].night_limit == ["tool"]


def test_the_lives_of_a_tool_follow_each_other_however_its_sheets_are_ordered() -> None:
    short = dataclasses.replace(tool("T0"), life_law="exponential", life_hits=300.0)
    cell = {"tools": (short,), "program_tools": with_hits(10, "A"), "programs": (program("A", 1.0),),
            "program_parts": ()}  # fmt: skip
    one = run(plant(orders=(order("1", "A", 200),), **cell))
    many = run(plant(orders=tuple(order(str(n), "A", 10) for n in range(20)), **cell))
    assert one.machines[0].lost == many.machines[0].lost
    assert len(one.machines[0].lost) > 3
