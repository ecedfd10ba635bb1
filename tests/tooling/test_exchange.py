"""One case per rule of exchange, small enough to check by eye."""

from __future__ import annotations

import pytest

from simkit.tooling.exchange import (
    Exchange,
    apply_exchanges,
    in_use,
    mark_used,
    plan_exchange,
)
from simkit.tooling.toolroom import make_tool_room
from simkit.tooling.turret import Placed, empty_turret
from tests.tooling.rooms import form, forming, need, room_of, settings_of, tool, tools_in, turret_of

PLAIN = [tool(n) for n in range(8)]


def kinds(exchanges):
    return [exchange.kind for exchange in exchanges]


def test_free_stations_are_filled_from_the_lowest():
    room = room_of(3, PLAIN)
    plan = plan_exchange(room, turret_of(room, {1: 5}), (need(0), need(1)), ())
    assert plan.exchanges == (
        Exchange("tool_load", 0, Placed(0, 1, 0.2, 0.0)),
        Exchange("tool_load", 2, Placed(1, 1, 0.2, 0.0)),
    )


def test_what_stands_right_stays():
    room = room_of(3, PLAIN)
    assert plan_exchange(room, turret_of(room, {0: 0, 1: 1}), (need(0), need(1)), ()).exchanges == ()


def test_another_clearance_is_a_die_change_in_place():
    room = room_of(3, PLAIN)
    plan = plan_exchange(room, turret_of(room, {1: 4}), (need(4, 0.3),), ())
    assert plan.exchanges == (Exchange("die_change", 1, Placed(4, 1, 0.3, 0.0)),)


def test_a_tool_fits_its_size_only():
    room = make_tool_room(settings_of({"size_mm": 30}, {"size_mm": 16, "count": 1}), [tool(0, 16), tool(1, 30)])
    plan = plan_exchange(room, empty_turret(room), (need(0), need(1)), ())
    assert {e.placed.tool: e.station for e in plan.exchanges} == {0: 1, 1: 0}


def test_angle_change_apart_and_none_in_a_turning_station():
    room = make_tool_room(settings_of({"size_mm": 16}, {"size_mm": 16, "turning": True}), PLAIN)
    turret = turret_of(room, {0: 0, 1: 1})
    plan = plan_exchange(room, turret, (need(0, 0.3, 90.0), need(1, 0.2, 90.0)), ())
    assert kinds(plan.exchanges) == ["die_change", "angle_change"]
    assert plan.exchanges[-1].placed == Placed(0, 1, 0.3, 90.0)


def test_a_copy_at_the_right_clearance_is_preferred():
    twins = [tool(0, copies=2), tool(1)]
    room = room_of(3, twins)
    turret = turret_of(room, {0: Placed(0, 1, 0.2, 0.0), 1: Placed(0, 2, 0.3, 0.0)})
    assert plan_exchange(room, turret, (need(0, 0.3),), ()).exchanges == ()


def test_a_spare_copy_waits_while_a_die_can_be_changed_in_place():
    room = room_of(3, [tool(0, copies=2)])
    plan = plan_exchange(room, turret_of(room, {0: 0}), (need(0, 0.3),), ())
    assert kinds(plan.exchanges) == ["die_change"]


def test_a_copy_pinned_at_a_clearance_keeps_its_die_and_the_spare_is_loaded():
    room = room_of(3, [tool(0, copies=2)], pinned=("T0@0.20",))
    plan = plan_exchange(room, turret_of(room, {0: 0}), (need(0, 0.3),), ())
    assert plan.exchanges == (Exchange("tool_load", 1, Placed(0, 2, 0.3, 0.0)),)


def test_a_pinned_clearance_yields_if_there_is_no_spare_copy():
    room = room_of(3, [tool(0)], pinned=("T0@0.20",))
    plan = plan_exchange(room, turret_of(room, {0: 0}), (need(0, 0.3),), ())
    assert kinds(plan.exchanges) == ["die_change"]


def test_a_tool_pinned_without_clearance_may_change_its_die():
    room = room_of(3, [tool(0, copies=2)], pinned=("T0",))
    plan = plan_exchange(room, turret_of(room, {0: 0}), (need(0, 0.3),), ())
    assert kinds(plan.exchanges) == ["die_change"]


def test_pinned_tools_never_leave():
    room = room_of(2, PLAIN, pinned=("T0",))
    plan = plan_exchange(room, turret_of(room, {0: 0, 1: 1}), (need(2),), ())
    assert [(e.station, e.out) for e in plan.exchanges] == [(1, 1)]


