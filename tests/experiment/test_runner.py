from __future__ import annotations

import pickle
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from simkit.base.messages import BadInput, ScenarioFailed
from simkit.experiment import cache
from simkit.experiment.ordermeasures import OrderRow
from simkit.experiment.replication import RunSteps
from simkit.experiment.results import KEYS, Results
from simkit.experiment.runner import run_experiment, run_scenarios
from simkit.experiment.tables import PackedTables, packed, table_of, unpacked
from simkit.experiment.toolmeasures import WrongLoadCount
from simkit.experiment.workers import on_processes
from simkit.plant.scenarios import make_scenario
from tests.experiment.fake import COUNTING, DYING, FAILING, FAKE, REFUSING, plant_with_options, runs_in
from tests.small_plant import small_plant

COMBINATIONS = [(), ("N1",), ("A1", "N1")]


def run(model: RunSteps = FAKE, combinations: list[tuple[str, ...]] = COMBINATIONS, **more: object) -> Results:
    chosen = {"replications": 3, "seed": 7, "weeks": 2.0, "workers": 1, "progress": False, **more}
    return run_experiment(plant_with_options(), combinations, model=model, **chosen)  # type: ignore[arg-type]


@pytest.fixture
def counted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[], int]:
    folder = tmp_path / "runs"
    folder.mkdir()
    monkeypatch.setenv("SIMKIT_TEST_RUNS", str(folder))
    return lambda: runs_in(folder)


def test_one_row_per_scenario_level_replication_and_measure() -> None:
    results = run(demand_factors=[1.0, 1.25])
    assert results.scenarios == ("today", "N1", "A1+N1")
    assert results.demand_factors == (1.0, 1.25)
    assert results.replications == 3
    assert len(results.frame) == 3 * 2 * 3 * 5
    assert results.units["material_kg_MS-1.5"] == "kg"


def test_one_worker_and_two_give_the_same_table(tmp_path: Path) -> None:
    one, two = run(demand_factors=[1.0, 1.6]), run(demand_factors=[1.0, 1.6], workers=2)
    pd.testing.assert_frame_equal(one.frame, two.frame, check_exact=True)
    one.to_csv(tmp_path / "one.csv")
    two.to_csv(tmp_path / "two.csv")
    assert (tmp_path / "one.csv").read_bytes() == (tmp_path / "two.csv").read_bytes()


def test_more_replications_leave_the_first_ones_alone() -> None:
    few, more = run(replications=2).frame, run(replications=4).frame
    kept = more[more["replication"] < 2].reset_index(drop=True)
    pd.testing.assert_frame_equal(few, kept, check_exact=True)


def test_a_replication_can_be_run_alone() -> None:
    whole = run(replications=4).frame
    alone = run(replications=1, first_replication=3).frame
    pd.testing.assert_frame_equal(whole[whole["replication"] == 3].reset_index(drop=True), alone, check_exact=True)


def test_unset_numbers_are_those_of_the_plant() -> None:
    results = run_experiment(plant_with_options(), [()], model=FAKE, workers=1, progress=False)
    assert results.replications == 2
    changed = run_experiment(
        plant_with_options(), [()], model=FAKE, workers=1, progress=False, overrides=["plant.run.replications=3"]
    )
    assert changed.replications == 3


def test_equal_physics_is_simulated_once(counted: Callable[[], int]) -> None:
    results = run(COUNTING, [(), (), ("N1",), ("N2", "N1"), ("N1", "N2")])
    assert counted() == 3 * 3
    assert (results.values("N2+N1", "hours_needed") == results.values("N1+N2", "hours_needed")).all()


def test_runs_are_kept_on_disk(tmp_path: Path, counted: Callable[[], int]) -> None:
    first = run(COUNTING, cache_dir=tmp_path / "kept")
    again = run(COUNTING, cache_dir=tmp_path / "kept", workers=2)
    assert counted() == 9
    pd.testing.assert_frame_equal(first.frame, again.frame, check_exact=True)
    run(COUNTING, cache_dir=tmp_path / "kept", seed=8)
    assert counted() == 18


def test_other_code_makes_new_runs(tmp_path: Path, counted: Callable[[], int], monkeypatch: pytest.MonkeyPatch) -> None:
    run(COUNTING, cache_dir=tmp_path / "kept")
    monkeypatch.setattr(cache, "code_hash", lambda: "other code")
    run(COUNTING, cache_dir=tmp_path / "kept")
    assert counted() == 18


@pytest.mark.parametrize("workers", [1, 2])
def test_a_failure_names_the_inputs(workers: int) -> None:
    with pytest.raises(ScenarioFailed) as caught:
        run(FAILING, demand_factors=[1.25], workers=workers)
    message = str(caught.value)
    for part in ("scenario A1+N1 failed", "options A1+N1", "seed 7", "replication", "weeks 2", "demand factor 1.25"):
        assert part in message
    assert "ZeroDivisionError: no tools at all" in message


