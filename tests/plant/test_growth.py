"""Reading grows with the rows of a plant, not with their product; steps are counted, no clock is looked at."""

from __future__ import annotations

import dataclasses
import datetime as dt
import sys
from pathlib import Path
from types import FrameType
from typing import Any

import pytest

from simkit.plant.options import Edit, Option
from simkit.plant.plant import PlantInputs
from simkit.plant.reading import read_plant
from simkit.plant.tables import HistoryRow, StartRow
from simkit.plant.writing import write_plant
from tests.small_plant import small_plant, with_orders

OPTION = Option(
    id="N1", name="tools kept closer", kind="low_capital",
    edits=(Edit(path="program_tools[*].hits_per_sheet", op="add", value=0), Edit(path="orders[*].rush", value=True)),
)  # fmt: skip


def long_plant(count: int) -> PlantInputs:
    """A plant with this many orders, each with a program, parts and tools of its own, all of them seen and waiting."""
    plant = with_orders(small_plant(options=(OPTION,)), count)
    orders = tuple(dataclasses.replace(row, program_id=f"P-{row.order_id}") for row in plant.orders)
    names = [row.program_id for row in orders]
    moment = dt.datetime(2026, 1, 5, 6)
    return dataclasses.replace(
        plant, orders=orders,
        programs=tuple(dataclasses.replace(plant.programs[0], program_id=name) for name in names),
        program_parts=tuple(dataclasses.replace(plant.program_parts[0], program_id=name) for name in names),
        program_tools=tuple(
            dataclasses.replace(row, program_id=name) for name in names for row in plant.program_tools[:2]
        ),
        start=tuple(StartRow(what="backlog", item=row.order_id) for row in orders),
        history=tuple(
            HistoryRow(order_id=row.order_id, machine="M1", started=moment, finished=moment, sheets=1) for row in orders
        ),
    )  # fmt: skip


def steps_of_reading(folder: Path) -> int:
    """Steps of the interpreter inside the kit while a folder is read."""
    steps = 0

    def step(frame: FrameType, event: str, argument: Any) -> Any:
        nonlocal steps
        steps += event == "opcode"
        return step

    def called(frame: FrameType, event: str, argument: Any) -> Any:
        if "simkit" not in frame.f_code.co_filename:
            return None
        frame.f_trace_opcodes, frame.f_trace_lines = True, False
        return step

    before = sys.gettrace()
    sys.settrace(called)
    try:
        read_plant(folder)
    finally:
        sys.settrace(before)
    return steps


def test_twice_the_rows_take_twice_the_steps(tmp_path: Path) -> None:
    write_plant(long_plant(20), tmp_path / "warm")
    read_plant(tmp_path / "warm")
    taken = []
    for count in (50, 100, 200):
        write_plant(long_plant(count), tmp_path / str(count))
        taken.append(steps_of_reading(tmp_path / str(count)))
    assert taken[2] - taken[1] == pytest.approx(2 * (taken[1] - taken[0]), rel=0.02)
