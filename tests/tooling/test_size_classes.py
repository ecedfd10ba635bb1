"""Size classes: when they stand apart, what follows from that, and how far programs go beyond the stations."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.tooling.exchange import apply_exchanges, mark_used, plan_exchange
from simkit.tooling.room import NO_CLEARANCE, Need, make_tool_room
from simkit.tooling.sequence import insertions
from simkit.tooling.size_classes import ClassCount, classes_apart, exactness, program_fits
from simkit.tooling.turret import empty_turret
from tests.tooling.rooms import form, forming, need, room_of, settings_of, tool

TWO_SIZES = ({"size_mm": 16, "count": 3}, {"size_mm": 30, "count": 2})
FEW = settings(max_examples=60, deadline=None, derandomize=True)


@pytest.mark.parametrize(
    ("stations", "tools", "reason"),
    [
        (TWO_SIZES, [tool(0), tool(1, 30), form(2, height_mm=2.0)], ""),
        (({"size_mm": 30, "also_mm": [16]},), [tool(0), tool(1, 30)], ""),
        (({"size_mm": 16, "tools": 3}, {"size_mm": 16}), [tool(0), tool(1)], ""),
        (TWO_SIZES, [tool(0), tool(1, 90, positions=2)], ""),
        (({"size_mm": 16}, {"size_mm": 30, "also_mm": [16]}), [tool(0), tool(1, 30)], "more than one size class"),
        (TWO_SIZES, [tool(0, positions=2)], "two positions"),
        (TWO_SIZES, [tool(0), form(1, 30)], "tall forms"),
        (({"size_mm": 16, "count": 3, "retracting": True},), [tool(0), form(1)], ""),
        (({"size_mm": 16, "turning": True},), [tool(0, needs_turning=True)], "must turn"),
    ],
)
def test_classes_stand_apart_or_the_sentence_says_why_not(stations, tools, reason):
    room = make_tool_room(settings_of(*stations), tools)
    assert classes_apart(room) == (not reason)
    assert reason in exactness(room)
    assert ("Tang and Denardo 1988" in exactness(room)) == (not reason)
    assert ("Crama" in exactness(room)) == bool(reason)
    assert exactness(room).count(".") == 1


def test_several_reasons_are_all_said():
    room = make_tool_room(settings_of(*TWO_SIZES), [tool(0, positions=2), form(1, 30)])
    assert "two positions and tall forms" in exactness(room)


def loads(room, jobs):
    """Loads of a job list under the room's own eviction rule, with all coming jobs known."""
    turret, total = empty_turret(room), 0
    for number, needs in enumerate(jobs):
        plan = plan_exchange(room, turret, needs, jobs[number + 1 :], number)
        turret = mark_used(apply_exchanges(turret, plan.exchanges, number), needs, number)
        total += len(plan.exchanges)
    return total


@st.composite
def mixed_jobs(draw):
    """Two size classes in one ring, mixed with holders of several tools; jobs that fit."""
    capacity = {16: draw(st.integers(1, 5)), 30: draw(st.integers(1, 5))}
    runs = draw(st.permutations([{"size_mm": size} for size, count in capacity.items() for _ in range(count)]))
    if draw(st.booleans()):
        runs, capacity[16] = [*runs, {"size_mm": 16, "tools": 2}], capacity[16] + 2
    sizes = [16] * draw(st.integers(1, 8)) + [30] * draw(st.integers(1, 8))
    tools = [tool(n, size, clearances=()) for n, size in enumerate(sizes)]
    rules = {"eviction": draw(st.sampled_from(("lru", "fifo", "soonest")))}
    jobs = []
    for _ in range(draw(st.integers(1, 10))):
        rows = draw(st.permutations(range(len(tools))))
        chosen = [row for size in (16, 30) for row in [r for r in rows if sizes[r] == size][: capacity[size]]]
        jobs.append({row for row in chosen if draw(st.booleans())})
    return make_tool_room(settings_of(*runs, rules=rules), tools), sizes, capacity, jobs


