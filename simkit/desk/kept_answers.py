"""What a recommendation found, kept beside its runs: who asks the same again reads it.

It is found again by all that decides it, so that a changed input, price, rule or number never meets an old answer.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
from dataclasses import dataclass
from pathlib import Path

from pydantic import TypeAdapter

from simkit.analysis.low_capital import Options
from simkit.analysis.verdicts import Choice
from simkit.desk.plants import Plant
from simkit.desk.runs import Numbers
from simkit.experiment.cache import ROOMS_THAT_SHAPE_ANSWERS, code_hash, keep_whole, read_whole
from simkit.plant.scenarios import make_scenario


@dataclass(frozen=True)
class Found:
    """The package, all choices, and the scenarios that were simulated at a demand above the signed ones."""

    package: Options
    choices: tuple[Choice, ...]
    further: tuple[str, ...] = ()


@dataclass(frozen=True)
class Question:
    """All that decides a recommendation apart from the code: a plant with its changes, numbers, sets asked about."""

    plant: Plant
    numbers: Numbers
    asked: tuple[Options, ...]

    def answer_in(self, folder: Path | None) -> Found | None:
        """What was found before, or None."""
        content = read_whole(self._path(folder)) if folder else None
        return None if content is None else TypeAdapter(Found).validate_python(json.loads(content))

    def keep(self, folder: Path | None, found: Found) -> None:
        """Keep what was found, where there is a folder for it."""
        if folder:
            keep_whole(self._path(folder), json.dumps(dataclasses.asdict(found)).encode())

    def _path(self, folder: Path) -> Path:
        today = make_scenario(self.plant.inputs, ())
        about = (today.physics_hash, today.money_hash, self.plant.calibrated, self.numbers, self.asked)
        digest = hashlib.sha256(f"{about} {code_hash(ROOMS_THAT_SHAPE_ANSWERS)}".encode()).hexdigest()
        return folder / digest[:2] / f"{digest}.decision"
