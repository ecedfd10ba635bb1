from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import given

from simkit.tooling.exchange import plan_exchange
from simkit.tooling.magazine import Stored
from simkit.tooling.refill import NEVER, Move, apply_moves, refill, with_magazine
from simkit.tooling.toolroom import NO_CLEARANCE, make_tool_room
from simkit.tooling.turret import Placed, empty_turret
from tests.tooling.magazines import FEW, cases, check_magazine, settings_with
from tests.tooling.rooms import form, forming, need, tool, turret_of


def room_with(tools, *contents, places=3, dies=1):
    """A room whose magazine of 16 mm places holds what is listed."""
    settings = settings_with({"16": places}, dies_per_place={"16": dies}, contents=contents)
    return make_tool_room(settings, tools)


def put(room, queue, standing=None):
    """The moves for a queue, in short: kind, places, tools that left, what is there afterwards."""
    turret = turret_of(room, standing or {})
    moves = refill(room.magazine, room, queue, turret)
    return [(move.kind, move.places, [stored.tool for stored in move.out], move.into) for move in moves]


def test_a_tool_that_the_queue_needs_goes_into_a_free_place():
    room = room_with([tool(n) for n in range(3)], "T0@0.2")
    assert put(room, [(need(0),), (need(2, 0.3),)]) == [("tool", (1,), [], Stored(2, 1, (0.3,)))]


def test_it_comes_with_all_dies_that_the_queue_needs_and_the_place_takes():
    tools = [tool(0), tool(1, clearances=(0.2, 0.3, 0.4))]
    queue = [(need(0),), (need(1, 0.4),), (need(1, 0.2),), (need(1, 0.3),)]
    room = room_with(tools, "T0@0.2", places=2, dies=2)
    assert put(room, queue) == [("tool", (1,), [], Stored(1, 1, (0.4, 0.2)))]


def test_a_die_goes_to_its_tool_where_the_place_has_room():
    room = room_with([tool(0), tool(1)], "T1@0.2", "T0@0.2", dies=2)
    assert put(room, [(need(0, 0.3),)]) == [("die", (1,), [0], Stored(0, 1, (0.2, 0.3)))]


def test_a_die_for_which_its_tool_has_no_room_takes_an_empty_place():
    tools = [tool(0, clearances=(0.2, 0.3, 0.4, 0.5)), tool(1)]
    queue = [(need(0, 0.4),), (need(0, 0.5),), (need(0),), (need(0, 0.3),)]
    alone = [Stored(0, 0, (0.4,)), Stored(0, 0, (0.5,))]
    assert put(room_with(tools, "T0@0.2"), queue) == [("die", (1,), [], alone[0]), ("die", (2,), [], alone[1])]
    room = room_with(tools, "T0@0.2", "T0@0.3", dies=2)
    assert put(room, queue) == [("die", (1,), [], Stored(0, 0, (0.4, 0.5)))]
    assert put(room_with(tools, "T0", dies=3), queue) == []


def test_a_die_joins_others_that_stand_alone():
    tools = [tool(0, clearances=(0.2, 0.3, 0.4, 0.5))]
    room = room_with(tools, "T0@0.2", "T0@0.3", "T0@0.4", dies=2)
    assert put(room, [(need(0, 0.5),)]) == [("die", (1,), [0], Stored(0, 0, (0.4, 0.5)))]


def test_a_die_takes_the_stead_of_one_needed_later():
    room = room_with([tool(0)], "T0@0.2", places=1)
    assert put(room, [(need(0, 0.3),), (need(0, 0.2),)]) == [("die", (0,), [0], Stored(0, 1, (0.3,)))]
    assert put(room, [(need(0, 0.2),), (need(0, 0.3),)]) == []


def test_what_is_needed_latest_leaves_be_it_a_die_or_a_place():
    room = room_with([tool(0), tool(1)], "T0@0.2", "T1@0.2", places=2)
    queue = [(need(0, 0.3),), (need(1),), (need(0, 0.2),)]
    assert put(room, queue) == [("die", (0,), [0], Stored(0, 1, (0.3,)))]
    queue = [(need(0, 0.3),), (need(0, 0.2),), (need(1),)]
    assert put(room, queue) == [("die", (1,), [1], Stored(0, 0, (0.3,)))]


