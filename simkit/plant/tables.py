"""The rows of the plant folder's tables: one frozen dataclass per file.

Columns without a default are required. Lists are ``;``-separated in the file. Units are those
written in :func:`simkit.base.fields.column`; nothing is converted when a row is read.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from simkit.base.fields import column
from simkit.base.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE
from simkit.base.vocabulary import (
    BASES,
    ELEMENT_STATES,
    EXPECTED,
    EXPOSURES,
    HANDOVERS,
    NIGHT_LIMITS,
    PARAMETRIC_LAWS,
    PRICED,
    SKILLS,
)  # fmt: skip

Numbers = tuple[float, ...]
Words = tuple[str, ...]

EXCHANGES = ("tool_load", "die_change", "angle_change", "magazine_exchange", "magazine_die_change")
"""Ways in which a tool is exchanged: by hand, then by the magazine's gripper."""

_PRICED = ("how money reads the sheets and tools that it costs: expected, probability times exposure; counted, what "
           "came in the runs")  # fmt: skip
CARE_EXPOSURES = ("running_hour", "cutting_hour", "sheet", "open_day", "slug_kg")
"""What care is counted by; the last is the mass of slugs that falls into the bin."""

KEPT = ("cabinet", "tool_room")
"""Where a tool lies that stands neither in the turret nor in a magazine."""

HANDBOOK_METALS = ("mild steel", "stainless", "aluminium", "copper", "brass", "titanium")
"""Metals of the printed tables of strength, clearance and cutting that the kit compares with."""


@dataclass(frozen=True, kw_only=True)
class Order:
    """A work order."""

    order_id: str = column("the order's number", key=True)
    program_id: str = column("the program it runs", refers_to="programs")
    sheets: int = column("sheets to make", unit="sheets", low=1)
    released: dt.date = column("day from whose first shift it may start")
    due: dt.date = column("day by whose end it must be finished")
    rush: bool = column("overtakes orders that are not marked rush", default=False)


@dataclass(frozen=True, kw_only=True)
class Program:
    """A punching and cutting program for one sheet; all counts are per sheet."""

    program_id: str = column("the program's name", key=True)
    family: str = column("product family")
    material_id: str = column("material and thickness", refers_to="materials")
    sheet_length_mm: float = column("length of the blank sheet", unit="mm", low=1, high=6000)
    sheet_width_mm: float = column("width of the blank sheet", unit="mm", low=1, high=3000)
    hits_per_sheet: int = column("punching hits, forming hits apart", unit="hits", low=0)
    forming_hits_per_sheet: int = column("forming hits", unit="hits", low=0)
    cut_length_mm: float = column("length cut by the laser", unit="mm", low=0)
    contours: int = column("contours cut, each with one pierce", low=0)
    repositions: int = column("times the sheet is re-clamped", low=0, default=0)
    handover: str = column("how parts leave the machine", choices=HANDOVERS, default="bench")
    proven: bool = column("has run before and been released", default=False)
    material_yield: float = column("share of the sheet that becomes parts", low=0, high=1, default=0.75)
    remnant_share: float = column("share of the sheet that is left in one piece fit for use; part of its skeleton "
                                  "where it is not kept (plant.store.remnants_kept)",
                                  low=0, high=1, default=0.0)  # fmt: skip
    measured_run_s: float | None = column("measured run time, wins over the estimate", unit="s", low=0, default=None)
    mean_pitch_mm: float | None = column("mean distance from one hit to the next, for the motion of the machine",
                                         unit="mm", low=0, high=6000, default=None)  # fmt: skip
    rapid_mm: float | None = column("mean travel of the laser head from one contour to the next",
                                    unit="mm", low=0, high=6000, default=None)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class ProgramPart:
    """A part on a program's sheet; a mixed nest has several."""

    program_id: str = column("the program", key=True, refers_to="programs")
    part_id: str = column("the part", key=True)
    per_sheet: int = column("parts of this kind on a sheet", unit="parts", low=1)
    length_mm: float = column("longer side", unit="mm", low=0)
    width_mm: float = column("shorter side", unit="mm", low=0)
    mass_kg: float = column("mass of one part", unit="kg", low=0)
    form_height_mm: float = column("height of the tallest form on it", unit="mm", low=0, default=0.0)
    flat_area_mm2: float = column("area free for suction cups", unit="mm2", low=0, default=0.0)
    clear_circle_mm: float | None = column("largest circle without a hole or cut-out around its centre of mass; 0: "
                                           "the centre lies outside it; empty: not known, counts as large enough",
                                           unit="mm", low=0, default=None)  # fmt: skip
    tabs: int = column("micro-joints that hold one part", low=0, default=0)
    surface_sensitive: bool = column("marks and scratches count as faults", default=False)
    order_id: str = column("order it belongs to, if the nest mixes orders", default="")


