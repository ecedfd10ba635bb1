"""Fitting a plant: laws from its log and measurements, factors on observed weeks, validation; one calibration."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path

from simkit.analysis.calibration import Weeks, checks, fit_factors, replay_weeks, require_weeks
from simkit.analysis.log_laws import laws_from_log, laws_from_measurements
from simkit.analysis.machine_log import read_log
from simkit.base.messages import BadInput, Finding
from simkit.experiment.weekly import USES
from simkit.plant.calibration_file import CALIBRATION_FILE, FIRST_GUESS, LOG_FILE, Calibration, Check, foundation
from simkit.plant.options import Edit
from simkit.plant.plant import Plant

FOR_FACTORS = 10
"""Replications at most of each round in which the factors are come near to."""
TO_SETTLE = 2
"""Times the replications of a comparison from which the factors are then settled."""
REPLICATIONS = 20
"""Replications of each comparison, unless stated."""


def first_guess(plant: Plant, *, replications: int, seed: int | None = None, workers: int | None = None) -> Calibration:
    """Return the observed weeks beside the plant as it is guessed, nothing fitted. Raises BadInput as a fit does."""
    require_weeks(plant)
    drawn_by = plant.settings.run.seed if seed is None else seed
    compared: list[Check] = []
    for use in USES:
        replay = replay_weeks(plant, (), use, rule=False, replications=replications, seed=drawn_by, workers=workers)
        compared += checks(plant, use, replay, FIRST_GUESS)
    return Calibration(seed=drawn_by, replications=replications, checks=tuple(compared))


def fit_plant(
    plant: Plant,
    folder: Path,
    *,
    replications: int = REPLICATIONS,
    seed: int | None = None,
    notes: Mapping[str, str] | None = None,
    workers: int | None = None,
    say: Callable[[str], None] = lambda text: None,
) -> Calibration:
    """Return the calibration of a plant that was read from a folder; nothing is written.

    ``notes`` say, by group, why a factor may leave its bounds. Raises BadInput where weeks or history are missing, the
    log cannot be read, or the plant is calibrated already.
    """
    if plant.calibration is not None:
        raise BadInput([Finding(CALIBRATION_FILE, "calibrates this plant already", "Move it away to fit anew")])
    require_weeks(plant)
    drawn_by = plant.settings.run.seed if seed is None else seed
    found = laws_from_measurements(plant)
    log_path = folder / LOG_FILE
    if log_path.is_file():
        say(f"{LOG_FILE}: reading")
        laws_from_log(read_log(log_path, plant), plant, found)
    else:
        found.notes.append(f"{LOG_FILE} is not there: no law is fitted to logged values")

    def replay(
        edits: Sequence[Edit], use: str = "calibrate", *, count: int = replications, rule: bool = False
    ) -> Weeks:
        return replay_weeks(plant, edits, use, rule=rule, replications=count, seed=drawn_by, workers=workers)

    say("factors: replaying the weeks that calibrate")
    count = min(FOR_FACTORS, replications)
    settle = partial(replay, count=TO_SETTLE * replications)
    multipliers, edits = fit_factors(plant, found.edits, notes or {}, partial(replay, count=count), settle)
    say("validation: first guess, replay, then the rule")
    compared: list[Check] = []
    for use in USES:
        compared += checks(plant, use, replay([], use), FIRST_GUESS)
        compared += checks(plant, use, replay(edits, use), "replay")
        compared += checks(plant, use, replay(edits, use, rule=True), "rule")
    return Calibration(
        seed=drawn_by, replications=replications, edits=tuple(edits), laws=tuple(found.laws), notes=tuple(found.notes),
        multipliers=tuple(multipliers), checks=tuple(compared), rests_on=foundation(plant, folder),
    ).sealed()  # fmt: skip
