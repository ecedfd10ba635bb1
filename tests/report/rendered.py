"""One rendering of all studies on the small plant and made-up results, shared by all tests of a run.

A run on several processes makes it once too: the first that needs it renders, the others wait and read it.
"""

from __future__ import annotations

import dataclasses
import pickle
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

import pytest
from filelock import FileLock

from simkit.experiment.runner import make_scenarios
from simkit.plant.hashes import inputs_sha256
from simkit.plant.reading import read_plant
from simkit.report.folder import claim_folder
from simkit.report.pages import RenderedStudy
from simkit.report.render import render_studies
from simkit.report.study import Study, open_study
from simkit.report.studydata import write_study
from tests.report.fake_results import fake_study
from tests.report.option_plant import SCENARIOS, write_option_plant

Made = TypeVar("Made")


@dataclass(frozen=True)
class Rendering:
    """A plant folder, the folder of its report, its pages, and the lines said while rendering."""

    plant_folder: Path
    out_dir: Path
    studies: tuple[RenderedStudy, ...]
    said: tuple[str, ...]

    @property
    def pages(self) -> list[Path]:
        return sorted(self.out_dir.glob("*.html"))


def write_small_study(plant_folder: Path, out_dir: Path) -> None:
    """A report folder with the made-up study of the small plant in it, and the hashes of what each scenario reads."""
    plant = read_plant(plant_folder)
    scenarios = dict(zip(SCENARIOS, make_scenarios(plant, list(SCENARIOS.values())), strict=True))
    study = fake_study(
        plant, SCENARIOS, package="N1+N2", factors=(1.0, 1.25), inputs_sha256=inputs_sha256(plant_folder)
    )
    card = dataclasses.replace(
        study.run,
        physics_hashes={name: scenario.physics_hash for name, scenario in scenarios.items()},
        money_hashes={name: scenario.money_hash for name, scenario in scenarios.items()},
    )
    claim_folder(out_dir)
    write_study(out_dir / "results", dataclasses.replace(study, run=card))


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


@pytest.fixture(scope="session")
def simulated(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A plant folder and a report folder that holds its study folder."""
    folder = tmp_path_factory.mktemp("report")
    plant_folder = write_option_plant(folder / "plant")
    write_small_study(plant_folder, folder / "out")
    return plant_folder, folder / "out"


@pytest.fixture(scope="session")
def study(simulated: tuple[Path, Path]) -> Study:
    """The study folder, opened."""
    plant_folder, out_dir = simulated
    return open_study(plant_folder, out_dir / "results")


@pytest.fixture(scope="session")
def rendering(simulated: tuple[Path, Path], tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> Rendering:
    """All studies, run and rendered."""
    own = tmp_path_factory.mktemp("rendered")
    if worker_id == "master":  # the only process of this run
        return render_all(*simulated, own)
    shared = tmp_path_factory.getbasetemp().parent / "rendering.pickle"
    return once_a_run(shared, lambda: render_all(*simulated, own))


def render_all(plant_folder: Path, out_dir: Path, folder: Path) -> Rendering:
    """Render the studies of a report folder into a folder of their own."""
    own = folder / "out"
    claim_folder(own)
    shutil.copytree(out_dir / "results", own / "results")
    said: list[str] = []
    studies = render_studies(plant_folder, own, say=said.append)
    return Rendering(plant_folder, own, tuple(studies), tuple(said))
