"""The settings of ``plant.toml``: frozen pydantic models, unknown keys forbidden.

Each section is addressed as ``plant.section.key`` by options and overrides. Units are in the
names; the description of each field is its meaning in the field reference page.
"""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from simkit.base.units import SECONDS_PER_WEEK
from simkit.base.vocabulary import TASKS
from simkit.plant.settings_base import Multiple, OurDay, Section
from simkit.plant.settings_money import Finance, Financing, Money
from simkit.plant.settings_parts import BenchSettings, HandlingSettings, Removal, Scrap, Stack, StoreSettings
from simkit.plant.settings_risk import Risk

LawName = Literal["constant", "exponential", "gamma", "lognormal", "weibull", "triangular", "uniform"]
BreakRule = Literal["pause", "finish", "stop"]
Eviction = Literal["lru", "fifo", "soonest"]
BeforeLeaving = Literal["first_order", "care", "output", "magazine", "material"]
LONGEST_WEEKS = 1040
LONGEST_S = LONGEST_WEEKS * SECONDS_PER_WEEK
"""No run is longer: twenty years, so that a slip does not run for hours."""
TableKind = Literal["brush", "ball", "slat"]


class Shift(Section):
    """A shift of the weekly pattern; it may end on the next day."""

    name: str = Field(description="name people refer to")
    days: tuple[str, ...] = Field(description="weekdays on which it starts, Mon to Sun")
    start: str = Field(description="start, HH:MM wall time")
    end: str = Field(description="end, HH:MM wall time; not after the start: next day")
    breaks: tuple[tuple[str, str], ...] = Field(default=(), description="breaks, [from, to] wall time")


class WeeklyWindow(Section):
    """A recurring stretch of wall time."""

    days: tuple[str, ...] = Field(description="weekdays on which it starts")
    start: str = Field(description="start, HH:MM")
    end: str = Field(description="end, HH:MM; not after the start: next day")


class NightSettings(Section):
    """Unattended running: whether, when, and who assessed it."""

    rule: Literal["not_allowed", "allowed"] = Field(default="not_allowed", description="unattended running")
    windows: tuple[WeeklyWindow, ...] = Field(default=(), description="when unattended running may happen")
    assessed_by: str = Field(default="", description="who assessed unattended running; required when allowed")
    assessed_on: str = Field(default="", description="date of that assessment, YYYY-MM-DD")
    on_call_response_min: float | None = Field(
        default=None, ge=0, le=720,
        description="minutes from a call to the arrival of a person whose shift in people.csv is on_call; none: nobody "
        "is called",
    )  # fmt: skip
    on_call_calls_per_night: int = Field(
        default=1, ge=0,
        description="calls a night at most, over all machines; nobody is called who would come after the night's end",
    )  # fmt: skip

    @property
    def assessment(self) -> str:
        """Who assessed unattended running, and when, in words; no run depends on it."""
        return f"{self.assessed_by}, on {self.assessed_on or 'no date'}" if self.assessed_by else "nobody"


class Calendar(Section):
    """Shifts, closed days, overtime windows and the night rule."""

    shifts: tuple[Shift, ...] = Field(description="the weekly pattern")
    closed_days: tuple[OurDay, ...] = Field(
        default=(), description="days on which no shift, overtime window or night starts; what began before runs on"
    )
    handover_min: float = Field(
        default=0.0, ge=0, le=120,
        description="minutes that both crews talk at a shift change, at the start of the later shift; nobody of them "
        "works, and a crew that has gone is not kept for it",
    )  # fmt: skip
    overtime: tuple[WeeklyWindow, ...] = Field(
        default=(), description="windows worked only when the overtime rule asks"
    )
    overtime_shift: str = Field(default="", description="shift whose people work overtime; empty: the first")
    overtime_people: tuple[str, ...] = Field(
        default=(), description="persons who come to overtime windows and are paid for them; empty: all of that shift"
    )
    night: NightSettings = Field(default=NightSettings())


