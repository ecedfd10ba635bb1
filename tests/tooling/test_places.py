"""Places of the turret by hand: holders of several tools, adapters, and what they mean for bars and wide tools."""

from __future__ import annotations

import pytest

from simkit.plant.settings import Station
from simkit.tooling.exchange import apply_exchanges, engagements, plan_exchange
from simkit.tooling.toolroom import barred_by, fitting, make_tool_room, neighbours, overlapping, places_of
from simkit.tooling.turret import Placed, empty_turret
from tests.tooling.rooms import form, forming, need, settings_of, tool, tools_in, turret_of

HOLDER = {"size_mm": 16, "tools": 3}


def places(*runs):
    return places_of(Station.model_validate(run) for run in runs)


def test_a_holder_is_several_places_in_one_position():
    ring = places({"size_mm": 30, "count": 2}, HOLDER, {"size_mm": 16})
    assert [place.position for place in ring] == [0, 1, 2, 2, 2, 3]
    assert [place.station.tools == 1 for place in ring] == [True, True, False, False, False, True]


def test_two_holders_in_a_row_are_two_positions():
    assert [place.position for place in places({"size_mm": 16, "tools": 2, "count": 2})] == [0, 0, 1, 1]


def test_neighbours_are_those_beside_the_position_and_in_it():
    ring = places({"size_mm": 30}, {"size_mm": 16, "tools": 2}, {"size_mm": 30}, {"size_mm": 30})
    assert neighbours(ring) == ((1, 2, 4), (0, 2, 3), (0, 1, 3), (1, 2, 4), (0, 3))


def test_a_tool_prefers_stations_of_its_own_size():
    ring = places({"size_mm": 30, "also_mm": [16]}, {"size_mm": 16}, {"size_mm": 90})
    assert fitting(tool(0, 16), ring) == (1, 0)
    assert fitting(tool(1, 30), ring) == (0,)


def test_a_place_of_a_holder_turns_only_if_its_station_turns():
    ring = places(HOLDER, {"size_mm": 16, "tools": 2, "turning": True})
    assert fitting(tool(0, needs_turning=True), ring) == (3, 4)


def test_a_wide_tool_needs_two_plain_positions():
    wide = tool(0, positions=2)
    assert fitting(wide, places({"size_mm": 16, "count": 2}, HOLDER, {"size_mm": 16})) == (0, 5)
    assert fitting(wide, places({"size_mm": 16}, HOLDER)) == ()
    assert fitting(wide, places({"size_mm": 16})) == ()


def test_a_wide_tool_may_reach_into_a_station_with_an_adapter():
    ring = places({"size_mm": 30}, {"size_mm": 16}, {"size_mm": 30, "also_mm": [16]})
    assert fitting(tool(0, positions=2), ring) == (1,)


def test_a_tall_form_bars_the_positions_beside_it_with_all_their_places():
    ring = places({"size_mm": 30, "count": 2}, {"size_mm": 16, "tools": 2}, {"size_mm": 30})
    bars = barred_by(form(0, 30), True, ring, neighbours(ring))
    assert bars[1] == (0, 2, 3)
    assert bars[2] == (1, 3, 4)


def test_a_tall_form_in_a_retracting_holder_bars_nothing():
    ring = places({"size_mm": 16, "tools": 2, "retracting": True}, {"size_mm": 16})
    assert barred_by(form(0), True, ring, neighbours(ring))[:2] == ((), ())


def test_a_wide_tall_form_bars_on_both_sides():
    ring = places({"size_mm": 30, "count": 6})
    assert barred_by(form(0, 30, positions=2), True, ring, neighbours(ring))[1] == (0, 2, 3)


@pytest.mark.parametrize(
    ("sets", "shared"),
    [
        ([(0, 1), (2, 3)], False),
        ([(0, 1), (1, 0)], False),
        ([(0, 1), (1,)], True),
        ([(0, 1), (1, 2)], True),
        ([], False),
    ],
)
def test_classes_share_places_when_some_fit_only_one_of_them(sets, shared):
    assert overlapping(sets) is shared


def test_a_holder_takes_as_many_tools_as_it_has_places():
    room = make_tool_room(settings_of(HOLDER, {"size_mm": 30}), [tool(n) for n in range(4)])
    plan = plan_exchange(room, empty_turret(room), tuple(need(n) for n in range(4)), ())
    assert (len(plan.exchanges), len(plan.mid_program)) == (3, 1)


def test_a_tool_takes_a_free_adapter_before_another_leaves():
    room = make_tool_room(settings_of({"size_mm": 16}, {"size_mm": 30, "also_mm": [16]}), [tool(0), tool(1)])
    plan = plan_exchange(room, turret_of(room, {0: 0}), (need(1),), ())
    assert [(e.station, e.out) for e in plan.exchanges] == [(1, -1)]


