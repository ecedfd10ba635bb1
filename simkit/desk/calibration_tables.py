"""How a plant's model stands to its observed weeks: the verdict, every week beside the simulated one, what was fitted.

What a valid or failed calibration found stands in its file and is read from there. Where there is none, or where it is
out of date, the observed weeks are replayed with the plant as it is guessed.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from simkit.analysis.calibration import REPLICATIONS as FIT_REPLICATIONS
from simkit.analysis.calibration import first_guess, fit_plant
from simkit.base.files import write_whole
from simkit.base.messages import BadInput, refuse_to_replace
from simkit.desk.notebook_display import titled
from simkit.plant.calibration_file import (
    CALIBRATION_FILE,
    FIRST_GUESS,
    REPLAY,
    Calibration,
    CalibrationStanding,
    Check,
    calibration_text,
)
from simkit.plant.plant import PlantInputs
from simkit.plant.settings_base import Section
from simkit.report import sentences_calibration as say
from simkit.report.sentences import Paragraphs

if TYPE_CHECKING:
    from simkit.desk import plants as desk

REPLICATIONS = 10
"""Replications of the first guess where no file has them: common practice, no source."""
SUMS = ("h", "sheets", "orders")
"""Units of measures that add up over weeks; together they are shown as those of a mean week."""


@dataclass(frozen=True, eq=False, repr=False)
class PlantCalibration:
    """A plant beside its observed weeks. ``found`` holds what was compared; ``standing`` is None if nobody fitted."""

    inputs: PlantInputs
    standing: CalibrationStanding | None
    found: Calibration
    why: str = ""

    @property
    def state(self) -> str:
        """``never``, ``valid``, ``failed`` or ``out of date``."""
        return self.standing.state if self.standing else "never"

    @property
    def judged(self) -> str:
        """Which model the verdict is about: the calibrated one where a calibration counts or has failed."""
        return REPLAY if self.state in ("valid", "failed") else FIRST_GUESS

    @property
    def answer(self) -> Paragraphs:
        """What the observed weeks say of the model, in a few sentences."""
        return Paragraphs(tuple(say.answer(self.state, self.found, self.inputs.observed, self.why)))

    def verdict(self) -> pd.DataFrame:
        """Every measure of the weeks held back, together: observed, first guess and calibrated with how far each lies
        off, and the tolerance. Where nothing can be compared, the observed weeks as they were entered."""
        if not self.found.checks:
            weeks = pd.DataFrame([dataclasses.asdict(week) for week in self.inputs.observed])
            return titled(weeks, f"{say.NOT_COMPARED}: {self.why}", folded=False)
        guess = {check.measure: check for check in self.found.held_back(FIRST_GUESS)}
        rows = [_row(guess.get(check.measure, check), check) for check in self.found.held_back(self.judged)]
        frame = pd.DataFrame(rows)
        if self.judged == FIRST_GUESS and rows:
            frame = frame.drop(columns=["calibrated", "calibrated_off"])
        return titled(frame, *say.verdict(self.found.held_back(self.judged), self.judged), folded=False)

    def weeks(self) -> pd.DataFrame:
        """Every measure of every observed week, and of a mean week of those held back: observed, and of each model the
        mean and the band of 9 in 10 repetitions."""
        return titled(pd.DataFrame(self._weeks()), *say.weeks(self.found, self.judged))

    def _weeks(self) -> Iterator[dict[str, Any]]:
        kept = sum(week.use == "validate" for week in self.inputs.observed)
        for check in self.found.checks:
            together = not check.week
            if check.run not in (FIRST_GUESS, self.judged) or (together and (check.use == "calibrate" or kept < 2)):
                continue
            summed = check.unit in SUMS and not check.measure.startswith("order delay")
            size = 1 / kept if together and summed else 1.0
            allowed = check.tolerance if check.unit == "%" else check.tolerance * check.observed
            yield {
                "measure": check.measure, "unit": check.unit, "week": check.week, "use": say.USES[check.use],
                "model": say.MODELS[check.run], "observed": size * check.observed, "simulated": size * check.simulated,
                "low": size * check.low, "high": size * check.high,
                "tolerance": size * allowed if together or kept < 2 else 0.0,
            }  # fmt: skip

    def misses(self) -> pd.DataFrame:
        """What does not fit, by how much, and what is likely behind it; of a calibrated plant what the guess missed."""
        run = FIRST_GUESS if self.state == "valid" else self.judged
        found = [check for check in self.found.held_back(run) if not check.holds]
        rows = [
            {"measure": check.measure, "observed": check.observed, "simulated": check.simulated, "unit": check.unit,
             "likely_cause": say.likely_cause(check, self._fitted.notes)}
            for check in found
        ]  # fmt: skip
        told = say.misses(len(rows), run, self.state) if self.found.checks else (say.NOT_COMPARED,)
        return titled(pd.DataFrame(rows), *told, folded=False)

    def factors(self) -> pd.DataFrame:
        """Factors on groups of inputs: what the weeks ask for with its 95 % interval, and what is used."""
        rows = [
            {"what": one.name, "asked_for": one.wanted, "low": one.low, "high": one.high, "used": one.value,
             "note": one.note or say.factor_note(one)}
            for one in self._fitted.multipliers
        ]  # fmt: skip
        return titled(pd.DataFrame(rows), *say.factors(self._fitted.multipliers, self.state))

    def laws(self) -> pd.DataFrame:
        """Times and rates fitted to logged or measured values: before, after with its 95 % interval, observations."""
        rows = [
            {"what": say.row_name(law.path), "before": law.was, "after": law.mean, "low": law.low, "high": law.high,
             "law": law.law, "observations": law.n, "cut_off": law.censored, "from": law.source}
            for law in self._fitted.laws
        ]  # fmt: skip
        return titled(pd.DataFrame(rows), *say.laws(self._fitted.laws, self.state))

    def left(self) -> pd.DataFrame:
        """What the log and the weeks could not tell, as the fit noted it."""
        notes = self._fitted.notes
        return titled(pd.DataFrame({"what_the_fit_noted": notes}), say.left_title(len(notes)), folded=True)

    @property
    def _fitted(self) -> Calibration:
        """What a file holds that counts or failed; nothing of one that is out of date."""
        return self.found if self.judged == REPLAY else Calibration(seed=self.found.seed, replications=0)

    def __repr__(self) -> str:
        """Return it in one line."""
        return f"<PlantCalibration of {self.inputs.settings.name}: {self.state}>"


def _row(guess: Check, check: Check) -> dict[str, Any]:
    return {
        "measure": check.measure, "unit": check.unit, "observed": check.observed, "first_guess": guess.simulated,
        "first_guess_off": say.off(guess), "calibrated": check.simulated, "calibrated_off": say.off(check),
        "tolerance": say.tolerance(check),
    }  # fmt: skip


def calibration_of(
    read: desk.Plant, *, replications: int = REPLICATIONS, seed: int | None = None, workers: int | None = None
) -> PlantCalibration:
    """How the plant stands to its observed weeks: as its calibration says, else as first guessed.

    Where no calibration counts, the weeks are replayed ``replications`` times; nothing is fitted or written.
    """
    plant, standing = read.inputs, read.inputs.standing
    if standing and standing.found and standing.state != "out of date":
        return PlantCalibration(plant, standing, standing.found, standing.why)
    why = standing.why if standing else ""
    try:
        found = first_guess(plant, replications=replications, seed=seed, workers=workers)
    except BadInput as error:
        whys = (f"{finding.place} {finding.why}" for finding in error.findings)
        found, why = Calibration(seed=0, replications=0), "; ".join(filter(None, (why, *whys)))
    return PlantCalibration(plant, standing, found, why)


# ---- calibrating: what was fitted, and the one file that keeps it ----


@dataclass(frozen=True, eq=False, repr=False)
class Fit:
    """What a calibration found; ``found`` is what its file holds. Nothing counts before :meth:`write`."""

    plant: desk.Plant
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
    plant: desk.Plant,
    *,
    replications: int = FIT_REPLICATIONS,
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
