"""The rows of the plant folder's tables: one frozen dataclass per file, checked whenever a row is made.

Columns without a default are required. Lists are ``;``-separated in the file. Units are those
written in :func:`simkit.plant.fields.column`; nothing is converted when a row is read.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field
from pydantic.dataclasses import dataclass

from simkit.base.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE
from simkit.base.vocabulary import ELEMENT_STATES, HANDOVERS, KEPT, PARAMETRIC_LAWS, SKILLS
from simkit.plant.conditions import Condition, Duties, ElementUnit
from simkit.plant.fields import ROW, OneOf, column
from simkit.plant.tables_faults import CARE_EXPOSURES as CARE_EXPOSURES
from simkit.plant.tables_faults import Basis, LawName
from simkit.plant.tables_faults import LoadFault as LoadFault
from simkit.plant.tables_faults import Quality as Quality
from simkit.plant.tables_faults import Stop as Stop
from simkit.plant.tables_faults import Upkeep as Upkeep
from simkit.plant.values import LISTED, Day, Flag, Id, Moment, Number, Numbers, WallTime, Whole


@dataclass(frozen=True, kw_only=True, config=ROW)
class Measured:
    """A timed observation of a time element, as of a time study."""

    number: Whole = column("number of the observation", key=True, low=1)
    element: str = column("the element's name")
    applies_to: str = column("the row of the element, as it stands there", default="")
    value: Annotated[Number, Field(gt=0)] = column("how long it took, in the element's unit")
    cut_off: Flag = column("watching ended before it did", default=False)
    date: Day | None = column("when it was taken", default=None)


HANDBOOK_METALS = ("mild steel", "stainless", "aluminium", "copper", "brass", "titanium")
"""Metals of the printed tables of strength, clearance and cutting that the kit compares with."""

Skill = Annotated[str, OneOf(SKILLS)]
TaskOf = Annotated[str, OneOf(("machine", *SKILLS))]
Kept = Annotated[str, OneOf(KEPT)]
Handbook = Annotated[str, OneOf((*HANDBOOK_METALS, ""))]


@dataclass(frozen=True, kw_only=True, config=ROW)
class Order:
    """A work order."""

    order_id: Id = column("the order's number", key=True)
    program_id: str = column("the program it runs", refers_to="programs")
    sheets: Whole = column("sheets to make", unit="sheets", low=1, high=100_000)
    released: Day = column("day from whose first shift it may start")
    due: Day = column("day by whose end it must be finished")
    rush: Flag = column("overtakes orders that are not marked rush", default=False)


@dataclass(frozen=True, kw_only=True, config=ROW)
class Program:
    """A punching and cutting program for one sheet; all counts are per sheet."""

    program_id: Id = column("the program's name", key=True)
    family: Id = column("product family")
    material_id: Id = column("material and thickness", refers_to="materials")
    sheet_length_mm: Number = column("length of the blank sheet", unit="mm", low=1, high=6000)
    sheet_width_mm: Number = column("width of the blank sheet", unit="mm", low=1, high=3000)
    hits_per_sheet: Whole = column("punching hits, forming hits apart", unit="hits", low=0)
    forming_hits_per_sheet: Whole = column("forming hits", unit="hits", low=0)
    cut_length_mm: Number = column("length cut by the laser", unit="mm", low=0)
    contours: Whole = column("contours cut, each with one pierce", low=0)
    repositions: Whole = column("times the sheet is re-clamped", low=0, default=0)
    handover: Annotated[str, OneOf(HANDOVERS)] = column("how parts leave the machine", default="bench")
    proven: Flag = column("has run before and been released", default=False)
    remnant_share: Number = column("share of the sheet that is left in one piece fit for use; part of its skeleton "
                                   "where it is not kept (plant.store.remnants_kept)",
                                   low=0, high=1, default=0.0)  # fmt: skip
    measured_run_s: Number | None = column("measured run time, wins over the estimate", unit="s", low=0, default=None)
    mean_pitch_mm: Number | None = column("mean distance from one hit to the next, for the motion of the machine",
                                          unit="mm", low=0, high=6000, default=None)  # fmt: skip
    rapid_mm: Number | None = column("mean travel of the laser head from one contour to the next",
                                     unit="mm", low=0, high=6000, default=None)  # fmt: skip


@dataclass(frozen=True, kw_only=True, config=ROW)
class ProgramPart:
    """A part on a program's sheet; a mixed nest has several."""

    program_id: str = column("the program", key=True, refers_to="programs")
    part_id: Id = column("the part", key=True)
    per_sheet: Whole = column("parts of this kind on a sheet", unit="parts", low=1, high=10_000)
    length_mm: Number = column("longer side", unit="mm", low=0)
    width_mm: Number = column("shorter side", unit="mm", low=0)
    mass_kg: Number = column("mass of one part", unit="kg", low=0)
    form_height_mm: Number = column("height of the tallest form on it", unit="mm", low=0, default=0.0)
    flat_area_mm2: Number = column("area free for suction cups", unit="mm2", low=0, default=0.0)
    clear_circle_mm: Number | None = column("largest circle without a hole or cut-out around its centre of mass; 0: "
                                            "the centre lies outside it; empty: not known, counts as large enough",
                                            unit="mm", low=0, default=None)  # fmt: skip
    tabs: Whole = column("micro-joints that hold one part", low=0, default=0)
    surface_sensitive: Flag = column("marks and scratches count as faults", default=False)
    order_id: str = column("order it belongs to, if the nest mixes orders", default="")


