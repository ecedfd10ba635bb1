"""A second pair of hands at set-up: how much sooner it is done, who helps, and what comes between. By hand."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

from simkit.base.messages import CellError
from simkit.cell.trace import Trace
from simkit.plant.plant import PlantInputs
from tests.cell.bench_plant import machines, order, person, plant, run, story, use, work
from tests.oracle.compare import first_difference
from tests.oracle.plants import workload_of

SETTERS = (person("ONE"), person("TWO", "changeover"))


def shared(share: float, names: tuple[str, ...] = ("fixed",), **changes: Any) -> PlantInputs:
    """A set-up of 10 min before a sheet of 10 min; of the elements named, a share is for a second person."""
    built = plant(**{"times": {"fixed": 10.0}, "people": SETTERS, **changes})
    rows = [dataclasses.replace(row, parallel_share=share) if row.element in names else row for row in built.elements]
    return dataclasses.replace(built, elements=tuple(rows))


def told(plant: PlantInputs) -> Trace:
    """The run of a plant, on which the plain cell agrees."""
    assert first_difference(workload_of(plant)) == ""
    return run(plant)


@pytest.mark.parametrize(
    ("share", "ends", "second"),
    [(0.0, 10.0, []), (0.25, 7.5, [("changeover", 0.0, 2.5)]), (0.5, 5.0, [("changeover", 0.0, 5.0)]),
     (0.75, 7.5, [("changeover", 0.0, 2.5)]), (1.0, 10.0, [])],
)  # fmt: skip
def test_two_people_share_a_set_up(share: float, ends: float, second: list[tuple[str, float, float]]) -> None:
    """It lasts the larger of the share and its rest; the first does the longer part; together it is 10 min again."""
    trace = told(shared(share))
    assert story(trace) == [("changeover", ends), ("run", ends + 10.0)]
    assert work(trace, 0) == [("changeover", 0.0, ends)]
    assert work(trace, 1) == second
    assert sum(b - a for row in (0, 1) for _, a, b in work(trace, row)) == 10.0


def test_the_parts_of_a_set_up_add_up() -> None:
    """Fixed 10 min at 0.25 and a nozzle of 4 min at 0.5: the second takes 2.5 and 2, the first the other 9.5."""
    rows = {"orders": (order("1", "A"), order("2", "B")), "times": {"fixed": 10.0, "nozzle": 4.0}}
    built = shared(0.25, **rows)
    elements = [
        dataclasses.replace(row, parallel_share=0.5) if row.element == "nozzle" else row for row in built.elements
    ]
    trace = told(dataclasses.replace(built, elements=tuple(elements)))
    assert story(trace)[2:] == [("changeover", 17.5 + 9.5), ("run", 37.0)]
    assert work(trace, 1)[1:] == [("changeover", 17.5, 22.0)]


def test_tools_and_a_fetch_are_shared_too() -> None:
    """Two tools of 4 min at a half: 4 min for two people. The fetch of 6 min at a half: 3 min."""
    cell = {"times": {"tool": 4.0, "fetch": 6.0}, "program_tools": use("A", "T0", "T1"),
            "people": (person("ONE"), person("TWO", "changeover", "material"))}  # fmt: skip
    trace = told(shared(0.5, ("tool", "fetch"), **cell))
    assert story(trace) == [("changeover", 7.0), ("run", 17.0)]
    assert work(trace, 1) == [("changeover", 0.0, 4.0), ("material", 4.0, 7.0)]


def test_who_lacks_the_skill_does_not_help() -> None:
    trace = told(shared(0.5, people=(person("ONE"), person("TWO", "material", "second_person"))))
    assert story(trace)[0] == ("changeover", 10.0)


def test_nobody_waits_for_a_helper_and_none_comes_later() -> None:
    """TWO is at the bench from 15 to 24; the set-up that begins at 15 is done by ONE alone until 25 all the same."""
    crew = (person("ONE"), person("TWO", "changeover", "bench"))
    rows = {"orders": (order("1", "A"), order("2", "A")), "times": {"fixed": 10.0, "bench": 9.0}}
    trace = told(shared(0.5, people=crew, **rows))
    assert story(trace) == [("changeover", 5.0), ("run", 15.0), ("changeover", 25.0), ("run", 35.0)]
    assert work(trace, 1)[:2] == [("changeover", 0.0, 5.0), ("bench", 15.0, 24.0)]


def test_each_machine_gets_its_first_person_before_another_gets_a_second() -> None:
    """Two machines, two people: each sets one up alone. With a third, the first machine's set-up is shared."""
    cell = {"machines": machines("AB"), "orders": (order("1", "A"), order("2", "A"))}
    alone = told(shared(0.5, **cell))
    assert [story(alone, row)[0] for row in (0, 1)] == [("changeover", 10.0), ("changeover", 10.0)]
    third = told(shared(0.5, people=(*SETTERS, person("THREE", "changeover")), **cell))
    assert [story(third, row)[0] for row in (0, 1)] == [("changeover", 5.0), ("changeover", 10.0)]
    assert work(third, 2) == [("changeover", 0.0, 5.0)]


def test_a_helper_is_there_until_his_part_is_done() -> None:
    """TWO leaves at 06:04; a part of 5 min is too long for him, one of 2.5 min is not."""
    leaves = dataclasses.replace(person("TWO", "changeover"), duties="Mon-Fri 06:04-14:00")
    assert story(told(shared(0.5, people=(SETTERS[0], leaves))))[0] == ("changeover", 10.0)
    assert story(told(shared(0.25, people=(SETTERS[0], leaves))))[0] == ("changeover", 7.5)


