"""The parameters of each study: one dataclass is the schema, and a test holds each notebook's cell to it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any

from simkit.base.messages import BadInput, Finding, nearest

Value = str | int | float | bool


@dataclass(frozen=True)
class StudyParameters:
    """What every study needs."""

    plant_folder: str = "../data/tarnholt"
    """The plant folder."""
    results_dir: str = "../reports/results"
    """The study folder that the simulate step wrote."""
    demand_factor: float = 1.0
    """Demand level at which the study answers, as a factor of the order book; one of those simulated."""


@dataclass(frozen=True)
class TodayParameters(StudyParameters):
    """Parameters of ``today``: can the cell of today make the order book?"""


@dataclass(frozen=True)
class OptionsParameters(StudyParameters):
    """Parameters of ``options``: what does each option give?"""


@dataclass(frozen=True)
class NightsParameters(StudyParameters):
    """Parameters of ``nights``: how many hours does an unattended night give, and what ends it?"""


@dataclass(frozen=True)
class TimesParameters(StudyParameters):
    """Parameters of ``times``: why does each program take the time it takes, and what does it ask of people?"""

    most_programs: int = 8
    """How many programs are shown element by element: those that use most hours of the book."""
    programs: str = ""
    """Further programs to show, separated by commas."""
    allowance: float = 0.12
    """Allowance of the standard times shown, as a share; an example."""
    learning_rate: float = 0.9
    """Learning rate of the curve beside the ramp in force; an example."""


@dataclass(frozen=True)
class PaybackParameters(StudyParameters):
    """Parameters of ``payback``: what is each option worth in money?"""

    drawn: str = ""
    """Scenario whose cumulative cash is drawn; empty: the bought set with the highest net present value."""


SCHEMAS: dict[str, type[StudyParameters]] = {
    "today": TodayParameters,
    "options": OptionsParameters,
    "nights": NightsParameters,
    "times": TimesParameters,
    "payback": PaybackParameters,
}
"""The studies in the order of the index, and the schema of their parameters."""

TYPES: dict[str, type] = {"str": str, "int": int, "float": float, "bool": bool}


def check_studies(studies: Sequence[str] | None) -> tuple[str, ...]:
    """Return the studies asked for (all if None) in the order of the index; unknown names raise BadInput."""
    if studies is None:
        return tuple(SCHEMAS)
    unknown = [name for name in studies if name not in SCHEMAS]
    if unknown:
        raise BadInput(Finding("studies", "there is no such study", nearest(n, SCHEMAS), value=n) for n in unknown)
    return tuple(name for name in SCHEMAS if name in studies)


def check_parameters(studies: Sequence[str], given: Mapping[str, Any]) -> dict[str, dict[str, Value]]:
    """Return the parameters of each study, or raise BadInput with every problem, before a kernel starts.

    Each study takes those of ``given`` that it knows; a name that no chosen study knows is refused with
    the nearest known name, and so is a value of another type. A whole number is accepted for a float.
    """
    known = {name: kind for study in studies for name, kind in kinds_of(SCHEMAS[study]).items()}
    findings = [f for f in (_problem(name, value, known) for name, value in given.items()) if f]
    if findings:
        raise BadInput(findings)
    return {study: {n: v for n, v in given.items() if n in kinds_of(SCHEMAS[study])} for study in studies}


def kinds_of(schema: type[StudyParameters]) -> dict[str, str]:
    """Return the type of each parameter of a schema, by name."""
    return {spec.name: str(spec.type) for spec in fields(schema)}


def _problem(name: str, value: Any, known: Mapping[str, str]) -> Finding | None:
    if name not in known:
        return Finding("parameters", "no study has a parameter of this name", nearest(name, known), value=name)
    kind = known[name]
    wanted = (int, float) if kind == "float" else (TYPES[kind],)
    if not isinstance(value, wanted) or (isinstance(value, bool) and kind != "bool"):
        why = f"a {kind} is needed, this is a {type(value).__name__}"
        return Finding("parameters", why, f"Give a {kind}", column=name, value=str(value))
    if isinstance(value, float) and not math.isfinite(value):
        return Finding("parameters", "the number is not finite", "Give a finite number", column=name, value=str(value))
    return None