@FEW
@given(mixed_jobs())
def test_with_classes_apart_loads_are_the_sum_over_classes_solved_alone(case):
    room, sizes, capacity, jobs = case
    assert classes_apart(room)
    together = loads(room, [tuple(Need(row, NO_CLEARANCE, 0.0) for row in sorted(job)) for job in jobs])
    alone = [insertions([{row for row in job if sizes[row] == s} for job in jobs], capacity[s], room.eviction)
             for s in (16, 30)]  # fmt: skip
    assert together == sum(alone)


def test_a_program_that_fits_needs_no_note():
    room = room_of(3, [tool(n) for n in range(3)])
    fits = program_fits(room, tuple(need(n) for n in range(3)))
    assert fits.classes == (ClassCount(16.0, 3, 3, 0, 0),)
    assert (fits.exchanges, fits.returns, fits.without, fits.note("P-1")) == (0, False, (), "")


def test_a_program_with_too_many_tools_says_how_many_exchanges_a_sheet():
    room = room_of(14, [tool(n) for n in range(15)])
    fits = program_fits(room, tuple(need(n) for n in range(15)))
    assert fits.note("P-104") == (
        "P-104 needs 15 tools of the 16 mm stations, there are 14: 1 exchange in the middle of each sheet"
    )


def test_only_the_class_that_overflows_is_named():
    room = make_tool_room(settings_of(*TWO_SIZES), [*(tool(n) for n in range(3)), *(tool(n, 30) for n in range(3, 7))])
    fits = program_fits(room, tuple(need(n) for n in range(7)))
    assert [(one.size_mm, one.needed, one.places, one.too_many) for one in fits.classes] == [
        (16.0, 3, 3, 0), (30.0, 4, 2, 2),
    ]  # fmt: skip
    assert fits.note("P-1").startswith(
        "P-1 needs 4 tools of the 30 mm stations, there are 2: 2 exchanges in the middle"
    )


def test_a_forming_tool_is_exchanged_there_and_back():
    room = room_of(1, [tool(0), form(1, height_mm=2.0)])
    fits = program_fits(room, (need(0), forming(1)))
    assert (fits.exchanges, fits.returns) == (2, True)
    assert fits.note("P-1").endswith("2 exchanges there and back, on each sheet")


def test_standard_tools_hold_their_stations():
    room = room_of(3, [tool(n) for n in range(4)], pinned=("T3@0.20",))
    fits = program_fits(room, tuple(need(n) for n in range(3)))
    assert fits.classes == (ClassCount(16.0, 3, 3, 1, 1),)
    assert "there are 3, 1 with standard tools: 1 exchange" in fits.note("P-1")
    assert program_fits(room, (need(0), need(1), need(3))).exchanges == 0


def test_stations_that_stay_empty_beside_a_tall_form_are_said():
    room = room_of(4, [tool(0), tool(1), form(2)])
    fits = program_fits(room, (need(0), need(1), forming(2)))
    assert sum(one.too_many for one in fits.classes) == 1
    assert "some of which stay empty beside others" in fits.note("P-1")


def test_an_only_copy_at_two_angles_is_turned():
    room = room_of(3, [tool(0)])
    fits = program_fits(room, (need(0), need(0, 0.2, 90.0)))
    assert fits.note("P-1") == "P-1 turns its only copy of a tool: 1 exchange in the middle of each sheet"


def test_a_tool_that_no_station_takes_is_counted():
    room = room_of(1, [tool(0), tool(1)], pinned=("T0",))
    fits = program_fits(room, (need(0), need(1)))
    assert fits.without == (need(1),)
    assert fits.note("P-1").endswith("there are 1; 1 of its tools find no station at all")


def test_holders_and_adapters_count_as_places():
    room = make_tool_room(
        settings_of({"size_mm": 16, "tools": 3}, {"size_mm": 30, "also_mm": [16]}), [tool(n) for n in range(5)]
    )
    assert program_fits(room, tuple(need(n) for n in range(4))).exchanges == 0
    assert program_fits(room, tuple(need(n) for n in range(5))).classes == (ClassCount(16.0, 5, 4, 0, 1),)
