"""A magazine filled ahead, by hand: who does it and when, what it saves, and whose place is kept meanwhile."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from simkit.base.vocabulary import SKILLS
from simkit.cell.magazineloading import MagazineLoading
from simkit.cell.trace import Trace
from simkit.plant.tables import Element
from simkit.tooling.exchange import apply_exchanges, mark_used, plan_exchange
from simkit.tooling.toolroom import make_tool_room
from simkit.tooling.turret import empty_turret
from tests.cell.bench_plant import element, order, person, plant, program, run, story, use, work
from tests.cell.test_by_hand import AUTOMATIC, DAY, NIGHT
from tests.tooling.magazines import FEW, cases, check_magazine, settings_with
from tests.tooling.rooms import need, tool

FILL = Element(element="fill", task_of="preparation", unit="min/magazine_load", state="outside", typical=3.0)
OPERATOR = person("OP", *(skill for skill in SKILLS if skill != "preparation"))
PEOPLE = (OPERATOR, person("PR", "preparation"))
PREPARER = 1


def filled(loading: str, fill_min: float = 3.0, **changes: Any) -> Trace:
    """Orders with T0, T1, ... one after the other; two places with T0 and T5, or with what is said, one station."""
    names = changes.pop("orders", "AB")
    minutes = {"load": 0.0, "unload": 0.0, "gripper": 2.0, "tool": 9.0}
    who = changes.pop("who", {})
    elements = [element(name, time, who.get(name, "")) for name, time in minutes.items()]
    fill = Element(**{**vars(FILL), "typical": fill_min})
    rules = {"lookahead_sheets": 0, **changes.pop("rules", {})}
    return run(plant(
        elements=(*elements, fill), people=changes.pop("people", PEOPLE), rules=rules,
        orders=tuple(order(f"{at}", name[0], int(name[1:] or 1)) for at, name in enumerate(names)),
        programs=tuple(program(name, 10.0) for name in "ABC"),
        program_tools=(*use("A", "T0"), *use("B", "T1"), *use("C", "T2")),
        machine={"stations": ({"size_mm": 16, "count": 1},)},
        magazine={"places": {"16": 2}, "contents": ("T0", "T5"), "loading": loading, **changes.pop("magazine", {})},
        **changes,
    ))  # fmt: skip


def test_a_tool_that_the_magazine_lacks_is_fetched_by_hand() -> None:
    trace = filled("fixed")
    assert story(trace) == [("changeover", 2.0), ("run", 12.0), ("changeover", 21.0), ("run", 31.0)]
    assert (trace.tools[0].misses, trace.tools[0].magazine_loads) == (1, 0)
    assert work(trace, PREPARER) == []


def test_put_in_ahead_it_comes_by_the_gripper_and_somebody_has_done_it() -> None:
    trace = filled("ahead")
    assert story(trace) == [("changeover", 2.0), ("run", 12.0), ("changeover", 14.0), ("run", 24.0)]
    assert (trace.tools[0].misses, trace.tools[0].magazine_loads) == (0, 1)
    assert work(trace, PREPARER) == [("preparation", 0.0, 3.0)]


def test_two_tools_take_twice_the_time_and_come_together() -> None:
    trace = filled("ahead", orders="ABC", magazine={"places": {"16": 3}, "contents": ("T4", "T5")})
    assert work(trace, PREPARER) == [("preparation", 0.0, 9.0)]  # T0, T1 and T2
    assert story(trace)[:3] == [("changeover", 9.0), ("run", 19.0), ("changeover", 21.0)]
    assert trace.tools[0].misses == 1


def test_what_is_not_done_in_time_still_misses() -> None:
    trace = filled("ahead", fill_min=15.0)
    assert story(trace) == [("changeover", 2.0), ("run", 12.0), ("changeover", 21.0), ("run", 31.0)]
    assert work(trace, PREPARER) == [("preparation", 0.0, 15.0)]
    assert trace.tools[0].misses == 1


def test_without_anybody_qualified_nobody_is_occupied() -> None:
    """The plant is checked for that; in the cell it is then work of somebody from elsewhere, who is there at once."""
    trace = filled("ahead", people=(OPERATOR,))
    assert {task for task, _, _ in work(trace, 0)} <= {"changeover"}
    assert trace.outside_s == {"preparation": 180.0}
    assert trace.tools[0].misses == 0


def test_at_night_it_waits_for_the_morning() -> None:
    """The third order is known too late: what it needs is asked for at night, and the machine waits for a hand."""
    cell = {"who": AUTOMATIC, "calendar": {"night": NIGHT}, "rules": {"lookahead_orders": 1}}
    trace = filled("ahead", orders=("A49", "B", "C"), magazine={"contents": ("T0", "T1")}, **cell)
    assert work(trace, PREPARER) == [("preparation", float(DAY), DAY + 3.0)]
    assert story(trace) == [
        ("changeover", 2.0), ("run", 492.0), ("changeover", 494.0), ("run", 504.0),
        ("waiting_person", float(DAY)), ("changeover", DAY + 9.0), ("run", DAY + 19.0),
    ]  # fmt: skip
    assert trace.machines[0].night_limit == ["tool"]
    assert trace.tools[0].misses == 1


# ---- whose place is kept ----


class Asked:
    """A request that is done when a test says so."""

    done = False


def loading_of(room: Any) -> MagazineLoading:
    book: Any = SimpleNamespace(room=room, magazine_load=((0.0, {}),) * len(room.copies))
    return MagazineLoading(book, ahead=True, is_done=lambda request: request.done)


def test_a_tool_that_stands_in_the_turret_by_then_keeps_its_place() -> None:
    settings = settings_with({"16": 1}, contents=("T0@0.2",))
    room = make_tool_room(settings, [tool(0), tool(1)])
    loading, turret, request = loading_of(room), empty_turret(room), Asked()
    moves, _ = loading.plan([(need(1),)], turret)
    assert [(move.out[0].tool, move.into.tool) for move in moves] == [(0, 1)]
    loading.ask([(need(1),)], moves, [request])
    turret = apply_exchanges(turret, plan_exchange(loading.room, turret, (need(0),), ()).exchanges, 0)
    request.done = True
    loading.settle(turret)
    assert loading.room.magazine.contents == {(0, 0.2)}
    assert loading.plan([(need(1),)], turret)[0] == ()
    loading.ask([(need(1),)], loading.plan([(need(1),)], empty_turret(room))[0], [])
    loading.settle(empty_turret(room))
    assert loading.room.magazine.contents == {(1, 0.2)}


def test_as_much_is_put_in_as_was_asked_for() -> None:
    """The first tool of the queue is fetched by hand meanwhile, so another one of that queue comes instead."""
    room = make_tool_room(
        settings_with({"16": 2}, contents=("T3", "T4")), [tool(n, clearances=(0.2,)) for n in range(5)]
    )
    loading, turret, queue = loading_of(room), empty_turret(room), [(need(0),), (need(1),), (need(2),)]
    moves, _ = loading.plan(queue, turret)
    assert len(moves) == 2
    loading.ask(queue, moves[:1], [])
    turret = apply_exchanges(turret, plan_exchange(room, turret, (need(0),), ()).exchanges, 0)
    loading.settle(turret)
    assert loading.room.magazine.copies == {(1, 1), (3, 1)}


@pytest.mark.parametrize("first_done", [True, False])
def test_it_is_done_in_the_order_in_which_it_was_asked_for(first_done: bool) -> None:
    room = make_tool_room(settings_with({"16": 2}), [tool(0), tool(1)])
    loading, turret, first = loading_of(room), empty_turret(room), Asked()
    for row, requests in ((0, [first]), (1, [])):
        loading.ask([(need(row),)], loading.plan([(need(row),)], turret)[0], requests)
    first.done = first_done
    loading.settle(turret)
    assert loading.room.magazine.contents == ({(0, 0.2), (1, 0.2)} if first_done else set())


@FEW
@given(cases(), st.data())
def test_no_place_is_given_away_while_its_copy_stands_in_the_turret(case: Any, data: st.DataObject) -> None:
    tools, room, turret, orders = case
    loading, open_requests = loading_of(room), []
    for number, needs in enumerate(orders):
        queue = orders[number : number + data.draw(st.integers(1, 4))]
        moves, _ = loading.plan(queue, turret)
        if moves:
            open_requests.append(Asked())
            loading.ask(queue, moves, [open_requests[-1]])
        for request in open_requests:
            request.done |= data.draw(st.booleans())
        before, standing = loading.room.magazine, [placed for placed in turret.stations if placed]
        loading.settle(turret)
        after = loading.room.magazine
        check_magazine(after, tools)
        assert {p[:2] for p in standing} & before.copies <= after.copies
        assert {(p.tool, p.clearance) for p in standing} & before.contents <= after.contents
        assert loading.room.magazine.contents == after.contents
        plan = plan_exchange(loading.room, turret, needs, ())
        turret = mark_used(apply_exchanges(turret, plan.exchanges, number), needs, number)