def test_of_two_dies_the_one_that_leaves_first_is_changed():
    dies = [tool(0, copies=2, clearances=(0.2, 0.3, 0.4))]
    room = room_of(3, dies, eviction="soonest")
    turret = turret_of(room, {0: Placed(0, 1, 0.2, 0.0), 1: Placed(0, 2, 0.3, 0.0)})
    plan = plan_exchange(room, turret, (need(0, 0.4),), [(need(0, 0.2),), (need(0, 0.3),)])
    assert [e.station for e in plan.exchanges] == [1]


@pytest.mark.parametrize(("eviction", "station"), [("lru", 2), ("fifo", 0), ("soonest", 1)])
def test_eviction_rules_differ_in_who_leaves(eviction, station):
    room = room_of(3, PLAIN, eviction)
    turret = turret_of(room, {0: 0, 1: 1, 2: 2})
    turret = mark_used(turret, (need(0), need(1)), 9)
    plan = plan_exchange(room, turret, (need(3),), [(need(0),), (need(2),), (need(1),)])
    assert [e.station for e in plan.exchanges] == [station]


def test_never_used_again_leaves_before_used_late():
    room = room_of(3, PLAIN, "soonest")
    turret = turret_of(room, {0: 0, 1: 1, 2: 2})
    plan = plan_exchange(room, turret, (need(3),), [(need(0),), (need(1),)])
    assert plan.exchanges[0].out == 2


def test_ties_leave_the_one_loaded_last_in_place():
    room = room_of(3, PLAIN, "soonest")
    turret = empty_turret(room)
    for number, row in ((0, 2), (1, 0), (2, 1)):
        turret = apply_exchanges(turret, plan_exchange(room, turret, (need(row),), ()).exchanges, number)
    assert tools_in(turret) == [2, 0, 1]
    assert plan_exchange(room, turret, (need(3),), ()).exchanges[0].out == 2


def test_only_as_many_leave_as_needed():
    room = room_of(4, PLAIN)
    plan = plan_exchange(room, turret_of(room, {0: 0, 1: 1, 2: 2}), (need(4), need(5)), ())
    assert [e.out for e in plan.exchanges] == [-1, 0]


def test_a_clearance_not_owned_is_missing_and_the_nearest_is_planned():
    room = room_of(2, PLAIN)
    plan = plan_exchange(room, empty_turret(room), (need(0, 0.6), need(1)), ())
    assert plan.missing == (need(0, 0.6),)
    assert [e.placed.clearance for e in plan.exchanges] == [0.3, 0.2]


def test_a_tool_that_fits_nowhere_is_missing_and_not_planned():
    room = room_of(2, [tool(0, 90), tool(1)])
    plan = plan_exchange(room, empty_turret(room), (need(0), need(1)), ())
    assert plan.missing == (need(0),)
    assert [e.placed.tool for e in plan.exchanges] == [1]


def test_a_tall_form_empties_the_stations_beside_it():
    room = room_of(5, [*PLAIN, form(8)])
    plan = plan_exchange(room, turret_of(room, {0: 0, 1: 1, 2: 2, 3: 3, 4: 4}), (forming(8),), ())
    (load,) = plan.exchanges
    assert (load.kind, load.station, load.out, load.removed) == ("tool_load", 1, 1, (0, 2))
    assert tools_in(apply_exchanges(turret_of(room, {0: 0, 1: 1, 2: 2, 3: 3, 4: 4}), plan.exchanges, 1)) == [
        None, 8, None, 3, 4,
    ]  # fmt: skip


def test_a_tall_form_prefers_free_neighbours():
    room = room_of(6, [*PLAIN, form(8)])
    plan = plan_exchange(room, turret_of(room, {0: 0, 1: 1, 2: 2}), (forming(8),), ())
    assert [(e.station, e.removed) for e in plan.exchanges] == [(4, ())]


def test_the_ring_is_closed():
    room = room_of(5, [*PLAIN, form(8)])
    plan = plan_exchange(room, turret_of(room, {0: 8}), (need(0), need(1), forming(8)), ())
    assert [e.station for e in plan.exchanges] == [2, 3]


def test_barred_stations_take_nothing():
    room = room_of(4, [*PLAIN, form(8)])
    turret = turret_of(room, {0: 2, 2: 8})
    plan = plan_exchange(room, turret, (need(0),), ())
    assert [(e.station, e.out) for e in plan.exchanges] == [(0, 2)]


