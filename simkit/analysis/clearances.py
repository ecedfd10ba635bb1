"""At which clearances the book uses each tool, and between which it would change dies if the tool never left."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from simkit.analysis.standard_layout import StaticBook
from simkit.plant.plant import Plant


@dataclass(frozen=True)
class ClearanceUse:
    """A tool with the orders at each clearance (mm), and the changes between each pair of clearances.

    ``changes`` counts orders that use the tool at another clearance than the order before them that uses it: the
    die-only changes of a single copy that never leaves the turret.
    """

    tool_id: str
    orders: dict[float, int]
    changes: dict[tuple[float, float], int]


def clearance_uses(plant: Plant) -> dict[str, ClearanceUse]:
    """Return the tools that the book uses at more than one clearance, by id, in the order of the file."""
    orders: dict[int, Counter[float]] = {}
    changes: dict[int, Counter[tuple[float, float]]] = {}
    last: dict[int, float] = {}
    for order in StaticBook(plant).orders:
        for tool, clearance in dict.fromkeys(need[:2] for need in order.needs):
            orders.setdefault(tool, Counter())[clearance] += 1
            before = last.get(tool, clearance)
            if before != clearance:
                changes.setdefault(tool, Counter())[min(before, clearance), max(before, clearance)] += 1
            last[tool] = clearance
    return {
        plant.tools[tool].tool_id: ClearanceUse(
            plant.tools[tool].tool_id, dict(sorted(orders[tool].items())), dict(changes[tool].most_common())
        )
        for tool in sorted(changes)
    }
