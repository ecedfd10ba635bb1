"""Wear of tools: which copy wears, what a regrind takes at the machine, and the luck of lives."""

from __future__ import annotations

import dataclasses

from simkit.cell.trace import Trace
from simkit.plant.tables import StartRow
from tests.cell.bench_plant import exchanges, order, plant, program, run, story, tool, use
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
        assert sum(trace.tools[0].wear.reground.values()) == reground


def test_hits_at_two_angles_wear_one_copy_with_their_sum() -> None:
    limits = {**TRACKED, "regrind_limit_hits": 200.0}
    angles = (*with_hits(60, "A"), *(dataclasses.replace(row, angle=90.0) for row in with_hits(60, "A")))
    trace = run(plant(tools=(dataclasses.replace(tool("T0"), **limits),), program_tools=angles,
                      orders=(order("1", "A"), order("2", "A"))))  # fmt: skip
    assert sum(trace.tools[0].wear.reground.values()) == 1  # 120 + 120 hits pass 200


def test_a_standing_tool_that_is_reground_is_fitted_again_and_a_night_ends_there() -> None:
    cell = {"tools": (dataclasses.replace(tool("T0"), **TRACKED),), "program_tools": with_hits(100, "A"),
            "times": {"tool": 1.0}}  # fmt: skip
    trace = run(plant(orders=(order("1", "A", 2), order("2", "A", 2)), **cell))
    assert story(trace) == [("changeover", 1.0), ("run", 21.0), ("changeover", 22.0), ("run", 42.0)]
    assert exchanges(trace) == {"tool_load": 2}
    night = run(plant(orders=(order("1", "A", 49), order("2", "A")), who=AUTOMATIC, calendar={"night": NIGHT}, **cell))
    assert night.machines[0].night_limit == ["tool"]


def test_the_lives_of_a_tool_follow_each_other_however_its_sheets_are_ordered() -> None:
    short = dataclasses.replace(tool("T0"), life_law="exponential", life_hits=300.0)
    cell = {"tools": (short,), "program_tools": with_hits(10, "A"), "programs": (program("A", 1.0),),
            "program_parts": ()}  # fmt: skip
    one = run(plant(orders=(order("1", "A", 200),), **cell))
    many = run(plant(orders=tuple(order(str(n), "A", 10) for n in range(20)), **cell))
    assert runs_between_failures(one) == runs_between_failures(many)
    assert len(one.machines[0].lost) > 3


def runs_between_failures(trace: Trace) -> list[int]:
    """Good sheets before each lost one."""
    log = trace.machines[0]
    return [sum(made <= lost for made in log.made_at_s) for lost in log.lost_at_s]


def test_a_sheet_that_is_lost_is_made_again_with_all_its_hits() -> None:
    constant = dataclasses.replace(tool("T0"), life_hits=250.0)
    trace = run(plant(tools=(constant,), program_tools=with_hits(100, "A"), orders=(order("1", "A", 5),)))
    # hits run: 100, 200, fails at 250 (half of the third run), 100, 200, fails at 250, 100: five good, two lost
    assert runs_between_failures(trace) == [2, 4]
    assert trace.tools[0].wear.worn_out == 2
    assert sum(trace.tools[0].wear.reground.values()) == 2
    assert story(trace) == [("run", 60.0)]


def test_an_order_longer_than_a_limit_swaps_the_tool_between_two_sheets() -> None:
    cell = {"program_tools": with_hits(100, "A"), "orders": (order("1", "A", 5),), "times": {"tool": 1.0}}
    trace = run(plant(tools=(dataclasses.replace(tool("T0"), **TRACKED),), **cell))
    assert story(trace) == [("changeover", 1.0), ("run", 21.0), ("changeover", 22.0), ("run", 42.0),
                            ("changeover", 43.0), ("run", 53.0)]  # fmt: skip
    assert trace.machines[0].lost == []
    assert sum(trace.tools[0].wear.reground.values()) == 2


def test_after_a_failure_the_next_sheet_takes_no_other_tool_past_its_limit() -> None:
    tracked = dataclasses.replace(tool("T0"), tracked=True, regrind_limit_hits=240.0)
    short = dataclasses.replace(tool("T1"), life_hits=150.0)
    uses = tuple(dataclasses.replace(row, hits_per_sheet=100) for row in use("A", "T0", "T1"))
    trace = run(plant(tools=(tracked, short), program_tools=uses, orders=(order("1", "A", 2),), times={"tool": 1.0}))
    # T1 fails after 150 hits; T0 stands at 150 then, and the sheet made again would take it to 250
    assert story(trace) == [("changeover", 2.0), ("run", 17.0), ("stopped", 18.0), ("changeover", 19.0), ("run", 29.0)]


def test_a_spare_copy_is_fitted_while_the_worn_one_is_ground() -> None:
    short = dataclasses.replace(tool("T0"), life_hits=250.0)
    cell = {"program_tools": with_hits(100, "A"), "orders": (order("1", "A", 3),),
            "times": {"tool": 1.0, "grind": 5.0}}  # fmt: skip
    alone = run(plant(tools=(short,), **cell))
    spare = run(plant(tools=(dataclasses.replace(short, copies=2),), **cell))
    assert story(alone) == [("changeover", 1.0), ("run", 26.0), ("stopped", 32.0), ("run", 42.0)]
    assert story(spare) == [("changeover", 1.0), ("run", 26.0), ("stopped", 27.0), ("run", 37.0)]
    assert alone.outside_s == {}
    assert spare.outside_s == {"preparation": 300.0}


def test_a_tool_that_cannot_be_ground_again_is_replaced() -> None:
    short = dataclasses.replace(tool("T0"), life_hits=100.0, grind_life=2)
    trace = run(plant(tools=(short,), program_tools=with_hits(100, "A"), orders=(order("1", "A", 7),)))
    wear = trace.tools[0].wear
    assert wear.worn_out == sum(wear.reground.values()) + sum(wear.replaced.values())
    assert sum(wear.replaced.values()) == wear.worn_out // 3


def test_in_the_middle_of_an_order_the_machine_waits_for_the_grinding_unless_there_is_a_spare() -> None:
    cell = {"program_tools": with_hits(100, "A"), "orders": (order("1", "A", 3),),
            "times": {"tool": 1.0, "grind": 5.0}}  # fmt: skip
    for copies, ready in ((1, 27.0), (2, 22.0)):
        trace = run(plant(tools=(dataclasses.replace(tool("T0"), copies=copies, **TRACKED),), **cell))
        assert story(trace) == [("changeover", 1.0), ("run", 21.0), ("changeover", ready), ("run", ready + 10.0)]
        assert trace.outside_s == ({"preparation": 300.0} if copies == 2 else {})