def test_a_retracting_die_bars_nothing():
    room = make_tool_room(settings_of({"size_mm": 16, "count": 3, "retracting": True}), [*PLAIN, form(8)])
    plan = plan_exchange(room, turret_of(room, {0: 0, 2: 2}), (forming(8),), ())
    assert [(e.station, e.removed) for e in plan.exchanges] == [(1, ())]


def test_a_low_form_bars_nothing():
    room = room_of(3, [*PLAIN, form(8, height_mm=4.9)])
    plan = plan_exchange(room, turret_of(room, {0: 0, 2: 2}), (forming(8),), ())
    assert [e.removed for e in plan.exchanges] == [()]


def test_a_bar_reaches_across_sizes():
    room = make_tool_room(settings_of({"size_mm": 16, "count": 2}, {"size_mm": 30}), [tool(0), tool(1), form(2, 30)])
    plan = plan_exchange(room, turret_of(room, {0: 0, 1: 1}), (forming(2),), ())
    assert plan.exchanges[0].removed == (0, 1)
    back = plan_exchange(room, turret_of(room, {2: 2}), (need(0),), ())
    assert (back.exchanges[0].station, back.exchanges[0].removed) == (0, (2,))


def test_no_tall_form_beside_a_pinned_tool():
    room = room_of(6, [*PLAIN, form(8)], pinned=("T0",))
    plan = plan_exchange(room, turret_of(room, {s: s for s in range(6)}), (forming(8),), ())
    assert plan.exchanges[0].station in (2, 3, 4)


def test_a_tall_form_leaves_room_for_the_rest_of_the_program():
    stations = [{"size_mm": 30}, {"size_mm": 16, "count": 4}, {"size_mm": 30}]
    room = make_tool_room(settings_of(*stations), [*PLAIN, form(8)])
    plan = plan_exchange(room, empty_turret(room), (need(0), need(1), forming(8)), ())
    assert plan.mid_program == ()
    assert next(e.station for e in plan.exchanges if e.placed.tool == 8) in (1, 4)


def test_a_tool_that_must_turn_moves_one_of_its_own_program_that_need_not():
    stations = settings_of({"size_mm": 16}, {"size_mm": 16, "turning": True})
    room = make_tool_room(stations, [tool(0), tool(1, needs_turning=True)])
    turret = turret_of(room, {1: 0})
    plan = plan_exchange(room, turret, (need(0), need(1)), ())
    assert plan.mid_program == ()
    assert tools_in(apply_exchanges(turret, plan.exchanges, 1)) == [0, 1]


def test_a_wide_tool_takes_two_stations():
    room = room_of(4, [*PLAIN, tool(8, positions=2)])
    turret = turret_of(room, {0: 0, 1: 1, 2: 2, 3: 3})
    plan = plan_exchange(room, turret, (need(8),), ())
    after = apply_exchanges(turret, plan.exchanges, 1)
    assert tools_in(after) == [8, None, 2, 3]
    assert [e.station for e in plan_exchange(room, after, (need(0), need(8)), ()).exchanges] == [2]


def test_k_tools_too_many_are_k_exchanges_on_every_sheet():
    room = room_of(3, PLAIN)
    plan = plan_exchange(room, empty_turret(room), tuple(need(n) for n in range(5)), ())
    assert (len(plan.exchanges), len(plan.mid_program), len(plan.mid_back)) == (3, 2, 2)


def test_split_sheets_alternate_between_both_halves():
    room = room_of(2, PLAIN)
    needs = tuple(need(n) for n in range(5))
    plan = plan_exchange(room, empty_turret(room), needs, ())
    first = apply_exchanges(empty_turret(room), plan.exchanges, 0)
    second = apply_exchanges(first, plan.mid_program, 0)
    assert apply_exchanges(second, plan.mid_back, 0).stations == first.stations
    served = {e.placed.tool for e in (*plan.exchanges, *plan.mid_program)}
    assert served == {0, 1, 2, 3, 4}


def test_a_split_keeps_what_already_stands():
    room = room_of(2, PLAIN)
    plan = plan_exchange(room, turret_of(room, {0: 0, 1: 1}), (need(0), need(1), need(2)), ())
    assert (plan.exchanges, len(plan.mid_program)) == ((), 1)


def test_two_angles_of_the_only_copy_turn_it_on_every_sheet():
    room = room_of(3, PLAIN)
    plan = plan_exchange(room, empty_turret(room), (need(0), need(0, 0.2, 90.0)), ())
    assert kinds(plan.exchanges) == ["tool_load"]
    assert kinds(plan.mid_program) == kinds(plan.mid_back) == ["angle_change"]


