"""Busy hours by person: a day by hand, and the real cell."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from simkit.base.vocabulary import SKILLS
from simkit.cell.people import ELSEWHERE, WALKING
from simkit.cell.run import simulate
from simkit.cell.trace import TaskLog
from simkit.experiment.measures import measure_run
from simkit.experiment.overlaps import busy_totals
from tests.oracle.plants import workload_of
from tests.small_plant import small_plant

H = 3600.0
LOAD = SKILLS.index("load")
MORNING, NOON = (6 * H, 9 * H), (10 * H, 14 * H)


def person(name: str, *skills: str, shift: str = "early") -> Any:
    return SimpleNamespace(person_id=name, skills=skills, shift=shift)


def day(people: list[Any], chunks: list[tuple[int, int, float, float]], **trace: Any) -> dict[str, float]:
    """Busy hours of a day paid from 6 to 9 and from 10 to 14; ``chunks`` are (row, task, from h, to h)."""
    log = TaskLog(chunks=[n for row, task, start, end in chunks for n in (row, task, start * H, end * H, end * H)])
    windows = tuple(() if one.shift == "on_call" else (MORNING, NOON) for one in people)
    always = ((0.0, 48 * H),)
    plan = SimpleNamespace(
        attended=(MORNING, NOON),
        person=tuple(always if one.shift == "always" else own for one, own in zip(people, windows, strict=True)),
    )
    workload: Any = SimpleNamespace(plant=SimpleNamespace(people=people), plan=plan)
    told: Any = SimpleNamespace(tasks=log, **{"outside_s": {}, "moved": (), **trace})
    return busy_totals(told, workload, (0.0, 24 * H))


def test_only_tasks_inside_the_ordinary_windows_count() -> None:
    """7 to 8 whole, 8:30 to 9:30 half (care in the break), 13:30 to 15 half an hour (overrun), 20 to 22 not at all."""
    chunks = [(0, LOAD, 7, 8), (0, LOAD, 8.5, 9.5), (0, LOAD, 13.5, 15), (0, LOAD, 20, 22)]
    assert day([person("A", "load")], chunks) == {"busy_h_A": 2.0}


def test_the_way_counts_and_work_in_other_cells_does_not() -> None:
    assert day([person("A", "load")], [(0, WALKING, 7, 7.25), (0, ELSEWHERE, 8, 9)]) == {"busy_h_A": 0.25}


def test_who_is_always_there_is_paid_while_the_cell_is_attended() -> None:
    assert day([person("A", "load", shift="always")], [(0, LOAD, 8, 11)]) == {"busy_h_A": 2.0}


def test_moved_work_that_is_asked_and_not_done_is_shared_among_those_with_its_skill() -> None:
    """5 h asked; 1 h done in the span, 2 h after it: 4 h are load, half each for the two who can."""
    people = [person("A", "preparation"), person("B", "load"), person("C", "preparation", "load")]
    moved = (("preparation", ((7 * H, 8 * H),)), ("preparation", ((30 * H, 32 * H),)))
    chunks = [(0, SKILLS.index("preparation"), 7, 8)]
    found = day(people, chunks, outside_s={"preparation": 5 * H}, moved=moved)
    assert found == pytest.approx({"busy_h_A": 3.0, "busy_h_B": 0.0, "busy_h_C": 2.0})


def test_moved_work_done_in_overtime_is_done() -> None:
    moved = (("preparation", ((16 * H, 18 * H),)),)
    found = day([person("A", "preparation")], [(0, 0, 16, 18)], outside_s={"preparation": 2 * H}, moved=moved)
    assert found == {"busy_h_A": 0.0}


def test_moved_work_that_nobody_can_do_is_nobodys_load() -> None:
    people = [person("A", "load"), person("B", "programming", shift="on_call")]
    assert day(people, [], outside_s={"programming": 5 * H}) == {"busy_h_A": 0.0, "busy_h_B": 0.0}


def test_in_the_real_cell_busy_hours_lie_within_all_tasks_and_paid_hours() -> None:
    workload = workload_of(small_plant())
    trace = simulate(workload)
    found = measure_run(trace, workload)
    busy = {name: value for name, value in found.items() if name.startswith("busy_h_")}
    assert len(busy) == len(workload.plant.people)
    assert 0 < sum(busy.values()) <= found["person_busy_h"] + 1e-9
    for (name, hours), windows in zip(busy.items(), workload.plan.person, strict=True):
        assert hours <= sum(end - start for start, end in windows) / H + 1e-9, name