@dataclass(frozen=True, kw_only=True, config=ROW)
class ProgramTool:
    """A tool that a program uses."""

    program_id: str = column("the program", key=True, refers_to="programs")
    tool_id: str = column("the tool", key=True, refers_to="tools")
    hits_per_sheet: Whole = column("hits on one sheet", unit="hits", low=0)
    angle: Number = column("angle at which it stands", unit="deg", low=-360, high=360, default=0.0, key=True)


@dataclass(frozen=True, kw_only=True, config=ROW)
class Tool:
    """A punching or forming tool; copies are alike and numbered from 1."""

    tool_id: Id = column("the tool's number", key=True)
    shape: str = column("shape and size in words; cluster 25x5 is 25 rounds of 5 mm that strike at once")
    length_mm: Number = column("longer side of the figure", unit="mm", low=0)
    width_mm: Number = column("shorter side of the figure", unit="mm", low=0)
    station_size_mm: Number = column("size class of the station it fits", unit="mm", low=1)
    kind: Literal["cutting", "forming"] = column("what it does to the sheet", default="cutting")
    positions: Whole = column("stations it takes", low=1, high=2, default=1)
    needs_turning: Flag = column("needs a turning station", default=False)
    form_height_mm: Number = column("height above the table of a forming tool", unit="mm", low=0, default=0.0)
    clearances: Numbers = column("die clearances owned, total", unit="mm", default=())
    copies: Whole = column("copies owned by the cell, whose machines share them", low=1, high=1000, default=1)
    kept: Kept = column("where it lies when it stands neither in the turret nor in a magazine",
                        default="cabinet")  # fmt: skip
    tracked: Flag = column("hits are counted and it is reground at its limit", default=False)
    life_law: LawName = column("law of hits between regrinds", default="constant")
    life_hits: Number | None = column("mean hits between regrinds; empty: never wears", low=1, default=None)
    life_cv: Number = column("coefficient of variation of that life", low=0, default=0.0)
    regrind_limit_hits: Number | None = column("hits after which a tracked tool is reground", low=1, default=None)
    grind_life: Whole = column("regrinds before replacement", low=0, default=12)
    price: Number = column("price of punch, die and stripper", unit="money", low=0, default=0.0)


@dataclass(frozen=True, kw_only=True, config=ROW)
class Material:
    """A material at one thickness."""

    material_id: Id = column("material and thickness", key=True)
    metal: Id = column("kind of metal, for scrap and gas")
    thickness_mm: Number = column("sheet thickness", unit="mm", low=0.1, high=30)
    density_kg_m3: Number = column("density", unit="kg/m3", low=500, high=25000)
    clearance_mm: Number = column("total die clearance used for it", unit="mm", low=0)
    cutting_speed_m_min: Number = column("effective cutting speed", unit="m/min", low=0.01)
    pierce_s: Number = column("time of one pierce", unit="s", low=0)
    nozzle: Id = column("nozzle it is cut with", default="standard")
    gas: Id = column("assist gas", default="nitrogen")
    price_per_kg: Number = column("sheet price", unit="money/kg", low=0, default=0.0)
    scrap_price_per_kg: Number = column("credit for its scrap", unit="money/kg", low=0, default=0.0)
    shear_strength_mpa: Number | None = column("shear strength; empty: from the tensile strength, else from print",
                                               unit="MPa", low=1, high=3000, default=None)  # fmt: skip
    wear_factor: Number = column("hits counted per hit for tool wear", low=0, default=1.0)
    tensile_mpa: Number | None = column("tensile strength", unit="MPa", low=1, high=3000, default=None)
    handbook: Handbook = column(
        "its metal in printed tables, for checks of plausibility; empty: not compared", default=""
    )
    nozzle_mm: Number | None = column("opening of its nozzle", unit="mm", low=0.3, high=10, default=None)
    gas_pressure_bar: Number | None = column("pressure of the assist gas at the nozzle, above the surroundings",
                                             unit="bar gauge", low=0, high=60, default=None)  # fmt: skip
    sheets_per_pack: Whole | None = column("sheets of a full pack; empty: it never runs out", unit="sheets", low=1,
                                           default=None)  # fmt: skip