def test_two_angles_of_two_copies_take_two_stations():
    room = room_of(3, [tool(0, copies=2)])
    plan = plan_exchange(room, empty_turret(room), (need(0), need(0, 0.2, 90.0)), ())
    assert (kinds(plan.exchanges), plan.mid_program) == (["tool_load", "tool_load"], ())


def test_a_badly_standing_tall_form_is_moved_rather_than_splitting_the_program():
    stations = [{"size_mm": 30}, {"size_mm": 16, "count": 5}, {"size_mm": 30}]
    room = make_tool_room(settings_of(*stations), [*PLAIN, form(8)])
    turret = turret_of(room, {3: 8, 1: 0})
    plan = plan_exchange(room, turret, (need(0), need(1), need(2), forming(8)), ())
    after = apply_exchanges(turret, plan.exchanges, 1)
    assert plan.mid_program == ()
    assert {0, 1, 2, 8} <= set(tools_in(after))
    assert tools_in(after).count(8) == 1


def magazine_room(*contents):
    magazine = {"places": {"16": 9}, "dies_per_place": {"16": 2}, "contents": contents}
    return make_tool_room(settings_of({"size_mm": 16, "count": 3}, magazine=magazine), PLAIN)


def test_the_magazine_exchanges_what_it_holds_and_hands_do_the_rest():
    room = magazine_room("T0@0.2", "T0@0.3", "T1@0.2")
    plan = plan_exchange(room, turret_of(room, {0: 0, 1: 1}), (need(0, 0.3), need(1, 0.3), need(2)), ())
    assert kinds(plan.exchanges) == ["magazine_die_change", "die_change", "tool_load"]
    assert kinds(plan_exchange(room, empty_turret(room), (need(0), need(1)), ()).exchanges) == ["magazine_exchange"] * 2


def test_locked_stations_and_copies_are_left_alone():
    room = room_of(3, PLAIN)
    turret = turret_of(room, {0: 0, 1: 1, 2: 2})
    locked, copies = in_use(turret, (need(0), need(1)))
    assert (locked, copies) == (frozenset({0, 1}), frozenset({(0, 1), (1, 1)}))
    plan = plan_exchange(room, turret, (need(0, 0.3), need(3), need(4)), (), locked, copies)
    assert [(e.station, e.placed.tool) for e in plan.exchanges] == [(2, 3)]
    assert (plan.mid_program, plan.missing) == ((), ())


def test_mark_used_marks_only_the_copy_that_serves():
    room = room_of(3, [tool(0, copies=2)])
    turret = turret_of(room, {0: Placed(0, 1, 0.2, 0.0), 1: Placed(0, 2, 0.3, 0.0)})
    assert mark_used(turret, (need(0, 0.3),), 7).last_used == [0, 7, -1]
    assert mark_used(turret, (need(0, 0.6),), 7).last_used == [7, 7, -1]


def test_a_die_change_is_no_new_load_for_fifo():
    room = room_of(2, PLAIN, "fifo")
    turret = turret_of(room, {0: 0, 1: 1})
    turret = apply_exchanges(turret, plan_exchange(room, turret, (need(0, 0.3),), ()).exchanges, 3)
    assert turret.loaded_at == [0, 1]
    assert plan_exchange(room, turret, (need(2),), ()).exchanges[0].out == 0


def test_a_pinned_tool_is_not_swapped_in_the_middle_either():
    room = room_of(1, PLAIN, pinned=("T0",))
    plan = plan_exchange(room, empty_turret(room), (need(0), need(1)), ())
    assert ([e.placed.tool for e in plan.exchanges], plan.mid_program, plan.missing) == ([0], (), (need(1),))


def test_look_ahead_beside_a_program_without_tools_still_splits_nothing():
    room = room_of(1, PLAIN)
    plan = plan_exchange(room, empty_turret(room), (need(0), need(1)), (), frozenset())
    assert (len(plan.exchanges), plan.mid_program) == (1, ())


def test_a_tall_form_throws_out_as_few_as_it_can():
    room = room_of(7, [*PLAIN, form(8)])
    turret = turret_of(room, {0: 0, 1: 1, 2: 2, 4: 4, 5: 5, 6: 6})
    (load,) = plan_exchange(room, turret, (forming(8),), ()).exchanges
    assert (load.station, load.out, load.removed) == (2, 2, (1,))