@dataclass(frozen=True, kw_only=True)
class ProgramTool:
    """A tool that a program uses."""

    program_id: str = column("the program", key=True, refers_to="programs")
    tool_id: str = column("the tool", key=True, refers_to="tools")
    hits_per_sheet: int = column("hits on one sheet", unit="hits", low=0)
    angle: float = column("angle at which it stands", unit="deg", low=-360, high=360, default=0.0, key=True)


@dataclass(frozen=True, kw_only=True)
class Tool:
    """A punching or forming tool; copies are alike and numbered from 1."""

    tool_id: str = column("the tool's number", key=True)
    shape: str = column("shape and size in words; cluster 25x5 is 25 rounds of 5 mm that strike at once")
    length_mm: float = column("longer side of the figure", unit="mm", low=0)
    width_mm: float = column("shorter side of the figure", unit="mm", low=0)
    station_size_mm: float = column("size class of the station it fits", unit="mm", low=1)
    kind: str = column("what it does to the sheet", choices=("cutting", "forming"), default="cutting")
    positions: int = column("stations it takes", low=1, high=2, default=1)
    needs_turning: bool = column("needs a turning station", default=False)
    form_height_mm: float = column("height above the table of a forming tool", unit="mm", low=0, default=0.0)
    form_direction: str = column("side to which it forms", choices=("none", "up", "down"), default="none")
    clearances: Numbers = column("die clearances owned, total", unit="mm", is_list=True, default=())
    copies: int = column("copies owned", low=1, default=1)
    kept: str = column("where it lies when it stands neither in the turret nor in a magazine", choices=KEPT,
                       default="cabinet")  # fmt: skip
    tracked: bool = column("hits are counted and it is reground at its limit", default=False)
    life_law: str = column("law of hits between regrinds", choices=PARAMETRIC_LAWS, default="constant")
    life_hits: float | None = column("mean hits between regrinds; empty: never wears", low=1, default=None)
    life_cv: float = column("coefficient of variation of that life", low=0, default=0.0)
    regrind_limit_hits: float | None = column("hits after which a tracked tool is reground", low=1, default=None)
    grind_life: int = column("regrinds before replacement", low=0, default=12)
    price: float = column("price of punch, die and stripper", unit="money", low=0, default=0.0)
    die_price_share: float = column("share of the die in the price", low=0, high=1, default=0.4)