@dataclass(frozen=True, kw_only=True, config=ROW)
class Element:
    """A time element: how long something takes, per what, by whom, and in which state."""

    element: Id = column("name of the element", key=True)
    applies_to: Condition = column("rows it is for, as in family=GALL or mass_kg>25; empty: all", default="", key=True)
    task_of: TaskOf = column("machine: needs nobody; otherwise the skill of who does it", default="machine")
    unit: ElementUnit = column("time unit and what it is counted per, as in min/order or s/hit")
    state: Annotated[str, OneOf(ELEMENT_STATES)] = column("where its time goes")
    law: Annotated[str, OneOf((*PARAMETRIC_LAWS, "empirical"))] = column("law of its duration", default="constant")
    typical: Number = column("mean, in its unit", low=0)
    cv: Number = column("coefficient of variation", low=0, default=0.0)
    file: str = column("file of values for the law empirical, in its unit", default="")
    low: Number | None = column("low end of the uncertainty of the mean", low=0, default=None)
    high: Number | None = column("high end of the uncertainty of the mean", low=0, default=None)
    parallel_share: Number = column(
        "of set-up by hand (state changeover), the share that a second person can do beside the first: it then lasts "
        "the larger of the share and its rest, and each works his own part, the first the longer one. Asked once, when "
        "the work begins: whoever is free then, has the skill, could do nothing else that waits, and stays until his "
        "part is done; without such a person nothing changes, and nobody waits for one",
        low=0, high=1, default=0.0)  # fmt: skip
    basis: Basis = column("where the number comes from", default="default")
    n: Whole = column("observations behind it", low=0, default=0)
    source: str = column("who or what says so", default="common practice, no source")
    owner: str = column("who answers for it", default="")
    date: Day | None = column("when it was taken", default=None)

    @property
    def driver(self) -> str:
        """What its time is counted per."""
        return self.unit.partition("/")[2]


@dataclass(frozen=True, kw_only=True, config=ROW)
class MachineRow:
    """A machine of the cell; ``overrides`` are edits that hold for it alone."""

    machine_id: Id = column("the machine's name", key=True)
    overrides: str = column("edits for this machine, path=value separated by ;", default="")


@dataclass(frozen=True, kw_only=True, config=ROW)
class Person:
    """A person who works in the cell."""

    person_id: Id = column("code, no names", key=True)
    skills: Annotated[tuple[Skill, ...], LISTED] = column(
        "what the person may do; who may load or pull out is a second pair of hands at heavy sheets, too",
    )
    shift: str = column("shift of the calendar, or always, or on_call: comes at night when called")
    rate_per_h: Number = column("loaded cost", unit="money/h", low=0, default=0.0)
    duties: Duties = column("away from the cell, as in Mon-Fri 10:00-14:00, separated by ;", default="")
    absence_share: Number = column("share of shifts missed; the same ones in all options", low=0, high=1, default=0.0)
    employment: Literal["own", "agency"] = column("who pays: own, or agency by the hour", default="own")
    elsewhere_min: Number = column("mean length of a piece of work in other cells, from which nobody calls the person "
                                   "back; 0: none", unit="min", low=0, default=0.0)  # fmt: skip
    elsewhere_per_h: Number | None = column("such calls per hour at work, by chance, as urgent as a stop here; empty: "
                                            "whenever nothing here waits that the person could do", unit="calls/h",
                                            low=0, default=None)  # fmt: skip
    elsewhere_law: LawName = column("law of that length", default="constant")
    elsewhere_cv: Number = column("coefficient of variation of that length", low=0, default=0.0)

    @property
    def abilities(self) -> tuple[str, ...]:
        """Skills, and the second pair of hands of whoever may handle sheets."""
        helps = not {"load", "unload"}.isdisjoint(self.skills) and "second_person" not in self.skills
        return (*self.skills, "second_person") if helps else self.skills

    @property
    def share_called(self) -> float:
        """Share of the time at work that calls to other cells take on average; 1 and more: they never end."""
        return (self.elsewhere_per_h or 0.0) * self.elsewhere_min * SECONDS_PER_MINUTE / SECONDS_PER_HOUR


