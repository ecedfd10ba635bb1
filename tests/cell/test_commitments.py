"""Orders committed ahead, by hand: machines a and b, minutes after 06:00 of the first day; a sheet of A takes 10."""

from __future__ import annotations

import dataclasses

import pytest

from simkit.cell.commitments import Commitments
from simkit.cell.run import simulate
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import LoadFault, Order, Tool
from tests.cell.bench_plant import OPEN, exchanges, machines, order, plant, program, run, tool, use
from tests.cell.test_by_hand import NIGHT
from tests.oracle.compare import difference, first_difference, records_of_cell, records_of_oracle
from tests.oracle.plants import workload_of
from tests.oracle.straight import Straight

DAY = 24 * 60
ALONE = {"load": "machine", "unload": "machine", "fixed": "machine"}


def pair(*orders: Order, long_min: float = 30.0, **changes) -> PlantInputs:
    """Two machines; B is a long sheet, one of C takes longer than a day of work."""
    programs = (program("A", 10.0), program("B", long_min), program("C", 490.0))
    return plant(machines=machines("ab"), orders=orders, **{"programs": programs, "who": ALONE} | changes)


def twins(name: str) -> Tool:
    return dataclasses.replace(tool(name), copies=2)


def starts(cell: PlantInputs) -> list[tuple[str, float]]:
    """(machine, minute of start) of each order, the same in the plain cell."""
    assert first_difference(workload_of(cell)) == ""
    trace, rows = run(cell), []
    for job in trace.jobs:
        by = [name for name, log in zip("abc", trace.machines, strict=False) if job.sheets[0] in log.made]
        rows.append((*by, (job.started_s - OPEN) / 60))
    return rows


@pytest.mark.parametrize("rush", [False, True])
def test_a_machine_without_work_takes_what_a_busy_one_has_committed(rush: bool) -> None:
    cell = pair(order("1", "B", rush=rush), order("2", "A", rush=rush), order("3", "A", rush=rush))
    # a begins 1 and commits 2 at once; b does 3, finds nothing on the board at 10 and takes 2
    assert starts(cell) == [("a", 0.0), ("b", 10.0), ("b", 0.0)]


def test_with_no_sheets_of_look_ahead_nothing_is_committed_before_the_order_is_done() -> None:
    cell = pair(order("1", "B"), order("2", "A"), order("3", "A"), rules={"lookahead_sheets": 0})
    assert starts(cell) == [("a", 0.0), ("b", 0.0), ("b", 10.0)]


def test_the_board_goes_before_what_is_committed_and_the_owner_chooses_again() -> None:
    day = [order(name, "A", day=1) for name in "4567"]
    cell = pair(order("1", "B", 60), order("2", "A"), order("3", "A"), *day, rules={"lookahead_sheets": 60})
    # a commits 2 with its first sheet, b takes it at 10. As the second day begins a chooses again, 4 now; b takes 5, 6
    # and 7 from the board and then, with nothing there, 4
    assert starts(cell) == [
        ("a", 0.0), ("b", 10.0), ("b", 0.0), ("b", DAY + 30.0), ("b", DAY), ("b", DAY + 10.0), ("b", DAY + 20.0),
    ]  # fmt: skip


def test_what_a_rush_order_displaced_is_committed_anew_and_taken_by_the_other_machine() -> None:
    rows = (order("1", "A", 49), order("2", "A", 50), order("3", "A"), order("4", "A", rush=True, day=1),
            order("5", "B", rush=True, day=1))  # fmt: skip
    cell = pair(*rows, rules={"lookahead_sheets": 2})
    # a commits 3 at 470; on the second day b commits 4; a is free at 10, 5 displaces 3, and a commits 3 again;
    # b is free for 4 at 20, and at 30 takes 3 while a is busy with 5 until 40
    assert starts(cell) == [("a", 0.0), ("b", 0.0), ("b", DAY + 30.0), ("b", DAY + 20.0), ("a", DAY + 10.0)]


def test_of_two_committed_orders_the_earlier_committed_is_taken_first_then_by_machine_row() -> None:
    rows = (order(name, program) for name, program in zip("123456", "BABAAA", strict=True))
    cell = dataclasses.replace(pair(*rows), machines=machines("abc"))
    # a and b begin 1 and 3 at 0, each a long sheet, and commit 2 and 4; c has 5 and 6 first, then 2; at 30 a is free
    # before b, by its row, and takes 4
    assert starts(cell) == [("a", 0.0), ("c", 20.0), ("b", 0.0), ("a", 30.0), ("c", 0.0), ("c", 10.0)]


