"""The calibration of a plant: one file in its folder that says what was fitted, on what it rests, and whether it held.

``calibrated`` is nothing but this file. It counts while every input it rests on is as it was; a plant is then read with
its edits applied. Prices, options and orders outside the observed weeks may change without touching it.
"""

from __future__ import annotations

import dataclasses
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from pydantic import Field

from simkit.base.messages import BadInput, Finding, note
from simkit.plant.edits import apply_edits
from simkit.plant.hashes import physics_of_settings, physics_of_table, sha256_of
from simkit.plant.options import Edit
from simkit.plant.plant import PlantInputs
from simkit.plant.settings_base import Section
from simkit.plant.tables import TABLES
from simkit.plant.toml_files import read_toml, toml_text, validate

CALIBRATION_FILE = "calibration.toml"
LOG_FILE = "events.csv"
LOWEST, HIGHEST = 0.6, 1.6
"""Bounds of a factor without a note: common practice, no source."""
HEAD = "# Made by simkit fit. Once this file, or what it rests on, is changed, it counts no longer.\n\n"
FIRST_GUESS, REPLAY = "first guess", "replay"
"""Models that are compared with observed weeks: as guessed, and calibrated in the actual sequence of orders."""
OF_ORDERS = {"orders": "order_id"} | dict.fromkeys(("programs", "program_parts", "program_tools"), "program_id")
"""Tables of which only the rows of observed orders count."""


class PlacedLaw(Section):
    """A law fitted to measured or logged values, and where it goes."""

    path: str = Field(description="row of the plant that it sets")
    law: str = Field(description="law")
    mean: float = Field(description="mean, in the row's unit; of a rate, the rate")
    cv: float = Field(description="coefficient of variation")
    n: int = Field(description="whole observations")
    censored: int = Field(description="observations cut off")
    low: float = Field(description="low end of the mean, 95 %")
    high: float = Field(description="high end of the mean, 95 %")
    was: float = Field(description="mean before")
    source: str = Field(description="measured or logged")


class Multiplier(Section):
    """A factor on a group of inputs, calibrated on observed weeks: 1 where what they ask for may be chance alone."""

    name: str = Field(description="group")
    value: float = Field(description="factor that is used")
    wanted: float = Field(description="factor that the weeks ask for")
    low: float = Field(description="low end of what they ask for, 95 %, as chance has it in so many weeks")
    high: float = Field(description="high end, 95 %")
    note: str = Field(default="", description="why a factor beyond the bounds is right")

    @property
    def bound(self) -> bool:
        """Whether the weeks surely ask for more than the bounds allow without a note."""
        return self.value in (LOWEST, HIGHEST) and self.wanted != self.value


class Check(Section):
    """One measure of observed weeks beside the simulated one. ``difference`` is in the unit of the tolerance."""

    run: Literal["first guess", "replay", "rule"] = Field(description="which model, and what chose the next order")
    use: Literal["calibrate", "validate"] = Field(description="which weeks")
    week: int = Field(description="number of the week; 0: all of them together")
    measure: str = Field(description="what is compared")
    unit: str = Field(description="its unit")
    observed: float = Field(description="as observed")
    simulated: float = Field(description="mean of the replications")
    low: float = Field(description="1 in 20 replications is below")
    high: float = Field(description="1 in 20 replications is above")
    difference: float = Field(description="simulated less observed, relative or in points")
    tolerance: float = Field(description="agreed beforehand; 0: shown only")
    holds: bool = Field(description="whether the difference is within the tolerance")


class Calibration(Section):
    """What a calibration found. ``rests_on`` are digests of inputs by name, ``seal`` that of all else in the file."""

    seed: int = Field(description="seed of all draws")
    replications: int = Field(description="replications of each comparison")
    edits: tuple[Edit, ...] = Field(default=(), description="what it changes in the plant")
    laws: tuple[PlacedLaw, ...] = Field(default=(), description="laws fitted to measured values")
    multipliers: tuple[Multiplier, ...] = Field(default=(), description="factors calibrated on observed weeks")
    checks: tuple[Check, ...] = Field(default=(), description="observed beside simulated")
    notes: tuple[str, ...] = Field(default=(), description="what could not be fitted, and why")
    rests_on: Mapping[str, str] = Field(default_factory=dict, description="digest of each input")
    seal: str = Field(default="", description="digest of this file's content")

    @property
    def failed(self) -> tuple[Check, ...]:
        """Checks of the held-back weeks together, in their replay, that do not hold."""
        return tuple(check for check in self._deciding if not check.holds)

    @property
    def _deciding(self) -> tuple[Check, ...]:
        return tuple(check for check in self.held_back(REPLAY) if check.tolerance > 0)

    def held_back(self, run: str) -> tuple[Check, ...]:
        """All measures of the held-back weeks together, of one model."""
        return tuple(c for c in self.checks if (c.run, c.use, c.week) == (run, "validate", 0))

    @property
    def calibrated(self) -> bool:
        """Whether held-back weeks hold, and no factor lies at a bound without a note."""
        return bool(self._deciding) and not self.failed and not any(one.bound for one in self.multipliers)

    @property
    def verdict(self) -> str:
        """The verdict in a sentence."""
        if self.calibrated:
            return "calibrated: the held-back weeks hold within the tolerances"
        bound = [f"{one.name} would need {one.wanted:.2f}" for one in self.multipliers if one.bound]
        failed = [f"{c.measure} {c.simulated:.3g} {c.unit} for {c.observed:.3g} observed" for c in self.failed]
        return f"not calibrated: {'; '.join([*bound, *failed]) or 'no held-back weeks were compared'}"

    def sealed(self) -> Calibration:
        """The same with its seal."""
        return self.model_copy(update={"seal": self.digest()})

    def digest(self) -> str:
        """Digest of everything but the seal."""
        return sha256_of(self.model_dump(mode="json", exclude={"seal"}))


