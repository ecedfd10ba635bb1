"""The cell itself through the runner: a day of work, two replications."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from simkit.analysis.package import SetRuns, best_package
from simkit.base.messages import ScenarioFailed
from simkit.base.vocabulary import STATES
from simkit.cell.run import simulate
from simkit.experiment.measures import measure_run
from simkit.experiment.results import Results
from simkit.experiment.runner import run_experiment
from tests.experiment.fake import plant_with_options
from tests.oracle.plants import workload_of
from tests.small_plant import small_plant

HOURS_A_WEEK = 168.0


@pytest.fixture(scope="module")
def results() -> Results:
    return run_experiment(plant_with_options(), [(), ("N1",)], demand_factors=[1.0, 2.0], workers=1, progress=False)


def test_the_states_of_every_run_fill_its_span(results: Results) -> None:
    for scenario in results.scenarios:
        for factor in results.demand_factors:
            hours = sum(results.values(scenario, f"state_{state}_h", factor) for state in STATES)
            assert hours == pytest.approx([HOURS_A_WEEK] * 2)


def test_every_measure_has_its_unit(results: Results) -> None:
    assert results.units["hours_needed"] == "h"
    assert results.units["material_kg_MS-1.5"] == "kg"
    assert results.frame.notna().all(axis=None)


def test_scenarios_share_their_luck(results: Results) -> None:
    for measure in ("sheets", "state_punching_h"):
        assert (results.values("today", measure) == results.values("N1", measure)).all()
    # N1 shortens each search from 1.6 min to 0.91 of it
    saved_h = results.values("today", "tool_loads") * 1.6 * 0.09 / 60
    assert -results.paired("N1", "today", "hours_needed").mean == pytest.approx(saved_h.mean(), rel=1e-6)


def test_two_workers_and_the_disk_give_the_same_bits(results: Results, tmp_path: Path) -> None:
    for _ in range(2):
        again = run_experiment(
            plant_with_options(), [(), ("N1",)],
            demand_factors=[1.0, 2.0], workers=2, progress=False, cache_dir=tmp_path,
        )  # fmt: skip
        pd.testing.assert_frame_equal(again.frame, results.frame, check_exact=True)


def test_a_saturated_queue_of_too_few_orders_says_so() -> None:
    """Orders are planned at ten times what they take, so that fifty of them seem enough."""
    run = {"source": "saturated", "horizon_s": 360_000.0, "max_weeks": 4.0}
    plant = small_plant(run=run, rules={"planning_factor": 10.0})
    with pytest.raises(ScenarioFailed, match=r"ran dry .* without work: its \d+ orders are too few"):
        run_experiment(plant, [()], replications=1, workers=1, progress=False)


def test_hours_that_nobody_pays_for_make_no_package() -> None:
    """Every option of the small plant shortens the search, in a week in which the cell has time to spare."""
    assert best_package(plant_with_options(), [1.0], workers=1) == ()
    runs = SetRuns(plant_with_options(), [1.0], 4, {"workers": 1})
    runs.add([("N1",)])
    assert runs.hours(("N1",)).mean < runs.hours(()).mean


def test_a_lifter_takes_the_heavy_sheets_and_people_the_light_ones() -> None:
    lifts = []
    for lifter, limit in ((False, 1e6), (True, 0.0), (True, 1e6)):
        machine = {"lifter": lifter, "one_person_kg": limit}
        work = workload_of(small_plant(machine=machine))
        lifts.append(measure_run(simulate(work), work)["lifts_by_hand"])
    assert lifts[0] == lifts[2] > lifts[1] > 0  # the parts broken out at the bench remain
