"""Wrong loads and the tool room of the demo: rates that sum to what is stated, and who bears the moved minutes."""

from __future__ import annotations

from collections import Counter

import pytest

from simkit.plant.conditions import holds, tool_facts
from simkit.plant.plant import PlantInputs
from simkit.plant.scenarios import make_scenario
from tests.demo.sequencing import SmallTurret, works_of

STATED_SHARE = 0.005
"""Share of the loads by hand that go wrong, as the description of the demo says."""


def counted(plant: PlantInputs) -> dict[str, Counter[str]]:
    """Loads and die changes by tool, in the order of the book."""
    turret = SmallTurret(plant)
    found: dict[str, Counter[str]] = {"load": Counter(), "die": Counter(), "stays": Counter()}
    for work in works_of(plant, plant.orders):
        for tool_id in sorted(work.tools):
            found[turret._bring(work, tool_id)][tool_id] += 1
    return found


def expected_faults(plant: PlantInputs, exchange: str, counts: Counter[str]) -> dict[str, float]:
    """Faults expected over these exchanges, by fault."""
    return {
        row.fault: row.rate * sum(
            count for tool, count in counts.items() if holds(row.applies_to, tool_facts(plant.tool_by_id[tool]))
        )
        for row in plant.load_faults if exchange in row.exchanges
    }  # fmt: skip


def test_the_rates_sum_to_the_stated_share_of_loads(demo: PlantInputs) -> None:
    loads = counted(demo)["load"]
    faults = expected_faults(demo, "tool_load", loads)
    assert set(faults) == {"orientation_missed", "punch_and_die_swapped", "wrong_clearance"}
    assert sum(faults.values()) / loads.total() == pytest.approx(STATED_SHARE, rel=0.02)
    assert min(faults.values()) / sum(faults.values()) > 0.15, "none of the three is a mere ornament"


def test_die_changes_add_wrong_clearances_only(demo: PlantInputs) -> None:
    faults = expected_faults(demo, "die_change", counted(demo)["die"])
    assert faults == {"wrong_clearance": pytest.approx(0.42, abs=0.01)}


def test_faults_are_no_stop_cause_any_more(demo: PlantInputs) -> None:
    assert "tool_load" not in {row.exposure for row in demo.stops}
    found = {
        (row.break_share, row.found_first_piece, row.found_after_sheets)
        for row in demo.load_faults
        if "regrind" not in row.exchanges
    }
    assert found == {(0.2, 0.8, 3.0)}


def test_a_tool_comes_back_wrongly_from_grinding_in_two_ways(demo: PlantInputs) -> None:
    """They strike at regrinds alone; about one regrind in a hundred of a cutting tool, less of a forming one."""
    rows = {row.fault: row for row in demo.load_faults if row.exchanges == ("regrind",)}
    assert set(rows) == {"die_not_shimmed", "length_record_wrong"}
    assert sum(row.rate for row in rows.values()) == pytest.approx(0.015)
    assert [row.fault for row in rows.values() if not row.applies_to] == ["length_record_wrong"]


def test_the_tool_check_lets_four_in_a_hundred_through(demo: PlantInputs) -> None:
    """Of wrong loads; what grinding left wrong has its right mark."""
    checked = make_scenario(demo, ("A2",)).plant.load_faults
    assert [row.rate for row in checked] == [
        pytest.approx(row.rate * (1.0 if "regrind" in row.exchanges else 0.04)) for row in demo.load_faults
    ]


def test_the_least_used_tools_lie_in_the_tool_room(demo: PlantInputs) -> None:
    uses = Counter(use.tool_id for order in demo.orders for use in demo.tools_of[order.program_id])
    away = {tool.tool_id for tool in demo.tools if tool.kept == "tool_room"}
    assert len(away) == 6
    assert max(uses[tool] for tool in away) <= min(uses[tool.tool_id] for tool in demo.tools if tool.kept == "cabinet")
    assert away.isdisjoint(row.item for row in demo.start)


def test_the_cart_moves_the_way_to_the_tool_room_too(demo: PlantInputs) -> None:
    """What search and fit lose at the machine the setter gains, wherever the tool is kept."""
    carted = make_scenario(demo, ("N2",)).plant
    saved = {place: search(demo, place) - search(carted, place) + 2.4 - 1.6 for place in ("", "kept=tool_room")}
    moved = {row.applies_to: row.typical for row in carted.elements if row.element == "preset"}
    assert moved == pytest.approx(saved)


def search(plant: PlantInputs, place: str) -> float:
    return next(row.typical for row in plant.elements if (row.element, row.applies_to) == ("tool_search", place))
