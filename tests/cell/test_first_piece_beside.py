"""The first piece of a proven program measured while the machine runs on: by hand, minutes after 06:00."""

from __future__ import annotations

import pytest

from simkit.plant.tables import LoadFault
from tests.cell.bench_plant import order, person, plant, program, run, story, tool, use, work
from tests.cell.test_by_hand import AUTOMATIC, NIGHT
from tests.oracle.compare import first_difference
from tests.oracle.plants import workload_of

BESIDE = {"first_piece_beside": "proven"}


def test_the_next_sheet_runs_while_the_first_piece_is_measured() -> None:
    trace = run(plant(orders=(order("1", "A", 3),), times={"first": 6.0}, rules=BESIDE))
    assert story(trace) == [("run", 30.0)]
    assert ("first_piece", 10.0, 16.0) in work(trace, 0)


def test_a_sheet_that_somebody_loads_is_loaded_before_the_measuring() -> None:
    """The same person does both: loading 10 to 12 comes first, then measuring 12 to 18 while the sheet runs."""
    trace = run(plant(orders=(order("1", "A", 2),), times={"first": 6.0, "load": 2.0}, rules=BESIDE))
    assert story(trace) == [("loading", 2.0), ("run", 12.0), ("loading", 14.0), ("run", 24.0)]
    assert ("first_piece", 14.0, 20.0) in work(trace, 0)


@pytest.mark.parametrize(
    "changes",
    [{"orders": (order("1", "A"),)}, {"programs": (program("A", 10.0, proven=False), program("B", 10.0))},
     {"rules": {"first_piece_beside": "none"}}],
    ids=["no sheet is left", "not proven", "the rule is off"],
)  # fmt: skip
def test_the_machine_waits_where_it_must(changes: dict[str, object]) -> None:
    case = {"orders": (order("1", "A", 2),), "times": {"first": 6.0}, "rules": BESIDE, **changes}
    assert story(run(plant(**case)))[:2] == [("run", 10.0), ("first_piece", 16.0)]


def test_nobody_enters_a_guarded_cell_while_it_runs() -> None:
    cell = {"orders": (order("1", "A", 2),), "times": {"first": 6.0, "pick": 1.0}, "rules": BESIDE,
            "programs": (program("A", 10.0, handover="removal"), program("B", 10.0))}  # fmt: skip
    states = {drawer: [state for state, _ in story(run(plant(**cell, removal={"pickers": 1, "sample_drawer": drawer})))]
              for drawer in (False, True)}  # fmt: skip
    assert "first_piece" in states[False]
    assert "first_piece" not in states[True]


WRONG = LoadFault(fault="wrong", exchanges=("tool_load",), rate=1.0, found_first_piece=1.0, found_after_sheets=1e9,
                  repair_min=7.0)  # fmt: skip


def test_what_it_finds_costs_the_sheets_made_meanwhile() -> None:
    """Measured 11 to 14, known when the second sheet is out at 21: both are lost and made again."""
    built = plant(orders=(order("1", "A", 2),), times={"tool": 1.0, "first": 3.0}, rules=BESIDE, load_faults=(WRONG,),
                  program_tools=use("A", "T0"), tools=(tool("T0"),))  # fmt: skip
    trace = run(built)
    assert story(trace) == [("changeover", 1.0), ("run", 21.0), ("stopped", 28.0), ("run", 48.0)]
    assert trace.machines[0].lost == [0, 1]
    assert first_difference(workload_of(built)) == ""


def test_no_sheet_starts_by_night_before_the_first_piece_is_measured() -> None:
    """A sheet of 160 min: the first is out at 160, two more before the people go at 480, with a night allowed.

    Measured from 160 to 166 the order runs on into the night. Where the measuring takes 400 min, 320 are done by 480;
    the fourth sheet waits until the other 80 are done on the next morning, and the night ends with it.
    """
    cell = {"programs": (program("A", 160.0), program("B", 10.0)), "people": (person("OP"),), "who": AUTOMATIC,
            "calendar": {"night": NIGHT}, "stack": {"places": 9}, "orders": (order("1", "A", 5),)}  # fmt: skip
    soon, late = (plant(**cell, times={"first": minutes}, rules=BESIDE) for minutes in (6.0, 400.0))
    assert story(run(soon)) == [("run", 800.0)]
    assert story(run(late)) == [("run", 480.0), ("waiting_person", 1520.0), ("run", 1840.0)]
    assert run(late).machines[0].night_limit == ["release"]
    for built in (soon, late):
        assert first_difference(workload_of(built)) == ""
