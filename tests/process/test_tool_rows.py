"""Rows that ask about the tool: which needs they are for, what a load, the planner and a regrind make of them."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

from simkit.plant.conditions import asked_facts, holds, tool_facts
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Element
from simkit.process.elements import per_tool_times
from simkit.process.programs import exchange_seconds, program_tables
from tests.oracle.plants import workload_of
from tests.small_plant import small_elements, small_plant, small_tools

FORM = small_tools()[3]


def row(name: str, applies_to: str, typical: float, unit: str = "min/tool_load", **changes: Any) -> Element:
    base: dict[str, Any] = {"task_of": "changeover", "state": "changeover", **changes}
    return Element(element=name, applies_to=applies_to, unit=unit, typical=typical, **base)


def with_rows(*rows: Element, **changes: Any) -> PlantInputs:
    return small_plant(run={"source": "replay"}, elements=(*small_elements(), *rows), **changes)


def kept_in_tool_room(*names: str) -> dict[str, Any]:
    return {
        "tools": tuple(dataclasses.replace(t, kept="tool_room") if t.tool_id in names else t for t in small_tools())
    }


@pytest.mark.parametrize(
    ("text", "expected"),
    [("tool=TL-004", True), ("tool=TL-003", False), ("station_mm>16", True), ("station_mm=30", True),
     ("station_mm<30", False), ("kind=forming", True), ("kind=cutting", False), ("kept=cabinet", True),
     ("elongated=false", True), ("elongated=true", False), ("shape=extrusion M4", True), ("shape=extrusion", False),
     ("kind=forming and station_mm>50", False), ("family=LOCK", False), ("family=LOCK and kind=forming", False)],
)  # fmt: skip
def test_conditions_about_a_tool(text: str, expected: bool) -> None:
    assert holds(text, tool_facts(FORM)) is expected


def test_only_the_facts_that_are_asked_are_looked_at() -> None:
    assert asked_facts("family=LOCK and kind=forming") == ("family", "kind")
    assert holds("family=LOCK and kind=forming", tool_facts(FORM), ("kind", "kept"))
    assert not holds("family=LOCK and kind=cutting", tool_facts(FORM), ("kind", "kept"))


def test_needs_stand_in_the_order_of_the_programs() -> None:
    tables = program_tables(small_plant())
    assert tables.first_need.tolist() == [0, 3, 6]
    fit = next(use for use in tables.uses if use.name == "tool_fit")
    assert (fit.per_need.tolist(), fit.count.tolist()) == ([1.0] * 6, [1.0, 1.0])
    assert next(use for use in tables.uses if use.name == "load").per_need.size == 0


def test_of_the_rows_of_one_element_the_last_that_is_for_the_tool_holds() -> None:
    plant = with_rows(row("tool_search", "kept=tool_room", 4.0), row("tool_search", "tool=TL-005", 3.0),
                      **kept_in_tool_room("TL-003", "TL-005"))  # fmt: skip
    uses = [use for use in program_tables(plant).uses if use.name == "tool_search"]
    assert [use.per_need.tolist() for use in uses] == [[1, 0, 0, 1, 1, 1], [0, 1, 0, 0, 0, 0], [0, 0, 1, 0, 0, 0]]
    assert [use.count[0] for use in uses] == [pytest.approx(1 / 3)] * 3
    assert [use.count[1] for use in uses] == [1.0, 0.0, 0.0]


def test_a_search_in_the_tool_room_takes_its_own_minutes() -> None:
    """Fit 2.4 min; search 1.6 in the cabinet, 4.0 in the tool room: TL-003 is the second need of P-1."""
    plant = with_rows(row("tool_search", "kept=tool_room", 4.0), **kept_in_tool_room("TL-003"))
    needs = workload_of(plant).needs
    assert needs.seconds["tool_load"][:6].tolist() == [240.0, 384.0, 240.0, 240.0, 240.0, 240.0]
    assert set(needs.seconds["die_change"]) == {90.0}


def test_program_and_tool_are_asked_together() -> None:
    """A forming tool's die for BOOK takes longer; TL-001 is no forming tool, and LOCK has none."""
    plant = with_rows(row("die_change", "family=BOOK and kind=forming", 5.0, "min/die_change"))
    assert workload_of(plant).needs.seconds["die_change"][:6].tolist() == [90.0, 90.0, 90.0, 90.0, 90.0, 300.0]
    plant = with_rows(row("die_change", "family=LOCK and kind=forming", 5.0, "min/die_change"))
    assert set(workload_of(plant).needs.seconds["die_change"]) == {90.0}


