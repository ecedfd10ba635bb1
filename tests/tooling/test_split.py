"""Programs with more tools than stations: who is exchanged in the middle, in which direction, at what cost."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.tooling.exchange import (
    ExchangePlan,
    apply_exchanges,
    mid_exchanges,
    plan_exchange,
    plan_seconds,
    turret_after,
)
from simkit.tooling.pad import exchange_kind
from simkit.tooling.split import straightened
from simkit.tooling.toolroom import EXCHANGE_S, make_tool_room
from simkit.tooling.turret import Exchange, Placed, empty_turret
from tests.tooling.rooms import form, forming, need, room_of, settings_of, tool, tools_in, turret_of
from tests.tooling.test_exchange_properties import check_turret

FEW = settings(max_examples=150, deadline=None, derandomize=True)
PLAIN = [tool(n) for n in range(6)]
HAND_S, GRIPPER_S = EXCHANGE_S["tool_load"], EXCHANGE_S["magazine_exchange"]


def room_with(stations, tools, held=(), **seconds):
    """A room of alike 16 mm stations; the magazine holds some tools with all their dies."""
    magazine = {"places": {"16": 30}, "dies_per_place": {"16": 3}, "contents": held} if held else {}
    return make_tool_room(settings_of({"size_mm": 16, "count": stations}, magazine=magazine), tools, exchange_s=seconds)


def placed_in(exchanges):
    return [exchange.placed.tool for exchange in exchanges]


def test_cutting_tools_take_turns():
    room = room_of(2, PLAIN)
    plan = plan_exchange(room, turret_of(room, {0: 0, 1: 1}), (need(0), need(1), need(2)), ())
    assert not plan.returns
    assert [placed_in(mid_exchanges(plan, sheet)) for sheet in range(4)] == [[2], [0], [2], [0]]


def test_a_forming_tool_returns_before_the_next_sheet():
    room = room_of(1, [tool(0), form(1, height_mm=2.0)])
    plan = plan_exchange(room, empty_turret(room), (need(0), forming(1)), (), sheets=5)
    assert plan.returns
    assert [placed_in(mid_exchanges(plan, sheet)) for sheet in range(3)] == [[1], [0, 1], [0, 1]]


def test_forming_comes_last_even_if_the_forming_tool_stands_first():
    room = room_of(1, [tool(0), form(1, height_mm=2.0)])
    plan = plan_exchange(room, turret_of(room, {0: 1}), (need(0), forming(1)), (), sheets=5)
    assert (placed_in(plan.exchanges), placed_in(plan.mid_program), placed_in(plan.mid_back)) == ([0], [1], [0])


def test_a_forming_tool_stays_if_cutting_tools_can_take_turns():
    room = room_of(2, [form(0, height_mm=2.0), tool(1), tool(2)])
    plan = plan_exchange(room, empty_turret(room), (forming(0), need(1), need(2)), (), sheets=9)
    assert (sorted(placed_in(plan.exchanges)), plan.returns) == ([0, 1], False)
    assert (placed_in(plan.mid_program), placed_in(plan.mid_back)) == ([2], [1])


def test_a_forming_tool_too_many_is_loaded_before_a_long_order_and_in_the_middle_of_a_single_sheet():
    room = room_of(2, [form(0, height_mm=2.0), tool(1), tool(2)])
    turret = turret_of(room, {0: 1, 1: 2})
    needs = (forming(0), need(1), need(2))
    single, long = (plan_exchange(room, turret, needs, (), sheets=sheets) for sheets in (1, 9))
    assert (placed_in(single.exchanges), placed_in(single.mid_program), single.returns) == ([], [0], True)
    assert (placed_in(long.exchanges), placed_in(long.mid_program), long.returns) == ([0], [2], False)


def test_what_the_magazine_holds_takes_turns_rather_than_what_hands_must_fit():
    room = room_with(2, PLAIN, held=("T1", "T2"))
    plan = plan_exchange(room, empty_turret(room), (need(0), need(1), need(2)), (), sheets=4)
    assert (sorted(placed_in(plan.exchanges)), placed_in(plan.mid_program), placed_in(plan.mid_back)) == (
        [0, 1], [2], [1],
    )  # fmt: skip
    assert plan_seconds(room, plan, 4) == HAND_S + GRIPPER_S + 4 * GRIPPER_S


@pytest.mark.parametrize(("sheets", "before"), [(1, []), (2, []), (3, [2]), (9, [2])])
def test_a_tool_fitted_by_hand_is_loaded_first_where_that_pays(sheets, before):
    """Two tools stand, both in the magazine; the third is not: 144 s at 1st, 3rd, 5th sheet, or 144 s + 45 s a sheet.

    One sheet: 144 against 144 + 45. Two: 144 + 45 against 144 + 90. Three: 288 + 45 against 144 + 135.
    """
    room = room_with(2, PLAIN, held=("T0", "T1"))
    plan = plan_exchange(room, turret_of(room, {0: 0, 1: 1}), (need(0), need(1), need(2)), (), sheets=sheets)
    assert placed_in(plan.exchanges) == before


def test_the_plants_own_seconds_weigh_exchanges():
    """Where the gripper is slower than the hand, the tools fitted by hand take turns."""
    room = room_with(2, PLAIN, held=("T0",), magazine_exchange=500.0)
    plan = plan_exchange(room, empty_turret(room), (need(0), need(1), need(2)), (), sheets=4)
    assert 0 not in placed_in((*plan.mid_program, *plan.mid_back))


def test_pinned_tools_take_no_turns():
    room = room_of(2, PLAIN, pinned=("T2",))
    plan = plan_exchange(room, empty_turret(room), (need(0), need(1), need(2)), (), sheets=3)
    assert 2 not in placed_in((*plan.mid_program, *plan.mid_back))


def test_turret_after_an_odd_number_of_sheets_is_the_other_half():
    room = room_of(2, PLAIN)
    plan = plan_exchange(room, empty_turret(room), (need(0), need(1), need(2)), ())
    turret = apply_exchanges(empty_turret(room), plan.exchanges, 3)
    assert [tools_in(turret_after(plan, turret, sheets, 3)) for sheets in range(4)] == [
        [0, 1], [2, 1], [0, 1], [2, 1],
    ]  # fmt: skip


def test_turret_after_a_returning_program_is_the_second_half():
    room = room_of(1, [tool(0), form(1, height_mm=2.0)])
    plan = plan_exchange(room, empty_turret(room), (need(0), forming(1)), ())
    turret = apply_exchanges(empty_turret(room), plan.exchanges, 0)
    assert [tools_in(turret_after(plan, turret, sheets, 0)) for sheets in range(3)] == [[0], [1], [1]]


def test_a_plan_without_a_middle_exchanges_nothing_on_sheets():
    plan = ExchangePlan(())
    assert (mid_exchanges(plan, 0), mid_exchanges(plan, 7)) == ((), ())


def test_three_parts_of_a_program_pass_through_one_station_with_forming_last():
    room = room_of(1, [form(0, height_mm=2.0), tool(1), tool(2)])
    plan = plan_exchange(room, empty_turret(room), (forming(0), need(1), need(2)), (), sheets=2)
    assert (placed_in(plan.exchanges), placed_in(plan.mid_program), placed_in(plan.mid_back)) == ([1], [2, 0], [2, 1])
    assert plan.returns


def test_straightened_leaves_out_what_a_later_load_undoes():
    room = room_of(3, PLAIN)
    a, b = Placed(3, 1, 0.2, 0.0), Placed(4, 1, 0.2, 0.0)
    turret = turret_of(room, {0: 0, 1: 1, 2: 2})
    first, then = Exchange("tool_load", 1, a, 1, (0,)), Exchange("tool_load", 1, b, 3)
    assert straightened(turret, (first, then)) == (Exchange("tool_load", 1, b, 1, (0,)),)


def test_straightened_leaves_out_what_stands_there_already():
    room = room_of(2, PLAIN)
    turret = turret_of(room, {0: 0, 1: 1})
    form_in, back = Exchange("tool_load", 0, Placed(5, 1, 0.2, 0.0), 0), Exchange("tool_load", 0, turret.stations[0], 5)
    assert straightened(turret, (form_in, back)) == ()


@st.composite
def too_many(draw):
    """Alike stations, more tools needed than fit and at most twice as many, some standing, some in the magazine."""
    stations = draw(st.integers(1, 4))
    count = draw(st.integers(stations + 1, 2 * stations))
    shapes = draw(st.lists(st.sampled_from(("cut", "cut", "form")), min_size=count + 1, max_size=count + 1))
    tools = [form(n, height_mm=2.0) if shape == "form" else tool(n) for n, shape in enumerate(shapes)]
    held = draw(st.sets(st.integers(0, count), max_size=count))
    seconds = {kind: float(draw(st.integers(1, 200))) for kind in ("tool_load", "magazine_exchange", "die_change")}
    room = room_with(stations, tools, tuple(f"T{n}" for n in sorted(held)), **seconds)
    needs = tuple(forming(n) if room.forming[n] else need(n, draw(st.sampled_from((0.2, 0.3)))) for n in range(count))
    rows = draw(st.permutations(range(count + 1)))[: draw(st.integers(0, stations))]
    return room, turret_of(room, dict(enumerate(rows))), needs, draw(st.integers(1, 6))


def least_seconds(room, turret, needs, sheets):
    """Try every choice of tools that come and as many that go, forming after cutting; all others stay."""
    standing = {placed.tool: placed.clearance for placed in turret.stations if placed}
    load = {one: room.exchange_s[exchange_kind(room, one, load=True)] for one in needs}
    die = {one: room.exchange_s[exchange_kind(room, one, load=False)] for one in needs}
    at_first = {
        one: 0.0 if standing.get(one.tool) == one.clearance else (die if one.tool in standing else load)[one]
        for one in needs
    }
    k = len(needs) - len(turret.stations)
    costs = []
    for come in combinations(needs, k):
        first = [one for one in needs if one not in come]
        for go in combinations(first, k):
            if any(room.forming[one.tool] for one in go) and not all(room.forming[one.tool] for one in come):
                continue
            returns = any(room.forming[one.tool] for one in (*come, *go))
            there, back = (sheets, sheets - 1) if returns else ((sheets + 1) // 2, sheets // 2)
            costs.append(
                sum(at_first[one] for one in first)
                + there * sum(load[one] for one in come)
                + back * sum(load[one] for one in go)
            )
    return min(costs)


@FEW
@given(too_many())
def test_no_other_choice_of_pairs_is_cheaper(case):
    room, turret, needs, sheets = case
    plan = plan_exchange(room, turret, needs, (), sheets=sheets)
    assert plan.missing == ()
    assert plan_seconds(room, plan, sheets) == least_seconds(room, turret, needs, sheets)


@FEW
@given(too_many())
def test_every_sheet_meets_all_needs_cutting_before_forming(case):
    """A sheet starts with what the last one left; what it exchanges brings the rest, and forming after cutting."""
    room, turret, needs, sheets = case
    plan = plan_exchange(room, turret, needs, (), sheets=sheets)
    turret = apply_exchanges(turret, plan.exchanges, 0)
    for number in range(sheets):
        if plan.returns and number:
            turret = apply_exchanges(turret, plan.mid_back, 0)
        start = set(tools_in(turret))
        exchanges = mid_exchanges(plan, number) if not plan.returns else plan.mid_program
        turret = apply_exchanges(turret, exchanges, 0)
        end = set(tools_in(turret))
        assert {one.tool for one in needs} <= start | end
        assert all(tool in end or not room.forming[tool] for tool in start if tool is not None) or all(
            room.forming[tool] for tool in end - start
        )
    check_turret(room, turret)


@FEW
@given(too_many())
def test_turret_after_is_the_same_sheet_by_sheet(case):
    room, turret, needs, sheets = case
    plan = plan_exchange(room, turret, needs, (), sheets=sheets)
    first = apply_exchanges(turret, plan.exchanges, 1)
    step = first
    for number in range(sheets):
        assert turret_after(plan, first, number, 1) == step
        step = apply_exchanges(step, mid_exchanges(plan, number), 1)
    first_half, second_half = first.stations, apply_exchanges(first, plan.mid_program, 1).stations
    assert step.stations == (second_half if plan.returns or sheets % 2 else first_half)
