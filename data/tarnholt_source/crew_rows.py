"""The people of Tarnholt, and what waits for them at the start."""

from __future__ import annotations

from cell_rows import OPERATOR

from simkit.plant.tables import Person

RUNNING_H_PER_SHIFT = 7.25 * 0.36
"""Attended hours of a shift without breaks, times the share of process in them (static sums of the demo)."""

BACKLOG_DAYS = {21 + 3: 2, 21 + 4: 1}
"""Days of the book whose orders wait at the start, and working days from then to Monday. Rule of the demo."""


def people_rows() -> list[Person]:
    """Return the people: an operator and a bench person per shift, and who is shared with other work.

    The setter comes first, so that he is called to a breakdown while he is there; at other times the
    operator clears it with the maintenance shop on the telephone.
    """
    return [
        Person(person_id="SET-1", skills=("technician", "clear", "preparation"), shift="early", rate_per_h=36.0,
               duties="Mon-Fri 10:00-14:00"),
        Person(person_id="OP-E", skills=OPERATOR, shift="early", rate_per_h=31.0),
        Person(person_id="OP-L", skills=OPERATOR, shift="late", rate_per_h=31.0),
        Person(person_id="BEN-E", skills=("bench",), shift="early", rate_per_h=26.0),
        Person(person_id="BEN-L", skills=("bench",), shift="late", rate_per_h=26.0),
        Person(person_id="HLP-1", skills=("second_person", "material"), shift="early", rate_per_h=26.0,
               duties="Mon-Fri 06:00-08:00;Mon-Fri 12:30-14:00"),
        Person(person_id="PRG-1", skills=("programming",), shift="early", rate_per_h=39.0,
               duties="Mon-Fri 09:15-14:00"),
    ]  # fmt: skip