def test_a_worker_that_dies_ends_the_run_with_its_reasons() -> None:
    with pytest.raises(ScenarioFailed, match="a worker process ended before its replication was done"):
        run(DYING, workers=2)
    assert run(workers=2).replications == 3, "the next runs get workers of their own"


def test_more_workers_than_runs_and_runs_than_workers_end() -> None:
    frames = [run(replications=5, workers=workers).frame for workers in (1, 2, 3, 9)]
    for frame in frames[1:]:
        pd.testing.assert_frame_equal(frames[0], frame, check_exact=True)


def test_bad_input_found_in_a_run_names_its_scenario() -> None:
    with pytest.raises(BadInput, match=r"today: plant\.run\.horizon_s"):
        run(REFUSING)


def test_all_illegal_combinations_are_named_at_once() -> None:
    with pytest.raises(BadInput) as caught:
        run(combinations=[("C1",), ("A1", "A2"), ("N1",)])
    assert "C1" in str(caught.value)
    assert "A2" in str(caught.value)


def test_a_cluster_without_its_package_is_bad_input(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(BadInput, match="a Dask cluster needs the package distributed"):
        run(scheduler="tcp://10.0.0.5:8786")


def test_progress_is_plain_lines_where_there_is_no_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    run(progress=True)
    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err.splitlines()[-1] == "3 scenarios: replication 3 of 3 done"


def test_workers_load_neither_tables_nor_checks() -> None:
    """Rows reach a worker ready made: it reads no file, and the checks of no row type are built there."""
    code = (
        "import sys, simkit.experiment.replication\n"
        "from simkit.plant.tables import TABLES\n"
        "reading = {'pandas', 'simkit.plant.reading', 'simkit.plant.csv_files'}\n"
        "print(reading & set(sys.modules), [row for row in TABLES.values() if row.__pydantic_complete__])"
    )
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert loaded.stdout.strip() == "set() []"


def test_records_that_are_asked_for_stand_beside_the_totals_and_come_back_from_kept_runs(tmp_path: Path) -> None:
    today = make_scenario(small_plant())
    args = {"replications": 2, "weeks": 1.0, "workers": 1, "progress": False, "cache_dir": tmp_path}
    plain = run_scenarios(today, [today], **args)
    assert plain.records == {}
    with pytest.raises(KeyError, match="were not asked for"):
        plain.rows("orders", "today")
    results = run_scenarios(today, [today], records=["orders", "tools"], **args)
    pd.testing.assert_frame_equal(results.frame, plain.frame, check_exact=True)
    orders = results.rows("orders", "today")
    assert list(orders.columns) == [*KEYS, *OrderRow._fields]
    there = orders[orders["fate"] == "in_house"].groupby("replication")["there_h"].count()
    assert there.tolist() == results.raw("today", "orders_finished").tolist()
    again = run_scenarios(today, [today], records=["orders"], **args, first_replication=1)
    both = results.joined(again)
    assert both.records["orders"].groupby("replication").size().index.tolist() == [0, 1, 2]
    assert len(plain.joined(results).rows("orders", "today")) == len(orders)
    assert len(results.selected([]).records["orders"]) == 0


def test_what_is_kept_asks_no_worker_and_the_rest_is_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = run(replications=2, workers=2, cache_dir=tmp_path)
    asked: list[list[int]] = []

    def noted(job: Any, numbers: Any, workers: int) -> Any:
        asked.append(list(numbers))
        return on_processes(job, numbers, workers)

    monkeypatch.setattr("simkit.experiment.runner.on_processes", noted)
    pd.testing.assert_frame_equal(run(replications=2, workers=2, cache_dir=tmp_path).frame, first.frame)
    assert not asked
    more = run(replications=4, workers=2, cache_dir=tmp_path)
    assert asked == [[2, 3]]
    pd.testing.assert_frame_equal(more.frame, run(replications=4).frame, check_exact=True)
    next(tmp_path.rglob("*.run")).unlink()
    pd.testing.assert_frame_equal(run(replications=4, workers=1, cache_dir=tmp_path).frame, more.frame)


def test_tables_of_a_kept_run_are_unpacked_when_they_are_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    kept = pickle.loads(
        pickle.dumps(PackedTables(packed({"faults": table_of(WrongLoadCount, [("wrong die", "later", 3.0)])})))
    )
    opened: list[bytes] = []
    monkeypatch.setattr(
        "simkit.experiment.tables.unpacked", lambda content: opened.append(content) or unpacked(content)
    )
    assert not opened
    assert (list(kept), len(kept), kept["faults"]["times"].tolist()) == (["faults"], 1, [3.0])
    assert len(opened) == 1
