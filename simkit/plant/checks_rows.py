"""Checks that need no more than one row: what of it cannot stand beside what else is in it, one rule each."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from functools import partial
from typing import Any, NamedTuple

from simkit.base.messages import Finding, plain
from simkit.base.vocabulary import BENCH, ON_CALL, OUTSIDE
from simkit.plant.check_register import reads, row_error
from simkit.plant.conditions import PART_FACTS, asked_facts, can_be_shared
from simkit.plant.plant import PlantInputs

REACH = 1.1
"""A figure may be this much longer than the size of its station. Common practice, no source."""


class Rule(NamedTuple):
    """Rows of a table of which ``broken`` is true are told, at a column; as a note where the run can go on."""

    table: str
    column: str
    broken: Callable[[Any], bool]
    why: Callable[[Any], str]
    mend: str
    severity: str = "error"


def _above(low: float | None, high: float | None) -> bool:
    """Whether the first is known and above the second, which is known too."""
    return low is not None and high is not None and low > high


def _corners_mm(program: Any) -> float:
    return math.hypot(program.sheet_length_mm, program.sheet_width_mm)


IN_ORDER = "Make low <= typical <= high, all in the same unit"
ON_ONE_SHEET = "Give the mean distance on one sheet, in mm"

RULES = (
    Rule("orders", "due", lambda row: row.due < row.released,
         lambda row: f"is before the day of release, {row.released}",
         "Correct one of the two days; day and month may have changed places"),
    Rule("history", "finished", lambda row: row.finished < row.started,
         lambda row: f"is before the start, {row.started}", "Correct one of the two"),
    Rule("calendar", "start", lambda row: row.change != "closed" and not (row.start and row.end),
         lambda row: f"a shift that is {row.change} needs its start and end", "Write both as HH:MM"),
    Rule("programs", "mean_pitch_mm", lambda row: _above(row.mean_pitch_mm, _corners_mm(row)),
         lambda row: f"is longer than the sheet from corner to corner, {_corners_mm(row):.0f} mm", ON_ONE_SHEET),
    Rule("programs", "rapid_mm", lambda row: _above(row.rapid_mm, _corners_mm(row)),
         lambda row: f"is longer than the sheet from corner to corner, {_corners_mm(row):.0f} mm", ON_ONE_SHEET),
    Rule("elements", "typical", lambda row: _above(row.low, row.typical),
         lambda row: f"{row.element} is below its low end, {row.low:g}", IN_ORDER),
    Rule("elements", "typical", lambda row: _above(row.typical, row.high),
         lambda row: f"{row.element} is above its high end, {row.high:g}", IN_ORDER),
    Rule("elements", "task_of",
         lambda row: row.state in (BENCH, OUTSIDE) and row.task_of == "machine" and row.typical > 0,
         lambda row: f"{row.element} is work at the bench or outside the machine's time, but nobody does it",
         "Name the skill of who does it, so that moved work is not free", "note"),
    Rule("elements", "parallel_share", lambda row: row.parallel_share > 0 and not can_be_shared(row),
         lambda row: f"{row.element}: a share is told for a second person, but only set-up by hand is shared (state "
                     "changeover, by a person, not per regrind), so that it does nothing",
         "Write 0, or move the share to the set-up rows; at heavy sheets a second person helps in any case", "note"),
    Rule("people", "elsewhere_per_h", lambda row: bool(row.elsewhere_per_h) and not row.elsewhere_min,
         lambda row: "calls without a length take no time",
         "Write elsewhere_min, the mean length of such work", "note"),
    Rule("people", "elsewhere_per_h", lambda row: row.share_called >= 1,
         lambda row: f"calls of {row.elsewhere_min:g} min each fill more than the person's time at work",
         "Write fewer or shorter calls, or leave the person out"),
    Rule("people", "elsewhere_min",
         lambda row: bool(row.elsewhere_min) and row.share_called < 1 and row.shift == ON_CALL,
         lambda row: "a person on call is not at work, so never works elsewhere", "Leave it out", "note"),
    Rule("stops", "acts", lambda row: row.acts != "both" and row.exposure == "calendar_hour",
         lambda row: f"{row.cause}: calendar hours pass whether or not somebody is there",
         "Write acts = both, or count it per running_hour"),
    Rule("load_faults", "applies_to", lambda row: not set(PART_FACTS).isdisjoint(asked_facts(row.applies_to)),
         lambda row: "asks about a part, but a tool is loaded for a whole sheet", "Ask about the tool or the sheet"),
    Rule("tools", "length_mm",
         lambda row: row.kind == "cutting" and max(row.length_mm, row.width_mm) > REACH * row.station_size_mm,
         lambda row: f"{row.tool_id}: {plain(max(row.length_mm, row.width_mm))} mm does not fit a station of "
                     f"{plain(row.station_size_mm)} mm",
         "Correct the sides or the size of the station, all in mm", "note"),
    Rule("materials", "shear_strength_mpa", lambda row: _above(row.shear_strength_mpa, row.tensile_mpa),
         lambda row: f"is above the tensile strength, {row.tensile_mpa:g} MPa; it is usually 0.6 to 0.8 of it",
         "Correct one of the two; they may have changed places"),
    Rule("materials", "nozzle_mm", lambda row: row.nozzle_mm is not None and row.gas_pressure_bar is None,
         lambda row: "stands without gas_pressure_bar, so that no flow of gas can be worked out",
         "Give gas_pressure_bar as well; until then machine.gas_m3_per_h counts", "note"),
    Rule("materials", "gas_pressure_bar", lambda row: row.gas_pressure_bar is not None and row.nozzle_mm is None,
         lambda row: "stands without nozzle_mm, so that no flow of gas can be worked out",
         "Give nozzle_mm as well; until then machine.gas_m3_per_h counts", "note"),
    Rule("materials", "scrap_price_per_kg", lambda row: 0 < row.price_per_kg < row.scrap_price_per_kg,
         lambda row: f"{row.material_id}: scrap earns more than a new sheet costs, {plain(row.price_per_kg)} a kg",
         "Correct one of the two", "note"),
)  # fmt: skip


def rule_holds(rule: Rule, plant: PlantInputs) -> Iterator[Finding]:
    """Tell every row that breaks a rule."""
    for row in getattr(plant, rule.table):
        if rule.broken(row):
            yield row_error(plant, row, rule.column, rule.why(row), rule.mend, severity=rule.severity)


for _rule in RULES:
    reads(_rule.table)(partial(rule_holds, _rule))
