"""Packs of sheets by hand: used up and replaced, in the store and filled up again, one exchange at a time."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Stop
from simkit.process.shifts import Span
from tests.cell.bench_plant import machines, material, order, person, plant, run, story, work
from tests.cell.test_by_hand import AUTOMATIC, NIGHT
from tests.oracle.compare import first_difference
from tests.oracle.plants import workload_of


def packed(sheets_per_pack: int, sheets: int = 5, **changes: Any) -> PlantInputs:
    rows = tuple(dataclasses.replace(material(name), sheets_per_pack=sheets_per_pack) for name in ("MS", "AL"))
    return plant(**{"materials": rows, "orders": (order("1", "A", sheets),), **changes})


def test_a_used_up_pack_is_replaced_by_hand() -> None:
    trace = run(packed(2, times={"fetch": 3.0, "pack": 4.0}))
    # the fetch brings the first pack of two sheets
    assert story(trace) == [("changeover", 3.0), ("run", 23.0), ("changeover", 27.0), ("run", 47.0),
                            ("changeover", 51.0), ("run", 61.0)]  # fmt: skip


def test_an_opened_pack_keeps_its_rest() -> None:
    orders = (order("1", "A", 1), order("2", "B", 1), order("3", "A", 2))
    trace = run(packed(2, orders=orders, times={"pack": 4.0}))
    assert story(trace) == [("run", 30.0), ("changeover", 34.0), ("run", 44.0)]


def test_a_store_brings_the_next_pack_while_the_last_sheet_runs() -> None:
    stored = {"store": {"shelves": 2}, "times": {"store": 2.0, "pack": 99.0}}
    assert story(run(packed(2, **stored))) == [("waiting_material", 2.0), ("run", 52.0)]
    slow = {"store": {"shelves": 2}, "times": {"store": 12.0}}
    assert story(run(packed(2, sheets=3, **slow))) == [
        ("waiting_material", 12.0), ("run", 32.0), ("waiting_material", 34.0), ("run", 44.0),
    ]  # fmt: skip


def test_an_empty_store_waits_for_whoever_fills_it() -> None:
    filled = {"store": {"shelves": 2, "packs": 1}, "times": {"store": 2.0, "restock": 30.0}}
    trace = run(packed(1, sheets=3, **filled))
    # each pack of one sheet leaves a gap that takes 30 min to fill, and only then the store brings it (2 min)
    assert story(trace) == [("waiting_material", 2.0), ("run", 12.0), ("waiting_material", 32.0), ("run", 42.0),
                            ("waiting_material", 62.0), ("run", 72.0)]  # fmt: skip
    assert [row[0] for row in work(trace, 0)] == ["material"] * 3


@pytest.mark.parametrize(
    ("shelves", "per_pack", "filled"),
    [(2, None, [(1.0, 7.0), (34.0, 38.0)]), (1, None, [(1.0, 7.0)]), (0, None, []), (2, 5, [])],
)
def test_filling_the_store_is_somebodys_work(shelves: int, per_pack: int | None, filled: list[Span]) -> None:
    """2 min a sheet, asked for with each order: 6 min for three sheets of A, 4 min for two of B.

    A sheet is loaded in 1 min, before all else, and runs 10. Not for what stands in no shelf (one shelf: A has more
    sheets), and not for what is filled by the pack.
    """
    rows = tuple(dataclasses.replace(material(name), sheets_per_pack=per_pack) for name in ("MS", "AL"))
    built = plant(materials=rows, orders=(order("1", "A", 3), order("2", "B", 2)), people=(person("OP"),),
                  times={"load": 1.0, "fill": 2.0}, store={"shelves": shelves})  # fmt: skip
    assert first_difference(workload_of(built)) == ""
    trace = run(built)
    assert [(a, b) for task, a, b in work(trace, 0) if task == "material"] == filled
    assert [story(trace)[at] for at in (0, -1)] == [("loading", 1.0), ("run", 55.0)]


def test_who_fills_the_store_is_not_at_the_machine() -> None:
    """20 min for the only sheet, begun at 1: it is not done when the sheet has run, and pulling out waits until 21."""
    built = plant(orders=(order("1", "A"),), people=(person("OP"),), times={"load": 1.0, "fill": 20.0, "unload": 2.0},
                  store={"shelves": 1})  # fmt: skip
    assert story(run(built)) == [("loading", 1.0), ("run", 11.0), ("waiting_person", 21.0), ("unloading", 23.0)]


def test_at_night_an_empty_store_ends_the_night() -> None:
    cell = {"who": AUTOMATIC | {"restock": "material"}, "calendar": {"night": NIGHT}, "people": (person("OP"),)}
    plenty = run(packed(1, 50, store={"shelves": 2}, **cell))
    assert plenty.machines[0].night_limit == []
    few = run(packed(1, 50, store={"shelves": 2, "packs": 1}, times={"restock": 5.0}, **cell))
    assert few.machines[0].night_limit == ["material"]


def test_two_machines_share_one_exchanger() -> None:
    cell = {"store": {"shelves": 2}, "times": {"store": 2.0}, "orders": (order("1", "A"), order("2", "A"))}
    trace = run(packed(5, machines=machines("AB"), **cell))
    assert [story(trace, row)[0] for row in (0, 1)] == [("waiting_material", 2.0), ("waiting_material", 4.0)]


# --- double sheets and misfeeds ----------------------------------------------------------------------


def misfeeding(**facts: Any) -> PlantInputs:
    """Two sheets of ten minutes, loaded in one minute each; every separation fails at first."""
    stop = Stop(cause="double sheet", exposure="sheet", rate=1.0, **facts)
    return plant(orders=(order("1", "A", 2),), times={"load": 1.0}, stops=(stop,))


def test_a_misfeed_is_tried_again_before_the_first_stroke() -> None:
    trace = run(misfeeding(retries=2, retry_success=1.0, retry_s=30.0, repair_min=6.0))
    assert story(trace) == [("loading", 1.0), ("stopped", 1.5), ("run", 11.5), ("loading", 12.5), ("stopped", 13.0),
                            ("run", 23.0)]  # fmt: skip


def test_when_no_try_helps_somebody_parts_the_sheets() -> None:
    trace = run(misfeeding(retries=2, retry_success=0.0, retry_s=30.0, repair_min=6.0))
    # loaded at 1, two tries of half a minute, six minutes by hand
    assert story(trace)[:3] == [("loading", 1.0), ("stopped", 8.0), ("run", 18.0)]
    assert ("clear", 2.0, 8.0) in work(trace, 0)


def test_a_double_sheet_that_is_scrapped_is_loaded_again() -> None:
    trace = run(plant(orders=(order("1", "A", 1),), times={"load": 1.0}, stops=(
        Stop(cause="double sheet", exposure="sheet", rate=0.5, repair_min=6.0, sheets_scrapped=1.0, file="gaps"),),
        sequences={"gaps": (0.0, 9e9), "gaps:repair": (6.0,)}))  # fmt: skip
    assert story(trace) == [("loading", 1.0), ("stopped", 7.0), ("loading", 8.0), ("run", 18.0)]
    assert (len(trace.machines[0].made), len(trace.machines[0].lost)) == (1, 1)
