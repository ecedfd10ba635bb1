"""The demo's log is what its script makes, and says what the hidden truth says."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from simkit.analysis.log_times import ratio_of_sums, sheet_runs, stops
from simkit.analysis.machine_log import CANNOT_TELL, RUNNING, MachineLog, read_log
from simkit.plant.plant import PlantInputs
from tests.demo.conftest import ROOT
from tests.demo.hidden_truth import Truth

EVENTS = ROOT / "data" / "tarnholt" / "events.csv"
SCRIPT = ROOT / "tests" / "demo" / "make_log.py"


def made(path: Path, *more: str) -> Path:
    command = [sys.executable, str(SCRIPT), "--into", str(path), *more]
    assert subprocess.run(command, check=False, cwd=ROOT).returncode == 0
    return path


@pytest.fixture(scope="module")
def clean(tmp_path_factory: pytest.TempPathFactory, demo: PlantInputs) -> MachineLog:
    return read_log(made(tmp_path_factory.mktemp("log") / "events.csv", "--clean"), demo)


@pytest.fixture(scope="module")
def log(demo: PlantInputs) -> MachineLog:
    return read_log(EVENTS, demo)


def test_the_frozen_log_is_what_the_script_makes(tmp_path):
    assert made(tmp_path / "events.csv").read_bytes() == EVENTS.read_bytes()


def test_the_clean_log_gives_the_observed_weeks(clean, demo):
    hours = clean.hours()
    hours["week"] = [(day - clean.monday).days // 7 for day in hours.index]
    weekly = hours.groupby("week").sum()
    for number, week in enumerate(demo.observed):
        row = weekly.loc[number]
        assert row[RUNNING] == pytest.approx(week.process_h, abs=0.02)
        assert row["changeover"] == pytest.approx(week.setup_h, abs=0.02)
        assert row["loading"] + row["unloading"] == pytest.approx(week.handling_h, abs=0.02)
        assert row["stopped"] == pytest.approx(week.stopped_h, abs=0.02)
    assert clean.findings == ()


def test_the_faults_of_the_log_are_found_and_no_others(log):
    said = [finding.why for finding in log.findings]
    assert len(said) == 6
    assert "12 lines are repeated" in said[0]
    assert "drifted: it was set back by at least 3.9 min" in said[1]
    assert "an hour comes twice: it was set back by at least 59.9 min" in said[2]
    assert [why.split(",")[0] for why in said[3:]] == [
        "no line for 5 h 48 min from 2026-05-07 08:08", "no line for 2 h 16 min from 2026-05-12 14:58",
        "no line for 1 h 55 min from 2026-05-20 18:04",
    ]  # fmt: skip
    assert 8 < log.hours()[CANNOT_TELL].sum() < 11


def test_run_ratios_of_the_spoiled_log_are_the_hidden_ones(log, demo):
    """Of families without a film pass, whose time the truth leaves out of what it stretches."""
    truth = Truth()
    for family, runs in sheet_runs(log, demo).groupby("family"):
        if family != "GALL":
            _, low, high = ratio_of_sums(runs["measured_s"].to_numpy(), runs["estimated_s"].to_numpy())
            assert low - 0.005 < truth.ratio(family) < high + 0.005, family
            assert len(runs) > 70


def test_stops_of_the_spoiled_log_have_their_causes(log):
    found = stops(log).groupby("cause")["minutes"].agg(["size", "mean"])
    assert found.loc["tool_fault", "mean"] == pytest.approx(Truth().tool_fault)
    assert found.loc["breakdown", "size"] == 6
    assert found.loc["short_stop", "size"] > 1000