@dataclass(frozen=True, kw_only=True)
class Material:
    """A material at one thickness."""

    material_id: str = column("material and thickness", key=True)
    metal: str = column("kind of metal, for scrap and gas")
    thickness_mm: float = column("sheet thickness", unit="mm", low=0.1, high=30)
    density_kg_m3: float = column("density", unit="kg/m3", low=500, high=25000)
    clearance_mm: float = column("total die clearance used for it", unit="mm", low=0)
    cutting_speed_m_min: float = column("effective cutting speed", unit="m/min", low=0.01)
    pierce_s: float = column("time of one pierce", unit="s", low=0)
    nozzle: str = column("nozzle it is cut with", default="standard")
    gas: str = column("assist gas", default="nitrogen")
    price_per_kg: float = column("sheet price", unit="money/kg", low=0, default=0.0)
    scrap_price_per_kg: float = column("credit for its scrap", unit="money/kg", low=0, default=0.0)
    shear_strength_mpa: float | None = column("shear strength; empty: from the tensile strength, else 300",
                                              unit="MPa", low=1, high=3000, default=None)  # fmt: skip
    wear_factor: float = column("hits counted per hit for tool wear", low=0, default=1.0)
    tensile_mpa: float | None = column("tensile strength", unit="MPa", low=1, high=3000, default=None)
    handbook: str = column("its metal in printed tables, for checks of plausibility; empty: not compared",
                           choices=HANDBOOK_METALS, default="")  # fmt: skip
    nozzle_mm: float | None = column("opening of its nozzle", unit="mm", low=0.3, high=10, default=None)
    gas_pressure_bar: float | None = column("pressure of the assist gas at the nozzle, above the surroundings",
                                            unit="bar gauge", low=0, high=60, default=None)  # fmt: skip
    sheets_per_pack: int | None = column("sheets of a full pack; empty: it never runs out", unit="sheets", low=1,
                                         default=None)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Element:
    """A time element: how long something takes, per what, by whom, and in which state."""

    element: str = column("name of the element", key=True)
    applies_to: str = column("rows it is for, as in family=GALL or mass_kg>25; empty: all", default="", key=True)
    task_of: str = column("machine: needs nobody; otherwise the skill of who does it",
                          choices=("machine", *SKILLS), default="machine")  # fmt: skip
    unit: str = column("time unit and what it is counted per, as in min/order or s/hit")
    state: str = column("where its time goes", choices=ELEMENT_STATES)
    law: str = column("law of its duration", choices=(*PARAMETRIC_LAWS, "empirical"), default="constant")
    typical: float = column("mean, in its unit", low=0)
    cv: float = column("coefficient of variation", low=0, default=0.0)
    file: str = column("file of values for the law empirical, in its unit", default="")
    low: float | None = column("low end of the uncertainty of the mean", low=0, default=None)
    high: float | None = column("high end of the uncertainty of the mean", low=0, default=None)
    basis: str = column("where the number comes from", choices=BASES, default="default")
    n: int = column("observations behind it", low=0, default=0)
    source: str = column("who or what says so", default="common practice, no source")
    owner: str = column("who answers for it", default="")
    date: dt.date | None = column("when it was taken", default=None)


@dataclass(frozen=True, kw_only=True)
class MachineRow:
    """A machine of the cell; ``overrides`` are edits that hold for it alone."""

    machine_id: str = column("the machine's name", key=True)
    overrides: str = column("edits for this machine, path=value separated by ;", default="")


@dataclass(frozen=True, kw_only=True)
class Person:
    """A person who works in the cell."""

    person_id: str = column("code, no names", key=True)
    skills: Words = column("what the person may do", choices=SKILLS, is_list=True)
    shift: str = column("shift of the calendar, or always, or on_call: comes at night when called")
    rate_per_h: float = column("loaded cost", unit="money/h", low=0, default=0.0)
    duties: str = column("away from the cell, as in Mon-Fri 10:00-14:00, separated by ;", default="")
    absence_share: float = column("share of shifts missed; the same ones in all options", low=0, high=1, default=0.0)
    employment: str = column("who pays: own, or agency by the hour", choices=("own", "agency"), default="own")
    elsewhere_min: float = column("mean length of a piece of work in other cells, from which nobody calls the person "
                                  "back; 0: none", unit="min", low=0, default=0.0)  # fmt: skip
    elsewhere_per_h: float | None = column("such calls per hour at work, by chance, as urgent as a stop here; empty: "
                                           "whenever nothing here waits that the person could do", unit="calls/h",
                                           low=0, default=None)  # fmt: skip
    elsewhere_law: str = column("law of that length", choices=PARAMETRIC_LAWS, default="constant")
    elsewhere_cv: float = column("coefficient of variation of that length", low=0, default=0.0)

    @property
    def share_called(self) -> float:
        """Share of the time at work that calls to other cells take on average; 1 and more: they never end."""
        return (self.elsewhere_per_h or 0.0) * self.elsewhere_min * SECONDS_PER_MINUTE / SECONDS_PER_HOUR


@dataclass(frozen=True, kw_only=True)
class CalendarDay:
    """A day that differs from the week's pattern."""

    date: dt.date = column("the day", key=True)
    shift: str = column("the shift that differs; empty: all", default="", key=True)
    change: str = column("what differs", choices=("closed", "moved", "added"), default="closed")
    start: str = column("new start, HH:MM", default="")
    end: str = column("new end, HH:MM", default="")
    note: str = column("why", default="")


