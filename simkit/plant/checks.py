"""All checks across tables, run together."""

from __future__ import annotations

from simkit.base.messages import Finding
from simkit.plant import (
    checks_faults,
    checks_motion,
    checks_nights,
    checks_parts,
    checks_people,
    checks_tools,
    checks_work,
)
from simkit.plant.checking import CHECKS
from simkit.plant.drafts import Draft

MODULES = (checks_work, checks_people, checks_nights, checks_tools, checks_faults, checks_motion, checks_parts)
"""Where the checks are written; importing them registers them."""


def run_checks(draft: Draft) -> list[Finding]:
    """Return the findings of every check whose inputs could be read."""
    findings: list[Finding] = []
    for tables, settings, check in CHECKS:
        if draft.clean(*tables) and (draft.settings is not None or not settings):
            findings += check(draft)
    return findings
