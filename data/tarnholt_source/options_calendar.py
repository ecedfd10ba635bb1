"""Calendar options C1 to C5 of the demo plant."""

from __future__ import annotations

from cell_rows import OPERATOR
from option_parts import ASSESSED, FIRE, Entry, add_row, edit, option, remove_row
from options_shifts import saturday_shift
from settings_base import WORKDAYS

CALENDAR = "calendar"
UNATTENDED = [["A1", "A1b"], "A5b", ["A4", "A8"]]
"""What unattended running needs: a magazine, a store, and a way to be rid of parts or sheets."""

CONFIRMED_H = 20.0
"""Hours a week that the subcontractor of C4 confirms: the cap is the plant's, and only a confirmation raises it."""


def calendar_options() -> list[Entry]:
    """Return the options that change hours: the true competitors of any machine."""
    return [_dropped_shift(), *_more_hours(), _subcontract(), _weekend()]


def _window(days: list[str], start: str, end: str) -> Entry:
    return add_row("plant.calendar.night.windows", days=days, start=start, end=end)


def _dropped_shift() -> Entry:
    return option(
        "C1", "Drop the evening shift and run it unattended", CALENDAR, (5, 8, 12), yearly=6, lead=12,
        needs=UNATTENDED, excludes=["C3"], lines=[FIRE],
        note="Yearly cost: on-call pay. Stays: filling, clearing and releasing in the morning. Forgotten: notice, the "
             "insurer, and that a run ends at the first event that needs a person. Loses when the queue is shorter "
             "than the first stop.",
        edits=[*ASSESSED, edit("plant.calendar.shifts[late].days", []), remove_row("people[OP-L]"),
               remove_row("people[BEN-L]"), _window(WORKDAYS, "14:00", "06:00")],
    )  # fmt: skip


def _more_hours() -> list[Entry]:
    night = {"shift": "night"}
    return [
        saturday_shift(),
        option(
            "C3", "Third attended shift", CALENDAR, (3, 5, 8), lead=8, excludes=["C1"],
            note="Paid by hours, with the night premium. Forgotten: a third crew must be found and kept. "
                 "Loses when two shifts are enough.",
            edits=[add_row("plant.calendar.shifts", name="night", days=WORKDAYS, start="22:00", end="06:00",
                           breaks=[["01:00", "01:15"], ["03:30", "04:00"]]),
                   add_row("people", person_id="OP-N", skills=list(OPERATOR), rate_per_h=31.0, **night),
                   add_row("people", person_id="BEN-N", skills=["bench"], rate_per_h=26.0, **night)],
        ),
    ]  # fmt: skip


def _subcontract() -> Entry:
    return option(
        "C4", "Subcontract the overflow", CALENDAR, (0, 0, 0), lead=2,
        note="A subcontractor who has been named confirms 20 h a week, so that today's cap rises to them, at "
             "the invoice price. Forgotten: transport, own checks, lead time. Loses when freed hours are at hand.",
        edits=[edit("plant.overflow.subcontractor", "an invented subcontractor"),
               edit("plant.overflow.subcontract_confirmed_h_per_week", CONFIRMED_H),
               edit("plant.rules.subcontract_cap_h_per_week", CONFIRMED_H)],
    )  # fmt: skip


def _weekend() -> Entry:
    return option(
        "C5", "Weekend unattended", CALENDAR, (2, 3, 5), yearly=4, lead=8, needs=UNATTENDED, lines=[FIRE],
        note="Yearly cost: on-call pay. Stays: everything that waits for Monday. Forgotten: the first stop ends the "
             "weekend. Loses when the queue is empty on Friday.",
        edits=[*ASSESSED, _window(["Fri"], "22:00", "06:00"), _window(["Sat", "Sun"], "06:00", "06:00")],
    )  # fmt: skip
