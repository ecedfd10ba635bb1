"""Small magazines for the tests: any tools, places, orders and turrets, and what must hold of a magazine."""

from __future__ import annotations

from collections import Counter

from hypothesis import settings
from hypothesis import strategies as st

from simkit.plant.settings import Magazine
from simkit.tooling.exchange import apply_exchanges, mark_used, plan_exchange
from simkit.tooling.toolroom import NO_CLEARANCE, Need, make_tool_room
from simkit.tooling.turret import empty_turret
from tests.tooling.rooms import form, settings_of, tool

FEW = settings(max_examples=120, deadline=None, derandomize=True)


def settings_with(places, stations=2, **magazine):
    """Settings with stations of 16 mm and of 30 mm, and a magazine."""
    runs = ({"size_mm": 16, "count": stations}, {"size_mm": 30, "count": stations})
    return settings_of(*runs, rules={"eviction": "soonest"}, magazine={"places": places, **magazine})


def kept(tools):
    """Clearances at which each tool can be kept."""
    return [tuple(sorted(t.clearances)) or (NO_CLEARANCE,) for t in tools]


@st.composite
def tool_lists(draw, twins=True):
    """Tools of two sizes, some wide, some forming, some with a twin."""
    tools = []
    for number in range(draw(st.integers(1, 8))):
        size, copies = draw(st.sampled_from((16.0, 16.0, 30.0))), draw(st.integers(1, 2)) if twins else 1
        if draw(st.integers(0, 5)) == 0:
            tools.append(form(number, size, height_mm=2.0, copies=copies))
        else:
            clearances = draw(st.sampled_from(((0.2,), (0.2, 0.3), (0.2, 0.3, 0.4), (0.2, 0.3, 0.4, 0.5))))
            positions = draw(st.sampled_from((1, 1, 1, 2)))
            tools.append(tool(number, size, copies=copies, positions=positions, clearances=clearances))
    return tools


@st.composite
def magazines(draw):
    """Places and dies per place for the two sizes."""
    places = {"16": draw(st.integers(0, 8)), "30": draw(st.integers(0, 4))}
    return Magazine(places=places, dies_per_place={size: draw(st.integers(1, 3)) for size in places})


@st.composite
def weighed(draw, tools):
    """Uses of tools at clearances, now and then at one that is not owned."""
    pair = st.tuples(st.integers(0, len(tools) - 1), st.sampled_from((0.2, 0.3, 0.4, 0.5)))
    weights = draw(st.lists(st.tuples(pair, st.integers(1, 5)), max_size=16))
    return [(wanted(tools, row, clearance), float(weight)) for (row, clearance), weight in weights]


def wanted(tools, row, clearance):
    """The need of a tool at a clearance, of a forming tool at none."""
    return Need(row, clearance if tools[row].clearances else NO_CLEARANCE, 0.0)


@st.composite
def queues(draw, tools, most=8):
    """Orders by their needs; each order has one clearance, as its material has."""
    orders = []
    for _ in range(draw(st.integers(1, most))):
        rows = draw(st.sets(st.integers(0, len(tools) - 1), min_size=1, max_size=4))
        clearance = draw(st.sampled_from((0.2, 0.3, 0.4, 0.5)))
        orders.append(tuple(wanted(tools, row, clearance) for row in sorted(rows)))
    return orders


@st.composite
def cases(draw, twins=True):
    """Tools, a room with a filled magazine, a turret after some orders, and the queue that is known then."""
    tools = draw(tool_lists(twins))
    magazine = draw(magazines())
    sections = {"places": magazine.places, "dies_per_place": magazine.dies_per_place}
    room = make_tool_room(settings_with(stations=draw(st.integers(1, 3)), **sections), tools, draw(weighed(tools)))
    turret = empty_turret(room)
    for number, needs in enumerate(draw(queues(tools, most=3))):
        plan = plan_exchange(room, turret, needs, ())
        turret = mark_used(apply_exchanges(turret, plan.exchanges, number), needs, number)
    return tools, room, turret, draw(queues(tools))


def check_magazine(state, tools):
    """Right sizes, places and dies; each copy in one place only, a wide one in two; dies alone only beside a copy."""
    for number, shelf in enumerate(state.shelves):
        slots = Counter(stored for stored in shelf.places if stored)
        assert all(count == (tools[s.tool].positions if s.copy else 1) for s, count in slots.items())
        assert all(1 <= len(stored.dies) <= shelf.dies_per_place for stored in slots)
        assert all(len(set(stored.dies)) == len(stored.dies) for stored in slots)
        assert all(set(stored.dies) <= set(kept(tools)[stored.tool]) for stored in slots)
        assert all(state.shelf_of[stored.tool] == number for stored in slots)
    stored = [one for shelf in state.shelves for one in set(shelf.places) if one]
    copies = Counter(one[:2] for one in stored if one.copy)
    assert all(count == 1 and copy <= tools[row].copies for (row, copy), count in copies.items())
    alone = Counter((one.tool, die) for one in stored if one.copy == 0 for die in one.dies)
    assert all(count == 1 for count in alone.values())
    assert {row for row, _ in alone} <= {row for row, _ in copies}
