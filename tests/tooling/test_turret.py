from __future__ import annotations

import pytest

from simkit.base.messages import BadInput
from simkit.plant.tables import StartRow
from simkit.tooling.toolroom import NO_CLEARANCE, make_tool_room
from simkit.tooling.turret import Placed, start_turret
from tests.tooling.rooms import form, room_of, settings_of, tool

INDEX = {f"T{n}": n for n in range(4)}
TOOLS = [tool(0), tool(1, copies=2), form(2), tool(3, 30)]


def row(item: str, station: int = 0, **more) -> StartRow:
    return StartRow(what="turret", item=item, station=station, **more)


def test_stations_count_from_one_and_zero_means_the_first_free():
    room = room_of(4, TOOLS)
    turret = start_turret(room, [row("T1", clearance_mm=0.3), row("T0", 1, angle=90.0)], INDEX)
    assert turret.stations == [Placed(0, 1, 0.2, 90.0), Placed(1, 1, 0.3, 0.0), None, None]
    assert turret.loaded_at == [0, 1, -1, -1]


def test_copies_are_numbered_and_other_rows_ignored():
    room = room_of(4, TOOLS)
    rows = [row("T1", 1), row("T1", 2), StartRow(what="magazine", item="T0"), StartRow(what="backlog", item="O1")]
    turret = start_turret(room, rows, INDEX)
    assert turret.stations[:3] == [Placed(1, 1, 0.2, 0.0), Placed(1, 2, 0.2, 0.0), None]


def test_forming_tools_stand_without_clearance():
    room = room_of(4, TOOLS)
    assert start_turret(room, [row("T2", 3, clearance_mm=0.2)], INDEX).stations[2] == Placed(2, 1, NO_CLEARANCE, 0.0)


def test_all_that_cannot_stand_is_told_at_once():
    room = room_of(5, TOOLS)
    rows = [row("T0", 1), row("T1", 1), row("T3", 2), row("T0", 3), row("T2", 2), row("T1", 9)]
    with pytest.raises(BadInput) as caught:
        start_turret(room, rows, INDEX)
    assert [finding.why for finding in caught.value.findings] == [
        "the station is taken",
        "the tool does not fit there",
        "more copies than owned",
        "a tall forming tool or a wide tool bars a station that is taken",
        "the tool does not fit there",
    ]


def test_stations_of_the_start_are_ring_positions_and_a_holder_fills_from_its_first_place():
    room = make_tool_room(settings_of({"size_mm": 16}, {"size_mm": 16, "tools": 2}, {"size_mm": 30}), TOOLS)
    turret = start_turret(room, [row("T1", 2), row("T0", 2), row("T3", 3)], INDEX)
    assert [placed and placed.tool for placed in turret.stations] == [None, 1, 0, 3]


def test_a_full_holder_is_taken():
    room = make_tool_room(settings_of({"size_mm": 16, "tools": 2}, {"size_mm": 16}), TOOLS)
    with pytest.raises(BadInput) as caught:
        start_turret(room, [row("T1", 1), row("T0", 1), row("T1", 1), row("T1", 3)], INDEX)
    assert [finding.why for finding in caught.value.findings] == ["the station is taken", "the tool does not fit there"]


def test_with_an_adapter_a_tool_starts_in_a_larger_station():
    room = make_tool_room(settings_of({"size_mm": 30, "also_mm": [16]}, {"size_mm": 30}), TOOLS)
    turret = start_turret(room, [row("T0", 1), row("T3", 2)], INDEX)
    assert [placed and placed.tool for placed in turret.stations] == [0, 3]
    with pytest.raises(BadInput, match="does not fit there"):
        start_turret(room, [row("T0", 2)], INDEX)


def test_no_tall_form_starts_beside_the_second_position_of_a_wide_tool():
    room = make_tool_room(settings_of({"size_mm": 16, "count": 6}), [tool(0, positions=2), tool(1), form(2)])
    with pytest.raises(BadInput, match="bars a station that is taken"):
        start_turret(room, [row("T0", 1), row("T2", 3)], INDEX)
    turret = start_turret(room, [row("T0", 1), row("T2")], INDEX)
    assert [placed and placed.tool for placed in turret.stations] == [0, None, None, 2, None, None]
