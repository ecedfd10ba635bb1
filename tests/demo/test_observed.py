"""The observed weeks are what their script makes, and hold together."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

from simkit.plant.plant import PlantInputs
from tests.demo.conftest import ROOT
from tests.demo.static_corridor import own_minutes, static_hours

SCRIPT = ROOT / "tests" / "demo" / "make_observed.py"
ROOMS_THAT_SIMULATE = {"cell", "tooling", "process", "experiment"}


def test_the_frozen_weeks_are_what_the_script_makes(demo_folder: Path, tmp_path: Path) -> None:
    command = [sys.executable, str(SCRIPT), "--into", str(tmp_path)]
    assert subprocess.run(command, check=False, cwd=ROOT, capture_output=True).returncode == 0
    for name in ("observed.csv", "history.csv"):
        assert (tmp_path / name).read_bytes() == (demo_folder / name).read_bytes(), name


@pytest.mark.parametrize("name", ["make_observed", "hidden_truth", "sequencing", "static_corridor"])
def test_the_scripts_never_read_the_rooms_that_simulate(name: str) -> None:
    tree = ast.parse((SCRIPT.parent / f"{name}.py").read_text(encoding="utf-8"))
    modules = {node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    modules |= {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    rooms = {module.split(".")[1] for module in modules if module.startswith("simkit.")}
    assert rooms & ROOMS_THAT_SIMULATE == set()


def test_weeks_one_and_two_calibrate(demo: PlantInputs) -> None:
    assert [week.use for week in demo.observed] == ["calibrate", "calibrate", "validate", "validate"]
    assert [week.monday.weekday() for week in demo.observed] == [0, 0, 0, 0]
    assert demo.observed[0].monday == demo.settings.run.start_monday


def test_hours_fit_into_the_attended_hours(demo: PlantInputs) -> None:
    for week in demo.observed:
        known = week.setup_h + week.handling_h + week.process_h + week.stopped_h
        assert 0.75 * week.attended_h < known <= week.attended_h


def test_history_agrees_with_the_weeks(demo: PlantInputs) -> None:
    book = {order.order_id: order for order in demo.orders}
    assert sum(week.orders_finished for week in demo.observed) == len(demo.history)
    for row in demo.history:
        assert row.started < row.finished
        assert row.started.date() >= book[row.order_id].released
        assert row.sheets == book[row.order_id].sheets
    first = [row.started for row in demo.history]
    assert first == sorted(first)


def test_the_first_guess_is_too_optimistic(demo: PlantInputs) -> None:
    guess = static_hours(demo, own_minutes(demo))
    made = sum(week.sheets for week in demo.observed) / sum(order.sheets for order in demo.orders)
    observed_h = sum(w.setup_h + w.handling_h + w.process_h + w.stopped_h for w in demo.observed)
    guessed_h = made * guess.with_losses
    assert 1.03 < observed_h / guessed_h < 1.25
    assert sum(w.process_h for w in demo.observed) > made * guess.process
    assert sum(w.setup_h for w in demo.observed) > made * guess.setup
