from __future__ import annotations

from itertools import permutations
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.tooling.exchange import plan_exchange
from simkit.tooling.improve import MachineStand, Pricing, SearchedOrder, SequenceCost, improve
from simkit.tooling.sequence import WaitingOrder
from simkit.tooling.toolroom import NO_CLEARANCE, make_tool_room
from simkit.tooling.turret import empty_turret
from tests.published.tool_lists import LISTED, OWN_LISTS, TANG_JOBS, jobs_of
from tests.tooling.alike import insertions, uniform_room
from tests.tooling.optimum import best_order
from tests.tooling.rooms import form, need, room_of, settings_of, tool, turret_of
from tests.tooling.test_exchange_properties import cases

FEW = settings(max_examples=50, deadline=None, derandomize=True)
ENOUGH = 10**6


def piece(number, needs, material=0, work_s=100.0, due_in_s=1e6, sheets=1, set_up=(), set_up_s=()):
    row = WaitingOrder(number, 0.0, due_in_s, False, material, 0.2, frozenset(each.tool for each in needs))
    return SearchedOrder(row, tuple(needs), sheets, (material, *set_up), (360.0, *set_up_s), work_s, due_in_s)


def stand_of(room, turret=None, set_up=(0,)):
    return MachineStand(room, turret or empty_turret(room), 0, set_up, 0.2)


def lower_bound_s(stand, pieces, order):
    """What the search takes a sequence to cost at least."""
    pricing = Pricing(stand, pieces, ())
    return pricing.least(order, pricing.points[0])


def price(stand, pieces, order):
    """What a sequence costs, starting from how the machine stands."""
    return Pricing(stand, pieces, ()).priced(list(order))


def price_of_grouped(stand, pieces):
    return price(stand, pieces, Pricing(stand, pieces, ()).grouped(stand.clearance))


def alike(jobs, capacity, eviction="soonest"):
    """The textbook problem: one material, alike tools."""
    room = uniform_room(1 + max(at for job in jobs for at in job), capacity, eviction)
    needs = [[need(at, NO_CLEARANCE) for at in sorted(job)] for job in jobs]
    return stand_of(room), [piece(number, each) for number, each in enumerate(needs)]


@st.composite
def windows(draw, **more):
    """A room, a window of up to five orders in up to three materials, some of them hardly in time."""
    room, orders = draw(cases(**more))
    pieces = [
        piece(number, needs, draw(st.integers(0, 2)), work_s=draw(st.sampled_from((50.0, 100.0))),
              due_in_s=draw(st.sampled_from((60.0, 200.0, 1e6))), sheets=draw(st.integers(1, 3)))
        for number, needs in enumerate(orders[:5])
    ]  # fmt: skip
    return stand_of(room), pieces


# ---- by hand ----


def test_price_counts_loads_dies_angles_material_and_nozzle():
    room = room_of(3, [tool(0), tool(1), tool(2)])
    turret = turret_of(room, {0: 0, 1: 1})
    pieces = [
        piece(0, [need(0), need(2)], material=1, set_up=("large",), set_up_s=(240.0,)),
        piece(1, [need(0, 0.3), need(1, 0.2, 90.0)], material=1, set_up=("small",), set_up_s=(240.0,)),
    ]
    s = room.exchange_s
    stand = stand_of(room, turret, set_up=(0, None))
    first = s["tool_load"] + 360.0
    second = s["die_change"] + s["angle_change"] + 240.0
    assert price(stand, pieces[:1], [0]) == (0, first)
    assert price(stand, pieces, [0, 1]) == (0, first + second)
    assert lower_bound_s(stand, pieces, [0, 1]) == first + second - s["angle_change"]


def test_the_grouped_rule_fetches_fewest_now_and_pays_later_the_search_does_not():
    room = room_of(2, [tool(n) for n in range(5)])
    stand = stand_of(room, turret_of(room, {0: 0, 1: 1}))
    pieces = [piece(0, [need(2), need(3)]), piece(1, [need(1), need(4)]), piece(2, [need(0), need(1)])]
    found = improve(stand, pieces, ENOUGH)
    every = {order: price(stand, pieces, order) for order in permutations(range(3))}
    assert every[tuple(found.order)] == min(every.values())
    assert price_of_grouped(stand, pieces) == every[2, 1, 0]


def test_exchanges_in_the_middle_count_on_every_sheet():
    room = room_of(1, [tool(0), tool(1)])
    loads = [price(stand_of(room), [piece(0, [need(0), need(1)], sheets=n)], [0]).seconds for n in (1, 2, 3)]
    assert [seconds / room.exchange_s["tool_load"] for seconds in loads] == [2, 3, 4]


def test_fewer_late_orders_come_before_fewer_seconds():
    room = room_of(4, [tool(0)])
    one, other = piece(0, [need(0)], material=1), piece(1, [need(0)], due_in_s=250.0)
    third = piece(2, [need(0)], material=1)
    stand = stand_of(room, turret_of(room, {0: 0}), set_up=(1,))
    pieces = [one, third, other]
    found = improve(stand, pieces, ENOUGH)
    assert price_of_grouped(stand, pieces) == SequenceCost(1, 360.0)
    assert price(stand, pieces, found.order) == SequenceCost(0, 720.0)
    assert found.order[1] == 2