def test_dies_alone_leave_before_tools_that_are_not_needed_either():
    room = room_with([tool(0), tool(1), tool(2)], "T0@0.2", "T1@0.2", "T0@0.3")
    assert put(room, [(need(2),)]) == [("tool", (2,), [0], Stored(2, 1, (0.2,)))]
    assert put(room, [(need(2),), (need(0, 0.3),)]) == [("tool", (1,), [1], Stored(2, 1, (0.2,)))]


def test_the_last_copy_takes_the_dies_that_lie_alone_with_it():
    """The wide tool needs two places; its own is enough for the other one, but then nothing is left for its die."""
    tools = [tool(0, positions=2), tool(1, positions=2), tool(2)]
    room = room_with(tools, "T0@0.2", "T0@0.3")
    queue = [(need(1),), (need(0),)]
    assert put(room, queue) == [("tool", (0, 1), [0, 0], Stored(1, 1, (0.2,)))]


def test_a_die_alone_in_the_turret_is_kept_and_so_is_its_copy():
    room = room_with([tool(0, copies=2), tool(1), tool(2)], "T0@0.2", "T0@0.3", places=2)
    assert put(room, [(need(1),)], {0: Placed(0, 2, 0.3, 0.0)}) == []
    assert put(room, [(need(1),)], {0: Placed(0, 1, 0.2, 0.0)}) == [("tool", (1,), [0], Stored(1, 1, (0.2,)))]


def test_a_twin_takes_a_free_place_before_a_die_stands_alone():
    room = room_with([tool(0, copies=2)], "T0@0.2")
    assert put(room, [(need(0, 0.3),)]) == [("tool", (1,), [], Stored(0, 2, (0.3,)))]


def test_of_a_wide_tool_with_a_twin_only_the_die_is_put_in():
    room = room_with([tool(0, copies=2, positions=2)], "T0@0.2", places=5)
    assert put(room, [(need(0, 0.3),)]) == [("die", (2,), [], Stored(0, 0, (0.3,)))]


def test_in_a_full_magazine_the_tool_needed_latest_leaves():
    tools = [tool(n) for n in range(4)]
    room = room_with(tools, "T0@0.2", "T1@0.2", "T2@0.2")
    queue = [(need(3),), (need(1),), (need(0),), (need(2),)]
    assert put(room, queue) == [("tool", (2,), [2], Stored(3, 1, (0.2,)))]


def test_of_tools_not_needed_the_highest_place_is_emptied():
    room = room_with([tool(n) for n in range(4)], "T0@0.2", "T1@0.2", "T2@0.2")
    assert put(room, [(need(3),)]) == [("tool", (2,), [2], Stored(3, 1, (0.2,)))]


def test_nothing_needed_as_soon_leaves():
    room = room_with([tool(0), tool(1)], "T0@0.2", places=1)
    assert put(room, [(need(0), need(1))]) == []
    assert put(room, [(need(1),), (need(0),)]) == [("tool", (0,), [0], Stored(1, 1, (0.2,)))]


def test_the_place_of_a_tool_in_the_turret_is_kept():
    room = room_with([tool(n) for n in range(3)], "T0@0.2", "T1@0.2", places=2)
    assert put(room, [(need(2),)], {0: 1}) == [("tool", (0,), [0], Stored(2, 1, (0.2,)))]
    assert put(room, [(need(2),)], {0: 1, 1: 0}) == []


def test_a_die_in_the_turret_is_kept():
    room = room_with([tool(0, clearances=(0.2, 0.3, 0.4))], "T0@0.2", "T0@0.3", places=1, dies=2)
    assert put(room, [(need(0, 0.4),)], {0: 0}) == [("die", (0,), [0], Stored(0, 1, (0.2, 0.4)))]


def test_a_die_in_the_turret_keeps_the_place_of_a_twin_in_which_it_lay():
    room = room_with([tool(0, copies=2), tool(1)], "T0@0.2", places=2)
    moves = refill(room.magazine, room, [(need(0, 0.3),)], empty_turret(room))
    room = with_magazine(room, apply_moves(room.magazine, moves))
    assert put(room, [(need(1),)]) == [("tool", (1,), [0], Stored(1, 1, (0.2,)))]
    assert put(room, [(need(1),)], {0: Placed(0, 1, 0.3, 0.0)}) == []


def test_what_stands_in_the_turret_need_not_be_put_in():
    room = room_with([tool(0), tool(1)], "T0@0.2")
    assert put(room, [(need(1),)], {0: 1}) == []


def test_a_tool_that_was_fetched_by_hand_gets_a_place_for_its_next_die():
    """The tool itself stands in the turret: only the die is put in."""
    room = room_with([tool(0), tool(1)], "T0@0.2")
    assert put(room, [(need(1, 0.3),)], {0: 1}) == [("die", (1,), [], Stored(1, 1, (0.3,)))]


