"""Rooms of every kind of station: what stands is legal by the settings alone, and no station is wasted."""

from __future__ import annotations

from collections import Counter

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_bipartite_matching

from simkit.tooling.exchange import apply_exchanges, mark_used, plan_exchange, turret_after
from simkit.tooling.toolroom import NO_CLEARANCE, Need, make_tool_room
from simkit.tooling.turret import Placed, empty_turret
from tests.tooling.rooms import form, settings_of, tool, turret_of
from tests.tooling.test_exchange_properties import needs_among

FEW = settings(max_examples=80, deadline=None, derandomize=True)
SIZES = (16.0, 30.0, 55.0)


@st.composite
def stations(draw, plain=False):
    run = {"size_mm": st.sampled_from(SIZES), "count": st.integers(1, 3), "tools": st.sampled_from((1, 1, 2, 3)),
           "also_mm": st.lists(st.sampled_from(SIZES), max_size=2)}  # fmt: skip
    if not plain:
        run |= {"turning": st.booleans(), "retracting": st.booleans()}
    return draw(st.lists(st.fixed_dictionaries(run), min_size=1, max_size=5))


@st.composite
def any_tool(draw, number):
    size, copies = draw(st.sampled_from(SIZES)), draw(st.integers(1, 2))
    wide = draw(st.sampled_from((1, 1, 1, 2)))
    if draw(st.integers(0, 3)) == 0:
        return form(number, size, height_mm=draw(st.sampled_from((2.0, 8.0))), copies=copies, positions=wide)
    return tool(number, size, copies=copies, positions=wide, needs_turning=draw(st.integers(0, 5)) == 0)


@st.composite
def plants(draw):
    """Settings, tools and orders; some tools pinned, with or without their clearance."""
    tools = [draw(any_tool(n)) for n in range(draw(st.integers(2, 10)))]
    names = [t.tool_id + ("@0.2" if t.clearances and t.copies > 1 else "") for t in tools]
    pinned = draw(st.sets(st.sampled_from(names), max_size=2))
    rules = {"eviction": draw(st.sampled_from(("lru", "fifo", "soonest"))), "pinned": sorted(pinned)}
    return (
        settings_of(*draw(stations()), rules=rules),
        tools,
        draw(st.lists(needs_among(tools), min_size=1, max_size=6)),
    )


def check_legal(plant, tools, standing):
    """Check by the settings alone: sizes, turning, holders, wide tools, tall forms, copies."""
    ring = [run for run in plant.machine.stations for _ in range(run.count)]
    places = [position for position, run in enumerate(ring) for _ in range(run.tools)]
    assert len(places) == len(standing)
    filled = Counter(position for position, placed in zip(places, standing, strict=True) if placed)
    over = {
        (p + 1) % len(ring)
        for p, placed in zip(places, standing, strict=True)
        if placed and tools[placed.tool].positions > 1
    }
    for position, placed in zip(places, standing, strict=True):
        if placed is None:
            continue
        run, row = ring[position], tools[placed.tool]
        assert row.station_size_mm in (run.size_mm, *run.also_mm)
        assert run.turning or not row.needs_turning
        taken = [position]
        if row.positions == 2:
            taken.append((position + 1) % len(ring))
            behind = ring[taken[1]]
            assert (len(ring) > 1, run.tools, behind.tools, filled[taken[1]]) == (True, 1, 1, 0)
            assert row.station_size_mm in (behind.size_mm, *behind.also_mm)
        if row.kind == "forming" and row.form_height_mm >= plant.machine.tall_form_mm and not run.retracting:
            beside = {(p + step) % len(ring) for p in taken for step in (-1, 0, 1)}
            assert sum(filled[p] for p in beside) == 1
            assert not (over - set(taken)) & beside
        assert placed.copy <= row.copies
    copies = [placed[:2] for placed in standing if placed]
    assert len(set(copies)) == len(copies)


@FEW
@given(plants())
def test_what_stands_is_legal_by_the_settings(case):
    plant, tools, orders = case
    room = make_tool_room(plant, tools)
    turret = empty_turret(room)
    for number, needs in enumerate(orders):
        plan = plan_exchange(room, turret, needs, orders[number + 1 :], sheets=3)
        turret = apply_exchanges(turret, plan.exchanges, number)
        for sheet in range(4):
            check_legal(plant, tools, turret_after(plan, turret, sheet, number).stations)
        turret = mark_used(turret_after(plan, turret, 3, number), needs, number)


@FEW
@given(plants())
def test_a_standard_tool_never_leaves(case):
    """Whatever is loaded: what is pinned and stands, stands there after each sheet (perhaps with another die)."""
    plant, tools, orders = case
    room = make_tool_room(plant, tools)
    turret = empty_turret(room)
    for number, needs in enumerate(orders):
        plan = plan_exchange(room, turret, needs, orders[number + 1 :], sheets=2)
        pins = {p[:2] for p in turret.stations if p and room.is_pinned(p.tool, p.clearance)}
        turret = apply_exchanges(turret, plan.exchanges, number)
        for sheet in range(3):
            assert pins <= {p[:2] for p in turret_after(plan, turret, sheet, number).stations if p}
        turret = turret_after(plan, turret, 1, number)


@st.composite
def shared_stations(draw):
    """Stations that take several sizes, tools that need nothing else, one order, and something standing already."""
    tools = [tool(n, draw(st.sampled_from(SIZES)), clearances=()) for n in range(draw(st.integers(1, 12)))]
    room = make_tool_room(settings_of(*draw(stations(plain=True))), tools)
    rows = draw(st.sets(st.integers(0, len(tools) - 1), min_size=1))
    standing: dict[int, int | Placed] = {}
    for row in draw(st.permutations(range(len(tools)))):
        free = [s for s in room.fits[row] if s not in standing]
        if free and draw(st.booleans()):
            standing[draw(st.sampled_from(free))] = Placed(row, 1, NO_CLEARANCE, 0.0)
    return room, turret_of(room, standing), tuple(Need(row, NO_CLEARANCE, 0.0) for row in sorted(rows))


@FEW
@given(shared_stations())
def test_as_many_tools_stand_at_once_as_can(case):
    """Where stations take several sizes, no more is exchanged in the middle than a matching of tools must leave out."""
    room, turret, needs = case
    allowed = np.array([[s in room.fits[need.tool] for s in range(len(room.ring))] for need in needs], dtype=int)
    matched = int((maximum_bipartite_matching(csr_array(allowed), perm_type="column") >= 0).sum())
    plan = plan_exchange(room, turret, needs, ())
    first = apply_exchanges(turret, plan.exchanges, 1)
    assert sum(placed is not None and any(placed.tool == n.tool for n in needs) for placed in first.stations) == matched
    assert len(plan.mid_program) + len(plan.missing) == len(needs) - matched