def test_in_closed_hours_nothing_is_taken_over() -> None:
    cell = pair(order("1", "B"), order("2", "A"), order("3", "C"), long_min=DAY + 60.0)
    # b is done at 490, after hours; a's one sheet lasts until 60 of the second day
    assert starts(cell) == [("a", 0.0), ("b", DAY), ("b", 0.0)]


@pytest.mark.parametrize(("queue", "begun"), [("as_ranked", 490.0), ("prepared", DAY)])
def test_a_prepared_night_takes_over_only_what_needs_nobody(queue: str, begun: float) -> None:
    # the first sheet of A is released by a person
    cell = pair(order("1", "B"), order("2", "A"), order("3", "C"), times={"first": 0.5}, calendar={"night": NIGHT},
                rules={"night_queue": queue, "first_piece": "new_program"})  # fmt: skip
    programs = (program("A", 10.0, proven=False), program("B", DAY + 60.0), program("C", 490.0))
    cell = dataclasses.replace(cell, programs=programs)
    assert starts(cell)[1] == ("b", begun)


def test_exchanges_done_ahead_stay_in_the_turret_of_the_owner_with_what_went_wrong_there() -> None:
    fault = LoadFault(fault="turned", exchanges=("magazine_exchange",), rate=1.0, break_share=1.0, repair_min=7.0)
    cell = pair(order("1", "B"), order("2", "A"), order("3", "A"), load_faults=(fault,), times={"gripper": 4.0},
                program_tools=(*use("A", "T1"), *use("B", "T0")), magazine={"places": {"16": 5}},
                machine={"stations": ({"size_mm": 16, "count": 2},)}, tools=(tool("T0"), twins("T1")))  # fmt: skip
    # both exchange until 4; a then exchanges T1 for 3 ahead. Both break their first tool at 4; one person mends a until
    # 11 and b until 18; b makes 2 by 28 and then has T1 for 3, which was not loaded wrongly there
    assert starts(cell) == [("a", 0.0), ("b", 0.0), ("b", 28.0)]
    trace = run(cell)
    assert [exchanges(trace, machine) for machine in range(2)] == [{"magazine_exchange": 2}, {"magazine_exchange": 1}]
    assert [counts.broken for counts in trace.tools] == [1, 1]


def test_of_an_order_that_went_back_to_the_board_only_the_machine_that_does_it_counts_exchanges() -> None:
    fault = LoadFault(fault="turned", exchanges=("magazine_exchange",), rate=1e-9, repair_min=7.0)
    rows = (order("1", "B"), order("2", "D", 17), order("3", "A"), order("4", "D", 3, rush=True, day=1),
            order("5", "D", rush=True, day=1), order("6", "D", rush=True, day=1))  # fmt: skip
    programs = (program("A", 10.0), program("B", DAY + 60.0), program("D", 30.0))
    cell = pair(*rows, programs=programs, load_faults=(fault,), times={"gripper": 4.0},
                program_tools=(*use("A", "T1"), *use("B", "T0")), magazine={"places": {"16": 5}},
                machine={"stations": ({"size_mm": 16, "count": 2},)}, tools=(tool("T0"), twins("T1")))  # fmt: skip
    # a exchanges T1 for 3 behind its long sheet; at 64 of the second day 5 displaces 3, and a commits 6; b does 4 from
    # 30 to 120 and commits 3 at 90, with an exchange of its own
    assert starts(cell)[2] == ("b", DAY + 120.0)
    trace = run(cell)
    assert [exchanges(trace, machine) for machine in range(2)] == [{"magazine_exchange": 2}, {"magazine_exchange": 1}]
    assert (trace.jobs[2].loads, trace.jobs[2].risked) == (1.0, {0: 1})


def test_a_cell_that_lets_a_machine_stand_idle_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    work = workload_of(pair(order("1", "B"), order("2", "A"), order("3", "A")))
    oracle = records_of_oracle(Straight(work).run())
    monkeypatch.setattr(Commitments, "take_over", lambda self, fits: None)
    assert difference(records_of_cell(simulate(work)), oracle) != ""