@dataclass(frozen=True, kw_only=True)
class StartRow:
    """What is where at the start: a tool in the turret, a tool in the magazine, an order in work."""

    what: str = column("kind of thing", choices=("turret", "magazine", "backlog"), key=True)
    item: str = column("tool_id, or order_id of the book whose copy waits", key=True)
    station: int = column("station it stands in (turret)", low=0, default=0, key=True)
    clearance_mm: float | None = column("clearance it stands at", unit="mm", low=0, default=None)
    angle: float = column("angle it stands at", unit="deg", default=0.0)
    hits: float = column("hits since regrind", low=0, default=0.0)
    grinds: int = column("regrinds so far of the copy that stands there", low=0, default=0)
    sheets: int = column("sheets still to make (backlog); 0: all", low=0, default=0)
    due_in_days: int = column("working days to its due date (backlog)", default=3)


@dataclass(frozen=True, kw_only=True)
class HistoryRow:
    """What was made when."""

    order_id: str = column("the order", key=True)
    machine: str = column("the machine")
    started: dt.datetime = column("first sheet started")
    finished: dt.datetime = column("last part out")
    sheets: int = column("sheets made", low=0)
    scrap: int = column("sheets scrapped", low=0, default=0)


@dataclass(frozen=True, kw_only=True)
class Stop:
    """A cause of unplanned stops."""

    cause: str = column("the cause", key=True)
    exposure: str = column("what it grows with", choices=EXPOSURES)
    rate: float = column("stops per unit of exposure", low=0)
    retries: int = column("tries to go on without a person", low=0, default=0)
    retry_success: float = column("chance that one try succeeds", low=0, high=1, default=0.0)
    retry_s: float = column("time of one try", unit="s", low=0, default=0.0)
    repair_law: str = column("law of the time to clear", choices=(*PARAMETRIC_LAWS, "sequence"), default="constant")
    repair_min: float = column("mean time to clear", unit="min", low=0)
    repair_cv: float = column("coefficient of variation of that time", low=0, default=0.0)
    clears: str = column("who clears it", choices=("nobody", "clear", "technician"), default="clear")
    sheets_scrapped: float = column("sheets lost on average", unit="sheets", low=0, default=0.0)
    break_share: float = column("share that breaks a tool", low=0, high=1, default=0.0)
    file: str = column("file of exposures between stops and repair times, for sequence laws", default="")
    early_factor: float = column("rate at the start of the run over the settled rate", low=0.01, high=100, default=1.0)
    settle_weeks: float = column("time constant with which the rate settles exponentially; 0: settled from the start",
                                 unit="weeks", low=0, default=0.0)  # fmt: skip
    priced: str = column(_PRICED, choices=PRICED, default=EXPECTED)
    basis: str = column("where the number comes from", choices=BASES, default="default")
    source: str = column("who or what says so", default="common practice, no source")


@dataclass(frozen=True, kw_only=True)
class LoadFault:
    """A way in which a tool is loaded wrongly; all rows that are for an exchange count, in the order of the file."""

    fault: str = column("the fault", key=True)
    applies_to: str = column("tools and programs it is for, as in elongated=true; empty: all", default="", key=True)
    exchanges: Words = column("exchanges at which it happens", choices=EXCHANGES, is_list=True)
    rate: float = column("share of such exchanges", low=0, high=1)
    break_share: float = column("share in which the tool breaks at its first hit", low=0, high=1, default=0.0)
    found_first_piece: float = column("of those that break nothing, share found when a first piece is measured",
                                      low=0, high=1, default=0.0)  # fmt: skip
    found_after_sheets: float = column("mean sheets made until it is found otherwise, at the latest the order's last",
                                       unit="sheets", low=1, default=1.0)  # fmt: skip
    repair_law: str = column("law of the time to put it right", choices=PARAMETRIC_LAWS, default="constant")
    repair_min: float = column("mean time to put it right", unit="min", low=0)
    repair_cv: float = column("coefficient of variation of that time", low=0, default=0.0)
    clears: str = column("who puts it right", choices=("clear", "technician"), default="clear")
    priced: str = column(_PRICED, choices=PRICED, default=EXPECTED)
    basis: str = column("where the number comes from", choices=BASES, default="default")
    source: str = column("who or what says so", default="common practice, no source")


