"""A plant as the analyst holds it, and scenarios: the plant with options, then with changes of single inputs."""

from __future__ import annotations

import datetime as dt
import math
import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from simkit.analysis.option_sets import why_illegal
from simkit.base.messages import BadInput, Finding
from simkit.desk import belief, night_tables, time_tables
from simkit.desk.calibration_tables import calibration_of
from simkit.desk.notebook_display import facts_html
from simkit.desk.part_tables import PlantParts
from simkit.desk.tool_tables import PlantTools
from simkit.plant import plant as tables
from simkit.plant.hashes import inputs_sha256
from simkit.plant.options import TODAY, capital_of
from simkit.plant.reading import check_plant
from simkit.plant.scenarios import make_scenario, parse_combination
from simkit.plant.toml_files import toml_value
from simkit.report.sentences_calibration import mark

Changes = Mapping[str, Any]
"""New values by path: ``{"elements[load].typical": 1.5}``; a path that ends in ``*`` or ``+`` multiplies or adds."""


@dataclass(frozen=True, eq=False, repr=False)
class Plant:
    """A checked plant folder, as it was when it was read.

    ``inputs`` are its tables and settings, ``notes`` the findings that forbid nothing, ``inputs_sha256`` the hash of
    its files. ``changes``, as ``path=value``, hold in the inputs and not in the files.
    """

    folder: Path
    inputs: tables.PlantInputs
    notes: tuple[Finding, ...]
    inputs_sha256: str
    changes: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """Name of the plant."""
        return self.inputs.settings.name

    @property
    def options(self) -> dict[str, str]:
        """Name of every option, by its id."""
        return {option.id: option.name for option in self.inputs.options}

    @property
    def marks(self) -> tuple[str, ...]:
        """What every page of this plant bears: the verdict of its calibration."""
        return (mark(self.inputs.standing),)

    @property
    def calibrated(self) -> bool:
        """Whether it was fitted to observed weeks, met those held back, and nothing has changed since."""
        return self.inputs.calibration is not None

    calibration = calibration_of

    def called(self, option: str) -> str:
        """Name of an option in at most three words."""
        return self.inputs.option_by_id[option].called

    @property
    def demand(self) -> float:
        """Demand at which questions are answered where none is named, as a factor of the order book."""
        return self.inputs.settings.run.demand_factor

    @cached_property
    def tools(self) -> PlantTools:
        """Scenarios for questions about tools: every fix, the magazine at other sizes and without look-ahead."""
        return PlantTools(self)

    @cached_property
    def parts(self) -> PlantParts:
        """Scenarios for questions about parts: ways to hand over, picks of other times, nights."""
        return PlantParts(self)

    def scenario(self, name: str = "", options: str | Sequence[str] = (), changes: Changes | None = None) -> Scenario:
        """Return the plant with these options, then with these changes of single inputs.

        ``options`` are ids, as in ``["A1", "N2"]`` or ``"A1+N2"``. ``changes`` are ``{path: value}`` in the grammar of
        options.toml and ``--set``, in the unit of the field; they reach rows that an option adds. ``name`` defaults to
        the options. Raises :class:`~simkit.base.messages.BadInput` with every problem and the nearest known names.
        """
        chosen = parse_combination(options) if isinstance(options, str) else tuple(options)
        texts = as_overrides(changes or {})
        called = name or (f"{'+'.join(chosen) or TODAY}, changed" if texts else "")
        return self.with_overrides(chosen, texts, called)

    def with_overrides(self, options: Sequence[str], texts: Sequence[str], name: str = "") -> Scenario:
        """Return a scenario as :meth:`scenario` does, of changes that are written as ``path=value`` already."""
        return Scenario(self, make_scenario(self.inputs, tuple(options), tuple(texts), name))

    def scenarios(
        self, sets: Mapping[str, str | Sequence[str]], changes: Changes | None = None
    ) -> tuple[Scenario, ...]:
        """Return a scenario for each name and its options, with those of the changes that lead somewhere in it.

        A change of a row that an option adds reaches the scenarios with that option. Raises BadInput for a change that
        reaches none, as :meth:`scenario` does.
        """
        made = tuple(self.scenario(name, options) for name, options in sets.items())
        return where_they_reach(made, changes or {})

    basis = belief.basis_table
    option_facts = belief.option_table
    rules = belief.rules_table
    findings = belief.notes_table
    cautions = belief.cautions_table
    night_options = night_tables.night_options
    night_fixes = night_tables.night_fixes

    def on_package(self, options: Sequence[str], package: Sequence[str]) -> list[str]:
        """The options on top of those of a package that go with them: what they rule out is left out."""
        held: list[str] = []
        for name in package:
            if name not in options and not why_illegal(self.inputs, (*held, name, *options)):
                held.append(name)
        return [*held, *options]

    def require_unchanged(self) -> None:
        """Refuse to go on with inputs that the folder no longer holds. Raises BadInput."""
        if not self.folder.is_dir() or inputs_sha256(self.folder) != self.inputs_sha256:
            why = "the plant folder has changed since it was read"
            raise BadInput([Finding(str(self.folder), why, "Read it again: plant = simkit.read_plant(...)")])

    def _facts(self) -> dict[str, str]:
        made = self.inputs
        return {
            "folder": str(self.folder),
            "orders": f"{len(made.orders)} of {len({order.program_id for order in made.orders})} programs",
            "machines and people": f"{len(made.machines)} and {len(made.people)}",
            "options": ", ".join(f"{key} {name}" for key, name in self.options.items()) or "none",
            "notes": f"{len(self.notes)}" if self.notes else "none",
        }

    def __repr__(self) -> str:
        """Return the plant in one line."""
        made = self.inputs
        return f"<Plant {self.name}: {len(made.orders)} orders, {len(made.options)} options, {self.folder}>"

    def _repr_html_(self) -> str:
        return facts_html(self.name, self._facts())