def test_one_evaluation_is_the_sequence_of_the_grouped_rule():
    stand, pieces = alike(TANG_JOBS, 4)
    assert improve(stand, pieces, 1).order == Pricing(stand, pieces, ()).grouped(stand.clearance)


def test_foreseen_is_how_the_machine_stands_before_each_order():
    stand, pieces = alike([{0, 1}, {1, 2}, {0, 2}], 2)
    found = improve(stand, pieces, ENOUGH)
    assert len(found.foreseen) == 4
    assert found.foreseen[0] == (stand.turret, stand.set_up)
    turret = found.foreseen[-1][0]
    assert plan_exchange(stand.room, turret, pieces[found.order[-1]].needs, ()).exchanges == ()


# ---- whatever the room and the orders ----


@FEW
@given(windows())
def test_the_search_is_never_later_nor_dearer_than_grouped_and_the_price_is_the_real_one(window):
    stand, pieces = window
    found = improve(stand, pieces, ENOUGH)
    assert sorted(found.order) == list(range(len(pieces)))
    assert price(stand, pieces, found.order) <= price_of_grouped(stand, pieces)
    real = Pricing(stand, pieces, ())
    real.priced(found.order)
    assert found.foreseen == [(point.turret, point.set_up) for point in real.points]
    assert improve(stand, pieces, ENOUGH) == found


@FEW
@given(windows())
def test_no_move_or_swap_is_left_that_helps(window):
    stand, pieces = window
    order = improve(stand, pieces, ENOUGH).order
    best = price(stand, pieces, order)
    for at in range(len(order)):
        for to in range(len(order)):
            moved = list(order)
            moved.insert(to, moved.pop(at))
            swapped = list(order)
            swapped[at], swapped[to] = swapped[to], swapped[at]
            for tried in (moved, swapped):
                if not unmet(stand, pieces, tried):
                    assert price(stand, pieces, tried) >= (best.late, best.seconds - 1e-3)


def unmet(stand, pieces, order):
    """Whether some tool finds no station or no die on the way; then the bound may not hold."""
    turret = stand.turret
    for at in order:
        plan = plan_exchange(stand.room, turret, pieces[at].needs, (), sheets=pieces[at].sheets)
        if plan.missing:
            return True
        turret = improve(MachineStand(stand.room, turret, 0, stand.set_up), [pieces[at]], 1).foreseen[1][0]
    return False


@FEW
@given(windows(), windows(magazine=True), st.randoms(use_true_random=False))
def test_the_bound_never_exceeds_the_price(plain, with_magazine, rng):
    for stand, pieces in (plain, with_magazine):
        order = list(range(len(pieces)))
        rng.shuffle(order)
        if not unmet(stand, pieces, order):
            assert lower_bound_s(stand, pieces, order) <= price(stand, pieces, order).seconds + 1e-6


@FEW
@given(windows(), st.integers(1, 12))
def test_the_number_of_sequences_looked_at_is_bounded(window, most):
    looked_at, better = [], Pricing.better
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Pricing, "better", lambda *given: looked_at.append(1) or better(*given))
        improve(*window, most)
    assert 1 + len(looked_at) <= most


@pytest.mark.parametrize("eviction", ["lru", "fifo", "soonest"])
def test_alike_tools_cost_what_the_textbook_counts(eviction):
    rng = Random(5)
    for _ in range(30):
        jobs = [set(rng.sample(range(9), rng.randint(1, 4))) for _ in range(6)]
        stand, pieces = alike(jobs, 4, eviction)
        expected = insertions(jobs, 4, eviction) * stand.room.exchange_s["tool_load"]
        assert price(stand, pieces, range(6)).seconds == pytest.approx(expected)


def printed_lists():
    yield "T&D", TANG_JOBS, 4
    for name, (capacity, *_, text) in {**LISTED, **OWN_LISTS}.items():
        yield name, jobs_of(text), capacity


def test_pin_the_search_against_the_optimum_of_the_printed_lists():
    """A pin: loads above the optimum, from an empty turret with the tool needed soonest kept."""
    above = {}
    for name, jobs, capacity in printed_lists():
        stand, pieces = alike(jobs, capacity)
        loads = round(
            price(stand, pieces, improve(stand, pieces, ENOUGH).order).seconds / stand.room.exchange_s["tool_load"]
        )
        above[name] = loads - best_order(jobs, capacity).insertions
    assert min(above.values()) >= 0
    assert {name: loads for name, loads in above.items() if loads} == {"s1n001": 2, "s1n005": 2, "datA1": 1, "OWN-3": 1}


def test_tall_forms_pins_and_turning_tools_are_priced_by_the_real_decision():
    tools = [form(0), tool(1), tool(2, needs_turning=True), tool(3)]
    stations = {"size_mm": 16, "count": 3}, {"size_mm": 16, "turning": True}
    room = make_tool_room(settings_of(*stations, rules={"pinned": ["T3"]}), tools)
    stand = stand_of(room, turret_of(room, {0: 3}))
    pieces = [piece(0, [need(0, NO_CLEARANCE), need(1)]), piece(1, [need(2), need(1)]), piece(2, [need(3)])]
    for order in permutations(range(3)):
        assert lower_bound_s(stand, pieces, order) <= price(stand, pieces, order).seconds
    found = improve(stand, pieces, ENOUGH).order
    assert price(stand, pieces, found) == min(price(stand, pieces, o) for o in permutations(range(3)))
