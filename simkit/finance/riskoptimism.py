"""Optimism: published uplifts as named sensitivities, never as a default, and the plant's own past projects.

Requests for investment are on average too cheap, too quick and too good. Published uplifts come from public works and
have classes; a machine from a catalogue lies near the lower bound of its class. A plant's own last projects are the
better guide. Nothing here is applied unless a reader asks for it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from simkit.plant.settings_risk import PastProject

SOURCE = (
    "HM Treasury, supplementary Green Book guidance on optimism bias, indicative table after Mott MacDonald 2002; "
    "from a copy of the table and its worked example"
)


@dataclass(frozen=True)
class Uplift:
    """Upper and lower uplift of a class of project, fractions of the estimate; None: none is published."""

    kind: str
    duration_upper: float | None
    duration_lower: float | None
    capital_upper: float
    capital_lower: float


UPLIFTS: tuple[Uplift, ...] = (
    Uplift("standard buildings", 0.04, 0.01, 0.24, 0.02),
    Uplift("non-standard buildings", 0.39, 0.02, 0.51, 0.04),
    Uplift("standard civil engineering", 0.20, 0.01, 0.44, 0.03),
    Uplift("non-standard civil engineering", 0.25, 0.03, 0.66, 0.06),
    Uplift("equipment and development", 0.54, 0.10, 2.00, 0.10),
)
"""Classes of the published table; its class for outsourcing speaks of yearly cost (41 % upper, 0 % lower)."""

EQUIPMENT = UPLIFTS[-1]
"""The class of equipment; its upper bound is for development, not for a catalogue machine."""


@dataclass(frozen=True)
class PastRatios:
    """What finished projects came to, over what was planned: capital, yearly benefit, weeks to use (None: not told)."""

    projects: int
    capital: float
    benefit: float | None
    weeks: float | None


def past_ratios(projects: Sequence[PastProject]) -> PastRatios | None:
    """Mean ratios of the plant's past projects, reached over planned; None without any."""
    if not projects:
        return None
    capital = [p.capital_paid / p.capital_planned for p in projects]
    benefit = [
        p.benefit_reached / p.benefit_planned
        for p in projects
        if p.benefit_planned is not None and p.benefit_reached is not None
    ]
    weeks = [p.weeks_taken / p.weeks_planned for p in projects if p.weeks_planned is not None and p.weeks_taken]
    return PastRatios(
        len(projects),
        float(np.mean(capital)),
        float(np.mean(benefit)) if benefit else None,
        float(np.mean(weeks)) if weeks else None,
    )
