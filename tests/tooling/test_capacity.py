from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from simkit.tooling.capacity import PlaceClaim, exchanged, keep_list
from simkit.tooling.toolroom import make_tool_room
from tests.tooling.magazines import FEW, queues, settings_with, tool_lists, weighed
from tests.tooling.rooms import need, tool

TOOLS = [tool(0), tool(1), tool(2), tool(3, 30)]
JOBS = [(need(0), need(1)), (need(2),), (need(0),), (need(0, 0.3), need(3))] * 2


def uses_of(jobs):
    return [(one, 1.0) for needs in jobs for one in needs]


def misses(settings, tools, uses, jobs, places=None):
    """Exchanges of each size that do not find their copy or die in a magazine filled with the most used."""
    if places is not None:
        magazine = settings.magazine.model_copy(update={"places": places})
        settings = settings.model_copy(update={"magazine": magazine})
    room = make_tool_room(settings, tools, uses)
    missed = dict.fromkeys(sorted({one.station_size_mm for one in tools}), 0)
    for what, count in exchanged(room, jobs).items():
        missed[tools[what[0]].station_size_mm] += count * (not room.magazine.gives(*what))
    return missed


def test_loads_and_die_changes_count_and_what_stands_does_not():
    """Two stations of 16 mm, tools needed soonest stay: 0 and 1 come in, 2 takes the place of 1, 0 changes its die."""
    room = make_tool_room(settings_with({}), TOOLS)
    assert exchanged(room, JOBS[:1] * 3) == {(0, 0.2, 1): 1, (1, 0.2, 1): 1}
    assert exchanged(room, [(need(0),), (need(0, 0.3),), (need(0),)]) == {
        (0, 0.2, 1): 1,
        (0, 0.3, 0): 1,
        (0, 0.2, 0): 1,
    }
    assert exchanged(room, JOBS[:4]) == {
        (0, 0.2, 1): 1, (1, 0.2, 1): 1, (2, 0.2, 1): 1, (0, 0.3, 0): 1, (3, 0.2, 1): 1,
    }  # fmt: skip


def test_a_tool_that_turns_is_not_exchanged():
    room = make_tool_room(settings_with({}), TOOLS)
    assert exchanged(room, [(need(0),), (need(0, angle=90.0),)]) == {(0, 0.2, 1): 1}


def test_what_a_split_program_exchanges_in_its_middle_counts_once():
    room = make_tool_room(settings_with({}, stations=1), TOOLS)
    assert exchanged(room, [(need(0), need(1))]) == {(0, 0.2, 1): 1, (1, 0.2, 1): 1}


def test_what_is_not_in_the_magazine_misses():
    settings = settings_with({"16": 1, "30": 1})
    jobs = JOBS[:4]
    none, one, two = (misses(settings, TOOLS, uses_of(jobs), jobs, p) for p in ({}, {"16": 1}, {"16": 2, "30": 1}))
    assert none == {16.0: 4, 30.0: 1}
    assert one == {16.0: 3, 30.0: 1}
    assert two == {16.0: 2, 30.0: 0}


def test_who_deserves_a_place_with_its_share_and_who_is_left_out():
    settings = settings_with({"16": 2}, dies_per_place={"16": 2})
    jobs = JOBS[:4]
    assert keep_list(settings, TOOLS, jobs) == (
        PlaceClaim(16.0, 0, 1, (0.2, 0.3), 1, 2, 0.4, True),
        PlaceClaim(16.0, 1, 1, (0.2,), 1, 1, 0.2, True),
        PlaceClaim(16.0, 2, 1, (0.2,), 1, 1, 0.2, False),
        PlaceClaim(30.0, 3, 1, (0.2,), 1, 1, 0.2, False),
    )


