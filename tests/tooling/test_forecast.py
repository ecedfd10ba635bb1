"""Regrind forecast: order by order by hand, chances by hand, and a seeded simulation of tools that follow a law."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import numpy as np
import pytest

from simkit.plant.plant import PlantInputs
from simkit.plant.tables import ProgramTool, StartRow, Tool
from simkit.tooling.forecast import (
    OrderUse,
    ProgramWeek,
    ToolForecast,
    WornTool,
    forecast_regrinds,
    forecast_tool,
    uses_of,
    worn_tools,
)
from simkit.tooling.lives import chance_to_fail, life_law
from simkit.tooling.wear import after_regrind
from tests.small_plant import small_plant
from tests.tooling.rooms import tool

TRACKED = {"tracked": True, "regrind_limit_hits": 100.0}


def weeks_of(worn: WornTool, uses: list[OrderUse], weeks: int, regrind_s: float = 1800.0) -> ToolForecast:
    return forecast_tool(worn, uses, weeks, regrind_s)


# ---- tracked tools: order by order ----


def test_a_tracked_tool_is_swapped_before_the_order_that_would_pass_its_limit() -> None:
    uses = [OrderUse(0, 4, 10.0), OrderUse(1, 5, 10.0), OrderUse(1, 2, 10.0), OrderUse(3, 9, 10.0)]
    found = weeks_of(WornTool(tool(0, **TRACKED)), uses, 4)  # 40, 90, swap 20, swap 90
    assert found.planned.tolist() == [0, 1, 0, 1]
    assert found.failed.tolist() == found.replaced.tolist() == [0] * 4
    assert found.off_line_h.tolist() == [0, 0.5, 0, 0.5]
    assert found.due_week == 1


@pytest.mark.parametrize(
    ("worn", "use", "planned"),
    [
        (60.0, OrderUse(0, 4, 10.0), 0),
        (60.0, OrderUse(0, 5, 10.0), 1),
        (0.0, OrderUse(0, 10, 10.0), 0),
        (0.0, OrderUse(0, 11, 10.0), 1),
        (50.0, OrderUse(0, 35, 10.0), 4),
        (0.0, OrderUse(0, 3, 40.0), 1),
        (0.0, OrderUse(0, 3, 250.0), 2),
        (10.0, OrderUse(0, 1, 250.0), 1),
        (120.0, OrderUse(0, 0, 10.0), 0),
    ],
)
def test_an_order_longer_than_the_limit_is_interrupted_between_sheets(worn: float, use: OrderUse, planned: int) -> None:
    assert weeks_of(WornTool(tool(0, **TRACKED), worn), [use], 1).planned.tolist() == [planned]


def test_a_constant_life_not_shorter_than_the_limit_changes_nothing_and_a_shorter_one_fails_first() -> None:
    uses = [OrderUse(0, 7, 10.0), OrderUse(1, 7, 10.0)]
    long = tool(0, **TRACKED, life_hits=100.0)
    assert weeks_of(WornTool(long), uses, 2).planned.tolist() == [0, 1]
    found = weeks_of(WornTool(tool(0, **TRACKED, life_hits=60.0)), uses, 2)
    assert (found.planned.tolist(), found.failed.tolist()) == ([0, 0], [1, 1])
    assert found.due_week == 0


def test_the_last_regrind_is_followed_by_a_new_tool_when_it_cannot_be_ground_again() -> None:
    uses = [OrderUse(week, 10, 10.0) for week in range(6)]
    found = weeks_of(WornTool(tool(0, **TRACKED, grind_life=2), 0.0, 1), uses, 6)
    assert found.planned.tolist() == [0, 1, 1, 1, 1, 1]  # second regrind, new, first, second, new
    assert found.replaced.tolist() == [0, 0, 1, 0, 0, 1]
    assert found.off_line_h.tolist() == [0, 0.5, 0, 0.5, 0.5, 0]


# ---- tools that follow a law ----

EXPONENTIAL = tool(1, life_law="exponential", life_hits=1000.0)


def test_an_exponential_life_by_hand() -> None:
    uses = [OrderUse(0, 5, 100.0), OrderUse(2, 10, 100.0)]
    found = weeks_of(WornTool(EXPONENTIAL, 700.0), uses, 3)
    assert found.failed == pytest.approx([0.5, 0.0, 1.0], abs=1e-5)
    assert found.off_line_h == pytest.approx([0.25, 0.0, 0.5], abs=1e-5)
    assert found.due_week == 2  # changed by its end with a chance of 1 - e^-1.5, by that of the first with 1 - e^-0.5
    assert found.planned.tolist() == [0, 0, 0]


def test_a_tool_at_its_last_regrind_is_replaced_when_it_fails_first() -> None:
    last = dataclasses.replace(EXPONENTIAL, grind_life=1)
    found = weeks_of(WornTool(last, 0.0, 1), [OrderUse(0, 10, 100.0)], 1)
    poisson = [math.exp(-1) / math.factorial(count) for count in range(12)]
    by_hand = sum(chance * math.ceil(count / 2) for count, chance in enumerate(poisson))  # new, ground, new, ground
    assert found.replaced == pytest.approx(by_hand, abs=1e-5)
    assert found.off_line_h == pytest.approx(0.5 * (1 - by_hand), abs=1e-5)


def test_a_week_without_hits_changes_nothing_even_if_the_tool_is_past_its_limit() -> None:
    late = tool(0, **TRACKED, life_law="weibull", life_hits=150.0, life_cv=0.3)
    found = weeks_of(WornTool(late, 110.0), [OrderUse(1, 1, 10.0)], 2)
    assert found.planned == pytest.approx([0, 1])
    assert found.due_week == 1


def simulated(worn: WornTool, hits: list[float], limit: float, tools: int = 20_000) -> dict[str, np.ndarray]:
    """By week: what many tools did, drawn life by life, each with its own count of regrinds."""
    life = life_law(worn.tool.life_law, worn.tool.life_hits or 1.0, worn.tool.life_cv)
    rng = np.random.default_rng(9)
    lasted = float(chance_to_fail(life, worn.hits))
    ends = np.cumsum(hits)
    found = {name: np.zeros((tools, len(hits))) for name in ("planned", "failed", "replaced")}
    for number in range(tools):
        left = float(life.draw(np.array([lasted + rng.random() * (1 - lasted)]))[0]) - worn.hits
        to_limit, clock, grinds = limit - worn.hits, 0.0, worn.grinds
        while True:
            clock += min(left, to_limit)
            if clock > ends[-1]:
                break
            week = int(np.searchsorted(ends, clock))
            found["failed" if left < to_limit else "planned"][number, week] += 1
            grinds, bought = after_regrind(grinds, worn.tool.grind_life)
            found["replaced"][number, week] += bought
            left, to_limit = float(life.draw(rng.random(1))[0]), limit
    return found


@pytest.mark.parametrize(("more", "limit"), [({}, math.inf), ({**TRACKED, "regrind_limit_hits": 700.0}, 700.0)])
def test_a_simulation_finds_the_same_weeks(more: dict[str, Any], limit: float) -> None:
    law = tool(0, life_law="weibull", life_hits=900.0, life_cv=0.4, grind_life=2, **more)
    worn, hits = WornTool(law, 450.0, 1), [300.0, 500.0, 100.0, 800.0, 900.0]
    found = weeks_of(worn, [OrderUse(week, 1, amount) for week, amount in enumerate(hits)], len(hits))
    drawn = simulated(worn, hits, limit)
    for name, values in drawn.items():
        half_width = 4 * values.std(axis=0) / math.sqrt(len(values)) + 2e-5
        assert np.all(np.abs(values.mean(axis=0) - getattr(found, name)) <= half_width), name


# ---- the whole forecast ----


def plant_of(*tools: Tool, uses: tuple[ProgramTool, ...], **more: Any) -> PlantInputs:
    return small_plant(tools=tools, program_tools=uses, **more)


def program_tool(tool_id: str, hits: int, program: str = "P-1", angle: float = 0.0) -> ProgramTool:
    return ProgramTool(program_id=program, tool_id=tool_id, hits_per_sheet=hits, angle=angle)


def test_counted_hits_are_hits_times_the_wear_factor_at_all_angles() -> None:
    uses = (program_tool("T0", 30), program_tool("T0", 20, angle=90.0), program_tool("T1", 0), program_tool("T1", 8,
            "P-2"))  # fmt: skip
    plant = plant_of(tool(0), tool(1), uses=uses)
    materials = tuple(dataclasses.replace(row, wear_factor=2.5) for row in plant.materials)
    plant = dataclasses.replace(plant, materials=materials)
    found = uses_of(plant, [ProgramWeek(0, "P-1", 3), ProgramWeek(2, "P-2", 0.5), ProgramWeek(2, "P-1", 1)])
    assert found == {"T0": [OrderUse(0, 3, 125.0), OrderUse(2, 1, 125.0)], "T1": [OrderUse(2, 0.5, 20.0)]}


def test_the_first_copy_of_the_start_is_the_one_that_wears() -> None:
    start = (StartRow(what="backlog", item="1001"),
             StartRow(what="turret", item="T1", station=2, hits=40.0, grinds=3),
             StartRow(what="turret", item="T1", station=5, hits=90.0, grinds=9))  # fmt: skip
    plant = plant_of(tool(0), tool(1, copies=2), uses=(), start=start)
    assert worn_tools(plant) == (WornTool(plant.tools[0]), WornTool(plant.tools[1], 40.0, 3))


def test_a_forecast_names_weeks_tools_and_sums() -> None:
    never, idle = tool(2), tool(3, **TRACKED)
    plant = plant_of(
        tool(0, **TRACKED, grind_life=0), EXPONENTIAL, never, idle,
        uses=(program_tool("T0", 10), program_tool("T1", 100), program_tool("T2", 5)),
    )  # fmt: skip
    counted, by_law = forecast_regrinds(plant, [ProgramWeek(0, "P-1", 10), ProgramWeek(1, "P-1", 10)], 2, 3600.0)
    assert [(own.tool.tool_id, own.due_week) for own in (counted, by_law)] == [("T0", 1), ("T1", 0)]
    assert (counted.planned.tolist(), counted.replaced.tolist()) == ([0, 1], [0, 1])
    assert counted.off_line_h.tolist() == [0, 0], "the replaced T0 is not ground"
    assert by_law.failed == pytest.approx([1.0, 1.0], abs=1e-5)
    assert by_law.off_line_h == pytest.approx([1.0, 1.0], abs=1e-3)
