"""One rendering of all studies on the small plant and made-up results, shared by all tests of a run."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from pathlib import Path

import pytest

from simkit.plant.hashes import inputs_sha256
from simkit.plant.reading import read_plant
from simkit.report.pages import RenderedStudy
from simkit.report.render import claim_folder, render_studies
from simkit.report.study import Study, open_study
from tests.report.fake_results import write_fake_study
from tests.report.option_plant import SCENARIOS, write_option_plant


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


@pytest.fixture(scope="session")
def simulated(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A plant folder and a report folder that holds its study folder."""
    folder = tmp_path_factory.mktemp("report")
    plant_folder = write_option_plant(folder / "plant")
    out_dir = folder / "out"
    claim_folder(out_dir)
    write_fake_study(
        out_dir / "results", read_plant(plant_folder), SCENARIOS, package="N1+N2", factors=(1.0, 1.25),
        with_pairs=True, inputs_sha256=inputs_sha256(plant_folder),
    )  # fmt: skip
    return plant_folder, out_dir


@pytest.fixture(scope="session")
def study(simulated: tuple[Path, Path]) -> Study:
    """The study folder, opened."""
    plant_folder, out_dir = simulated
    return open_study(plant_folder, out_dir / "results")


@pytest.fixture(scope="session")
def rendering(simulated: tuple[Path, Path], tmp_path_factory: pytest.TempPathFactory) -> Rendering:
    """All studies, run and rendered."""
    plant_folder, out_dir = simulated
    own = tmp_path_factory.mktemp("rendered") / "out"
    claim_folder(own)
    shutil.copytree(out_dir / "results", own / "results")
    said: list[str] = []
    studies = render_studies(plant_folder, own, say=said.append)
    return Rendering(plant_folder, own, tuple(studies), tuple(said))
