"""Machines of a cell share one stock of tools, by hand: minutes after 06:00; a sheet takes 10, a tool 1 to fit."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from simkit.cell.eventnotes import Notes
from simkit.cell.run import simulate
from simkit.cell.toolsharing import ToolSharing
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Order, ProgramTool, StartRow
from tests.cell.bench_plant import machines, order, person, plant, program, run, story, tool, use
from tests.cell.test_by_hand import NIGHT
from tests.cell.test_commitments import ALONE, starts
from tests.oracle.compare import first_difference
from tests.oracle.plants import plants, workload_of


def cell(*orders: Order, copies: int = 1, names: str = "ab", **changes: Any) -> PlantInputs:
    """Programs A and B need T0, which is owned so many times; C needs no tool. Two fitters."""
    built = plant(**{
        "machines": machines(names), "orders": orders, "who": ALONE, "times": {"tool": 1.0},
        "programs": tuple(program(name, 10.0) for name in "ABC"), "program_parts": (),
        "tools": (dataclasses.replace(tool("T0"), copies=copies),), "program_tools": (*use("A", "T0"), *use("B", "T0")),
        "people": (person("OP"), person("OP2")), "rules": {"lookahead_sheets": 0}, **changes,
    })  # fmt: skip
    assert first_difference(workload_of(built)) == ""
    return built


def test_without_a_twin_the_second_machine_waits_for_the_tool() -> None:
    """a fits T0 and runs until 11; b waits, fetches it from there and runs until 22."""
    pair = cell(order("1", "A"), order("2", "B"))
    assert starts(pair) == [("a", 0.0), ("b", 11.0)]
    assert story(run(pair), 1) == [("waiting_material", 11.0), ("changeover", 12.0), ("run", 22.0)]
    assert starts(cell(order("1", "A"), order("2", "B"), copies=2)) == [("a", 0.0), ("b", 0.0)]


def test_an_order_whose_tools_are_at_hand_goes_before_one_whose_tools_are_not() -> None:
    """b leaves 2, whose tool a uses, and does 3 until 10; a, done at 11, would take 2 but b waits for its tool."""
    pair = cell(order("1", "A"), order("2", "B"), order("3", "C"))
    assert starts(pair) == [("a", 0.0), ("b", 11.0), ("b", 0.0)]
    # with a day's work of the other kind nobody waits: a keeps the tool, and fits nothing anew for 2
    busy = cell(order("1", "A"), order("2", "B"), order("3", "C", 3))
    assert starts(busy) == [("a", 0.0), ("a", 11.0), ("b", 0.0)]
    assert story(run(busy), 0)[-1] == ("run", 21.0)


def test_who_asked_first_has_the_tool_first() -> None:
    """a has committed 3 when it is done at 11; b has waited since 0, so a waits until b is done."""
    pair = cell(order("1", "A"), order("2", "B"), order("3", "A"), rules={"lookahead_sheets": 1})
    assert starts(pair) == [("a", 0.0), ("b", 11.0), ("a", 22.0)]
    # three machines: the second in line has it after the first
    three = cell(*(order(str(number), "A") for number in range(4)), names="abc")
    assert [begun for _, begun in starts(three)] == [0.0, 11.0, 22.0, 33.0]


DAY = 24 * 60.0


def test_while_it_waits_for_a_tool_a_machine_takes_an_order_that_can_begin_at_once() -> None:
    """a is busy with T0 until 30 of the second day. b would wait for it with 2; 3, released on that day, needs none:
    b does it from 0 to 10 of the day, and then waits with 2 again until a is done."""
    slow = {"programs": (program("A", DAY + 29.0), program("B", 10.0), program("C", 10.0))}
    for rush in (False, True):
        pair = cell(order("1", "A"), order("2", "B"), order("3", "C", day=1, rush=rush), **slow)
        assert starts(pair) == [("a", 0.0), ("b", DAY + 30.0), ("b", DAY)]
        assert story(run(pair), 1) == [
            ("waiting_material", DAY), ("run", DAY + 10.0), ("waiting_material", DAY + 30.0),
            ("changeover", DAY + 31.0), ("run", DAY + 41.0),
        ]  # fmt: skip


def test_an_order_whose_tools_become_free_goes_before_the_one_that_is_waited_for() -> None:
    """a uses T0 until 61, b uses T1 until 11; each commits a D, 3 a sheet. c does E until 5 and D until 8.

    It then waits for T0 with 6. b goes on with its D at 11, so that T1 is free: c does 7 with it from 11 to 22, commits
    6 with its sheet, and waits for T0 again. b is done at 17, and takes the D that a has committed.
    """
    minutes = {"A": 60.0, "B": 10.0, "C": 10.0, "D": 3.0, "E": 5.0}
    rows = (order(str(number), name, 1 + (number == 5)) for number, name in enumerate("ABEDDDCB"))
    trio = cell(*rows, names="abc", programs=tuple(program(name, run_min) for name, run_min in minutes.items()),
                tools=(tool("T0"), tool("T1")), program_tools=(*use("A", "T0"), *use("B", "T1"), *use("C", "T0")),
                people=tuple(person(name) for name in ("OP", "OP2", "OP3")), rules={"lookahead_sheets": 1})  # fmt: skip
    assert starts(trio) == [
        ("a", 0.0), ("b", 0.0), ("c", 0.0), ("c", 5.0), ("b", 17.0), ("b", 11.0), ("c", 61.0), ("c", 11.0),
    ]  # fmt: skip


@pytest.mark.parametrize("queue", ["as_ranked", "prepared", "reserved"])
def test_waiting_for_a_tool_by_night_ends_in_every_queue(queue: str) -> None:
    """No machine asks for ever at one instant, whatever is kept back for the night or needs people in it."""
    book = [order(str(number), name, 20, day=number // 4) for number, name in enumerate("ABABCBAABC")]
    rules = {"night_queue": queue, "first_piece": "never", "lookahead_sheets": 1}
    trace = run(cell(*book, names="abc", rules=rules, calendar={"night": NIGHT}, stack={"places": 50}))
    assert all(job.finished_s > 0 for job in trace.jobs)


def test_hits_count_on_the_copy_wherever_it_worked() -> None:
    """200 hits at a and 100 at b pass the limit of 250: reground before b, where it never worked before."""
    limits = {"tracked": True, "regrind_limit_hits": 250.0}
    hits = (ProgramTool(program_id="A", tool_id="T0", hits_per_sheet=200),
            ProgramTool(program_id="B", tool_id="T0", hits_per_sheet=100))  # fmt: skip
    for copies, reground in ((1, [0, 1]), (2, [0, 0])):
        tools = (dataclasses.replace(tool("T0"), copies=copies, **limits),)
        trace = run(cell(order("1", "A"), order("2", "B"), tools=tools, program_tools=hits))
        assert [sum(counts.wear.reground.values()) for counts in trace.tools] == reground


def test_what_stands_in_the_turret_at_the_start_stands_at_the_first_machine() -> None:
    """a needs not fit T0, b does, from a's turret; each further copy stands at the next machine."""
    start = (StartRow(what="turret", item="T0", station=1, clearance_mm=0.2),)
    alone = cell(order("1", "A"), order("2", "B"), start=start)
    assert starts(alone) == [("a", 0.0), ("b", 10.0)]
    assert story(run(alone), 1) == [("waiting_material", 10.0), ("changeover", 11.0), ("run", 21.0)]
    twins = cell(order("1", "A"), order("2", "B"), start=start, copies=2)
    assert story(run(twins), 1) == [("run", 10.0)]


