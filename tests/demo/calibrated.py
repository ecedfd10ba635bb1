"""The demo fitted to its observed weeks, and a demo whose short stops nobody wrote down: each fitted once a run.

What is fitted here counts in no folder; ``write_into`` writes it into a copy.
"""

from __future__ import annotations

import dataclasses
import shutil
from pathlib import Path

import pytest

import simkit as sk
from simkit.desk.calibration_tables import Fit
from simkit.plant.calibration_file import CALIBRATION_FILE, LOG_FILE
from tests.demo.conftest import DEMO
from tests.report.rendered import made_in_a_folder

SHORT_STOPS = "short_stop,"


def folder_of(path: Path, *, log: bool = True) -> Path:
    """A copy of the demo as it was before it was calibrated."""
    left_out = [CALIBRATION_FILE, *([] if log else [LOG_FILE])]
    return Path(shutil.copytree(DEMO, path, ignore=shutil.ignore_patterns(*left_out)))


def fitted(folder: Path, **more: object) -> Fit:
    """The fit of a folder by few replications."""
    return sk.calibrate(sk.read_plant(folder), **{"replications": 5, "workers": 1, **more})


def without_short_stops(path: Path) -> Path:
    """A copy of the demo that names no short stops, though its log has them."""
    folder = folder_of(path)
    lines = (folder / "stops.csv").read_text(encoding="utf-8").splitlines()
    kept = [line for line in lines if not line.startswith(SHORT_STOPS)]
    (folder / "stops.csv").write_text("\n".join(kept) + "\n", encoding="utf-8")
    return folder


def write_into(path: Path, fit: Fit) -> Path:
    """A copy of the folder that was fitted, with what was found written into it."""
    folder = Path(shutil.copytree(fit.plant.folder, path))
    dataclasses.replace(fit, plant=sk.read_plant(folder)).write()
    return folder


@pytest.fixture(scope="session")
def demo_fit(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> Fit:
    """The demo by as many replications as its own calibration file."""
    make = lambda own: fitted(folder_of(own / "plant"), replications=20)  # noqa: E731
    return made_in_a_folder(tmp_path_factory, worker_id, "demo_fit", make)


@pytest.fixture(scope="session")
def failed_fit(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> Fit:
    """The demo without its short stops."""
    make = lambda own: fitted(without_short_stops(own / "plant"))  # noqa: E731
    return made_in_a_folder(tmp_path_factory, worker_id, "failed_fit", make)