def test_a_tool_in_an_adapter_makes_way_for_one_that_fits_only_there():
    room = make_tool_room(
        settings_of({"size_mm": 16}, {"size_mm": 30, "also_mm": [16]}), [tool(0), tool(1), tool(2, 30)]
    )
    turret = turret_of(room, {1: 0, 0: 1})
    plan = plan_exchange(room, turret, (need(0), need(2)), ())
    assert plan.mid_program == ()
    assert tools_in(apply_exchanges(turret, plan.exchanges, 1)) == [0, 2]


def test_tools_move_on_through_several_sizes_rather_than_splitting_the_program():
    runs = ({"size_mm": 16}, {"size_mm": 30, "also_mm": [16]}, {"size_mm": 55, "also_mm": [30]})
    room = make_tool_room(settings_of(*runs), [tool(0), tool(1, 30), tool(2, 55)])
    turret = turret_of(room, {1: 0, 2: 1})
    plan = plan_exchange(room, turret, (need(0), need(1), need(2)), ())
    assert plan.mid_program == ()
    assert tools_in(apply_exchanges(turret, plan.exchanges, 1)) == [0, 1, 2]


def test_nobody_makes_way_during_look_ahead():
    room = make_tool_room(settings_of({"size_mm": 16}, {"size_mm": 30, "also_mm": [16]}), [tool(0), tool(1, 30)])
    plan = plan_exchange(room, turret_of(room, {1: 0}), (need(0), need(1)), (), frozenset())
    assert plan.exchanges == ()


def test_a_free_retracting_station_is_preferred_by_a_tall_form():
    stations = [{"size_mm": 16, "count": 4}, {"size_mm": 16, "retracting": True}, {"size_mm": 16, "count": 2}]
    room = make_tool_room(settings_of(*stations), [*(tool(n) for n in range(8)), form(8)])
    (load,) = plan_exchange(room, empty_turret(room), (forming(8),), ()).exchanges
    assert (load.station, load.removed) == (4, ())
    (taken,) = plan_exchange(room, turret_of(room, {4: 0}), (forming(8),), ()).exchanges
    assert (taken.station, taken.removed) == (0, ())


RISES = ({"size_mm": 16, "retracting": True}, {"size_mm": 16, "count": 3}, {"size_mm": 16, "retracting": True})


def test_each_need_served_where_the_die_retracts_is_an_engagement():
    room = make_tool_room(settings_of(*RISES), [tool(n) for n in range(5)])
    turret = turret_of(room, {0: 0, 1: 1, 4: 4})
    assert engagements(room, turret, (need(0), need(1), need(4), need(3))) == 2
    assert engagements(room, turret, (need(1),)) == 0


def test_the_twin_at_the_right_clearance_and_angle_serves():
    room = make_tool_room(settings_of(*RISES), [tool(0, copies=2)])
    turret = turret_of(room, {0: Placed(0, 1, 0.2, 0.0), 1: Placed(0, 2, 0.3, 0.0)})
    assert [engagements(room, turret, (need(0, clearance),)) for clearance in (0.2, 0.3)] == [1, 0]
    turret = turret_of(room, {0: Placed(0, 1, 0.2, 0.0), 1: Placed(0, 2, 0.2, 90.0)})
    assert [engagements(room, turret, (need(0, 0.2, angle),)) for angle in (0.0, 90.0)] == [1, 0]
    assert engagements(room, turret, (need(0, 0.2, 0.0), need(0, 0.2, 90.0))) == 1


def test_two_angles_from_one_turning_station_are_two_engagements():
    room = make_tool_room(settings_of({"size_mm": 16, "retracting": True, "turning": True}), [tool(0)])
    assert engagements(room, turret_of(room, {0: 0}), (need(0), need(0, 0.2, 90.0))) == 2


def test_needs_exchanged_in_the_middle_engage_too():
    room = make_tool_room(settings_of({"size_mm": 16, "retracting": True}), [tool(0), tool(1)])
    needs = (need(0), need(1))
    plan = plan_exchange(room, empty_turret(room), needs, ())
    turret = apply_exchanges(empty_turret(room), plan.exchanges, 0)
    assert engagements(room, turret, needs) == 1
    assert engagements(room, turret, needs, plan.mid_program) == 2


def test_no_die_retracts_no_engagement():
    room = make_tool_room(settings_of({"size_mm": 16, "count": 2}), [tool(0)])
    assert engagements(room, turret_of(room, {0: 0}), (need(0),)) == 0


def test_a_tall_form_does_not_stand_beside_the_second_position_of_a_wide_tool():
    room = make_tool_room(
        settings_of({"size_mm": 16, "count": 5}), [form(0), tool(1, positions=2), tool(2, positions=2)]
    )
    (load,) = plan_exchange(room, turret_of(room, {0: 1}), (forming(0),), ()).exchanges
    assert (load.station, load.removed) == (3, ())
    (load,) = plan_exchange(room, turret_of(room, {0: 1, 2: 2}), (forming(0),), ()).exchanges
    assert (load.station, load.removed) == (0, ())
