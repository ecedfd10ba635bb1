"""Whatever the stations, tools and orders: what must always hold after an exchange."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.base.vocabulary import GRIPPER_EXCHANGES
from simkit.tooling.exchange import apply_exchanges, fit_lookahead, in_use, mark_used, plan_exchange
from simkit.tooling.toolroom import NO_CLEARANCE, Need, make_tool_room
from simkit.tooling.turret import barred_stations, empty_turret
from tests.tooling.rooms import form, settings_of, tool

FEW = settings(max_examples=60, deadline=None, derandomize=True)
EVICTIONS = ("lru", "fifo", "soonest")


@st.composite
def runs_of_stations(draw):
    size = st.sampled_from((16.0, 30.0))
    run = st.fixed_dictionaries({"size_mm": size, "count": st.integers(1, 4), "turning": st.booleans(),
                                 "retracting": st.booleans(), "tools": st.sampled_from((1, 1, 1, 2)),
                                 "also_mm": st.sampled_from(((), (), (16.0,)))})  # fmt: skip
    return draw(st.lists(run, min_size=1, max_size=5))


@st.composite
def some_tool(draw, number):
    size, copies = draw(st.sampled_from((16.0, 30.0))), draw(st.integers(1, 2))
    if draw(st.integers(0, 4)) == 0:
        return form(number, size, height_mm=draw(st.sampled_from((2.0, 8.0))), copies=copies)
    wide = 2 if draw(st.integers(0, 9)) == 0 else 1
    turning = draw(st.integers(0, 7)) == 0
    return tool(number, size, copies=copies, positions=wide, needs_turning=turning)


@st.composite
def cases(draw, magazine=False, plain=False):
    """A tool room and orders that need its tools; now and then a die that is not owned."""
    count = draw(st.integers(2, 12))
    tools = [tool(n, copies=1 + n % 2) if plain else draw(some_tool(n)) for n in range(count)]
    pinned = draw(st.sets(st.sampled_from([t.tool_id for t in tools]), max_size=2))
    dies = {t.tool_id: "@0.2" if t.clearances and draw(st.booleans()) else "" for t in tools}
    rules = {"eviction": draw(st.sampled_from(EVICTIONS)), "pinned": tuple(p + dies[p] for p in sorted(pinned))}
    places, dies = {"16": 12, "30": 12}, {"16": 2, "30": 2}
    held = [t.tool_id for t in tools[::2]]
    sections = {"magazine": {"places": places, "dies_per_place": dies, "contents": held}}
    room = make_tool_room(
        settings_of(*draw(runs_of_stations()), rules=rules, **(sections if magazine else {})), tools
    )  # fmt: skip
    orders = draw(st.lists(needs_among(tools), min_size=1, max_size=8))
    return room, orders


@st.composite
def needs_among(draw, tools):
    rows = draw(st.sets(st.integers(0, len(tools) - 1), max_size=6))
    clearance = draw(st.sampled_from((0.2, 0.3, 0.3, 0.4)))
    angles = {row: draw(st.sampled_from((0.0, 0.0, 90.0))) for row in sorted(rows)}
    return tuple(Need(row, clearance if tools[row].clearances else NO_CLEARANCE, angles[row]) for row in sorted(rows))


def check_turret(room, turret):
    """Right sizes, nothing beside a tall form, no copy twice, no more copies than owned."""
    standing = [(s, placed) for s, placed in enumerate(turret.stations) if placed]
    assert len(turret.stations) == len(room.ring)
    for station, placed in standing:
        assert station in room.fits[placed.tool]
        assert 1 <= placed.copy <= room.copies[placed.tool]
        assert placed.clearance in (room.clearances[placed.tool] or (NO_CLEARANCE,))
        assert turret.last_used[station] >= 0
        assert turret.loaded_at[station] >= 0
    assert not barred_stations(room, turret.stations) & {station for station, _ in standing}
    assert max(Counter(placed[:2] for _, placed in standing).values(), default=1) == 1
    loaded = [stamp for stamp in turret.loaded_at if stamp >= 0]
    assert len(set(loaded)) == len(loaded)


def met(room, turret, need):
    """Whether a need is met by what stands in the turret, at the owned clearance nearest to it."""
    clearance = room.owned_clearance(need)
    return any(
        placed and placed[0] == need.tool and placed[2] == clearance
        and (room.turning[station] or placed[3] == need.angle)
        for station, placed in enumerate(turret.stations)
    )  # fmt: skip


def pinned_in(room, turret):
    return {placed[:2] for placed in turret.stations if placed and room.is_pinned(placed.tool, placed.clearance)}


def everything_standing(turret):
    return {placed[:2] for placed in turret.stations if placed}


@FEW
@given(cases())
def test_turret_stays_legal_and_needs_are_met(case):
    room, orders = case
    turret = empty_turret(room)
    for number, needs in enumerate(orders):
        plan = plan_exchange(room, turret, needs, orders[number + 1 :])
        pins = pinned_in(room, turret)
        first = mark_used(apply_exchanges(turret, plan.exchanges, number), needs, number)
        check_turret(room, first)
        second = apply_exchanges(first, plan.mid_program, number)
        check_turret(room, second)
        fitting = [need for need in needs if room.fits[need.tool] and need not in plan.missing]
        assert all(met(room, first, need) or plan.mid_program for need in fitting)
        assert pins <= everything_standing(first)
        assert pins <= everything_standing(second)
        third = apply_exchanges(second, plan.mid_back, number)
        check_turret(room, third)
        assert all(met(room, third, need) for need in needs if met(room, first, need))
        turret = first


@FEW
@given(cases())
def test_each_need_is_met_in_some_part_of_a_split_program(case):
    room, orders = case
    turret = empty_turret(room)
    for number, needs in enumerate(orders):
        plan = plan_exchange(room, turret, needs, orders[number + 1 :])
        turret = apply_exchanges(turret, plan.exchanges, number)
        parts = [turret]
        for exchange in plan.mid_program:
            parts.append(apply_exchanges(parts[-1], (exchange,), number))
        lost = {need.tool for need in plan.missing}
        for need in needs:
            assert need.tool in lost or any(met(room, part, need) for part in parts)


@FEW
@given(cases())
def test_an_order_repeated_exchanges_nothing(case):
    room, orders = case
    turret = empty_turret(room)
    for number, needs in enumerate(orders):
        plan = plan_exchange(room, turret, needs, orders[number + 1 :])
        turret = mark_used(apply_exchanges(turret, plan.exchanges, number), needs, number)
        again = plan_exchange(room, turret, needs, orders[number + 1 :])
        assert len(again.exchanges) == 0
        assert len(again.mid_program) == len(plan.mid_program) or len(again.missing) < len(plan.missing)


@FEW
@given(cases())
def test_clearance_pins_keep_their_die_while_a_spare_copy_exists(case):
    room, orders = case
    turret = empty_turret(room)
    for number, needs in enumerate(orders):
        plan = plan_exchange(room, turret, needs, orders[number + 1 :])
        for exchange in plan.exchanges:
            before = turret.stations[exchange.station]
            if exchange.kind == "die_change" and before and (before.tool, before.clearance) in room.pinned:
                standing = [placed for placed in turret.stations if placed and placed.tool == before.tool]
                assert len(standing) == room.copies[before.tool]
        turret = mark_used(apply_exchanges(turret, plan.exchanges, number), needs, number)


@FEW
@given(cases(magazine=True), st.integers(0, 300))
def test_look_ahead_touches_nothing_in_use_and_any_part_of_it_is_legal(case, budget_s):
    room, orders = case
    turret = empty_turret(room)
    seconds = {"magazine_exchange": 45.0, "magazine_die_change": 36.0}
    for number, needs in enumerate(orders):
        plan = plan_exchange(room, turret, needs, orders[number + 1 :])
        turret = mark_used(apply_exchanges(turret, plan.exchanges, number), needs, number)
        if number + 1 == len(orders):
            break
        locked, copies = in_use(turret, needs)
        ahead = plan_exchange(room, turret, orders[number + 1], orders[number + 2 :], locked, copies)
        assert not ahead.mid_program
        done, used_s = fit_lookahead(ahead.exchanges, lambda one: seconds[one.kind], float(budget_s))
        assert used_s <= budget_s
        assert all(exchange.kind in GRIPPER_EXCHANGES for exchange in done)
        after = apply_exchanges(turret, done, number + 1)
        check_turret(room, after)
        assert all(after.stations[s] == turret.stations[s] for s in locked)
        for one in ahead.exchanges:
            if one.kind != "angle_change":
                check_turret(room, apply_exchanges(turret, (one,), number + 1))
        turret = after


@FEW
@given(cases(plain=True))
def test_eviction_rules_differ_in_who_leaves_only(case):
    """From the same turret every rule makes the same exchanges."""
    room, orders = case
    turret = empty_turret(room)
    for number, needs in enumerate(orders):
        plans = [plan_exchange(replace(room, eviction=rule), turret, needs, orders[number + 1 :]) for rule in EVICTIONS]
        assert len({tuple(sorted((e.kind, e.placed[:1], e.placed[2:]) for e in plan.exchanges)) for plan in plans}) == 1
        assert len({len(plan.mid_program) for plan in plans}) == 1
        turret = mark_used(apply_exchanges(turret, plans[0].exchanges, number), needs, number)
