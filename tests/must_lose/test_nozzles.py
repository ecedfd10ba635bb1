"""T10 at the cell, by hand: a nozzle changer gives nothing where one nozzle cuts all week; and its twin must pay."""

from __future__ import annotations

from typing import Any

import pytest

from simkit.cell.run import simulate
from simkit.cell.trace import Trace
from simkit.experiment.measures import measure_run
from simkit.plant.plant import PlantInputs
from tests.cell.bench_plant import element, order, person, plant, story, work
from tests.must_lose.changed import rows
from tests.oracle.compare import first_difference
from tests.oracle.plants import workload_of

WEEK = tuple(order(f"{day}{number}", "AB"[number % 2], 3, day=day) for day in range(5) for number in range(4))
"""Four orders a day, two programs of two materials in turn, three sheets of 10 minutes each."""


def cell(changer: bool, nozzles: tuple[str, str], **changes: Any) -> PlantInputs:
    """The week, with a nozzle changed by hand in 4 minutes, or by the machine in 1."""
    minutes, who = (1.0, "machine") if changer else (4.0, "")
    built = plant(orders=WEEK, people=(person("OP"),), machine={"nozzle_automatic": changer},
                  elements=(element("nozzle", minutes, who), element("load", 2.0, "")), **changes)  # fmt: skip
    steel, aluminium = nozzles
    built = rows(rows(built, "materials", lambda row: row.material_id == "MS", nozzle=steel), "materials",
                 lambda row: row.material_id == "AL", nozzle=aluminium)  # fmt: skip
    assert first_difference(workload_of(built)) == ""
    return built


def changing_min(built: PlantInputs) -> float:
    return measure_run(simulate(workload_of(built)), workload_of(built))["state_changeover_h"] * 60


def done(trace: Trace) -> list[float]:
    return [job.finished_s for job in trace.jobs]


def test_t10_one_nozzle_all_week_and_the_changer_changes_nothing_at_all() -> None:
    by_hand, with_changer = (simulate(workload_of(cell(changer, ("small", "small")))) for changer in (False, True))
    assert story(by_hand) == story(with_changer)
    assert work(by_hand, 0) == work(with_changer, 0)
    assert done(by_hand) == done(with_changer)
    assert changing_min(cell(False, ("small", "small"))) == changing_min(cell(True, ("small", "small"))) == 0.0


def test_t10_the_twin_must_save_three_minutes_a_change() -> None:
    """Twenty orders in turn are 19 changes: the first stands there. By hand 76 min, by the changer 19."""
    by_hand, with_changer = cell(False, ("small", "large")), cell(True, ("small", "large"))
    assert changing_min(by_hand) == pytest.approx(19 * 4.0)
    assert changing_min(with_changer) == pytest.approx(19 * 1.0)
    slow, fast = (done(simulate(workload_of(built))) for built in (by_hand, with_changer))
    assert all(late > soon for late, soon in zip(slow[1:], fast[1:], strict=True))
    assert slow[0] == fast[0], "the first order finds its nozzle"


def test_t10_the_twin_frees_the_person_of_every_change() -> None:
    def minutes(built: PlantInputs) -> float:
        return sum(end - start for task, start, end in work(simulate(workload_of(built)), 0) if task == "changeover")

    assert minutes(cell(False, ("small", "large"))) == 19 * 4.0
    assert minutes(cell(True, ("small", "large"))) == 0.0