@dataclass(frozen=True)
class CalibrationStanding:
    """How the calibration in a plant's folder stands: valid, failed on the weeks held back, or out of date.

    ``found`` is what the file holds, None where it cannot be read; ``why`` says what speaks against it.
    """

    state: Literal["valid", "failed", "out of date"]
    found: Calibration | None
    why: str = ""


def foundation(plant: PlantInputs, folder: Path) -> dict[str, str]:
    """Digests of all that a calibration of this plant, as it was read, rests on, by name of the input."""
    made = {row.order_id for row in plant.history}
    programs = {order.program_id for order in plant.orders if order.order_id in made}
    names = {"order_id": made, "program_id": programs}
    settings = physics_of_settings(plant, without=("run", "overflow"))
    found = {"settings": settings, "sequences": sha256_of(dict(plant.sequences))}
    for table in TABLES:
        rows = getattr(plant, table)
        key = OF_ORDERS.get(table)
        found[table] = physics_of_table(table, [row for row in rows if key is None or getattr(row, key) in names[key]])
    log = folder / LOG_FILE
    if log.is_file():
        found["events"] = hashlib.sha256(log.read_bytes()).hexdigest()
    return found


def read_calibration(folder: Path) -> tuple[Calibration | None, str]:
    """Return the calibration that lies in a plant folder, if there is a sound one, and what is wrong with it."""
    path = folder / CALIBRATION_FILE
    if not path.exists():
        return None, ""
    content, _, findings = read_toml(path)
    found, faults = validate(Calibration, content) if content is not None else (None, [])
    problems = [finding.why for finding in findings] + [fault.why for _, fault in faults]
    if found is not None and found.seal != found.digest():
        problems.append("its content is not what simkit fit wrote")
    if problems or found is None:
        return None, problems[0] if problems else "it cannot be read"
    return found, ""


def with_calibration(plant: PlantInputs, folder: Path) -> tuple[PlantInputs, list[Finding]]:
    """Return a plant with the calibration of its folder, where that counts, and a note where it does not."""
    found, problem = read_calibration(folder)
    if found is None:
        return _lapsed(plant, None, problem) if problem else (plant, [])
    now = foundation(plant, folder)
    changed = sorted(name for name in {*now, *found.rests_on} if now.get(name) != found.rests_on.get(name))
    if changed:
        return _lapsed(plant, found, f"what it rests on has changed: {', '.join(changed)}")
    if not found.calibrated:
        told = note(CALIBRATION_FILE, found.verdict, "The first guess stands; mend the model, then fit again")
        return dataclasses.replace(plant, standing=CalibrationStanding("failed", found, found.verdict)), [told]
    try:
        edited = apply_edits(plant, [(CALIBRATION_FILE, edit) for edit in found.edits])
    except BadInput as error:
        return _lapsed(plant, found, error.whys)
    return dataclasses.replace(edited, standing=CalibrationStanding("valid", found)), []


def _lapsed(plant: PlantInputs, found: Calibration | None, why: str) -> tuple[PlantInputs, list[Finding]]:
    """The plant as guessed, whose calibration counts no longer."""
    told = note(CALIBRATION_FILE, f"the calibration counts no longer: {why}", "Fit again: simkit fit PLANT")
    return dataclasses.replace(plant, standing=CalibrationStanding("out of date", found, why)), [told]


def calibration_text(calibration: Calibration) -> str:
    """Return a calibration as the text of its file."""
    tables = ("edits", "laws", "multipliers", "checks")
    plain = toml_text(calibration.model_copy(update=dict.fromkeys(tables, ())))
    plain = "".join(line + "\n" for line in plain.splitlines() if line.split(" = ")[0] not in tables)
    rows = (f"\n[[{name}]]\n{toml_text(row)}" for name in tables for row in getattr(calibration, name))
    return HEAD + plain + "".join(rows)
