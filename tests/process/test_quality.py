"""Causes of marks by hand-over and table, and by lift, by hand."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

from simkit.plant.conditions import parse_condition
from simkit.plant.part_ways import LIFTS, way_of
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Quality
from simkit.process.programs import program_tables
from tests.small_plant import small_parts, small_plant


def plant(handover: str, cause: Quality, **machine: Any) -> PlantInputs:
    """Six parts that can be picked and four that cannot, on sheets of one hand-over."""
    strip = dataclasses.replace(small_parts()[0], part_id="strip", per_sheet=4, width_mm=40.0)
    base = small_plant(program_parts=(small_parts()[0], strip), quality=(cause,), removal={"pickers": 1},
                       machine=machine)  # fmt: skip
    return dataclasses.replace(base, programs=(dataclasses.replace(base.programs[0], handover=handover),))


def at_risk(handover: str, condition: str = "", **changes: Any) -> float:
    cause = Quality(cause="marks", applies_to=condition, rate=0.1, **changes)
    return float(program_tables(plant(handover, cause)).at_risk[0][0])


@pytest.mark.parametrize(
    ("handover", "first", "strip"),
    [("removal", "removal", "bench"), ("mixed", "removal", "chute"), ("chute", "chute", "chute"),
     ("bench", "bench", "bench"), ("stack", "stack", "stack")],
)  # fmt: skip
def test_how_each_part_leaves_its_sheet(handover: str, first: str, strip: str) -> None:
    cell = plant(handover, Quality(cause="marks", rate=0.1))
    assert [way_of(cell, cell.programs[0], part) for part in cell.parts_of["P-1"]] == [first, strip]


@pytest.mark.parametrize(
    ("handover", "condition", "parts"),
    [("bench", "handover=bench", 10), ("removal", "handover=bench", 4), ("removal", "handover=removal", 6),
     ("mixed", "handover=chute", 4), ("mixed", "handover=mixed", 0), ("stack", "handover=stack", 10)],
)  # fmt: skip
def test_a_cause_asks_how_the_part_itself_leaves(handover: str, condition: str, parts: float) -> None:
    """A device takes the marks of hands from the parts that it takes, not from those that people still break out."""
    assert at_risk(handover, condition) == parts


def test_a_cause_per_lift_strikes_a_part_more_often() -> None:
    # 0.1 a lift: two lifts mark 1 - 0.9^2 = 19 %, three 27.1 %
    assert at_risk("bench", per="lift") * 0.1 == pytest.approx(10 * 0.19)
    assert at_risk("stack", per="lift") * 0.1 == pytest.approx(10 * 0.271)
    assert at_risk("removal", per="lift") * 0.1 == pytest.approx(6 * 0.1 + 4 * 0.19)
    assert at_risk("removal") == 10
    never = Quality(cause="marks", rate=0.0, per="lift")
    assert float(program_tables(plant("bench", never)).at_risk[0][0]) == 10 * LIFTS["bench"]


def test_a_cause_asks_for_the_table() -> None:
    cause = Quality(cause="marks", applies_to="table=slat", rate=0.1)
    assert program_tables(plant("bench", cause)).at_risk[0].tolist() == [0.0]
    assert program_tables(plant("bench", cause, table="slat")).at_risk[0].tolist() == [10.0]


def test_a_table_that_is_not_known_is_refused_with_what_is() -> None:
    with pytest.raises(ValueError, match="table=brush or table=ball or table=slat"):
        parse_condition("table=glass")