@dataclass(frozen=True, eq=False, repr=False)
class Scenario:
    """A plant with options and changes applied and checked; ``made`` is what the cell simulates."""

    plant: Plant
    made: tables.ScenarioInputs

    @property
    def name(self) -> str:
        """Name of the scenario."""
        return self.made.name

    @property
    def options(self) -> tuple[str, ...]:
        """Ids of its options."""
        return self.made.option_ids

    @property
    def changes(self) -> tuple[str, ...]:
        """Its changes, as ``path=value``."""
        return self.made.overrides

    @property
    def capital(self) -> float:
        """Quoted capital of its options, before any grant."""
        return capital_of([self.plant.inputs.option_by_id[name] for name in self.options])

    elements = time_tables.element_table
    run_times = time_tables.run_time_table
    families = time_tables.family_table
    program = time_tables.program_table
    limits = time_tables.limit_table

    def again(self, changes: Changes) -> Scenario:
        """Return the same scenario with further changes."""
        return self.plant.with_overrides(self.options, (*self.changes, *as_overrides(changes)), self.name)

    def named(self, name: str) -> Scenario:
        """Return the same scenario under another name."""
        return self.plant.with_overrides(self.options, self.changes, name)

    def __repr__(self) -> str:
        """Return the scenario in one line."""
        return f"<Scenario {self.name}: options {'+'.join(self.options) or 'none'}; {self._changed()}>"

    def _changed(self) -> str:
        return "; ".join(self.changes) or "no changes"

    def _repr_html_(self) -> str:
        names = ", ".join(f"{key} {self.plant.options[key]}" for key in self.options)
        return facts_html(self.name, {"options": names or "none", "changes": self._changed()})


def where_they_reach(scenarios: Sequence[Scenario], changes: Changes) -> tuple[Scenario, ...]:
    """Return scenarios with those of the changes that lead somewhere in each; BadInput for one that reaches none."""
    found = list(scenarios)
    findings: list[Finding] = []
    for path, value in changes.items():
        reached = 0
        problems: tuple[Finding, ...] = ()
        for place, scenario in enumerate(found):
            try:
                found[place] = scenario.again({path: value})
                reached += 1
            except BadInput as error:
                problems = problems or error.findings
        findings += problems if not reached else ()
    if findings:
        raise BadInput(findings)
    return tuple(found)


def read_plant(folder: str | Path) -> Plant:
    """Return the checked plant of a folder; raises BadInput with all errors of all files."""
    place = Path(folder)
    there = place.is_dir()
    return _read(place, place.resolve(), inputs_sha256(place) if there else "", *(os.listdir(place) if there else ()))


@lru_cache(maxsize=4)
def _read(place: Path, resolved: Path, digest: str, *_: str) -> Plant:
    """The plant of a folder whose files have this digest and these names: read and checked once by a process."""
    made, findings = check_plant(place)
    if made is None:
        raise BadInput(finding for finding in findings if finding.severity == "error")
    return Plant(resolved, made, findings, digest)


def as_overrides(changes: Changes) -> tuple[str, ...]:
    """Return changes as ``path=value``, ``path*=factor`` and ``path+=summand``, values written as in TOML.

    Raises BadInput with every value that cannot be written so.
    """
    findings: list[Finding] = []
    texts: list[str] = []
    for path, value in changes.items():
        try:
            texts.append(f"{path}={toml_value('none' if value is None else _plain(value))}")
        except ValueError as error:
            mend = "Write a number, a text, true or false, a date, or a list of these"
            findings.append(Finding("changes", str(error), mend, column=str(path), value=repr(value)))
    if findings:
        raise BadInput(findings)
    return tuple(texts)


def _plain(value: Any) -> Any:
    """The value in Python's own types, whatever library it comes from. Raises ValueError for what no field holds."""
    if isinstance(value, np.generic):
        return _plain(value.item())
    if isinstance(value, float) and not math.isfinite(value):
        raise ValueError("is not a finite number")
    if isinstance(value, str | bool | int | float | dt.date | dt.time):
        return value
    if isinstance(value, Mapping):
        return {str(key): _plain(part) for key, part in value.items()}
    if isinstance(value, Iterable):
        return [_plain(part) for part in value]
    raise ValueError(f"is a {type(value).__name__}, which no field holds")
