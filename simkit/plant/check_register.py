"""How a check across tables is written: what it reads, and findings about a row of a plant.

Each check takes a plant and yields findings: errors stop a run, notes are worth knowing. A check runs only when all
that it reads could be read, so that one bad cell does not start an avalanche.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import Any

from simkit.base.messages import Finding, plain
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import TABLE_OF, place_of
from simkit.plant.values import write_value

DraftCheck = Callable[[PlantInputs], Iterator[Finding]]
CHECKS: list[tuple[tuple[str, ...], bool, DraftCheck]] = []
"""(what it reads, whether faulty rows of it matter, check) in the order of their messages."""


def reads(*names: str, faulty_too: bool = False) -> Callable[[DraftCheck], DraftCheck]:
    """Register a check with all that it reads: tables, ``settings``, ``sequences``."""

    def register(check: DraftCheck) -> DraftCheck:
        CHECKS.append((names, not faulty_too, check))
        return check

    return register


def row_error(
    plant: PlantInputs, row: Any, column: str, why: str, mend: str, value: str | None = None, *, severity: str = "error"
) -> Finding:
    """Return a finding about a row: its file, its line, and what stands in the column unless another value is given."""
    if value is None:
        told = getattr(row, column)
        value = plain(told) if isinstance(told, float) else write_value(told)
    return Finding(place_of(TABLE_OF[type(row)]), why, mend, plant.line(row), column, value, severity)


row_note = partial(row_error, severity="note")