def _two_tasks(text: str) -> str:
    """Return a pair of tasks as it is written here: clear > bench."""
    first, _, second = (part.strip() for part in text.partition(">"))
    if first not in TASKS or second not in TASKS or second == "rush" or first == second:
        raise ValueError("is not two tasks, as in clear > bench; the first may be rush, for any task of a rush order")
    return f"{first} > {second}"


class People(Section):
    """Rules for people; the persons are in people.csv."""

    break_rules: dict[str, BreakRule] = Field(
        default={"load": "finish", "unload": "finish", "material": "finish", "pallet": "finish", "clear": "finish"},
        description="per task, at a break or shift end: finish first; pause and resume (default); or stop: break off, "
        "and somebody begins anew with the whole of it, so what was done is lost",
    )
    priorities: tuple[str, ...] = Field(default=(), description="tasks, most urgent first; empty: the default order")
    may_interrupt: tuple[Annotated[str, AfterValidator(_two_tasks)], ...] = Field(
        default=(),
        description="pairs, as clear > bench: when nobody is free, who does the second task goes to the first, if that "
        "is the more urgent one; what is left of the second waits for somebody",
    )
    walk_s: float = Field(default=0.0, ge=0, description="a person's time after each task at a machine, s")
    minimum_attendance: int = Field(default=1, ge=0, description="persons who must be there in a shift (posts)")
    utilisation_limit: float = Field(
        default=0.85, gt=0, le=1,
        description="share of the paid hours of people of one shift and skills that work in the cell may take in a "
        "mean week; what exceeds it costs overtime up to its cap, then posts (common practice, no source)",
    )  # fmt: skip
    overtime_premium: float = Field(default=0.35, ge=0, le=3, description="premium on overtime, fraction of the rate")
    night_premium: float = Field(default=0.25, ge=0, le=3, description="premium at night, fraction of the rate")
    standby_share: float = Field(
        default=0.0, ge=0, le=1,
        description="share of the rate paid for being on call in allowed nights; a call itself is paid apart",
    )  # fmt: skip


class Station(Section):
    """A run of like stations of the turret, in ring order."""

    size_mm: float = Field(gt=0, description="size class of the tools it takes, mm")
    also_mm: tuple[float, ...] = Field(default=(), description="further size classes it takes (with an adapter), mm")
    tools: int = Field(default=1, ge=1, le=100, description="tools of its size it holds at once (multi-tool holder)")
    count: int = Field(default=1, ge=1, le=500, description="how many in a row")
    turning: bool = Field(default=False, description="can turn its tool to any angle")
    retracting: bool = Field(default=False, description="its die can retract below the table")


class Motion(Section):
    """How fast the machine moves: gives times where no element row does, and estimates beside the rows."""

    x_speed_m_s: float | None = Field(default=None, gt=0, le=10, description="speed along the sheet's length, m/s")
    x_accel_m_s2: float | None = Field(default=None, gt=0, le=200, description="acceleration along it, m/s2")
    y_speed_m_s: float | None = Field(default=None, gt=0, le=10, description="speed across it, m/s; none: as x")
    y_accel_m_s2: float | None = Field(default=None, gt=0, le=200, description="acceleration across it; none: as x")
    jerk_m_s3: float | None = Field(default=None, gt=0, le=1e6, description="jerk of both axes, m/s3; none: no limit")
    ram_s: float | None = Field(default=None, gt=0, le=10, description="stroke of the ram at a hit, s")
    forming_ram_s: float | None = Field(default=None, gt=0, le=30, description="stroke of the ram at a forming hit, s")
    settle_s: float = Field(default=0.0, ge=0, le=10, description="from the end of a move to the stroke, s")
    clamping_s: float | None = Field(
        default=None, ge=0, le=120, description="opening and closing of clamps and hold-down at a reposition, s"
    )
    turret_step_s: float | None = Field(default=None, ge=0, le=10, description="turn of the turret by one station, s")
    turret_lock_s: float = Field(default=0.0, ge=0, le=30, description="unlocking and locking at each turn, s")
    rapid_m_s: float | None = Field(default=None, gt=0, le=10, description="speed of the laser head between cuts, m/s")
    rapid_m_s2: float | None = Field(default=None, gt=0, le=200, description="its acceleration, m/s2; none: as x")
    height_sense_s: float = Field(default=0.0, ge=0, le=10, description="finding the height at each contour, s")
    lead_in_mm: float = Field(default=0.0, ge=0, le=100, description="length of each lead-in, mm")


