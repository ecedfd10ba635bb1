"""What the cases of all studies have in common: a name, a group, options, and the physics that they were run with.

Such cases are no options of the plant: each combines the plant's options and changes a few settings, and only the
study that asks for it lists it.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any, Generic, Self, TypeVar

import pandas as pd

from simkit.analysis.low_capital import Options
from simkit.base.messages import BadInput
from simkit.experiment.results import Results
from simkit.plant.plant import Plant, Scenario
from simkit.plant.scenarios import make_scenario


class OfRow:
    """What a run card holds as a row of plain values."""

    @classmethod
    def of_row(cls, row: Mapping[str, Any]) -> Self:
        """Return what such a row tells; its lists are tuples again."""
        return cls(**{name: tuple(value) if isinstance(value, list) else value for name, value in row.items()})


@dataclass(frozen=True)
class StudyCase(OfRow):
    """A case of a study: its name and group, what it is in words, its options, and the hash of what was simulated."""

    name: str
    group: str
    what: str
    options: Options = ()
    physics_hash: str = field(default="", kw_only=True)

    def scenario(self, plant: Plant) -> Scenario:
        """The case as a scenario; raises BadInput if it is not legal."""
        return make_scenario(plant, self.options, name=self.name)

    def why_illegal(self, plant: Plant) -> str:
        """Why the case cannot be simulated, or an empty text."""
        try:
            self.scenario(plant)
        except BadInput as error:
            return error.whys
        return ""


@dataclass(frozen=True)
class ChangedCase(StudyCase):
    """A case with overrides of settings on top of its options, and ``facts``: numbers known without the cell."""

    overrides: tuple[str, ...] = ()
    facts: Mapping[str, float] = field(default_factory=dict)

    def scenario(self, plant: Plant) -> Scenario:
        """The case as a scenario; raises BadInput if it is not legal."""
        return make_scenario(plant, self.options, self.overrides, self.name)


AnyCase = TypeVar("AnyCase", bound=StudyCase)


@dataclass(frozen=True)
class Simulated(Generic[AnyCase]):
    """What was simulated for a study of cases: results, the cases by name, and tables of what was recorded."""

    results: Results
    cases: dict[str, AnyCase]
    tables: dict[str, pd.DataFrame]


def legal_scenarios(cases: Iterable[AnyCase], plant: Plant) -> list[tuple[AnyCase, Scenario]]:
    """Cases that are legal in a plant, each with its scenario."""
    found = []
    for case in cases:
        with suppress(BadInput):
            found.append((case, case.scenario(plant)))
    return found


def with_physics(cases: Iterable[AnyCase], scenarios: Iterable[Scenario]) -> dict[str, AnyCase]:
    """Cases by name, each with the physics of its scenario; ``scenarios`` stand in the order of the cases."""
    pairs = zip(cases, scenarios, strict=True)
    return {case.name: dataclasses.replace(case, physics_hash=own.physics_hash) for case, own in pairs}
