"""Rare events at their expectation, worked by hand: probability times the exposure of a run; and against counts."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest

from simkit.cell.run import simulate
from simkit.experiment.expectation import losses, sheets_until_seen
from simkit.experiment.intervals import t_interval
from simkit.experiment.measures import measure_run
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import LoadFault, Stop
from tests.cell.bench_plant import OPEN, material, order, plant, program, run, tool, use
from tests.oracle.plants import workload_of

STOP = Stop(cause="jam", exposure="running_hour", rate=0.5, repair_min=5.0)
FAULT = LoadFault(fault="turned", exchanges=("tool_load",), rate=0.1, break_share=0.2, found_first_piece=0.8,
                  found_after_sheets=2.0, repair_min=7.0)  # fmt: skip


def expected(cell: PlantInputs, seed: int = 1, replication: int = 0) -> tuple[float, float]:
    """Sheets and tools that one run is expected to lose."""
    work = workload_of(cell, seed, replication)
    found = losses(simulate(work), work)
    return float(found.sheets.sum()), found.tools


def with_stop(sheets: int = 6, **changes: Any) -> PlantInputs:
    return plant(orders=(order("1", "A", sheets),), stops=(dataclasses.replace(STOP, **changes),))


def with_tools(*tools: str, sheets: int = 3, **changes: Any) -> PlantInputs:
    """One order of ten-minute sheets whose tools are loaded by hand and may be turned."""
    faults = (dataclasses.replace(FAULT, **changes.pop("fault", {})),)
    times = {"tool": 1.0, "first": 3.0}
    return plant(orders=(order("1", "A", sheets),), program_tools=use("A", *tools), load_faults=faults, times=times,
                 **changes)  # fmt: skip


# --- by hand ----------------------------------------------------------------------------------------


def test_an_hour_of_running_at_half_a_stop_an_hour_a_fifth_of_which_break_a_tool() -> None:
    assert expected(with_stop(break_share=0.2)) == pytest.approx((0.0, 0.5 * 1.0 * 0.2))


def test_a_retry_that_works_costs_nothing() -> None:
    cell = with_stop(exposure="sheet", rate=0.1, retries=2, retry_success=0.5, sheets_scrapped=2.0)
    assert expected(cell) == pytest.approx((6 * 0.1 * 0.25 * 2.0, 0.0))


def test_an_exposure_by_tool_loads_counts_with_the_first_sheet_of_an_order() -> None:
    cell = with_tools("T0", "T1", fault={"rate": 0.0}, stops=(
        dataclasses.replace(STOP, exposure="tool_load", rate=0.01, break_share=0.5),))  # fmt: skip
    assert expected(cell) == pytest.approx((0.0, 2 * 0.01 * 0.5))


def test_calendar_hours_of_an_idle_machine_break_tools_and_lose_no_sheets() -> None:
    cell = with_stop(exposure="calendar_hour", rate=1e-9, sheets_scrapped=1.0, break_share=1.0)
    sheets, tools = expected(cell)
    # open from 06:00; the run of an hour begins then, and the replay ends with the week
    assert sheets == pytest.approx(1e-9)
    assert tools == pytest.approx(1e-9 * simulate(workload_of(cell)).end_s / 3600)
    assert OPEN == 6 * 3600


def test_two_tools_loaded_by_hand() -> None:
    # each is turned with 0.1, and of these 0.2 break; of the others 0.8 are found when the first piece is measured, and
    # the rest after sheets of mean 2, at the latest the third: 1/2 x 1 + 1/4 x 2 + 1/4 x 3 = 1.75
    breaks, stays = 0.1 * 0.2, 0.1 * 0.8
    sheets = 1 - (1 - breaks) ** 2 + 1 - (1 - stays * 0.8) ** 2 + 2 * stays * 0.2 * 1.75
    assert expected(with_tools("T0", "T1")) == pytest.approx((sheets, 2 * breaks))
    unmeasured = 1 - (1 - breaks) ** 2 + 2 * stays * 1.75
    assert expected(with_tools("T0", "T1", rules={"first_piece": "never"})) == pytest.approx((unmeasured, 2 * breaks))


def test_what_surely_happens_is_counted_the_same() -> None:
    for fault in ({"break_share": 1.0}, {"break_share": 0.0, "found_first_piece": 1.0},
                  {"break_share": 0.0, "found_first_piece": 0.0, "found_after_sheets": 1.0}):  # fmt: skip
        cell = with_tools("T0", fault={"rate": 1.0} | fault)
        trace = run(cell)
        assert expected(cell) == pytest.approx((len(trace.machines[0].lost), trace.tools[0].broken))


def test_sheets_until_somebody_sees_it() -> None:
    assert sheets_until_seen(2.0, np.array([True, True, True])) == pytest.approx(2.0 * (1 - 0.5**3))
    # nobody looks at the first sheet: 2 with chance 1/2 + 1/4, else the last
    assert sheets_until_seen(2.0, np.array([False, True, True])) == pytest.approx(0.75 * 2 + 0.25 * 3)
    assert sheets_until_seen(1.0, np.array([False, False, False])) == 3.0


def test_the_sheet_that_a_worn_tool_meets_is_a_mean_one_of_its_hits() -> None:
    worn = dataclasses.replace(tool("T0"), life_hits=250.0)
    hits = tuple(dataclasses.replace(row, hits_per_sheet=many) for name, many in (("A", 60), ("B", 30))
                 for row in use(name, "T0"))  # fmt: skip
    cell = plant(tools=(worn,), program_tools=hits, orders=(order("1", "A", 4), order("2", "B", 4)))
    work = workload_of(cell)
    trace = simulate(work)
    # 240 hits on A, and on B the life ends with the first sheet, which is made again: 5 of 30
    assert trace.machines[0].lost == [4]
    assert losses(trace, work).sheets == pytest.approx(np.array([240, 150]) / 390)


# --- kinds ------------------------------------------------------------------------------------------


def measures(cell: PlantInputs, replication: int = 0) -> dict[str, float]:
    work = workload_of(cell, 1, replication)
    return measure_run(simulate(work), work)


def risky(kind: str = "expected", name: str = "turned") -> PlantInputs:
    """Both kinds of causes, often enough that a few days show them; two materials, ten sheets a day."""
    stop = dataclasses.replace(STOP, rate=0.6, sheets_scrapped=0.5, break_share=0.3, priced=kind)
    fault = dataclasses.replace(FAULT, fault=name, rate=0.15, priced=kind, repair_min=0.0)
    orders = tuple(order(f"{day}{name}", name, 3, day) for day in range(5) for name in "AB")
    return plant(orders=orders, stops=(stop,), load_faults=(fault,), times={"tool": 1.0, "first": 3.0},
                 programs=(program("A", 10.0), program("B", 10.0, "AL")), materials=(material("MS"), material("AL")),
                 program_tools=(*use("A", "T0", "T1"), *use("B", "T2", "T3")),
                 machine={"stations": ({"size_mm": 16, "count": 3},)})  # fmt: skip


PAIRS = {"sheets_scrapped": "sheets_scrapped_expected", "tools_broken": "tools_broken_expected",
         "lost_kg_MS": "lost_expected_kg_MS", "lost_kg_AL": "lost_expected_kg_AL"}  # fmt: skip


def test_a_cause_that_is_counted_has_its_count() -> None:
    runs = [measures(risky("counted"), replication) for replication in range(5)]
    assert sum(found["sheets_scrapped"] for found in runs) > 5
    for found in runs:
        assert {count: found[name] for count, name in PAIRS.items()} == pytest.approx(
            {count: found[count] for count in PAIRS}
        )


@pytest.mark.parametrize("count", PAIRS)
def test_the_mean_over_many_runs_is_that_of_the_counts_and_varies_less(count: str) -> None:
    counts, expectations = many_runs()[count], many_runs()[PAIRS[count]]
    gap = t_interval(expectations - counts, level=0.999)
    assert abs(gap.mean) <= gap.half_width < 0.15 * counts.mean()
    assert expectations.var() < counts.var() / 10


def many_runs(known: dict[str, Any] = {}) -> dict[str, Any]:  # noqa: B006
    """The measures of 400 runs, made once."""
    if not known:
        runs = [measures(risky(), replication) for replication in range(400)]
        known |= {name: np.array([found[name] for found in runs]) for name in (*PAIRS, *PAIRS.values())}
    return known


def test_other_luck_changes_counts_and_no_expectation() -> None:
    """Faults of another name are struck by other numbers of the draws; all that is exposed is the same."""
    one, other = (dataclasses.replace(risky(name=name), stops=()) for name in ("turned", "twisted"))
    before, after = measures(one, 1), measures(other, 1)
    assert before["sheets_scrapped"] != after["sheets_scrapped"]
    assert all(after[name] == before[name] for name in PAIRS.values())
