"""Shifts that every demo plant may add."""

from __future__ import annotations

from cell_rows import OPERATOR
from option_parts import Entry, add_row, option


def saturday_shift() -> Entry:
    """Return the Saturday shift with an operator and a bench person at 1.35 of their rate."""
    return option(
        "C2", "Saturday 06-12 as a normal shift", "calendar", (0, 0, 0), lead=2,
        note="Paid by hours, with the overtime premium in the rate. Forgotten: people's agreement. Loses when the "
             "week's hours are enough.",
        edits=[add_row("plant.calendar.shifts", name="saturday", days=["Sat"], start="06:00", end="12:00",
                       breaks=[["09:00", "09:15"]]),
               add_row("people", person_id="OP-S", skills=list(OPERATOR), rate_per_h=41.85, shift="saturday"),
               add_row("people", person_id="BEN-S", skills=["bench"], rate_per_h=35.1, shift="saturday")],
    )  # fmt: skip
