"""Options about first pieces, programs, small tools, tabs, and bought rivals: where each must lose and must pay.

As in :mod:`tests.must_lose.test_options`: two weeks, two replications with the same luck, over which hours are summed.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import pytest

from simkit.plant.options import capital_of
from simkit.plant.plant import PlantInputs
from tests.must_lose.changed import (
    demo,
    differing,
    element,
    gained_h,
    money,
    option,
    parts,
    rows,
    settings,
    simulated,
    slower_bench,
    whole_demo,
)  # fmt: skip


def without_small_tools(plant: PlantInputs) -> PlantInputs:
    """Programs that use no tool of 16 mm."""
    small = {tool.tool_id for tool in plant.tools if tool.station_size_mm == 16}
    uses = tuple(use for use in plant.program_tools if use.tool_id not in small)
    return dataclasses.replace(plant, program_tools=uses)


def loads_in_no_time(plant: PlantInputs) -> PlantInputs:
    """Tools that are loaded and indexed in no time, and a laser that is slow from hole to hole."""
    return element(plant, tool_search=0.0, tool_fit=0.0, die_change=0.0, index=0.0, contour_move=3.0)


def loaded_by_device(plant: PlantInputs) -> PlantInputs:
    """Sheets are loaded and pulled out by a device already."""
    quick = element(plant, load=0.9, pull_out=0.5)
    return rows(quick, "elements", lambda row: row.element in ("load", "pull_out"), task_of="machine")


QUIET = ("stops[misfeed].rate=0", "stops[sheet_hangs].rate=0", "plant.bench.places=3")
"""Loader and unloader without faults of their own and without the stack beside the bench."""


def test_n15_where_every_program_is_new_nothing_changes() -> None:
    results = simulated(rows(demo(), "programs", proven=False), option("N15"))
    assert differing(results, "N15") == set()


def test_n19_with_one_nozzle_is_sequencing_by_material() -> None:
    results = simulated(rows(demo(), "materials", nozzle="small"), option("N1"), option("N19"))
    assert differing(results, "N19", "N1") == set()


def test_n19_changes_the_nozzle_less_often_than_sequencing_by_material() -> None:
    results = simulated(element(demo(), nozzle_change=10.0), option("N1"), option("N19"))
    assert gained_h(results, "N19", "N1").sum() > 0
    assert gained_h(results, "N19").sum() > 0


def test_a5c_a_second_device_for_what_one_does_changes_nothing() -> None:
    results = simulated(loaded_by_device(demo()), option("A5c", overrides=QUIET))
    assert differing(results, "A5c") == set()


LOSE: dict[str, tuple[Callable[[], PlantInputs], str]] = {
    "N16 a load takes no time": (lambda: loads_in_no_time(demo()), "N16"),
    "N17 no small tools": (lambda: without_small_tools(demo()), "N17"),
    "N18 the bench waits for the machine": (demo, "N18"),
}

PAY: dict[str, tuple[Callable[[], PlantInputs], str]] = {
    "N15 repeats": (demo, "N15"),
    "N16 a load takes ten minutes": (lambda: element(demo(), tool_search=6.0, tool_fit=4.0), "N16"),
    "N17 many small tools": (demo, "N17"),
    "N18 a slow bench and 3 s a tab": (lambda: element(slower_bench(demo(), 2.0), micro_joint=3.0), "N18"),
    "A5c a person loads and pulls out every sheet": (demo, "A5c"),
}


@pytest.mark.parametrize("case", LOSE)
def test_it_must_lose_hours(case: str) -> None:
    build, name = LOSE[case]
    assert gained_h(simulated(build(), option(name)), name).sum() < 0


@pytest.mark.parametrize("case", PAY)
def test_it_must_save_hours(case: str) -> None:
    build, name = PAY[case]
    assert gained_h(simulated(build(), option(name)), name).sum() > 0


def test_n15_on_many_small_orders_saves_more_than_waiting_people_cost() -> None:
    """Nobody waits for the person who measures: hours of first pieces at the machine fall, all else alike."""
    results = simulated(demo(), option("N15"))
    waited = [results.values(name, "state_first_piece_h").sum() for name in ("today", "N15")]
    assert waited[1] < waited[0]


def test_a4p_takes_nothing_out_of_tall_parts() -> None:
    tall = rows(demo(), "program_parts", form_height_mm=50.0)
    both = option("A5b", "A4p", overrides=("elements[relabel].typical=0",))
    results = simulated(tall, option("A5b"), both)
    assert gained_h(results, "A5b+A4p", "A5b").tolist() == [0.0, 0.0]


def test_a4p_must_pay_hours_with_large_parts_and_a_slow_bench() -> None:
    results = simulated(slower_bench(parts(demo(), per_sheet=12), 8.0), option("A5b"), option("A5b", "A4p"))
    assert gained_h(results, "A5b+A4p", "A5b").sum() > 0


def test_a4p_with_the_store_costs_38_thousand_less_than_one_after_the_other() -> None:
    by_id = demo().option_by_id
    apart, together = ([by_id["A5b"], by_id[name]] for name in ("A4", "A4p"))
    assert capital_of(together) - capital_of(apart) == -38000.0


def test_a9_a_second_machine_is_worth_nothing_where_one_has_time_enough() -> None:
    worth = money(demo(), "A9")
    assert worth.npv < -0.7 * worth.capital < 0
    assert worth.payback.years is None


def test_a9_must_pay_where_hours_are_short_and_dear() -> None:
    plant = settings(whole_demo(), money={"margin_per_h": 400.0})
    assert money(plant, "A9", demand=1.6).npv_with_signed_sales > 0
