"""Tools loaded wrongly, by hand: found at the first hit, at the first piece, or later; what was made is made again."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

from simkit.cell.trace import TOOL_FAULT, Trace
from simkit.plant.tables import LoadFault
from tests.cell.bench_plant import order, plant, run, story, tool, use
from tests.cell.test_by_hand import AUTOMATIC, NIGHT
from tests.oracle.compare import first_difference
from tests.oracle.plants import workload_of

WRONG = LoadFault(fault="wrong", exchanges=("tool_load",), rate=1.0, found_first_piece=1.0, repair_min=7.0)
TIMES = {"tool": 1.0, "first": 3.0}


def spoiled(fault: LoadFault, sheets: int = 3, **more: Any) -> Trace:
    cell = {"orders": (order("1", "A", sheets),), "program_tools": use("A", "T0"), "times": TIMES, **more}
    return run(plant(load_faults=(fault,), **cell))


def found(trace: Trace) -> dict[tuple[int, str], int]:
    return trace.tools[0].faults.found


def test_found_at_the_first_piece_the_sheet_is_made_and_measured_again() -> None:
    trace = spoiled(WRONG)
    assert story(trace) == [
        ("changeover", 1.0), ("run", 11.0), ("first_piece", 14.0), ("stopped", 21.0),
        ("run", 31.0), ("first_piece", 34.0), ("run", 54.0),
    ]  # fmt: skip
    assert (trace.machines[0].lost, len(trace.machines[0].made)) == ([0], 3)
    assert found(trace) == {(0, "first_piece"): 1}


def test_a_tool_that_breaks_does_so_at_the_first_hit() -> None:
    trace = spoiled(dataclasses.replace(WRONG, break_share=1.0))
    assert story(trace) == [
        ("changeover", 1.0), ("stopped", 8.0), ("run", 18.0), ("first_piece", 21.0), ("run", 41.0),
    ]  # fmt: skip
    assert trace.tools[0].broken == 1
    assert (found(trace), trace.machines[0].lost) == ({(0, "first_hit"): 1}, [0])


def test_without_a_first_piece_it_is_found_later_and_everything_since_is_lost() -> None:
    late = dataclasses.replace(WRONG, found_after_sheets=1.0)
    trace = spoiled(late, rules={"first_piece": "never"})
    assert story(trace) == [("changeover", 1.0), ("run", 11.0), ("stopped", 18.0), ("run", 48.0)]
    assert (found(trace), trace.machines[0].lost) == ({(0, "later"): 1}, [0])


def test_at_the_latest_the_last_sheet_shows_it() -> None:
    blind = dataclasses.replace(WRONG, found_first_piece=0.0, found_after_sheets=1e9)
    trace = spoiled(blind)
    assert story(trace) == [
        ("changeover", 1.0), ("run", 11.0), ("first_piece", 14.0), ("run", 34.0), ("stopped", 41.0),
        ("run", 51.0), ("first_piece", 54.0), ("run", 74.0),
    ]  # fmt: skip
    assert trace.machines[0].lost == [0, 1, 2]
    assert len(trace.machines[0].made) == 3


def test_nobody_looks_at_night_so_it_is_found_with_the_last_sheet() -> None:
    late = dataclasses.replace(WRONG, found_after_sheets=1.0)
    fifty = spoiled(late, 50, rules={"first_piece": "never"}, who=AUTOMATIC, calendar={"night": NIGHT})
    assert fifty.machines[0].lost == [0]  # found in the morning of the day: somebody is there
    second = run(plant(
        load_faults=(late,), orders=(order("1", "B", 47), order("2", "A", 10)), program_tools=use("A", "T0"),
        times=TIMES, rules={"first_piece": "never"}, who=AUTOMATIC | {"tool": "machine"}, calendar={"night": NIGHT},
    ))  # fmt: skip
    assert len(second.machines[0].lost) == 10  # begun at the end of the day: all ten sheets
    assert second.machines[0].night_limit == ["tool"]


@pytest.mark.parametrize("kind", ["die_change", "angle_change"])
def test_other_exchanges_do_not_strike(kind: str) -> None:
    trace = spoiled(dataclasses.replace(WRONG, exchanges=(kind,)))
    assert found(trace) == {}
    assert TOOL_FAULT not in trace.machines[0].stop_cause


def test_a_tool_that_stays_is_not_loaded_again_and_cannot_go_wrong_again() -> None:
    trace = spoiled(WRONG, orders=(order("1", "A", 2), order("2", "A", 2)))
    assert found(trace) == {(0, "first_piece"): 1}


# --- back from grinding -------------------------------------------------------------------------------

BAD_GRIND = dataclasses.replace(WRONG, exchanges=("regrind",), found_first_piece=0.0)
"""A die not shimmed, or a length left wrong in the record: always, found after the first sheet, put right in 7 min."""


def ground(fault: LoadFault | None, tracked: bool) -> Trace:
    """An order of two sheets and one of a third at 100 hits, with a tool that lives 250; it is fitted in a minute."""
    worn = dataclasses.replace(tool("T0"), tracked=tracked, life_hits=250.0, regrind_limit_hits=250.0)
    uses = tuple(dataclasses.replace(row, hits_per_sheet=100) for row in use("A", "T0"))
    built = plant(tools=(worn,), program_tools=uses, orders=(order("1", "A", 2), order("2", "A")),
                  times={"tool": 1.0}, load_faults=(fault,) if fault else ())  # fmt: skip
    assert first_difference(workload_of(built)) == ""
    return run(built)


def test_a_tool_reground_ahead_may_come_back_wrongly() -> None:
    """It is fitted again from 21 to 22; the first sheet with it is marked and made again."""
    assert story(ground(None, tracked=True))[2:] == [("changeover", 22.0), ("run", 32.0)]
    trace = ground(BAD_GRIND, tracked=True)
    assert story(trace)[2:] == [("changeover", 22.0), ("run", 32.0), ("stopped", 39.0), ("run", 49.0)]
    assert (found(trace), trace.machines[0].lost) == ({(0, "later"): 1}, [2])
    assert [job.risked for job in trace.jobs] == [{}, {0: 1}]


def test_one_reground_after_it_failed_may_come_back_wrongly() -> None:
    """It fails at 26 and is fitted by 27; the third sheet, made again, is marked, and made once more."""
    trace = ground(BAD_GRIND, tracked=False)
    assert story(trace)[1:] == [("run", 26.0), ("stopped", 27.0), ("run", 37.0), ("stopped", 44.0), ("run", 54.0)]
    assert trace.machines[0].lost == [2, 2]


def test_a_wrong_length_may_break_the_tool_at_its_first_hit() -> None:
    trace = ground(dataclasses.replace(BAD_GRIND, break_share=1.0), tracked=True)
    assert story(trace)[2:] == [("changeover", 22.0), ("stopped", 29.0), ("run", 39.0)]
    assert (trace.tools[0].broken, trace.machines[0].lost) == (1, [2])


def test_a_tool_that_is_only_loaded_does_not_come_back_from_grinding() -> None:
    assert found(spoiled(BAD_GRIND)) == {}
