"""What is worth knowing of a checked plant beside what reading it found and the physics of its sheets."""

from __future__ import annotations

from simkit.base.messages import Finding
from simkit.finance.guards import money_findings
from simkit.finance.unvalued import idle_rates
from simkit.plant.plant import Plant
from simkit.process.breakfit import break_findings


def further_findings(plant: Plant) -> tuple[Finding, ...]:
    """Findings of a plant that reads well: on breaks and on money."""
    return (*break_findings(plant), *money_findings(plant), *idle_rates(plant))
