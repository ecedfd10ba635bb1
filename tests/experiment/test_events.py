from __future__ import annotations

import csv
import dataclasses
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pandas as pd
import pytest

from simkit.base.messages import BadInput
from simkit.base.vocabulary import STATES
from simkit.experiment.eventcolumns import COLUMNS, KINDS, events_markdown
from simkit.experiment.events import Row, events_of, write_events
from simkit.experiment.runner import run_experiment
from simkit.plant.plant import PlantInputs
from simkit.plant.reading import read_plant
from simkit.plant.scenarios import make_scenario
from tests.small_plant import changed_settings

DEMO = Path("data/tarnholt")
SPAN_H = 4 * 7 * 24.0


@pytest.fixture(scope="module")
def plant() -> PlantInputs:
    """Four weeks of the demo: how long a run is does not matter here."""
    demo = read_plant(DEMO, calibrated=False)
    return dataclasses.replace(demo, settings=changed_settings(demo.settings, {"run": {"weeks": 4}}))


@pytest.mark.parametrize("options", [(), ("A5b",)])
def test_hours_by_state_are_those_of_the_results(plant: PlantInputs, options: tuple[str, ...]) -> None:
    scenario = make_scenario(plant, options)
    frame = pd.DataFrame(events_of(make_scenario(plant, ()), scenario, replication=1))
    machine = frame[frame["kind"] == "machine"]
    hours = (
        (machine["end_h"].clip(upper=SPAN_H) - machine["start_h"].clip(upper=SPAN_H)).groupby(machine["state"]).sum()
    )
    results = run_experiment(plant, [options], replications=1, first_replication=1, workers=1, progress=False)
    for state in STATES:
        known = results.values(scenario.name, f"state_{state}_h")[0]
        assert hours.get(state, 0.0) == pytest.approx(known, abs=1e-9), state


def test_a_machine_is_in_one_state_at_a_time_and_on_the_order_whose_sheet_it_runs(plant: PlantInputs) -> None:
    today = make_scenario(plant, ())
    own = [row for row in events_of(today, today) if row["kind"] == "machine"]
    assert own[0]["start_h"] == 0.0
    for before, after in pairwise(own):
        assert after["start_h"] == pytest.approx(before["end_h"], abs=1e-9)
    program = {order.order_id: order.program_id for order in plant.orders}
    running = [row for row in own if row["state"] in {"loading", "punching", "forming", "cutting", "unloading"}]
    assert running
    assert all("sheet" in row and program[row["order_id"]] == row["program_id"] for row in running)


def test_they_are_written_once_and_nothing_is_written_over(plant: PlantInputs, tmp_path: Path) -> None:
    today, path = make_scenario(plant, ()), tmp_path / "events.csv"
    count = write_events(path, (events_of(today, scenario) for scenario in (today, make_scenario(plant, ("N2",)))))
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == count
    assert tuple(rows[0]) == tuple(COLUMNS)
    assert {row["scenario"] for row in rows} == {"today", "N2"}
    with pytest.raises(BadInput, match="nothing is written over"):
        write_events(path, [])
    assert {file.name for file in tmp_path.iterdir()} == {"events.csv"}


def test_a_run_that_breaks_off_leaves_no_half_table(tmp_path: Path) -> None:
    def runs() -> Iterator[list[Row]]:
        yield [{"scenario": "today"}]
        raise RuntimeError("broken")

    with pytest.raises(RuntimeError, match="broken"):
        write_events(tmp_path / "events.csv", runs())
    assert not list(tmp_path.iterdir())


def test_the_page_of_fields_names_every_column_and_kind() -> None:
    page = events_markdown()
    assert all(f"| `{name}` | " in page for name in (*COLUMNS, *KINDS))


def test_what_the_planner_decided_stands_in_it(plant: PlantInputs) -> None:
    """Hours of overtime are those of the results; what goes out is there after its three days."""
    today = make_scenario(plant, ())
    planner = pd.DataFrame(events_of(today, today)).query("resource == 'planner'")
    length_h = planner["end_h"] - planner["start_h"]
    assert {"overtime", "subcontract"} <= set(planner["state"]) <= {"overtime", "subcontract", "refused"}
    results = run_experiment(plant, [()], replications=1, workers=1, progress=False)
    assert length_h[planner["state"] == "overtime"].sum() == results.values("today", "overtime_h")[0]
    assert set(length_h[planner["state"] == "subcontract"]) == {72.0}
    assert (planner["decided_h"] <= planner["start_h"]).all()
    assert (planner["slack_days"] < 0).all(), "each is for an order that would be late"
