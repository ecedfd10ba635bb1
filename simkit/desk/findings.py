"""What is worth knowing of a checked plant beside what reading it found and the physics of its sheets.

A check of a plant loads neither tables nor pictures.
"""

from __future__ import annotations

from rich.table import Table

from simkit.base.messages import Finding
from simkit.finance.guards import idle_rates, money_findings
from simkit.plant.plant import PlantInputs
from simkit.process.bookweeks import book_weeks
from simkit.process.breakfit import break_findings


def further_findings(plant: PlantInputs) -> tuple[Finding, ...]:
    """Findings of a plant that reads well: on breaks and on money."""
    return (*break_findings(plant), *money_findings(plant), *idle_rates(plant))


def week_table(plant: PlantInputs) -> Table:
    """The release weeks that a projection draws from, with what is released in each: an empty one stands out."""
    table = Table(title="Release weeks that are drawn from")
    for head in ("Monday", "orders", "sheets", "planned hours"):
        table.add_column(head, justify="right")
    for week in book_weeks(plant):
        table.add_row(str(week.monday), str(week.orders), str(week.sheets), number(week.planned_h))
    return table


def number(value: float) -> str:
    """A number as commands print it."""
    return f"{value:,.2f}" if abs(value) < 1 else f"{value:,.1f}"
