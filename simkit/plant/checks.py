"""All checks across tables, run together."""

from __future__ import annotations

from collections import defaultdict
from functools import partial

from simkit.base.messages import Finding
from simkit.plant import (
    checks_faults,
    checks_materials,
    checks_names,
    checks_parts,
    checks_people,
    checks_rows,
    checks_times,
    checks_tools,
    checks_usual,
    checks_work,
)
from simkit.plant.check_register import CHECKS, DraftCheck
from simkit.plant.equal_rows import ByIdentity
from simkit.plant.plant import PlantInputs

MODULES = (
    checks_names, checks_rows, checks_work, checks_times, checks_people, checks_tools, checks_faults, checks_materials,
    checks_parts, checks_usual,
)  # fmt: skip
"""Where the checks are written; importing them registers them."""

_found: defaultdict[DraftCheck, ByIdentity[tuple[Finding, ...]]] = defaultdict(partial(ByIdentity, 24))
"""What each check found, for as many states of what it reads."""


def run_checks(plant: PlantInputs) -> list[Finding]:
    """Return the findings of every check whose inputs could be read."""
    findings: list[Finding] = []
    for names, whole, check in CHECKS:
        if not whole or not any(plant.files[name].spoiled for name in names if name in plant.files):
            findings += check(plant)
    return findings


def run_checks_anew(plant: PlantInputs) -> list[Finding]:
    """The same of a plant in memory; a check is run only if something that it reads is not what it was before."""
    findings: list[Finding] = []
    for names, _, check in CHECKS:
        findings += _found[check].of(partial(_found_by, check, plant), *(getattr(plant, name) for name in names))
    return findings


def _found_by(check: DraftCheck, plant: PlantInputs, *_: object) -> tuple[Finding, ...]:
    return tuple(check(plant))
