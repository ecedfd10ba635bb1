"""What the cases of all studies have in common: a name, a group, options, and the physics that they were run with.

Such cases are no options of the plant: each combines the plant's options and changes a few settings, and only the
study that asks for it lists it.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any, Self

import pandas as pd

from simkit.analysis.low_capital import Options
from simkit.base.messages import BadInput
from simkit.experiment.results import Results
from simkit.plant.options import Edit, Option
from simkit.plant.plant import Plant, Scenario
from simkit.plant.scenarios import make_scenario


class OfRow:
    """What a run card holds as a row of plain values."""

    @classmethod
    def of_row(cls, row: Mapping[str, Any]) -> Self:
        """Return what such a row tells; its lists are tuples again."""
        return cls(**{name: tuple(value) if isinstance(value, list) else value for name, value in row.items()})


EditRow = dict[str, Any]
"""An edit as plain data, with the keys ``path``, ``op`` and ``value`` of :class:`simkit.plant.options.Edit`."""


@dataclass(frozen=True)
class Case(OfRow):
    """A case of a study: its name and group, what it is in words, its options, and what is changed on top of them.

    ``overrides`` are changes of settings as text, ``edits`` those of an option. ``facts`` are numbers known without the
    cell: of a layout ``static_saved_h`` of ``before_h``, ``stations`` and ``twins``, of a magazine its ``share`` and
    ``places``. ``worth_h`` are the hours that each pin of a layout saves over the book beside the others, by the static
    sum. Of nights, ``want`` is what was taken away (or is the only thing left), ``of`` the case to compare with and
    ``paid_h`` the hours a week that help is paid for being there; hours away on call are counted in the runs.
    ``physics_hash`` is that of what was simulated.
    """

    name: str
    group: str
    what: str
    options: Options = ()
    overrides: tuple[str, ...] = ()
    facts: Mapping[str, float] = field(default_factory=dict)
    worth_h: tuple[float, ...] = ()
    edits: tuple[EditRow, ...] = field(default=(), kw_only=True)
    want: str = field(default="", kw_only=True)
    of: str = field(default="", kw_only=True)
    paid_h: float = field(default=0.0, kw_only=True)
    physics_hash: str = field(default="", kw_only=True)

    def scenario(self, plant: Plant) -> Scenario:
        """The case as a scenario; raises BadInput if it is not legal."""
        base = make_scenario(plant, self.options, self.overrides, self.name)
        if not self.edits:
            return base
        rows = tuple(Edit.model_validate(edit) for edit in self.edits)
        own = Option(id="case", name=self.what, kind="calendar", edits=rows)
        return make_scenario(dataclasses.replace(base.plant, options=(own,)), (own.id,), name=self.name)

    def why_illegal(self, plant: Plant) -> str:
        """Why the case cannot be simulated, or an empty text."""
        try:
            self.scenario(plant)
        except BadInput as error:
            return error.whys
        return ""


@dataclass(frozen=True)
class Simulated:
    """What was simulated for a study of cases: results, the cases by name, and tables of what was recorded."""

    results: Results
    cases: dict[str, Case]
    tables: dict[str, pd.DataFrame]


def legal_scenarios(cases: Iterable[Case], plant: Plant) -> list[tuple[Case, Scenario]]:
    """Cases that are legal in a plant, each with its scenario."""
    found = []
    for case in cases:
        with suppress(BadInput):
            found.append((case, case.scenario(plant)))
    return found


def with_physics(cases: Iterable[Case], scenarios: Iterable[Scenario]) -> dict[str, Case]:
    """Cases by name, each with the physics of its scenario; ``scenarios`` stand in the order of the cases."""
    pairs = zip(cases, scenarios, strict=True)
    return {case.name: dataclasses.replace(case, physics_hash=own.physics_hash) for case, own in pairs}
