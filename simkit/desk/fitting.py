"""Calibrating a plant from Python: what was fitted, how the observed weeks hold, and the one file that keeps it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from simkit.analysis.calibration import REPLICATIONS, fit_plant
from simkit.base.files import write_whole
from simkit.base.messages import refuse_to_replace
from simkit.desk.plants import Plant
from simkit.plant.calibration_file import CALIBRATION_FILE, Calibration, calibration_text
from simkit.plant.section import Section


@dataclass(frozen=True, eq=False, repr=False)
class Fit:
    """What a calibration found; ``found`` is what its file holds. Nothing counts before :meth:`write`."""

    plant: Plant
    found: Calibration

    @property
    def calibrated(self) -> bool:
        """Whether the held-back weeks hold within the tolerances, and every factor within its bounds or with a note."""
        return self.found.calibrated

    @property
    def verdict(self) -> str:
        """The verdict in a sentence: what fails, if anything."""
        return self.found.verdict

    def table(self) -> pd.DataFrame:
        """Observed beside simulated, by run, use, week (0: all of the use) and measure: values, tolerance, holds."""
        return _table(self.found.checks)

    def factors(self) -> pd.DataFrame:
        """The factors with their 95 % intervals."""
        return _table(self.found.multipliers)

    def laws(self) -> pd.DataFrame:
        """The laws fitted, each with n, censored observations and the 95 % interval of its mean."""
        return _table(self.found.laws)

    def write(self) -> Path:
        """Write the calibration into the plant's folder; refuses to write over one. Returns its path."""
        path = self.plant.folder / CALIBRATION_FILE
        refuse_to_replace(path)
        write_whole(path, calibration_text(self.found))
        return path

    def __repr__(self) -> str:
        """Return the fit in one line."""
        return f"<Fit of {self.plant.name}: {self.verdict}>"


def _table(rows: Iterable[Section]) -> pd.DataFrame:
    return pd.DataFrame([row.model_dump() for row in rows])


def calibrate(
    plant: Plant,
    *,
    replications: int = REPLICATIONS,
    seed: int | None = None,
    notes: Mapping[str, str] | None = None,
    workers: int | None = None,
    say: Callable[[str], None] = lambda text: None,
) -> Fit:
    """Fit a plant to its log and observed weeks, and validate it on those held back.

    ``notes`` say, by group of factors, why one may lie outside 0.6 to 1.6. Raises BadInput where weeks, history or a
    readable log are missing, where the plant is calibrated already, or where its folder has changed since it was read.
    """
    plant.require_unchanged()
    found = fit_plant(
        plant.inputs, plant.folder, replications=replications, seed=seed, notes=notes, workers=workers, say=say
    )
    return Fit(plant, found)
