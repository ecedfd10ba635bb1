"""What the file says of a run is enough to audit it, and says what the results say."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import HealthCheck, Phase, given, settings

from simkit.cell.eventnotes import Notes
from simkit.cell.run import simulate
from simkit.experiment.events import events_of, run_as_rows, write_events
from simkit.experiment.measures import measure_run
from simkit.experiment.replication import draw_luck
from simkit.plant.plant import PlantInputs
from simkit.plant.reading import read_plant
from simkit.plant.scenarios import make_scenario
from simkit.plant.writing import example_plant
from simkit.process.workload import Workload, make_workload
from tests.experiment.event_audit import audited
from tests.oracle.plants import plants, workload_of
from tests.small_plant import changed_settings, small_plant

DEMO = Path("data/tarnholt")


def weeks_of(plant: PlantInputs, weeks: float) -> PlantInputs:
    return dataclasses.replace(plant, settings=changed_settings(plant.settings, {"run": {"weeks": weeks}}))


def says_what_the_results_say(found: dict[str, float], workload: Workload) -> None:
    """Every measure that the audit has worked out is that of a run of its own, which nobody noted."""
    known = measure_run(simulate(workload), workload)
    for name, value in found.items():
        assert value == pytest.approx(known[name], rel=1e-8, abs=1e-6), name


@pytest.mark.parametrize("options", [(), ("A1",), ("A4", "A5b", "N6"), ("C2", "A8")])
def test_the_demo(options: tuple[str, ...], tmp_path: Path) -> None:
    plant = weeks_of(read_plant(DEMO, calibrated=False), 4)
    today, scenario, path = make_scenario(plant, ()), make_scenario(plant, options), tmp_path / "events.csv"
    write_events(path, [events_of(today, scenario, 1)])
    run = plant.settings.run
    luck = draw_luck(today, run.seed, 1, run.weeks, run.demand_factor)
    says_what_the_results_say(audited(path)[scenario.name, 1], make_workload(scenario, luck))


def test_ten_orders_in_every_replication(tmp_path: Path) -> None:
    example_plant(tmp_path / "plant")
    today, path = make_scenario(read_plant(tmp_path / "plant"), ()), tmp_path / "events.csv"
    run = today.plant.settings.run
    write_events(path, [events_of(today, today, number) for number in range(run.replications)])
    found = audited(path)
    assert len(found) == run.replications > 1
    for number in range(run.replications):
        luck = draw_luck(today, run.seed, number, run.weeks, run.demand_factor)
        says_what_the_results_say(found["today", number], make_workload(today, luck))


@settings(max_examples=20, derandomize=True, deadline=None, database=None, phases=[Phase.generate],
          suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])  # fmt: skip
@given(plant=plants())
def test_small_plants(plant: PlantInputs, tmp_path_factory: pytest.TempPathFactory) -> None:
    work, path = workload_of(plant), tmp_path_factory.mktemp("audit") / "events.csv"
    write_events(path, [run_as_rows(work, "today")])
    says_what_the_results_say(audited(path)["today", 0], work)


def test_a_noted_run_is_the_run() -> None:
    """Noting changes nothing that anybody else reads but what waits were for."""
    work = workload_of(small_plant())
    noted, plain = simulate(work, notes=Notes()), simulate(work)
    assert any(log.wait_s for log in noted.machines)
    for log in noted.machines:
        log.wait_s, log.wait_limit, log.wait_want = [], [], []
    assert dataclasses.replace(noted, jobs=()) == dataclasses.replace(plain, jobs=())


@pytest.mark.parametrize(
    ("kind", "column", "change", "said"),
    [("tool", "to_place", lambda own: own.iloc[0], "where .* stands|listed twice"),
     ("person", "end_h", lambda own: own + 1.0, "two tasks"),
     ("level", "level", lambda own: own + own.max(), None),
     ("request", "end_h", lambda own: own + 0.01, None)],
)  # fmt: skip
def test_the_audit_finds_what_is_wrong(kind, column, change, said, tmp_path: Path) -> None:
    path = tmp_path / "events.csv"
    write_events(path, [run_as_rows(workload_of(small_plant()), "today")])
    audited(path)
    table = pd.read_csv(path, dtype={"order_id": str})
    mine = table.kind == kind
    table.loc[mine, column] = change(table.loc[mine, column])
    table.to_csv(path, index=False)
    with pytest.raises(AssertionError, match=said):
        audited(path)