def test_a_die_alone_takes_a_place_of_its_own_or_none_beside_others():
    tools = [tool(0, clearances=(0.2, 0.3, 0.4, 0.5))]
    jobs = [(need(0),), (need(0, 0.3),), (need(0, 0.4),), (need(0, 0.5),)]
    settings = settings_with({"16": 1}, dies_per_place={"16": 2})
    assert [row[2:6] + row[7:] for row in keep_list(settings, tools, jobs)] == [
        (1, (0.2, 0.3), 1, 2, True), (0, (0.4,), 1, 1, False), (0, (0.5,), 0, 1, False),
    ]  # fmt: skip


def test_a_second_copy_misses_unless_it_has_a_place():
    """The program needs the tool at two angles, so both copies are loaded, then stand there."""
    tools = [tool(0, copies=2)]
    jobs = [(need(0), need(0, angle=90.0))]
    one, two = (misses(settings_with({}), tools, uses_of(jobs), jobs, {"16": places}) for places in (1, 2))
    assert (one, two) == ({16.0: 1}, {16.0: 0})
    rows = keep_list(settings_with({"16": 1}), tools, jobs)
    assert rows == (
        PlaceClaim(16.0, 0, 1, (0.2,), 1, 1, 0.5, True),
        PlaceClaim(16.0, 0, 2, (0.2,), 1, 1, 0.5, False),
    )  # fmt: skip


def test_a_second_copy_that_is_never_loaded_deserves_nothing():
    assert [row.copy for row in keep_list(settings_with({"16": 2}), [tool(0, copies=2)], [(need(0),)])] == [1]


def test_nothing_exchanged_deserves_nothing():
    assert keep_list(settings_with({"16": 2}), TOOLS, []) == ()


def test_a_wide_tool_deserves_by_its_loads_per_place():
    tools = [tool(0, positions=2), tool(1), tool(2)]
    jobs = [(need(0),), (need(1),), (need(2),)]
    settings = settings_with({"16": 3})
    rows = [(row.tool, row.loads, row.positions, row.kept) for row in keep_list(settings, tools, jobs * 2)]
    assert rows == [(1, 2, 1, True), (2, 2, 1, True), (0, 2, 2, False)]


# ---- whatever the tools, places and orders ----


@FEW
@given(tool_lists(), st.data())
def test_misses_never_rise_with_places(tools, data):
    jobs = data.draw(queues(tools))
    settings = settings_with({"16": 4, "30": 4}, dies_per_place={"16": data.draw(st.integers(1, 3))})
    uses = data.draw(weighed(tools))
    curve = [misses(settings, tools, uses, jobs, {"16": count, "30": count}) for count in (0, 1, 2, 3, 4, 5, 12)]
    for size in curve[0]:
        counts = [point[size] for point in curve]
        assert counts == sorted(counts, reverse=True)
    assert sum(curve[0].values()) == exchanged(make_tool_room(settings, tools), jobs).total()


@FEW
@given(tool_lists(), st.data())
def test_misses_never_rise_with_dies_per_place(tools, data):
    jobs = data.draw(queues(tools))
    uses = data.draw(weighed(tools))
    counts = []
    for dies in (1, 2, 3):
        settings = settings_with({"16": 3, "30": 2}, dies_per_place={"16": dies, "30": dies})
        counts.append(sum(misses(settings, tools, uses, jobs).values()))
    assert counts == sorted(counts, reverse=True)


@FEW
@given(tool_lists(), st.data())
def test_a_list_for_everything_misses_nothing(tools, data):
    """What deserves a place, once all of it has one, serves every exchange; shares add up to the whole."""
    jobs = data.draw(queues(tools))
    settings = settings_with({"16": 40, "30": 40}, dies_per_place={"16": 3, "30": 3})
    rows = keep_list(settings, tools, jobs)
    assert all(row.kept for row in rows)
    counts = exchanged(make_tool_room(settings, tools), jobs)
    assert sum(row.loads for row in rows) == sum(counts.values())
    assert {(row.tool, die) for row in rows for die in row.dies} == {(tool, die) for tool, die, _ in counts}
    if rows:
        assert sum(row.share for row in rows) == pytest.approx(1.0)