def test_a_wide_tool_empties_two_places_and_a_narrow_one_a_wide_place():
    tools = [tool(0), tool(1), tool(2, positions=2)]
    room = room_with(tools, "T0@0.2", "T1@0.2")
    assert put(room, [(need(2),), (need(0),)]) == [("tool", (2, 1), [1], Stored(2, 1, (0.2,)))]
    assert put(room, [(need(0),), (need(1),), (need(2),)]) == []
    wide = room_with(tools, "T2@0.2", "T0@0.2")
    assert put(wide, [(need(0),), (need(1),)]) == [("tool", (0,), [2], Stored(1, 1, (0.2,)))]


def test_no_more_leaves_than_must():
    """The narrow tool would leave first, but the wide one has to leave anyway and is enough."""
    tools = [tool(0), tool(1, positions=2), tool(2, positions=2)]
    room = room_with(tools, "T0@0.2", "T1@0.2")
    assert put(room, [(need(2),), (need(1),), (need(0),)]) == [("tool", (1, 2), [1], Stored(2, 1, (0.2,)))]


def test_a_die_that_gave_way_comes_back_once_a_place_is_free():
    """The wide tool is needed before the die, so the die gives way first; then both do."""
    room = room_with([tool(0), tool(1, positions=2), tool(2)], "T0@0.2", "T1@0.2")
    assert put(room, [(need(0, 0.3),), (need(2),), (need(1),), (need(0, 0.2),)]) == [
        ("die", (0,), [0], Stored(0, 1, (0.3,))),
        ("tool", (1,), [1], Stored(2, 1, (0.2,))),
        ("die", (2,), [], Stored(0, 0, (0.2,))),
    ]


def test_the_nearest_owned_die_is_put_in_and_forms_have_none():
    room = room_with([tool(0), form(1), tool(2)], "T0@0.2")
    moves = put(room, [(need(2, 0.27), forming(1))])
    assert [into for _, _, _, into in moves] == [Stored(2, 1, (0.3,)), Stored(1, 1, (NO_CLEARANCE,))]


def test_tools_without_places_or_stations_stay_out():
    settings = settings_with({"16": 2, "55": 2})
    tools = [tool(0, 30), tool(1, 55)]
    room = make_tool_room(settings, tools)
    assert refill(room.magazine, room, [(need(0), need(1))], empty_turret(room)) == ()


def test_the_room_reads_what_was_put_in():
    room = room_with([tool(0), tool(1)], "T0@0.2")
    turret, queue = empty_turret(room), [(need(1),)]
    state = apply_moves(room.magazine, refill(room.magazine, room, queue, turret))
    rooms = (room, with_magazine(room, state))
    kinds = [plan_exchange(now, turret, queue[0], ()).exchanges[0].kind for now in rooms]
    assert kinds == ["tool_load", "magazine_exchange"]


def test_a_die_that_lies_alone_is_exchanged_by_the_gripper():
    room = room_with([tool(0, clearances=(0.2, 0.3, 0.4))], "T0@0.2", "T0@0.3")
    for die, load, change in ((0.3, "magazine_exchange", "magazine_die_change"), (0.4, "tool_load", "die_change")):
        for turret, kind in ((empty_turret(room), load), (turret_of(room, {0: 0}), change)):
            assert [e.kind for e in plan_exchange(room, turret, (need(0, die),), ()).exchanges] == [kind]


def test_a_move_planned_for_another_magazine_is_refused():
    room = room_with([tool(0), tool(1)], "T0@0.2")
    for move in (
        Move("tool", 16.0, (0,), (), Stored(1, 1, (0.2,))),
        Move("tool", 16.0, (1,), (Stored(1, 1, (0.3,)),), Stored(1, 1, (0.2,))),
    ):
        with pytest.raises(ValueError, match="not as it was"):
            apply_moves(room.magazine, (move,))


# ---- whatever the tools, places, turrets and queues ----


def needed_at(room, queue, tool, dies=None):
    """The first order that needs a tool, or one of its dies, at the clearance it will use."""
    for at, needs in enumerate(queue):
        if any(one.tool == tool and (dies is None or room.owned_clearance(one) in dies) for one in needs):
            return at
    return NEVER