def test_moved_work_is_for_its_tools() -> None:
    preset = row("preset", "station_mm>30", 3.0, task_of="preparation", state="outside")
    assert workload_of(with_rows(preset)).needs.outside_s["tool_load"]["preparation"][:6].tolist() == [
        0,
        0,
        180,
        0,
        0,
        0,
    ]


def test_luck_is_that_of_the_element_whichever_row_holds() -> None:
    """A spread draws by element and need: the tool room's search is as unlucky as the cabinet's was."""
    spread = tuple(
        dataclasses.replace(e, law="gamma", cv=0.5) if e.element == "tool_search" else e for e in small_elements()
    )
    room = row("tool_search", "kept=tool_room", 3.2, law="gamma", cv=0.5)
    replay = {"run": {"source": "replay"}}
    before = workload_of(small_plant(elements=spread, **replay)).needs.seconds["tool_load"]
    plant = small_plant(elements=(*spread, room), **replay, **kept_in_tool_room("TL-003"))
    after = workload_of(plant).needs.seconds["tool_load"]
    assert after[1] - 144.0 == pytest.approx(2 * (before[1] - 144.0), abs=1e-5)
    assert (after[0], after[2]) == (before[0], before[2])


def test_the_planner_counts_what_the_tools_of_a_program_take() -> None:
    """One of three tools takes 2.4 min more: with half the tools loaded, 1.2 min an order of P-1."""
    rules = {"planner_load_share": 0.5, "planner_die_share": 0.0}
    base = workload_of(with_rows(rules=rules))
    room = workload_of(with_rows(row("tool_search", "kept=tool_room", 4.0), rules=rules, **kept_in_tool_room("TL-003")))
    factor = base.plant.settings.rules.planning_factor
    more_h = room.planned_h - base.planned_h
    assert more_h[0] == pytest.approx(factor * 1.2 / 60)
    assert more_h[1] == 0.0


def test_a_regrind_is_of_a_tool() -> None:
    """Grinding 12 min away from the machine, 20 for forming tools; a shim at the machine for large stations."""
    form = row("regrind", "kind=forming", 20.0, "min/regrind", task_of="technician", state="outside")
    shim = row("shim", "station_mm>30", 3.0, "min/regrind")
    assert per_tool_times(with_rows(form, shim), "regrind") == (
        (0.0, {"technician": 720.0}), (0.0, {"technician": 720.0}), (0.0, {"technician": 720.0}),
        (0.0, {"technician": 1200.0}), (180.0, {"technician": 720.0}),
    )  # fmt: skip


def test_filling_the_magazine_is_of_a_tool() -> None:
    load = {"unit": "min/magazine_load", "task_of": "preparation", "state": "outside"}
    plant = with_rows(row("magazine_load", "", 3.0, **load), row("magazine_load", "kept=tool_room", 5.0, **load),
                      **kept_in_tool_room("TL-002"))  # fmt: skip
    times = per_tool_times(plant, "magazine_load")
    assert [away["preparation"] for _, away in times] == [180.0, 300.0, 180.0, 180.0, 180.0]
    assert {at for at, _ in times} == {0.0}


def test_mean_exchanges_weigh_rows_by_the_needs_they_are_for() -> None:
    """Search 1.6 min for five needs and 4.0 for one, fit 2.4: 2.0 + 2.4 min; moved work is not machine time."""
    preset = row("preset", "", 3.0, task_of="preparation", state="outside")
    plant = with_rows(row("tool_search", "kept=tool_room", 4.0), preset, **kept_in_tool_room("TL-003"))
    assert exchange_seconds(program_tables(plant)) == {
        "tool_load": 264.0, "die_change": 90.0, "angle_change": 60.0, "magazine_exchange": 45.0,
        "magazine_die_change": 36.0,
    }  # fmt: skip
    assert exchange_seconds(program_tables(small_plant(elements=()))) == {}


def test_a_plant_without_tools_has_no_needs() -> None:
    tables = program_tables(small_plant(program_tools=(), tools=()))
    assert tables.first_need.tolist() == [0, 0, 0]
    assert not any(use.per_need.size for use in tables.uses)