class MachineSettings(Section):
    """The machine, unless machines.csv overrides it."""

    table: TableKind = Field(default="brush", description="what carries the sheet; conditions may ask table=slat")
    stations: tuple[Station, ...] = Field(default=(), description="turret stations in ring order")
    tall_form_mm: float = Field(default=5.0, gt=0, description="a form at least this tall bars the stations beside it")
    press_capacity_kn: float = Field(default=200.0, gt=0, description="press capacity, kN")
    laser_power_kw: float = Field(default=4.0, ge=0, description="laser power, kW")
    lifter: bool = Field(default=False, description="a vacuum lifter replaces the second person at heavy sheets")
    one_person_kg: float = Field(default=25.0, ge=0, description="sheet mass above which one person is not enough, kg")
    nozzle_automatic: bool = Field(default=False, description="nozzle changes need no person")
    clamps_automatic: bool = Field(default=False, description="clamp changes need no person")
    running_kw: float = Field(default=14.0, ge=0, description="power while running, kW")
    idle_kw: float = Field(default=4.0, ge=0, description="power while idle, kW")
    gas_m3_per_h: float = Field(default=38.0, ge=0, description="assist gas while cutting, m3/h")
    stripping_share: float = Field(
        default=0.10, ge=0, le=1, description="stripping force over punching force, for the check of the press"
    )
    force_margin: float = Field(
        default=1.2, ge=1, le=3, description="margin on the force before it is held against the press capacity"
    )
    laser_efficiency: float | None = Field(
        default=None, gt=0, le=1, description="optical power of the laser over its electric draw"
    )
    motion: Motion = Motion()


def _size_in_mm(text: str) -> str:
    """Return a size in mm as it is written shortest; two ways of writing one size are one."""
    try:
        size = float(text)
    except ValueError:
        size = 0.0
    if not 0 < size < float("inf"):
        raise ValueError("is not a size in mm")
    return f"{size:g}"


SizeText = Annotated[str, AfterValidator(_size_in_mm)]


class Magazine(Section):
    """Tool magazine with a gripper; absent when it has no places."""

    places: dict[SizeText, Annotated[int, Field(ge=0, le=10_000)]] = Field(
        default={}, description='places by station size in mm, as in {"16" = 50}; a tool of two positions takes two'
    )
    dies_per_place: dict[SizeText, Annotated[int, Field(ge=1, le=100)]] = Field(
        default={},
        description="dies in one place by size, with a tool or, further ones of it, alone; 1 where none is given",
    )
    contents: tuple[str, ...] = Field(
        default=(),
        description="tools and clearances in it, TL-001@0.20; listed again: with a second copy; empty: the most used "
        "of the book",
    )
    loading: Literal["fixed", "ahead"] = Field(
        default="fixed",
        description="fixed: its contents never change; ahead: in attended time somebody puts in what the known "
        "queue needs, as work outside the machine (element counted per magazine_load)",
    )
    lookahead: bool = Field(default=True, description="exchanges for the next order run while the laser cuts")


