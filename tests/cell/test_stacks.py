"""Stacks of picked parts and pallets of skeletons, by hand: parts of 1 mm and 1 kg, sheets of ten minutes."""

from __future__ import annotations

from typing import Any

import pytest

from simkit.cell.trace import Trace
from tests.cell.bench_plant import machines, order, part, program, run, story
from tests.cell.bench_plant import plant as bench_plant

BY_DEVICE = (program("A", 10.0, handover="removal"), program("B", 10.0, handover="removal"))
NIGHT = {"rule": "allowed", "assessed_by": "a test", "assessed_on": "2026-01-01",
         "windows": [{"days": ["Mon"], "start": "14:00", "end": "06:00"}]}  # fmt: skip
AUTOMATIC = {"load": "machine", "fixed": "machine", "unload": "machine"}


def cell(sheets: str, *, times: dict[str, float] | None = None, pieces: int = 1, **changes: Any) -> Trace:
    """Orders by letter and sheets, as in ``A2 B1``; a stack takes five minutes to take away, a pallet seven."""
    orders = tuple(order(str(row), name[0], int(name[1:])) for row, name in enumerate(sheets.split(), 1))
    removal = {"pickers": 1, **changes.pop("removal", {})}
    return run(bench_plant(
        orders=orders, programs=BY_DEVICE, program_parts=(part("A", pieces), part("B", pieces)),
        times={"pick": 0.0, "stack": 5.0, "skeletons": 7.0, **(times or {})}, removal=removal, **changes,
    ))  # fmt: skip


# --- when stacks go ----------------------------------------------------------------------------------


def test_a_stack_goes_by_height_by_mass_and_with_its_order() -> None:
    by_height = cell("A5", removal={"stack_height_mm": 2.0})
    assert by_height.stacks_taken == {"height": 2, "order": 1}
    by_mass = cell("A5", pieces=10, removal={"stack_mass_kg": 35.0})  # three sheets of 10 kg
    assert by_mass.stacks_taken == {"mass": 1, "order": 1}
    both = cell("A5", pieces=10, removal={"stack_mass_kg": 45.0, "stack_height_mm": 20.0})
    assert both.stacks_taken == {"height": 2, "order": 1}
    assert cell("A5").stacks_taken == {"order": 1}


def test_as_nested_a_sheet_adds_one_thickness_to_one_stack() -> None:
    by_kind = cell("A4", pieces=2, removal={"stack_height_mm": 4.0})
    nested = cell("A4", pieces=2, removal={"stack_height_mm": 4.0, "stacking": "as_nested"})
    assert (by_kind.stacks_taken, nested.stacks_taken) == ({"height": 1, "order": 1}, {"order": 1})


def test_with_one_place_the_next_order_waits_for_the_stack_of_the_last() -> None:
    # the machine runs on at 10 with a second place, at 15 with one
    assert story(cell("A1 B1", removal={"stack_places": 1})) == [("run", 10.0), ("blocked", 15.0), ("run", 25.0)]
    assert story(cell("A1 B1", removal={"stack_places": 2})) == [("run", 20.0)]


# --- kits --------------------------------------------------------------------------------------------


def test_a_kit_keeps_its_stacks_open_over_its_orders() -> None:
    kits = {"stacking": "kits", "kit_orders": 2, "stack_places": 2}
    assert cell("A1 B1 A1 B1", removal=kits).stacks_taken == {"kit": 4}
    assert cell("A1 A1 B1 B1", removal=kits).stacks_taken == {"kit": 2}  # both orders of a kit on one stack
    assert cell("A1 B1 A1 B1", removal=kits | {"stacking": "by_order"}).stacks_taken == {"order": 4}


def test_a_kit_that_finds_no_place_is_taken_away_as_it_is() -> None:
    kits = {"stacking": "kits", "kit_orders": 2, "stack_places": 1}
    trace = cell("A1 B1", removal=kits)
    assert trace.stacks_taken == {"places": 1, "kit": 1}
    assert story(trace) == [("run", 10.0), ("blocked", 15.0), ("run", 25.0)]
    assert story(cell("A1 B1", removal=kits | {"stack_places": 2})) == [("run", 20.0)]


def test_a_full_stack_takes_its_kit_along() -> None:
    kits = {"stacking": "kits", "kit_orders": 2, "stack_places": 2, "stack_height_mm": 2.0}
    # two of A; B does not fit on top of nothing, so A's kit of two stacks goes with B's third sheet
    assert cell("A2 B3", removal=kits).stacks_taken == {"height": 2, "kit": 1}


def test_an_open_kit_does_not_keep_places_when_no_work_waits() -> None:
    kits = {"stacking": "kits", "kit_orders": 5, "stack_places": 1}
    trace = cell("A2 B3", removal=kits, machines=machines("ab"))
    # machine b waits until machine a has nothing left to do and its kit has been taken away
    assert story(trace, 0) == [("run", 20.0)]
    assert story(trace, 1) == [("blocked", 25.0), ("run", 55.0)]
    assert trace.stacks_taken == {"no_work": 2}


# --- skeletons ---------------------------------------------------------------------------------------


def test_a_full_pallet_of_skeletons_is_exchanged_and_the_next_skeleton_waits() -> None:
    trace = cell("A5", times={"stack": 0.0}, removal={"skeleton_places": 2})
    # full at 20, exchanged until 27 while the next sheet runs; full again at 40
    assert story(trace) == [("run", 50.0)]
    assert trace.skeletons == ((5, 2),)
    slow = cell("A5", times={"stack": 0.0, "skeletons": 12.0}, removal={"skeleton_places": 2})
    assert story(slow) == [("run", 30.0), ("blocked", 32.0), ("run", 52.0), ("blocked", 54.0)]


def test_a_pallet_without_end_is_never_exchanged() -> None:
    assert cell("A5").skeletons == ((5, 0),)


@pytest.mark.parametrize(
    ("removal", "sheets"), [({}, 144), ({"skeleton_places": 50}, 50), ({"stack_height_mm": 60.0}, 60)]
)
def test_a_full_pallet_or_stack_ends_the_night_as_output(removal: dict[str, Any], sheets: int) -> None:
    """48 sheets by 14:00 and 96 in the night, if nothing is full; the first stack lies to its 60th sheet."""
    trace = cell("A200", who=AUTOMATIC, removal=removal | {"stack_places": 1}, calendar={"night": NIGHT})
    log = trace.machines[0]
    assert [limit for moment, limit in zip(log.night_wait_s, log.night_limit, strict=True)][:1] == (
        ["output"] if removal else []
    )
    assert sum(moment <= 30 * 3600.0 for moment in log.made_at_s) == sheets
