"""Published values of the tool-switching problem through the whole cell: each job an order, one turret.

Alike tools in alike stations, every job known in advance, one person who fits tools. ``tool_loads`` counts
insertions from an empty turret; switches are insertions less the first loads (Tang and Denardo).
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from pathlib import Path

import pytest

from simkit.experiment.results import Results
from simkit.experiment.runner import run_experiment
from simkit.plant.plant import PlantInputs
from simkit.plant.reading import read_plant
from simkit.plant.tables import StartRow
from tests.published.rows import Row

PLANTS = Path(__file__).parent / "plants"
PAGING = "reference string of operating-system textbooks, from memory; counts reckoned independently"
TANG = "Tang and Denardo 1988, Operations Research 36(5):767-777, table I"
TABLE_3 = "Tang and Denardo 1988, Operations Research 36(5):767-777, table III"
YANASSE = "Yanasse, Rodrigues and Senne 2009, Gestao e Producao 16(3):303-314, example TESTE1"
COUNTED = "count by dynamic programming and by enumeration, independently"
WHOLE = "whole number"
POLICIES = ("soonest", "lru", "fifo")


def loads(results: Results) -> float:
    """Tools put in."""
    return results.estimate("today", "tool_loads").mean


def switches(stations: int) -> Callable[[Results], float]:
    """Tools put in, less the first loads (all published lists use more tools than stations)."""
    return lambda results: loads(results) - stations


def in_sequence(plant: PlantInputs, numbers: str) -> PlantInputs:
    """The plant with its orders in another sequence, by their printed numbers, as in ``7,2,5``."""
    return dataclasses.replace(plant, orders=tuple(plant.orders[int(n) - 1] for n in numbers.split(",")))


def row(
    name: str, plant: PlantInputs, expected: int, source: str, *, stations: int, policy: str = "soonest",
    read: Callable[[Results], float] = loads, unit: str = "insertions",
) -> Row:  # fmt: skip
    """One run of the cell with so many stations and this eviction."""
    overrides = (f"plant.machine.stations[16.0].count={stations}", f"plant.rules.eviction={policy}")
    inputs = {"plant": plant, "combinations": ((),), "overrides": overrides, "workers": 1, "progress": False}
    return Row(f"cell {name}", "simkit.experiment.runner.run_experiment", inputs, expected, unit, 0.0, WHOLE, source,
               read)  # fmt: skip


def paging_rows() -> list[Row]:
    counts = {("D4 paging", 3): (9, 12, 15), ("D4 paging", 4): (8, 8, 10),
              ("D5 anomaly", 3): (7, 10, 9), ("D5 anomaly", 4): (6, 8, 10)}  # fmt: skip
    return [
        row(f"SSP-{name} C={stations} {policy}", read_plant(PLANTS / f"ssp_{name.lower().replace(' ', '_')}"),
            expected, PAGING, stations=stations, policy=policy)
        for (name, stations), values in counts.items()
        for policy, expected in zip(POLICIES, values, strict=True)
    ]  # fmt: skip


def tang_rows() -> list[Row]:
    plant = read_plant(PLANTS / "ssp_d14_ten_jobs")
    source = f"data: {TANG}; {COUNTED}"
    table_3 = {"3,10,1,7,2,8": 7, "1,10,3,8,2,7": 7, "3,8,2,10,1,7": 8, "1,10,7,2,8,3": 7, "3,10,1,8,2,7": 7,
               "3,8,2,7,1,10": 7}  # fmt: skip
    start = tuple(StartRow(what="turret", item=f"T{tool}", station=at) for at, tool in enumerate((2, 6, 7, 8), 1))
    return [
        *(row(f"SSP-D14 {policy}", plant, expected, source, stations=4, policy=policy)
          for policy, expected in zip(POLICIES, (18, 20, 20), strict=True)),
        *(row(f"SSP-D15 C={stations}", plant, expected, source, stations=stations)
          for stations, expected in zip(range(4, 10), (18, 15, 13, 11, 10, 9), strict=True)),
        row("SSP-D16 turret not empty", dataclasses.replace(plant, start=start), 17, source, stations=4),
        *(row(f"SSP-D12 {numbers}", in_sequence(plant, numbers), expected, TABLE_3, stations=4, read=switches(4),
              unit="switches") for numbers, expected in table_3.items()),
    ]  # fmt: skip


def yanasse_rows() -> list[Row]:
    plant = read_plant(PLANTS / "ssp_d20_eight_jobs")
    printed = {"7,2,5,6,4,8,3,1": 3, "2,5,6,7,4,8,3,1": 3, "2,5,6,4,7,8,3,1": 3, "2,5,6,4,8,3,1,7": 3, "4,2,8": 3,
               "2,4,8": 2, "2,8,4": 3}  # fmt: skip
    return [
        row(f"SSP-D20 {numbers}", in_sequence(plant, numbers), expected, YANASSE, stations=3, read=switches(3),
            unit="switches")
        for numbers, expected in printed.items()
    ]  # fmt: skip


PUBLISHED = [*paging_rows(), *tang_rows(), *yanasse_rows()]


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row: Row) -> None:
    row.check()


def by_hand(jobs: list[set[str]], stations: int) -> int:
    """Insertions when the tool that is needed again last leaves, counted job by job."""
    turret: set[str] = set()
    count = 0
    for number, job in enumerate(jobs):
        count += len(job - turret)
        turret |= job
        coming = [[at for at, later in enumerate(jobs) if at > number and tool in later] for tool in turret - job]
        free = sorted(zip(turret - job, coming, strict=True), key=lambda pair: (pair[1] or [len(jobs)])[0])
        turret = job | {tool for tool, _ in free[: stations - len(job)]}
    return count


def test_the_given_order_of_the_eight_jobs_costs_what_a_count_by_hand_says() -> None:
    """No count of this order is printed; the optimum of 6 insertions over all orders bounds it."""
    plant = read_plant(PLANTS / "ssp_d20_eight_jobs")
    jobs = [{use.tool_id for use in plant.tools_of[order.program_id]} for order in plant.orders]
    run = row("given order", plant, by_hand(jobs, 3), COUNTED, stations=3)
    run.check()
    assert run.expected > 6


def test_each_load_takes_its_minute_of_the_setter() -> None:
    plant = read_plant(PLANTS / "ssp_d14_ten_jobs")
    results = run_experiment(plant, [()], workers=1, progress=False)
    for name in ("state_changeover_h", "person_changeover_h", "exchange_visible_h"):
        assert results.estimate("today", name).mean == pytest.approx(18 / 60, abs=1e-9)


BREAKS = {"one station more": "plant.machine.stations[16.0].count=4", "short sight": "plant.rules.lookahead_orders=1"}


@pytest.mark.parametrize("change", BREAKS)
def test_a_broken_turret_turns_a_row_red(change: str) -> None:
    """The published count is missed with another station, and when the plan does not see the queue."""
    good = row("SSP-D4 broken", read_plant(PLANTS / "ssp_d4_paging"), 9, PAGING, stations=3)
    good.check()
    kept = [text for text in good.inputs["overrides"] if not text.startswith(BREAKS[change].split("=")[0])]
    broken = dataclasses.replace(good, inputs={**good.inputs, "overrides": (*kept, BREAKS[change])})
    with pytest.raises(AssertionError, match="insertions"):
        broken.check()