class Rules(Section):
    """How orders and tools are decided, and the caps of overflow. The report prints the values in force."""

    dispatch: Literal["arrival", "due", "grouped", "searched"] = Field(default="arrival", description="order of work")
    window_orders: int = Field(default=10, ge=1, description="orders looked at by the grouped and the searched rule")
    group_nozzles: bool = Field(
        default=False, description="the grouped rule stays with a nozzle too: after the material, before the clearance"
    )
    search_evaluations: int = Field(
        default=80,
        ge=1,
        le=100_000,
        description="sequences of those orders that the searched rule looks at, at each choice",
    )
    night_queue: Literal["as_ranked", "prepared", "reserved"] = Field(
        default="as_ranked",
        description="which order comes next in an allowed night: as the rule ranks them; prepared: of those that need "
        "nobody by what is known then (program, tools, set-up, material, hand-over), the one that runs longest; if "
        "none is ready, as ranked; reserved: the same, one material after another, and by day such orders are kept "
        "back, up to the hours that the planner expects of the coming night, while due dates and other work allow it",
    )
    before_leaving_min: float = Field(
        default=0.0, ge=0, le=600, description="last attended minutes before a night in which it is prepared"
    )
    before_leaving: tuple[BeforeLeaving, ...] = Field(
        default=(),
        description="what people then do, in this order: first_order: the next order is the longest whose set-up and "
        "first piece they still finish; care: what care is counted by running is done anew; output: the whole-sheet "
        "stack, open stacks of parts and the pallet of skeletons are emptied, where a row says how long that takes; "
        "magazine: what the night's orders need is put in; material: a used pack gives way to a full one; what does "
        "not fit in stays undone",
    )
    due_guard_days: float = Field(default=1.0, ge=0, description="an order this close to its due date goes first")
    merge_days: float = Field(default=0.0, ge=0, description="repeats released within this many days are merged")
    eviction: Eviction = Field(default="soonest", description="which tool leaves the turret")
    lookahead_orders: int = Field(default=20, ge=1, description="length of the known queue, orders")
    lookahead_sheets: int = Field(
        default=1,
        ge=0,
        description="last sheets of an order used for look-ahead; 0: nothing is committed before the order is done",
    )
    first_piece: Literal["each_order", "new_program", "attended_only", "never"] = Field(
        default="each_order", description="which orders have a first piece measured and released"
    )
    first_piece_beside: Literal["none", "proven"] = Field(
        default="none",
        description="proven: in attended time an order of a proven program runs on with its next sheet while its first "
        "piece is measured, as a task of its own; what that finds counts from the next sheet that comes out, so "
        "more sheets are at risk; none: the machine waits for the release",
    )
    pinned: tuple[str, ...] = Field(default=(), description="tools that never leave the turret, TL-001 or TL-001@0.20")
    late_share_limit: float = Field(default=0.05, ge=0, le=1, description="late orders that are acceptable")
    overtime_cap_h_per_week: float = Field(default=6.0, ge=0, description="overtime at most, h per week")
    subcontract_cap_h_per_week: float = Field(
        default=0.0, ge=0, description="subcontracted hours at most, in standard hours of today's plant, h per week"
    )
    night_share_planned: float | None = Field(
        default=None, ge=0, le=1,
        description="share of the allowed unattended hours that the planner counts beside the attended ones; none: "
        "what such hours gave so far in the run while there was work, nothing before the first (common practice, no "
        "source)",
    )  # fmt: skip
    planning_factor: float = Field(
        default=1.15,
        ge=1,
        description="planner's hours for an order, over its run, handling, fixed and tool times; measure it on the "
        "hours in which the crew is there, breaks not counted: those are the hours it is compared with",
    )
    planner_load_share: float = Field(
        default=0.3, ge=0, le=1, description="share of an order's tools that the planner expects to be loaded"
    )
    planner_die_share: float = Field(
        default=0.4, ge=0, le=1, description="share of an order's tools whose die the planner expects to be changed"
    )
    other_losses: float = Field(default=0.0, ge=0, lt=1, description="share lost to what no element or stop covers")