@dataclass(frozen=True, kw_only=True, config=ROW)
class CalendarDay:
    """A day that differs from the week's pattern."""

    date: Day = column("the day", key=True)
    shift: str = column("the shift that differs; empty: all", default="", key=True)
    change: Literal["closed", "moved", "added"] = column("what differs", default="closed")
    start: WallTime = column("new start, HH:MM", default="")
    end: WallTime = column("new end, HH:MM", default="")
    note: str = column("why", default="")


@dataclass(frozen=True, kw_only=True, config=ROW)
class StartRow:
    """What is where at the start: a tool in the turret, a tool in the magazine, an order in work."""

    what: Literal["turret", "magazine", "backlog"] = column("kind of thing", key=True)
    item: str = column("tool_id, or order_id of the book whose copy waits", key=True)
    station: Whole = column(
        "station it stands in (turret), at the first machine; at each further one stand the next "
        "copies as far as there are any",
        low=0,
        default=0,
        key=True,
    )
    clearance_mm: Number | None = column("clearance it stands at", unit="mm", low=0, default=None)
    angle: Number = column("angle it stands at", unit="deg", default=0.0)
    hits: Number = column("hits since regrind", low=0, default=0.0)
    grinds: Whole = column("regrinds so far of the copy that stands there", low=0, default=0)
    sheets: Whole = column("sheets still to make (backlog); 0: all", low=0, default=0)
    due_in_days: Whole = column("working days to its due date (backlog)", default=3)


@dataclass(frozen=True, kw_only=True, config=ROW)
class HistoryRow:
    """What was made when."""

    order_id: Id = column("the order", key=True)
    machine: str = column("the machine")
    started: Moment = column("first sheet started")
    finished: Moment = column("last part out")
    sheets: Whole = column("sheets made", low=0)
    scrap: Whole = column("sheets scrapped", low=0, default=0)


@dataclass(frozen=True, kw_only=True, config=ROW)
class ObservedWeek:
    """What the plant really did in a week."""

    week: Whole = column("number of the observed week", key=True, low=1)
    monday: Day = column("its Monday")
    attended_h: Number = column("attended hours", unit="h", low=0)
    sheets: Whole = column("sheets made", low=0)
    parts: Whole = column("parts made", low=0)
    orders_finished: Whole = column("orders finished", low=0)
    setup_h: Number = column("hours of changeover, material and first piece", unit="h", low=0)
    handling_h: Number = column("hours of loading and pulling out", unit="h", low=0)
    process_h: Number = column("hours of punching, forming and cutting", unit="h", low=0)
    stopped_h: Number = column("hours stopped, short losses included", unit="h", low=0)
    tool_loads: Whole = column("tools fetched and fitted", low=0)
    die_changes: Whole = column("dies changed for clearance only", low=0)
    use: Literal["calibrate", "validate"] = column("what the week is for", default="validate")


TABLES: dict[str, type] = {
    "orders": Order, "programs": Program, "program_parts": ProgramPart, "program_tools": ProgramTool,
    "tools": Tool, "materials": Material, "elements": Element, "machines": MachineRow, "people": Person,
    "calendar": CalendarDay, "start": StartRow, "history": HistoryRow, "stops": Stop,
    "load_faults": LoadFault, "upkeep": Upkeep, "quality": Quality, "observed": ObservedWeek,
    "measured": Measured,
}  # fmt: skip
"""File name (without ``.csv``) to row type."""

TABLE_OF = {row_type: table for table, row_type in TABLES.items()}


def place_of(table: str) -> str:
    """Return the file of a table, as messages name it."""
    return f"{table}.csv"


WITHDRAWN_COLUMNS = {
    "material_yield": "what becomes parts follows from program_parts.csv",
    "form_direction": "forms count by their height alone",
    "die_price_share": "a tool is paid for as a whole",
}
"""Columns that are no more, since nothing was worked out from them, and what holds instead."""

REQUIRED_TABLES = ("orders", "programs", "materials", "elements", "machines", "people")
"""Files that must exist; the others may be missing, which means no rows."""
