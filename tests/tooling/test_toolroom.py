from __future__ import annotations

import pytest

from simkit.base.messages import BadInput
from simkit.plant.tables import Material, ProgramTool
from simkit.tooling.toolroom import NO_CLEARANCE, Need, make_tool_room, needs_of
from tests.tooling.rooms import form, need, settings_of, tool


def material(clearance_mm: float) -> Material:
    return Material(
        material_id="M", metal="steel", thickness_mm=1, density_kg_m3=7850, clearance_mm=clearance_mm,
        cutting_speed_m_min=10, pierce_s=0.2,
    )  # fmt: skip


def test_stations_stand_in_ring_order():
    room = make_tool_room(settings_of({"size_mm": 16, "count": 2}, {"size_mm": 30, "turning": True}), [])
    assert room.ring == (0, 1, 2)
    assert room.turning == (False, False, True)


def test_tall_starts_at_the_machines_height():
    tools = [form(0, height_mm=5.0), form(1, height_mm=4.9), tool(2, form_height_mm=9.0)]
    room = make_tool_room(settings_of({"size_mm": 16, "count": 2}), tools)
    assert room.bars == (((1,), (0,)), ((), ()), ((), ()))


def test_turning_tools_fit_turning_stations_only():
    stations = [{"size_mm": 16, "count": 2}, {"size_mm": 16, "turning": True}, {"size_mm": 30, "turning": True}]
    room = make_tool_room(settings_of(*stations), [tool(0, needs_turning=True), tool(1)])
    assert room.fits == ((2,), (0, 1, 2))
    assert room.level == (2, 0)


def test_pins_with_and_without_clearance():
    rules = {"pinned": ("T0", "T1@0.20")}
    room = make_tool_room(settings_of({"size_mm": 16}, rules=rules), [tool(0), tool(1)])
    assert room.is_pinned(0, 0.3)
    assert room.is_pinned(1, 0.2)
    assert not room.is_pinned(1, 0.3)


def test_every_wrong_pin_is_told_at_once():
    rules = {"pinned": ("T9", "T1@0.50", "T0@x", "T2@0.20")}
    with pytest.raises(BadInput) as caught:
        make_tool_room(settings_of({"size_mm": 16}, rules=rules), [tool(0), tool(1), form(2)])
    assert [finding.value for finding in caught.value.findings] == ["T9", "T1@0.50", "T0@x", "T2@0.20"]
    assert "known names: T0, T1, T2" in str(caught.value)


def test_magazine_contents_as_listed():
    magazine = {"places": {"16": 3}, "dies_per_place": {"16": 2}, "contents": ("T0@0.30", "T1", "T2")}
    room = make_tool_room(settings_of({"size_mm": 16}, magazine=magazine), [tool(0), tool(1), form(2)])
    assert room.magazine.contents == {(0, 0.3), (1, 0.2), (1, 0.3), (2, NO_CLEARANCE)}


def test_default_contents_are_the_most_used():
    tools = [tool(0), tool(1), tool(2), form(3)]
    uses = [(need(0), 1.0), (need(1, 0.3), 5.0), (need(1), 2.0), (need(2), 3.0), (Need(3, NO_CLEARANCE, 0.0), 4.0)]
    magazine = {"places": {"16": 3}, "dies_per_place": {"16": 1}}
    room = make_tool_room(settings_of({"size_mm": 16}, magazine=magazine), tools, uses)
    assert room.magazine.contents == {(1, 0.3), (3, NO_CLEARANCE), (2, 0.2)}


def test_a_further_place_takes_the_next_die_then_the_twin():
    uses = [(need(0), 5.0), (need(0, 0.3), 4.0), (need(1), 1.0)]
    tools = [tool(0, copies=2), tool(1)]
    for places, twin in ((3, False), (4, True)):
        settings = settings_of({"size_mm": 16}, magazine={"places": {"16": places}})
        room = make_tool_room(settings, tools, uses)
        assert room.magazine.contents == {(0, 0.2), (0, 0.3), (1, 0.2)}
        assert room.magazine.gives(0, 0.2, 2) == twin


def test_places_of_another_size_hold_nothing():
    magazine = {"places": {"30": 3}}
    room = make_tool_room(settings_of({"size_mm": 16}, magazine=magazine), [tool(0)], [(need(0), 1.0)])
    assert room.has_magazine
    assert room.magazine.contents == frozenset()


def test_no_magazine_without_places():
    assert not make_tool_room(settings_of({"size_mm": 16}), []).has_magazine


def test_needs_are_sorted_and_carry_the_materials_clearance():
    tools = [form(0), tool(1), tool(2, clearances=())]
    uses = [
        ProgramTool(program_id="P", tool_id=f"T{n}", hits_per_sheet=1, angle=a) for n, a in ((2, 0), (1, 90), (0, 0))
    ]
    needs = needs_of(uses, material(0.3), tools, {"T0": 0, "T1": 1, "T2": 2})
    assert needs == (Need(0, NO_CLEARANCE, 0), Need(1, 0.3, 90), Need(2, NO_CLEARANCE, 0))


def test_the_nearest_owned_clearance_and_of_two_the_smaller():
    room = make_tool_room(settings_of({"size_mm": 16}), [tool(0, clearances=(0.5, 0.25))])
    assert room.owned_clearance(need(0, 0.375)) == 0.25
    assert room.owned_clearance(need(0, 0.4)) == 0.5
