"""Picks fail one by one: by hand, and by the luck of each pick alone."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest

from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Stop
from simkit.process.pickluck import PickLuck
from simkit.process.workload import Workload
from tests.cell.bench_plant import machines, order, part, plant, program, run, story
from tests.oracle.compare import first_difference
from tests.oracle.plants import workload_of


def grip(**changes: Any) -> Stop:
    return Stop(**{"cause": "grip", "exposure": "pick", "rate": 1.0, "repair_min": 1.0, **changes})


def cell(*parts: tuple[str, int], sheets: int = 1, **changes: Any) -> PlantInputs:
    """Sheets of ten minutes whose parts, by name and pieces, are all picked in no time."""
    kinds = tuple(dataclasses.replace(part("A", pieces), part_id=name) for name, pieces in parts)
    built = plant(**{
        "orders": (order("1", "A", sheets),), "programs": (program("A", 10.0, handover="removal"),
        program("B", 10.0)), "program_parts": kinds, "stops": (grip(),), "removal": {"pickers": 1},
        "times": {"pick": 0.0}, **changes,
    })  # fmt: skip
    assert first_difference(workload_of(built)) == ""
    return built


def luck_of(work: Workload) -> PickLuck:
    assert work.pick_luck is not None
    return work.pick_luck


def failing(built: PlantInputs, sheets: int) -> set[tuple[int, int]]:
    """Sheets and picks (by the pick itself, not by its place) that fail when a sheet is made first."""
    work = workload_of(built)
    picks, causes = luck_of(work), work.plant.stops
    return {(sheet, pick.entity) for sheet in range(sheets) for pick in picks.failing(sheet, 0)
            if pick.uniform < causes[pick.cause].rate}  # fmt: skip


def test_each_pick_that_fails_stops_the_machine_when_it_is_its_turn() -> None:
    """Two picks, both fail: at the start and half way; each is cleared in a minute and not tried again."""
    assert story(run(cell(("a", 2)))) == [
        ("stopped", 1.0), ("run", 6.0), ("stopped", 7.0), ("run", 12.0),
    ]  # fmt: skip
    # of two kinds, one piece and three: picks at 0, 2.5, 5 and 7.5 min of the run
    stops = [end for state, end in story(run(cell(("a", 1), ("b", 3)))) if state == "stopped"]
    assert stops == [1.0, 4.5, 8.0, 11.5]


def test_a_try_that_succeeds_takes_its_seconds_and_nobody() -> None:
    tried = grip(retries=1, retry_success=1.0, retry_s=30.0, clears="technician")
    assert [end for state, end in story(run(cell(("a", 2), stops=(tried,)))) if state == "stopped"] == [0.5, 6.0]


def test_a_sheet_made_again_is_picked_with_new_luck() -> None:
    """Half the picks fail and lose the sheet: were a remade sheet to meet the same luck, it would never be made."""
    trace = run(cell(("a", 1), sheets=20, stops=(grip(rate=0.5, sheets_scrapped=1.0),)))
    log = trace.machines[0]
    assert sorted(log.made) == list(range(20))
    assert len(log.lost) == len(log.stop_at_s) > 0


def test_the_order_of_parts_in_a_program_changes_the_luck_of_none() -> None:
    rows, other = (("a", 3), ("b", 2), ("c", 5)), (("c", 5), ("a", 3), ("b", 2))
    stops = (grip(rate=0.1),)
    first, second = (failing(cell(*kinds, sheets=40, stops=stops), 40) for kinds in (rows, other))
    assert first == second
    assert 20 <= len(first) <= 60  # 400 picks at 0.1: 40, within more than three standard deviations (6 each)
    alone = failing(cell(("a", 3), sheets=40, stops=stops), 40)
    assert alone < first


def test_a_lower_chance_fails_no_other_pick() -> None:
    many, few = (failing(cell(("a", 9), sheets=40, stops=(grip(rate=rate),)), 40) for rate in (0.2, 0.05))
    assert few < many


def test_luck_is_that_of_the_pick_and_not_of_the_machine() -> None:
    """Two orders on one machine and on two: the same picks fail, only elsewhere and at other times."""
    orders = (order("1", "A", 6), order("2", "A", 6))
    alone = cell(("a", 8), orders=orders, stops=(grip(rate=0.1),))
    shared = cell(("a", 8), orders=orders, stops=(grip(rate=0.1),), machines=machines("MN"))
    counts = [sum(len(log.stop_at_s) for log in run(built).machines) for built in (alone, shared)]
    assert counts[0] == counts[1] == len(failing(alone, 12)) > 0


@pytest.mark.parametrize("pieces", [1, 5, 20])
def test_sheets_stop_as_often_as_the_closed_form_says(pieces: int) -> None:
    """P(stop) = 1 - (1 - p)^n over 2000 sheets, within four standard deviations; failures fall evenly over places."""
    rate, sheets = 0.02, 2000
    built = plant(programs=(program("A", 10.0, handover="removal"), program("B", 10.0)),
                  orders=(order("1", "A", sheets),), program_parts=(part("A", pieces),), stops=(grip(rate=rate),),
                  removal={"pickers": 1}, times={"pick": 0.0})  # fmt: skip
    picks = luck_of(workload_of(built))
    found = [picks.failing(sheet, 0) for sheet in range(sheets)]
    expected = 1.0 - (1.0 - rate) ** pieces
    stopped = sum(map(bool, found)) / sheets
    assert abs(stopped - expected) < 4 * np.sqrt(expected * (1 - expected) / sheets)
    places = np.array([pick.share for each in found for pick in each])
    assert abs(places.mean() - (pieces - 1) / 2 / pieces) < 4 * 0.3 / np.sqrt(len(places))


def test_nothing_is_drawn_where_no_device_picks() -> None:
    assert workload_of(cell(("a", 2), removal={"pickers": 0})).pick_luck is None
    assert workload_of(cell(("a", 2), stops=(grip(exposure="sheet"),))).pick_luck is None
