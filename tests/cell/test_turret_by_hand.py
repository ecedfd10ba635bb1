"""What a turret costs at the machine, by hand: rises of retracting dies, exchanges in the middle of a program."""

from __future__ import annotations

import dataclasses
from typing import Any

from simkit.plant.plant import PlantInputs
from tests.cell.bench_plant import exchanges, order, plant, run, story, tool, use

ONE = ({"size_mm": 16},)


def turret(stations: tuple[dict[str, Any], ...], **changes: Any) -> PlantInputs:
    times = {"tool": 1.0, **changes.pop("times", {})}
    return plant(machine={"stations": stations}, times=times, **changes)


def test_each_tool_over_a_retracting_die_takes_one_rise_a_sheet() -> None:
    stations = ({"size_mm": 16, "retracting": True}, {"size_mm": 16})
    cell = {"orders": (order("1", "A", 2),), "times": {"rise": 30.0}}
    one = run(turret(stations, program_tools=use("A", "T0"), **cell))
    assert story(one) == [("changeover", 1.0), ("punching", 1.5), ("run", 11.5), ("punching", 12.0), ("run", 22.0)]
    both = run(turret(stations, program_tools=use("A", "T0", "T1"), **cell))
    assert story(both) == [("changeover", 2.0), ("punching", 2.5), ("run", 12.5), ("punching", 13.0), ("run", 23.0)]


def test_sheets_take_turns_when_a_program_has_a_tool_too_many() -> None:
    trace = run(turret(ONE, program_tools=use("A", "T0", "T1"), orders=(order("1", "A", 3),)))
    # before the first sheet one tool; in the middle of each of the three the other one
    assert story(trace) == [("changeover", 2.0), ("run", 12.0), ("changeover", 13.0), ("run", 23.0),
                            ("changeover", 24.0), ("run", 34.0)]  # fmt: skip
    assert exchanges(trace) == {"tool_load": 4}


def test_the_next_order_finds_what_the_last_sheet_left() -> None:
    cell = {"program_tools": (*use("A", "T0", "T1"), *use("B", "T1"))}
    odd = run(turret(ONE, orders=(order("1", "A", 1), order("2", "B")), **cell))
    even = run(turret(ONE, orders=(order("1", "A", 2), order("2", "B")), **cell))
    loads = [exchanges(trace)["tool_load"] for trace in (odd, even)]
    assert sorted(loads) == [2, 4]  # one sheet ends with the other tool than two do; one of them is the next order's


def test_forming_comes_last_on_every_sheet_so_its_tool_goes_back_before_the_next() -> None:
    form = dataclasses.replace(tool("T1"), kind="forming", clearances=())
    tools = (tool("T0"), form, *(tool(f"T{number}") for number in range(2, 6)))
    trace = run(turret(ONE, tools=tools, program_tools=use("A", "T0", "T1"), orders=(order("1", "A", 2),)))
    assert story(trace) == [("changeover", 2.0), ("run", 12.0), ("changeover", 14.0), ("run", 24.0)]
    assert exchanges(trace) == {"tool_load": 4}


def test_a_lost_sheet_takes_its_turn_too() -> None:
    short = dataclasses.replace(tool("T0"), life_hits=150.0)
    tools = (short, *(tool(f"T{number}") for number in range(1, 6)))
    hits = tuple(dataclasses.replace(row, hits_per_sheet=100) for row in use("A", "T0", "T1"))
    trace = run(turret(ONE, tools=tools, program_tools=hits, orders=(order("1", "A", 2),)))
    # the second run is lost half-way; three runs, each with one exchange in its middle, and one tool fitted anew
    assert len(trace.machines[0].lost) == 1
    assert exchanges(trace) == {"tool_load": 4}
    assert story(trace)[-1] == ("run", 1 + 3 * 1 + 10 + 5 + 1 + 10)