def test_a_moved_tall_form_leaves_its_old_station():
    stations = [{"size_mm": 30}, {"size_mm": 16, "count": 5}, {"size_mm": 30}]
    room = make_tool_room(settings_of(*stations), [*PLAIN, form(8)])
    turret = turret_of(room, {2: 8})
    plan = plan_exchange(room, turret, (need(0), need(1), need(2), forming(8)), ())
    assert plan.mid_program == ()
    assert tools_in(apply_exchanges(turret, plan.exchanges, 1)) == [None, 8, None, 0, 1, 2, None]


def test_a_pinned_tall_form_is_not_moved():
    stations = [{"size_mm": 30}, {"size_mm": 16, "count": 5}, {"size_mm": 30}]
    room = make_tool_room(settings_of(*stations, rules={"pinned": ("T8",)}), [*PLAIN, form(8)])
    plan = plan_exchange(room, turret_of(room, {2: 8}), (need(0), need(1), need(2), forming(8)), ())
    assert (len(plan.exchanges), len(plan.mid_program)) == (2, 1)


def test_one_copy_in_a_turning_station_serves_two_angles():
    room = make_tool_room(settings_of({"size_mm": 16, "turning": True}, {"size_mm": 16}), [tool(0, copies=2)])
    plan = plan_exchange(room, empty_turret(room), (need(0), need(0, 0.2, 90.0)), ())
    assert (kinds(plan.exchanges), plan.mid_program) == (["tool_load"], ())


def test_a_split_displaces_as_few_as_it_can():
    magazine = {"places": {"16": 9}, "dies_per_place": {"16": 2}, "contents": ("T0", "T1", "T2")}
    room = make_tool_room(settings_of({"size_mm": 16, "count": 4}, magazine=magazine), [tool(0), form(1), form(2)])
    plan = plan_exchange(room, turret_of(room, {1: 1, 3: 2}), (need(0), forming(1), forming(2)), ())
    assert [(e.station, e.out, e.removed) for e in plan.exchanges] == [(1, 1, ())]
    assert [(e.station, e.out, e.removed) for e in plan.mid_program] == [(1, 0, ())]
    assert [(e.station, e.out) for e in plan.mid_back] == [(1, 1)]


def test_a_split_prefers_what_the_magazine_brings_back():
    magazine = {"places": {"16": 9}, "dies_per_place": {"16": 2}, "contents": ("T1",)}
    room = make_tool_room(settings_of({"size_mm": 16, "count": 2}, magazine=magazine), PLAIN)
    plan = plan_exchange(room, turret_of(room, {0: 0, 1: 1}), (need(0), need(1), need(2)), ())
    assert (kinds(plan.mid_program), kinds(plan.mid_back)) == (["tool_load"], ["magazine_exchange"])


def test_a_tall_form_comes_last_and_clears_what_it_bars():
    room = room_of(2, [tool(0), tool(1), form(2)])
    turret = empty_turret(room)
    plan = plan_exchange(room, turret, (need(0), need(1), forming(2)), ())
    assert plan.returns
    turret = apply_exchanges(turret, plan.exchanges, 0)
    assert tools_in(turret) == [0, 1]
    turret = apply_exchanges(turret, plan.mid_program, 0)
    assert tools_in(turret) == [2, None]
    assert tools_in(apply_exchanges(turret, plan.mid_back, 0)) == [0, 1]


def test_look_ahead_plans_nothing_that_depends_on_another_exchange():
    room = room_of(4, [*PLAIN, form(8)])
    turret = turret_of(room, {1: 8, 3: 3})
    visible = plan_exchange(room, turret, (need(0), need(1), need(2)), ())
    ahead = plan_exchange(room, turret, (need(0), need(1), need(2)), (), frozenset())
    assert sorted(e.station for e in visible.exchanges) == [0, 1, 2]
    assert sorted(e.station for e in ahead.exchanges) == [1, 3]


def test_look_ahead_does_not_use_a_station_that_another_exchange_must_free():
    room = make_tool_room(settings_of({"size_mm": 30}, {"size_mm": 16}), [tool(0, 30), tool(1), form(2, 30)])
    turret = turret_of(room, {0: 2})
    assert [e.station for e in plan_exchange(room, turret, (need(0), need(1)), ()).exchanges] == [0, 1]
    assert [e.station for e in plan_exchange(room, turret, (need(0), need(1)), (), frozenset()).exchanges] == [0]


def test_look_ahead_moves_no_tool_of_the_coming_program():
    stations = settings_of({"size_mm": 16}, {"size_mm": 16, "turning": True})
    room = make_tool_room(stations, [tool(0), tool(1, needs_turning=True)])
    plan = plan_exchange(room, turret_of(room, {1: 0}), (need(0), need(1)), (), frozenset())
    assert plan.exchanges == ()