class Overflow(Section):
    """What is done about released work that is short of time before its due dates; caps stand with the rules."""

    least_h: float = Field(
        default=1.0, ge=0, description="hours short before a due date from which an order counts as short of time"
    )
    tolerance_days: float = Field(
        default=0.0, ge=0, description="days after the end of its due date until which an order's time is counted"
    )
    overtime: bool = Field(default=False, description="overtime windows are worked when released work is short of time")
    overtime_block_h: float = Field(default=1.0, gt=0, description="overtime is worked in whole blocks of this length")
    subcontract: bool = Field(default=False, description="orders are subcontracted when released work is short of time")
    subcontract_lead_days: float = Field(
        default=3.0, ge=0, description="calendar days from giving an order out until its parts are here"
    )
    subcontractor: str = Field(default="", description="who does the subcontracted work; empty: nobody has been named")
    subcontract_confirmed_h_per_week: float = Field(
        default=0.0, ge=0, description="hours a week that this subcontractor has confirmed"
    )
    refuse: bool = Field(
        default=False, description="orders are refused on release when, with all that, work is still short of time"
    )


class RunSettings(Section):
    """How long, how often and from where the cell is simulated."""

    source: Literal["project", "replay", "saturated", "law"] = Field(
        default="project", description="where work comes from"
    )
    seed: int = Field(default=1, ge=0, description="seed of all draws")
    replications: int = Field(default=10, ge=1, le=10_000, description="independent repetitions")
    weeks: float = Field(default=4.0, gt=0, le=520, description="release weeks simulated")
    week_draw: Literal["balanced", "with_replacement"] = Field(
        default="balanced",
        description="how release weeks are drawn: balanced (each week of the book equally often, in random order) or "
        "with_replacement",
    )
    demand_factor: Multiple = Field(default=1.0, description="demand as a factor of the book")
    demand_levels: tuple[Multiple, ...] = Field(default=(1.0,), description="demand levels of the studies")
    start_monday: OurDay = Field(default=dt.date(2026, 1, 5), description="first day of the simulated calendar")
    horizon_s: float | None = Field(
        default=None, gt=0, le=LONGEST_S, description="end of the run, s; none: until the book is done"
    )
    warmup_s: float = Field(default=0.0, ge=0, le=LONGEST_S, description="cut from the start of all measures, s")
    arrival_law: LawName = Field(default="exponential", description="law between arrivals (source law)")
    arrival_mean_s: float = Field(default=3600.0, ge=0.01, description="mean time between arrivals, s (source law)")
    arrival_cv: float = Field(default=1.0, ge=0, description="coefficient of variation of that time")
    max_weeks: float = Field(
        default=26.0,
        gt=0,
        le=LONGEST_WEEKS,
        description="a book not done after this many weeks is cut there",
    )


class Settings(Section):
    """Everything in plant.toml."""

    name: str = Field(description="name of the plant")
    currency: str = Field(default="CU", description="unit of money")
    time_zone: str = Field(default="UTC", description="IANA name, as in Europe/Berlin")
    as_of: OurDay = Field(default=dt.date(2026, 1, 1), description="date of the data")
    study_paid_by: str = Field(default="", description="who paid for this study")
    options_sold_by: str = Field(default="", description="who sells the options compared")
    calendar: Calendar
    people: People = People()
    machine: MachineSettings = MachineSettings()
    magazine: Magazine = Magazine()
    store: StoreSettings = StoreSettings()
    removal: Removal = Removal()
    bench: BenchSettings = BenchSettings()
    handling: HandlingSettings = HandlingSettings()
    stack: Stack = Stack()
    scrap: Scrap = Scrap()
    rules: Rules = Rules()
    overflow: Overflow = Overflow()
    money: Money = Money()
    finance: Finance = Finance()
    risk: Risk = Risk()
    financing: Financing = Financing()
    run: RunSettings = RunSettings()


WITHDRAWN: dict[tuple[int | str, ...], str] = {
    ("rules", "overtime_backlog_h"): "overflow.overtime",
    ("rules", "subcontract_backlog_h"): "overflow.subcontract",
    ("rules", "refuse_backlog_h"): "overflow.refuse",
}
"""Keys that are no more, and what stands in their place: overflow looks at due dates, no longer at a week's hours."""
