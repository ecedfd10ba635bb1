"""Rows of the cell that are Uthmarsh's own: times, people, what waits at the start, stops."""

from __future__ import annotations

import cell_rows
from cell_rows import OPERATOR, Uses
from drawing import DrawnOrder
from uthmarsh_facts import SHOP

from simkit.plant.tables import Element, Person, StartRow, Stop

RUNNING_H_PER_SHIFT = 7.25 * 0.25
"""Attended hours of a shift without breaks, times the share of process in them (static sums)."""

PER_WORKED_HOUR = {"contour": 277.0, "hit": 2250.0, "sheet": 6.8, "running_hour": 0.75}
"""What an hour worked at night would bring of sheets alone: mean sheets of the book (40.7 contours, 331 hits,
6.6 min of running) with 0.9 min of loading and 1.3 min of pulling out."""

BACKLOG_DAYS = {28 + 3: 2, 28 + 4: 1}
"""Days of the book whose orders wait at the start, and working days from then to Monday. Rule of the demo."""

ORDER_FIXED_MIN = (3.0, 6.0, 8.0)
"""Usual range of papers, programs and booking together 1.5 to 8 min, common practice, no source."""


BENCH = {
    "break_out": (4.0, 6.5, 11.0), "micro_joint": (0.5, 1.0, 3.0), "heavy_part": (0.3, 0.7, 1.5),
    "skeleton_by_hand": (0.33, 0.6, 1.0),
}  # fmt: skip
"""Seconds a part, a tab and a kilogram, minutes a sheet: low, typical and high. Usual ranges, common practice, no
source."""


def element_rows() -> list[Element]:
    """Return the base's rows without films and chute, with less papers an order and a slower bench."""
    rows = [row for row in cell_rows.element_rows() if row.element not in ("film_pass", "chute_sort")]
    return cell_rows.retimed(rows, {"order_fixed": ORDER_FIXED_MIN, **BENCH})


def people_rows() -> list[Person]:
    """Return an operator and a bench person a shift, and who is shared with other work."""
    return [
        Person(person_id="SET-1", skills=("technician", "clear", "preparation"), shift="early", rate_per_h=36.0,
               duties="Mon-Fri 10:00-14:00"),
        Person(person_id="OP-E", skills=OPERATOR, shift="early", rate_per_h=31.0),
        Person(person_id="OP-L", skills=OPERATOR, shift="late", rate_per_h=31.0),
        Person(person_id="BEN-E", skills=("bench",), shift="early", rate_per_h=26.0),
        Person(person_id="BEN-L", skills=("bench",), shift="late", rate_per_h=26.0),
        Person(person_id="PRG-1", skills=("programming",), shift="early", rate_per_h=39.0),
    ]  # fmt: skip


def start_rows(uses: Uses, orders: list[DrawnOrder]) -> list[StartRow]:
    """Return the turret by use, and the backlog."""
    return [*cell_rows.turret_rows(SHOP, uses), *cell_rows.backlog_rows(SHOP, orders, BACKLOG_DAYS)]


def stop_rows() -> list[Stop]:
    """Return the base's causes; what a night brings is counted on this plant's sheets."""
    return cell_rows.stop_rows(RUNNING_H_PER_SHIFT, PER_WORKED_HOUR)
