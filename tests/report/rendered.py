"""One report of the small plant, shared by all tests of a run.

A run on several processes makes it once too: the first that needs it makes it, the others wait and read it.
"""

from __future__ import annotations

import json
import pickle
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

import pytest
from filelock import FileLock

from simkit.desk.reporting import Report, report
from tests.report.option_plant import write_option_plant

Made = TypeVar("Made")
SMALL: dict[str, Any] = {"replications": 2, "weeks": 1, "workers": 1, "progress": False}
CHANGES = ("elements[load].typical=1.5",)
ASKED = ("A1+A4",)
MARKUP = 'Second <i>bench</i> & "place" $x_{ $'
"""The name of an option that tries to be more than text."""


@dataclass(frozen=True)
class Rendering:
    """A plant folder, its report, and the lines said while it was made."""

    plant_folder: Path
    report: Report
    said: tuple[str, ...]

    @property
    def out_dir(self) -> Path:
        """The folder of the report."""
        return self.report.folder

    @property
    def pages(self) -> list[Path]:
        """Its pages."""
        return sorted(self.out_dir.rglob("*.html"))


def once_a_run(made: Path, make: Callable[[], Made]) -> Made:
    """What ``make`` returns, made by the first process of a run that asks; it is kept in the file ``made``.

    Where making fails, nothing is kept and the next process tries again; a process that ends gives the lock back.
    """
    with FileLock(made.with_suffix(".lock")):
        if not made.is_file():
            value = make()
            made.write_bytes(pickle.dumps(value))
        result: Made = pickle.loads(made.read_bytes())
        return result


def made_in_a_folder(folders: pytest.TempPathFactory, worker_id: str, name: str, make: Callable[[Path], Made]) -> Made:
    """What ``make`` returns, made once a run, in a folder that stays as long as the run."""
    own = folders.mktemp(name)
    if worker_id == "master":  # the only process of this run
        return make(own)
    return once_a_run(folders.getbasetemp().parent / f"{name}.pickle", lambda: make(own))


@pytest.fixture(scope="session")
def rendering(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> Rendering:
    """A whole report: one time of the plant changed, and one set of options asked about."""
    return made_in_a_folder(tmp_path_factory, worker_id, "rendering", render_all)


def render_all(folder: Path) -> Rendering:
    """Make the report in a folder of its own."""
    plant = write_option_plant(folder / "plant")
    options = plant / "options.toml"
    named = options.read_text(encoding="utf-8").replace('"Second bench place"', json.dumps(MARKUP))
    options.write_text(named, encoding="utf-8")
    said: list[str] = []
    made = report(plant, folder / "out", options=ASKED, changes=CHANGES, say=said.append, **SMALL)
    return Rendering(plant, made, tuple(said))
