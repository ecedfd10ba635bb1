"""Rows of the cell that are Quennow's own: times, people, the turret at the start, care and stops."""

from __future__ import annotations

import dataclasses

import cell_rows
from cell_rows import OPERATOR
from drawing import DrawnOrder
from quennow_facts import CLEARANCES_HELD, SHOP
from work_rows import tool_id

from simkit.plant.tables import Element, Person, StartRow, Stop, Tool, Upkeep

RUNNING_H_PER_SHIFT = 9.0 * 0.42
"""Attended hours of the shift without breaks, times the share of process in them (static sums)."""

PER_WORKED_HOUR = {"contour": 420.0, "hit": 2530.0, "sheet": 8.63, "running_hour": 0.68}
"""What an hour worked at night brings: mean sheets of the book (48.7 contours, 293 hits, 4.75 min of running) with
0.9 min of loading and 1.3 min of pulling out."""

BACKLOG_DAYS = {21 + 1: 4, 21 + 2: 3, 21 + 3: 2}
"""Days of the book whose orders wait at the start, and working days from then to Monday. Rule of the demo."""

NOZZLE_CHECK_H = 8.0
"""Usual range 2 to 8 h, common practice, no source: one nozzle and thin mild steel only."""


NOT_HERE = ("film_pass", "chute_sort", "remnant")
BENCH = {
    "break_out": (4.0, 6.5, 11.0), "micro_joint": (1.0, 2.0, 3.0), "heavy_part": (0.3, 0.7, 1.5),
    "skeleton_by_hand": (0.33, 0.6, 1.0),
}  # fmt: skip
"""Seconds a part, a tab and a kilogram, minutes a sheet: low, typical and high. Usual ranges, common practice, no
source."""


def element_rows() -> list[Element]:
    """Return the base's rows without films, chute, remnants and tool room, and a slower bench."""
    rows = [row for row in cell_rows.element_rows()
            if row.element not in NOT_HERE and row.applies_to != "kept=tool_room"]  # fmt: skip
    return cell_rows.retimed(rows, BENCH)


def tool_rows(rows: list[Tool]) -> list[Tool]:
    """Return the tools with a second copy of every cutting tool and the two clearances that are used."""
    return [row if row.kind == "forming" else dataclasses.replace(row, copies=2, clearances=CLEARANCES_HELD)
            for row in rows]  # fmt: skip


def people_rows() -> list[Person]:
    """Return the two people of the shift, and who is shared: the tool room for two hours, programming for two."""
    return [
        Person(person_id="SET-1", skills=("technician", "clear", "preparation"), shift="day", rate_per_h=36.0,
               duties="Mon-Fri 08:00-16:00"),
        Person(person_id="OP-1", skills=OPERATOR, shift="day", rate_per_h=31.0),
        Person(person_id="BEN-1", skills=("bench",), shift="day", rate_per_h=26.0),
        Person(person_id="PRG-1", skills=("programming",), shift="day", rate_per_h=39.0,
               duties="Mon-Fri 08:00-16:00"),
    ]  # fmt: skip


def start_rows(orders: list[DrawnOrder]) -> list[StartRow]:
    """Return the full turret, every tool at its place, and the backlog."""
    free: dict[float, list[int]] = {}
    for place, station in enumerate(cell_rows.stations(), start=1):
        free.setdefault(float(str(station["size_mm"])), []).append(place)
    rows = []
    for row, tool in enumerate(SHOP.tools):
        for clearance in (None,) if tool.forming else CLEARANCES_HELD:
            place = free[tool.size].pop()
            rows.append(StartRow(what="turret", item=tool_id(row), station=place, clearance_mm=clearance, hits=12600.0))
    return [*rows, *cell_rows.backlog_rows(SHOP, orders, BACKLOG_DAYS)]


def stop_rows() -> list[Stop]:
    """Return the base's causes; what a night brings is counted on this plant's sheets."""
    return cell_rows.stop_rows(RUNNING_H_PER_SHIFT, PER_WORKED_HOUR)


def upkeep_rows() -> list[Upkeep]:
    """Return the base's care with the longer interval of the nozzle check."""
    return [dataclasses.replace(row, interval=NOZZLE_CHECK_H) if row.task == "nozzle_check" else row
            for row in cell_rows.upkeep_rows()]  # fmt: skip