def missing(room, state, turret, queue):
    """Needs of the queue that stand neither in the magazine nor in the turret."""
    standing = {(placed.tool, placed.clearance) for placed in turret.stations if placed}
    found = []
    for needs in queue:
        for one in needs:
            pair = (one.tool, room.owned_clearance(one))
            if pair not in state.contents and pair not in standing:
                found.append(pair)
    return found


@FEW
@given(cases())
def test_every_step_is_legal_and_everything_is_accounted_for(case):
    tools, room, turret, queue = case
    state = room.magazine
    for move in refill(state, room, queue, turret):
        after = apply_moves(state, (move,))
        check_magazine(after, tools)
        before = {stored for shelf in state.shelves for stored in shelf.places if stored}
        now = {stored for shelf in after.shelves for stored in shelf.places if stored}
        assert before - now == set(move.out)
        assert now - before == {move.into}
        assert [len(shelf.places) for shelf in after.shelves] == [len(shelf.places) for shelf in state.shelves]
        state = after


@FEW
@given(cases())
def test_a_tool_put_in_was_outside_and_one_taken_out_not_in_the_turret(case):
    _, room, turret, queue = case
    out = {placed[:2] for placed in turret.stations if placed}
    standing = {(placed.tool, placed.clearance) for placed in turret.stations if placed}
    for move in refill(room.magazine, room, queue, turret):
        changed = len(move.out) == 1 and move.out[0][:2] == move.into[:2]
        for stored in move.out:
            left = set(stored.dies) - set(move.into.dies) if changed else set(stored.dies)
            assert changed or stored[:2] not in out
            assert (stored.copy and not changed) or not {(stored.tool, die) for die in left} & standing
        if move.kind == "tool":
            assert move.into.copy > 0
            assert move.into[:2] not in out
            assert not changed


@FEW
@given(cases())
def test_nothing_needed_as_soon_as_what_comes_in_leaves(case):
    _, room, turret, queue = case
    state = room.magazine
    for move in refill(state, room, queue, turret):
        after = apply_moves(state, (move,))
        comes = after.contents - state.contents
        at = min(needed_at(room, queue, tool, {die}) for tool, die in comes)
        assert at < NEVER
        assert all(needed_at(room, queue, tool, {die}) > at for tool, die in state.contents - after.contents)
        whole = [stored for stored in move.out if stored[:2] != move.into[:2]]
        assert all(needed_at(room, queue, one.tool, None if one.copy else one.dies) > at for one in whole)
        state = after


@FEW
@given(cases())
def test_a_second_look_finds_nothing_more_to_do(case):
    _, room, turret, queue = case
    state = apply_moves(room.magazine, refill(room.magazine, room, queue, turret))
    assert refill(state, room, queue, turret) == ()


@FEW
@given(cases())
def test_what_the_queue_finds_before_its_first_miss_it_still_finds(case):
    _, room, turret, queue = case
    state = apply_moves(room.magazine, refill(room.magazine, room, queue, turret))
    clear = next((at for at in range(len(queue)) if missing(room, room.magazine, turret, [queue[at]])), len(queue))
    assert not missing(room, state, turret, queue[:clear])


@FEW
@given(cases(twins=False))
def test_a_queue_that_fits_leaves_no_miss(case):
    """It fits if there are places for all that hold something needed or kept, and for what is needed besides."""
    tools, room, turret, queue = case
    shelves, shelf_of = room.magazine.shelves, room.magazine.shelf_of
    pairs = {(one.tool, room.owned_clearance(one)) for needs in queue for one in needs}
    standing = {(placed.tool, placed.clearance) for placed in turret.stations if placed}
    busy = {tool for tool, _ in pairs | standing}
    short = Counter(tool for tool, _ in pairs - standing - room.magazine.contents)
    for number, shelf in enumerate(shelves):
        stays = [
            one for one in shelf.places if one and (one.tool in busy if one.copy else busy_dies(one, pairs | standing))
        ]
        comes = 0
        for row in (row for row in short if shelf_of[row] == number):
            at_home = (row, 1) in room.magazine.copies
            more = short[row] if at_home else max(short[row] - shelf.dies_per_place, 0)
            comes += -(-more // shelf.dies_per_place) + (0 if at_home else tools[row].positions)
        if len(stays) + comes > len(shelf.places):
            return
    state = apply_moves(room.magazine, refill(room.magazine, room, queue, turret))
    placeable = [p for p in missing(room, state, turret, queue) if shelf_of[p[0]] >= 0 and room.fits[p[0]]]
    assert placeable == []


def busy_dies(stored, pairs):
    return any((stored.tool, die) in pairs for die in stored.dies)