def test_two_in_line_for_different_tools_do_not_wait_for_each_other() -> None:
    sharing = ToolSharing((1, 1, 2))
    assert sharing.ask(0, frozenset({0, 1}))
    sharing.use(0, frozenset({(0, 1), (1, 1)}))
    assert not sharing.ask(1, frozenset({0}))
    assert not sharing.ask(2, frozenset({0, 2}))
    assert sharing.ask(3, frozenset({2}))  # one of two: the second is for machine 2, which waits longer
    sharing.use(3, frozenset({(2, 1)}))
    assert not sharing.ask(4, frozenset({2}))
    sharing.release(0)
    assert sharing.ask(1, frozenset({0}))
    assert not sharing.ask(2, frozenset({0, 2}))  # it wants the tool that 1 asked for first
    sharing.use(1, frozenset({(0, 1)}))
    sharing.release(1)
    assert sharing.ask(2, frozenset({0, 2}))


@settings(max_examples=60, derandomize=True, deadline=None, database=None,
          suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])  # fmt: skip
@given(plants(), st.integers(2, 3))
def test_no_copy_is_in_two_turrets_at_once(built: PlantInputs, count: int) -> None:
    """Also: the plain cell says the same of two and three machines."""
    many = dataclasses.replace(built, machines=machines("abc"[:count]))
    assert first_difference(workload_of(many)) == ""
    notes = Notes()
    simulate(workload_of(many), notes=notes)
    standing: dict[tuple[int, int], tuple[int, int]] = {}
    for move in notes.moves:
        copy, place = (move.tool, move.copy), (move.machine, move.target)
        if move.tool < 0 or move.copy < 1:
            continue
        if move.target >= 0:
            assert standing.get(copy, place)[0] == move.machine, "it stands at another machine"
            standing[copy] = place
        elif standing.get(copy, (-1, -1))[0] == move.machine:
            del standing[copy]


@pytest.mark.parametrize("sheets", [1, 4])
def test_a_twin_never_makes_the_book_later(sheets: int) -> None:
    book = [order(str(number), name, sheets) for number, name in enumerate("ABCAB")]
    ends = [max(job.finished_s for job in run(cell(*book, copies=copies)).jobs) for copies in (1, 2, 3)]
    assert ends[0] > ends[1] >= ends[2]