@dataclass(frozen=True, kw_only=True)
class Upkeep:
    """A routine care task."""

    task: str = column("the task", key=True)
    exposure: str = column("what it is counted by", choices=CARE_EXPOSURES)
    interval: float = column("exposure between two times; of slug_kg, what the bin holds in kg", low=0)
    duration_min: float = column("time, isolation apart", unit="min", low=0)
    duration_law: str = column("law of that time", choices=PARAMETRIC_LAWS, default="constant")
    duration_cv: float = column("coefficient of variation", low=0, default=0.0)
    needs_person: bool = column("needs a person", default=True)
    planned_in_break: bool = column("done in breaks, costs no machine time when attended", default=False)
    break_by: str = column("who does what is planned in breaks: crew, the one with the skill upkeep whose break comes "
                           "next, who takes the break after it; others, who are not of the cell",
                           choices=("crew", "others"), default="crew")  # fmt: skip
    isolation_min: float = column("time to isolate and release, never zero at a hazard", unit="min", low=0, default=0.0)
    night_limit: str = column("how a night that it ends is counted", choices=NIGHT_LIMITS, default="output")
    basis: str = column("where the number comes from", choices=BASES, default="default")
    source: str = column("who or what says so", default="common practice, no source")


@dataclass(frozen=True, kw_only=True)
class Quality:
    """A cause of marks, burr or scrap on parts."""

    cause: str = column("the cause", key=True)
    applies_to: str = column("parts it is for, as in surface_sensitive=true; empty: all; handover is how the part "
                             "itself leaves: bench, stack, removal or chute", default="", key=True)  # fmt: skip
    rate: float = column("share of parts, or of lifts of a part, that it marks", low=0, high=1)
    per: str = column("part: once a part; lift: at each time that the part is lifted after it is cut, alone or in its "
                      "sheet", choices=("part", "lift"), default="part")  # fmt: skip
    rework_min: float = column("rework of one part", unit="min", low=0, default=0.0)
    scrap_share: float = column("share of those that is scrap", low=0, high=1, default=0.0)
    basis: str = column("where the number comes from", choices=BASES, default="default")
    source: str = column("who or what says so", default="common practice, no source")


@dataclass(frozen=True, kw_only=True)
class ObservedWeek:
    """What the plant really did in a week."""

    week: int = column("number of the observed week", key=True, low=1)
    monday: dt.date = column("its Monday")
    attended_h: float = column("attended hours", unit="h", low=0)
    sheets: int = column("sheets made", low=0)
    parts: int = column("parts made", low=0)
    orders_finished: int = column("orders finished", low=0)
    setup_h: float = column("hours of changeover, material and first piece", unit="h", low=0)
    handling_h: float = column("hours of loading and pulling out", unit="h", low=0)
    process_h: float = column("hours of punching, forming and cutting", unit="h", low=0)
    stopped_h: float = column("hours stopped, short losses included", unit="h", low=0)
    tool_loads: int = column("tools fetched and fitted", low=0)
    die_changes: int = column("dies changed for clearance only", low=0)
    use: str = column("what the week is for", choices=("calibrate", "validate"), default="validate")


TABLES: dict[str, type] = {
    "orders": Order, "programs": Program, "program_parts": ProgramPart, "program_tools": ProgramTool,
    "tools": Tool, "materials": Material, "elements": Element, "machines": MachineRow, "people": Person,
    "calendar": CalendarDay, "start": StartRow, "history": HistoryRow, "stops": Stop,
    "load_faults": LoadFault, "upkeep": Upkeep, "quality": Quality, "observed": ObservedWeek,
}  # fmt: skip
"""File name (without ``.csv``) to row type."""

REQUIRED_TABLES = ("orders", "programs", "materials", "elements", "machines", "people")
"""Files that must exist; the others may be missing, which means no rows."""