def test_after_a_break_the_first_goes_on_with_his_own_part() -> None:
    """The first breaks off at 4 min of his 7.5 and goes on after 30 min; the helper has done his 2.5 by then."""
    trace = told(shared(0.25, breaks=(("06:04", "06:34"),)))
    assert story(trace) == [("changeover", 4.0), ("waiting_person", 34.0), ("changeover", 37.5), ("run", 47.5)]
    assert work(trace, 0) == [("changeover", 0.0, 4.0), ("changeover", 34.0, 37.5)]
    assert work(trace, 1) == [("changeover", 0.0, 2.5)]


@pytest.mark.parametrize(("starts", "ends"), [("06:08", 7.5), ("06:07", 47.0)])
def test_what_is_begun_anew_is_shared_only_if_both_can_do_it_in_one_piece(starts: str, ends: float) -> None:
    """7.5 min for the first fit before a break at 8 min, not before one at 7: then it is begun alone, and again."""
    away = {"breaks": ((starts, "06:37"),), "people_rules": {"break_rules": {"changeover": "stop"}}}
    trace = told(shared(0.25, **away))
    assert [end for state, end in story(trace) if state == "changeover"][-1] == ends


def test_a_helper_is_not_called_away_from_his_part() -> None:
    """Loading may interrupt set-up, and B asks for TWO at 3 min: while he helps (8 of 20 min) it waits, else not.

    B is set up by the machine alone in 3 min; ONE cannot load.
    """
    able = ("changeover", "unload", "material", "first_piece", "bench")
    cell = {"machines": machines("AB"), "orders": (order("1", "A"), order("2", "B")),
            "times": {"fixed": 20.0, "load": 2.0}}  # fmt: skip
    built = shared(0.4, people=(person("ONE", *able), person("TWO", "changeover", "load")),
                   people_rules={"may_interrupt": ("load > changeover",)}, **cell)  # fmt: skip
    by_itself = dataclasses.replace(built.elements[0], element="own", applies_to="program=B", typical=3.0,
                                    task_of="machine", parallel_share=0.0)  # fmt: skip
    rows = [dataclasses.replace(row, applies_to="program=A") if row.element == "fixed" else row
            for row in built.elements]  # fmt: skip
    trace = told(dataclasses.replace(built, elements=(*rows, by_itself)))
    assert story(trace, 1) == [("changeover", 3.0), ("waiting_person", 8.0), ("loading", 10.0), ("run", 20.0)]
    alone = told(dataclasses.replace(built, elements=(*rows, by_itself), people=(person("TWO"), built.people[0])))
    assert work(alone, 1) == [("changeover", 0.0, 8.0)]
    assert story(alone, 1)[:2] == [("changeover", 3.0), ("loading", 5.0)]


def test_waits_are_counted_once_for_a_shared_set_up() -> None:
    trace = told(shared(0.5))
    assert len(trace.tasks.asked_s) == len(told(shared(0.0)).tasks.asked_s)


def test_who_has_work_elsewhere_helps_first() -> None:
    """TWO leaves for 30 min whenever nothing here waits: not while a set-up begins that he can share."""
    leaving = dataclasses.replace(person("TWO", "changeover"), elsewhere_min=30.0)
    trace = told(shared(0.5, people=(SETTERS[0], leaving)))
    assert story(trace)[0] == ("changeover", 5.0)


# --- heavy sheets -----------------------------------------------------------------------------------

HEAVY = {"machine": {"one_person_kg": 5.0}, "times": {"load": 4.0}}
"""Sheets of 8 kg, above the limit of the plant for one person."""
OTHERS = ("changeover", "unload", "material", "first_piece", "clear")


def test_at_a_heavy_sheet_anybody_helps_who_may_handle_one() -> None:
    """The named second pair of hands is at the bench from 18 to 48; the sheet at 28 is not kept waiting for it."""
    crew = (person("OP", "load", *OTHERS), person("HELPER", "second_person", "bench"), person("TWO", "load"))
    trace = told(plant(people=crew, orders=(order("1", "A", 3),), **{**HEAVY, "times": {"load": 4.0, "bench": 30.0}}))
    assert story(trace)[3:] == [("run", 28.0), ("loading", 32.0), ("run", 42.0)]
    assert work(trace, 1)[:3] == [("load", 0.0, 4.0), ("load", 14.0, 18.0), ("bench", 18.0, 48.0)]
    assert work(trace, 2) == [("load", 28.0, 32.0)]


def test_a_heavy_sheet_waits_while_nobody_else_may_handle_it() -> None:
    """As above without the second loader: the sheet waits for the helper until 48."""
    crew = (person("OP", "load", *OTHERS), person("HELPER", "second_person", "bench"), person("TWO", "material"))
    trace = told(plant(people=crew, orders=(order("1", "A", 3),), **{**HEAVY, "times": {"load": 4.0, "bench": 30.0}}))
    assert story(trace)[3:] == [("run", 28.0), ("waiting_person", 48.0), ("loading", 52.0), ("run", 62.0)]


def test_one_person_is_not_two() -> None:
    with pytest.raises(CellError, match="needs two people at once"):
        run(plant(people=(person("OP"), person("BE", "bench")), **HEAVY))
