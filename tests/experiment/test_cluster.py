"""A real cluster on this computer: the same table as here, though a worker is killed at its work."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from simkit.base.messages import BadInput
from simkit.experiment import runner
from simkit.experiment.replication import RunSteps, cell_units, draw_luck, run_cell
from simkit.experiment.results import Results
from simkit.experiment.runner import run_experiment
from simkit.plant.plant import ScenarioInputs
from tests.experiment.fake import plant_with_options

ROOT = Path(__file__).resolve().parents[2]
BEGUN = "SIMKIT_TEST_BEGUN"


def slowly_drawn(today: ScenarioInputs, seed: int, replication: int, weeks: float, demand_factor: float):
    """The luck of a replication, after a note of who is at it, and long enough to be killed meanwhile."""
    (Path(os.environ[BEGUN]) / f"{os.getpid()}-{replication}").touch()
    time.sleep(0.5)
    return draw_luck(today, seed, replication, weeks, demand_factor)


SLOW = RunSteps(slowly_drawn, run_cell, cell_units)


def run(scheduler: str = "") -> Results:
    return run_experiment(
        plant_with_options(), [(), ("N1",)], model=SLOW, replications=12, seed=7, weeks=1.0, workers=1, progress=False,
        scheduler=scheduler, records=("orders",),
    )  # fmt: skip


@pytest.fixture
def begun(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "begun"
    folder.mkdir()
    monkeypatch.setenv(BEGUN, str(folder))
    return folder


def until(there: Callable[[], bool]) -> None:
    for _ in range(600):
        if there():
            return
        time.sleep(0.1)
    raise AssertionError("it did not come about within a minute")


@pytest.fixture
def programs(tmp_path: Path, begun: Path) -> Iterator[Callable[..., Path]]:
    """Start the programs of a cluster, which end with the test."""
    place, running = tmp_path / "scheduler.json", []

    def start(program: str, *more: str) -> Path:
        command = [sys.executable, "-m", f"distributed.cli.dask_{program}", "--scheduler-file", str(place), *more]
        log = (tmp_path / f"{len(running)}.log").open("w")
        running.append(subprocess.Popen(command, cwd=ROOT, stdout=log, stderr=log))
        log.close()
        return place

    yield start
    for program in running:
        program.kill()
        program.wait()


def address_of(place: Path) -> str:
    until(place.exists)
    return json.loads(place.read_text())["address"]


def test_a_worker_that_is_killed_loses_nothing(programs: Callable[..., Path], begun: Path, tmp_path: Path) -> None:
    address = address_of(programs("scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard"))
    for _ in range(2):
        programs("worker", "--host", "127.0.0.1", "--nthreads", "1", "--no-nanny", "--no-dashboard")
    workers = set()

    def both_at_work() -> bool:
        workers.update(int(path.name.split("-")[0]) for path in begun.iterdir())
        return len(workers) == 2

    with ThreadPoolExecutor(1) as aside:
        asked = aside.submit(run, address)
        until(both_at_work)
        os.kill(min(workers), signal.SIGKILL)
        there = asked.result()
    tried = [path.name.split("-")[1] for path in begun.iterdir()]
    assert len(tried) > len(set(tried)) == 12, "one replication was begun twice"
    here = run()
    there.to_csv(tmp_path / "there.csv")
    here.to_csv(tmp_path / "here.csv")
    assert (tmp_path / "there.csv").read_bytes() == (tmp_path / "here.csv").read_bytes()
    assert there.records["orders"].equals(here.records["orders"])


def test_a_scheduler_that_is_not_there_or_has_no_worker_is_said(
    programs: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(runner, "PATIENCE_S", 1)
    with pytest.raises(BadInput, match="no scheduler answers there"):
        run("tcp://127.0.0.1:9")
    address = address_of(programs("scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard"))
    with pytest.raises(BadInput, match="the scheduler has no worker"):
        run(address)
