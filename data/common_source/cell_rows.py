"""Rows of the cell: tools, time elements, stops, upkeep, quality and what stands where at the start."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

import numpy as np
from drawing import DrawnOrder, DrawnProgram
from facts import CLEARANCES, MATERIALS, SHAPE_PRICE, Shop, ToolFact
from work_rows import tool_id

from simkit.plant.tables import Element, LoadFault, MachineRow, Quality, StartRow, Stop, Tool, Upkeep

AS_OF = dt.date(2026, 6, 5)
"""A week after the four weeks of the book, which are the observed weeks too."""

GUESS = "analyst's first guess, invented for the demo"
TRADE = "common practice, no source"
TWINS = 8
"""Tools with a twin today. Rule of the demo: the most used cutting tools of the book."""

IN_TOOL_ROOM = 6
"""Tools that lie in the tool room. Rule of the demo: the least used of the book; the others lie in the cabinet."""

GRIND_MM_LIFE = 12
"""Regrinds of 0.2 mm each before a tool is replaced."""

LIFE_CV = 0.25
"""Rule of the demo: spread of a tool's life from regrind to regrind about its own mean."""

LIMIT_SHARE = 0.7
"""Rule of the demo: a tracked tool is reground at this share of its mean life. Not read unless tracked."""

BROKEN_OUT = "6.5 s a part of 4.5 tabs and 1.7 kg as before, split; invented"
"""Rule of the demo: the mean part of the book takes as long as when it was counted by parts alone (2.9 + 4.5 x 0.6 +
1.7 x 0.5 s), a door skin of 18 kg with 8 tabs three times as long as a bracket."""

Uses = Counter[tuple[int, float]]
"""Orders that use a tool (row) at a clearance (mm; 0 for forming tools)."""


def uses_of_tools(shop: Shop, programs: list[DrawnProgram], orders: list[DrawnOrder]) -> Uses:
    """Count the orders that use a tool at a clearance."""
    uses: Uses = Counter()
    for order in orders:
        program = programs[order.program]
        clearance = MATERIALS[program.material][1]
        uses.update((tool, 0.0 if shop.tools[tool].forming else clearance) for tool in program.tools)
    return uses


def ranked_tools(uses: Uses) -> list[int]:
    """Tool rows from the most used to the least used."""
    total: Counter[int] = Counter()
    for (tool, _), count in uses.items():
        total[tool] += count
    return sorted(total, key=lambda tool: (-total[tool], tool))


def tool_rows(
    shop: Shop, uses: Uses, rng: np.random.Generator, twins: int = TWINS, away: int = IN_TOOL_ROOM
) -> list[Tool]:
    """Return the tools; each draws its own mean life from the tools stream.

    ``twins`` of the most used cutting tools have a second copy, ``away`` of the least used lie in the tool room.
    """
    lives = rng.lognormal(np.log(60000), 0.4, len(shop.tools))
    double = [tool for tool in ranked_tools(uses) if not shop.tools[tool].forming][:twins]
    room = tool_room(shop, uses)[:away]
    return [_tool(row, fact, float(lives[row]), row in double, row in room) for row, fact in enumerate(shop.tools)]


def tool_room(shop: Shop, uses: Uses) -> list[int]:
    """Rows of the tools in the tool room, the least used first."""
    ranked = ranked_tools(uses)
    return [*(tool for tool in range(len(shop.tools)) if tool not in ranked), *reversed(ranked)][:IN_TOOL_ROOM]


def _tool(row: int, fact: ToolFact, life: float, twin: bool, away: bool) -> Tool:
    life_hits = round(life, -2)
    return Tool(
        tool_id=tool_id(row), shape=f"{fact.shape} {fact.text.removesuffix(' turning')}", length_mm=fact.length,
        width_mm=fact.width, station_size_mm=fact.size, kind="forming" if fact.forming else "cutting",
        needs_turning=fact.turning, form_height_mm=fact.height,
        clearances=() if fact.forming else CLEARANCES, copies=2 if twin else 1,
        kept="tool_room" if away else "cabinet", tracked=False, life_law="weibull", life_hits=life_hits,
        life_cv=LIFE_CV, regrind_limit_hits=round(LIMIT_SHARE * life_hits, -2),
        grind_life=GRIND_MM_LIFE, price=SHAPE_PRICE[fact.size],
    )  # fmt: skip


def _element(
    name: str, unit: str, state: str, typical: float, cv: float = 0.0, low: float | None = None,
    high: float | None = None, *, task_of: str = "machine", applies_to: str = "", law: str = "",
    basis: str = "estimated", source: str = GUESS, owner: str = "production engineer", parallel_share: float = 0.0,
) -> Element:  # fmt: skip
    """Build an element row; a spread without a law is lognormal."""
    return Element(
        element=name, applies_to=applies_to, task_of=task_of, unit=unit, state=state,
        law=law or ("lognormal" if cv else "constant"), typical=typical, cv=cv, low=low, high=high, basis=basis,
        source=source, owner=owner, date=AS_OF, parallel_share=parallel_share,
    )  # fmt: skip


SET_UP_SHARE = 0.4
"""Of searching, fitting and changing tools and dies, what a second setter can do at the same time: one person fetches
and checks while the other fits. Common practice, no source; invented for the demo. The papers and the booking of an
order, and a nozzle, are one person's. In this plant nobody else of a shift sets up, so that it does nothing until
somebody is trained to."""


def element_rows() -> list[Element]:
    """Return the time elements of today's cell.

    Means are the analyst's first guess; low and high are the usual ranges of the trade, narrowed to what
    a shop that knows itself would still doubt. Spreads are lognormal, common practice, no source.
    """
    return [*_order_elements(), *_sheet_elements(), *_process_elements(), *_outside_elements()]


def retimed(rows: Sequence[Element], times: Mapping[str, tuple[float, float, float]]) -> list[Element]:
    """Return the rows with another mean and range (low, typical, high) of some elements."""
    told = {row.element for row in rows}
    if missing := set(times) - told:
        raise ValueError(f"no element rows {sorted(missing)}")
    return [
        dataclasses.replace(row, low=times[row.element][0], typical=times[row.element][1], high=times[row.element][2])
        if row.element in times else row
        for row in rows
    ]  # fmt: skip


def _order_elements() -> list[Element]:
    changeover = "changeover"
    setter = {"task_of": "changeover", "owner": "works manager"}
    shared = {**setter, "parallel_share": SET_UP_SHARE}
    return [
        _element("order_fixed", "min/order", changeover, 9.0, 0.35, 6.0, 13.0, **setter),
        _element("first_piece", "min/order", "first_piece", 6.0, 0.4, 4.0, 10.0, task_of="first_piece",
                 owner="quality"),
        _element("tool_search", "min/tool_load", changeover, 1.6, 0.6, 0.8, 3.0, **shared),
        _element("tool_search", "min/tool_load", changeover, 4.0, 0.6, 2.5, 6.0, applies_to="kept=tool_room",
                 basis="default", source=f"usual range of a search 0.5 to 6 min, {TRADE}", **shared),
        _element("tool_fit", "min/tool_load", changeover, 2.4, 0.3, 1.6, 3.4, **shared),
        _element("die_change", "min/die_change", changeover, 1.5, 0.3, 1.0, 2.2, **shared),
        _element("angle_change", "min/angle_change", changeover, 0.3, 0.3, 0.1, 1.0, basis="default", source=TRADE,
                 **setter),
        _element("material_fetch", "min/material_change", changeover, 6.0, 0.6, 3.0, 12.0, task_of="material",
                 owner="works manager"),
        _element("nozzle_change", "min/nozzle_change", changeover, 4.0, 0.3, 2.5, 7.0, **setter),
        _element("clamp_change", "s/clamp_change", changeover, 7.0),
    ]  # fmt: skip


def _sheet_elements() -> list[Element]:
    load = {"task_of": "load", "owner": "works manager"}
    return [
        _element("load", "min/sheet", "loading", 1.9, 0.25, 1.4, 2.6, **load),
        _element("load", "min/sheet", "loading", 2.6, 0.25, 1.9, 3.6, applies_to="mass_kg>25", **load),
        _element("pull_out", "min/sheet", "unloading", 1.3, 0.25, 0.9, 1.9, task_of="unload", owner="works manager"),
    ]


def _process_elements() -> list[Element]:
    timed = {"basis": "default", "source": TRADE}
    return [
        _element("hit", "s/hit", "punching", 0.33, 0.0, 0.28, 0.4),
        _element("form_hit", "s/forming_hit", "forming", 1.5, 0.0, 0.8, 2.5, **timed),
        _element("index", "s/tool", "punching", 2.2, 0.0, 1.5, 3.5),
        _element("reposition", "s/reposition", "punching", 6.0, 0.0, 4.0, 9.0),
        _element("mode_change", "s/mode_change", "cutting", 5.0, 0.0, 3.0, 8.0),
        _element("contour_move", "s/contour", "cutting", 1.2, 0.0, 0.8, 2.0),
        _element("film_pass", "min/m_cut", "cutting", 0.04, 0.0, 0.02, 0.06, applies_to="family=GALL"),
        _element("run_time_ratio", "ratio/process", "punching", 1.0, 0.06, 0.9, 1.25),
    ]


def _outside_elements() -> list[Element]:
    bench = {"task_of": "bench", "owner": "works manager"}
    return [
        _element("break_out", "s/part", "bench", 2.9, 0.25, 1.8, 5.0, **bench),
        _element("deburr", "s/part", "bench", 4.0, 0.25, 2.5, 7.0, **bench),
        _element("sort", "s/part", "bench", 3.0, 0.25, 1.5, 5.0, **bench),
        _element("micro_joint", "s/tab", "bench", 0.6, 0.25, 0.3, 1.2, source=BROKEN_OUT, **bench),
        _element("heavy_part", "s/kg", "bench", 0.5, 0.25, 0.2, 1.0, source=BROKEN_OUT, **bench),
        _element("skeleton_by_hand", "min/sheet", "bench", 0.4, 0.25, 0.2, 1.5, source=f"0.5 to 4 min, {TRADE}; "
                 "the low end: the bench folds and bins it beside the container", **bench),
        _element("chute_sort", "s/chute_part", "bench", 3.0, 0.25, 1.0, 8.0, basis="default", source=TRADE, **bench),
        _element("remnant", "min/remnant", "bench", 2.0, 0.25, 1.0, 5.0, basis="default", source=TRADE, **bench),
        _element("program_made", "min/new_program", "outside", 0.0, task_of="programming",
                 source="programs are made in the office, which is no part of the cell, invented"),
        _element("regrind", "min/regrind", "outside", 10.0, 0.3, 5.0, 25.0, task_of="preparation", basis="default",
                 source=TRADE),
        _element("shim", "min/regrind", "outside", 3.0, 0.3, 1.0, 6.0, task_of="preparation", basis="default",
                 source=TRADE),
    ]  # fmt: skip


OPERATOR = ("load", "unload", "changeover", "first_piece", "material", "pallet", "upkeep", "clear", "technician")


def machine_rows() -> list[MachineRow]:
    """Return the one machine."""
    return [MachineRow(machine_id="PL-1", overrides="")]


NIGHT_CAUSES = (
    ("tipped_part", "contour", 16, True, 6.0, 1.0), ("slug_or_chute_jam", "hit", 12, True, 8.0, 0.0),
    ("nozzle_or_height", "contour", 8, False, 4.0, 0.0), ("double_sheet", "sheet", 5, True, 6.0, 0.0),
    ("gas_or_extraction", "running_hour", 3, False, 10.0, 0.0),
    ("guard_or_network", "running_hour", 1, False, 2.0, 0.0),
)  # fmt: skip
"""What stops a night: cause, what it grows with, share of night stops in %, whether a removal device's cell is entered,
minutes to clear, sheets lost. Shares are usual ones of the trade, common practice, no source; the rest is invented."""

NIGHT_SHARES, NIGHT_MTBS_H = 67.0, 6.0
"""The shares of these and of picks that fail (22 %), and settled hours worked at night between two of their stops."""

PER_WORKED_HOUR = {"contour": 215.0, "hit": 3693.0, "sheet": 8.47, "running_hour": 0.69}
"""What an hour worked at night brings of each exposure at Tarnholt: mean sheets of its book (25.4 contours, 436 hits,
4.88 min of running) with 0.9 min of loading by a store and 1.3 min of pulling out."""


def stop_rows(running_h_per_shift: float, per_worked_hour: Mapping[str, float] = PER_WORKED_HOUR) -> list[Stop]:
    """Return the causes of stops; short stops are counted per shift on the floor and converted here.

    ``running_h_per_shift``: attended hours of a shift without breaks, times the share of process in them.

    Short stops are those that somebody beside the machine sees and clears at the panel; without one, others come in
    their place.
    """
    return [
        Stop(cause="breakdown", exposure="running_hour", rate=round(1 / 55, 5), repair_law="lognormal",
             repair_min=78.0, repair_cv=0.8, clears="technician", basis="estimated", source=GUESS),
        Stop(cause="short_stop", acts="attended", exposure="running_hour", rate=round(3 / running_h_per_shift, 3),
             repair_law="gamma", repair_min=2.5, repair_cv=0.7, clears="clear", needs_entry=False, basis="estimated",
             source=f"3 per shift of {running_h_per_shift:.2f} running hours, {GUESS}"),
        *(
            Stop(cause=cause, acts="unattended", exposure=exposure, rate=_night_rate(share, per_worked_hour[exposure]),
                 repair_law="gamma", repair_min=minutes, repair_cv=0.6, clears="clear", needs_entry=entry,
                 sheets_scrapped=lost, basis="default",
                 source=f"{share} % of the stops of a settled night, usual shares, {TRADE}; 6 h between, invented")
            for cause, exposure, share, entry, minutes, lost in NIGHT_CAUSES
        ),
    ]  # fmt: skip


def _night_rate(share: float, per_worked_hour: float) -> float:
    return float(f"{share / NIGHT_SHARES / NIGHT_MTBS_H / per_worked_hour:.3g}")


WRONG_LOADS = {
    "orientation_missed": ("elongated=true", ("tool_load",), 0.0085),
    "punch_and_die_swapped": ("", ("tool_load",), 0.0021),
    "wrong_clearance": ("kind=cutting", ("tool_load", "die_change"), 0.001),
}
"""Ways to load a tool wrongly: for which tools, at which exchanges, share of them.

Rule of the demo: together about 0.5 % of the loads by hand, the middle of the usual range. In the closed sums 332
tools are loaded in the book, 78 of them longer than wide and 288 cutting:
(78 x 0.0085 + 332 x 0.0021 + 288 x 0.001) / 332 = 0.0050. Beside these, 420 die changes bring 0.42 wrong clearances.
"""


AFTER_GRINDING = (
    ("die_not_shimmed", "kind=cutting", 0.01, 0.0, 0.3, 5.0, 15.0),
    ("length_record_wrong", "", 0.005, 0.1, 0.6, 3.0, 10.0),
)  # fmt: skip
"""Ways in which a tool comes back wrongly from grinding, which costs a stop, marked sheets (slugs that are pulled up,
burr, forms of the wrong height) or the tool: for which tools, share of regrinds that goes unnoticed, share that breaks
the tool, of the others the share that a first piece shows, mean sheets until it is seen, minutes to put it right.
Common practice, no source, that it happens; the numbers are invented for the demo."""


def load_fault_rows() -> list[LoadFault]:
    """Return the ways in which a tool is loaded wrongly by hand, and those in which it comes back from grinding."""
    return [*_wrong_loads(), *_wrong_regrinds()]


def _wrong_regrinds() -> list[LoadFault]:
    return [
        LoadFault(
            fault=fault, applies_to=applies_to, exchanges=("regrind",), rate=rate, break_share=breaks,
            found_first_piece=first, found_after_sheets=sheets, repair_law="lognormal", repair_min=minutes,
            repair_cv=0.5, clears="clear", basis="default",
            source=f"that it happens: {TRADE}; the numbers are invented",
        )
        for fault, applies_to, rate, breaks, first, sheets, minutes in AFTER_GRINDING
    ]  # fmt: skip


def _wrong_loads() -> list[LoadFault]:
    return [
        LoadFault(
            fault=fault, applies_to=applies_to, exchanges=exchanges, rate=rate, break_share=0.2, found_first_piece=0.8,
            found_after_sheets=3.0, repair_law="lognormal", repair_min=25.0, repair_cv=0.5, clears="clear",
            basis="default", source=f"usual miss rate by hand 0.2 to 2 % of loads, {TRADE}; the split is invented",
        )
        for fault, (applies_to, exchanges, rate) in WRONG_LOADS.items()
    ]  # fmt: skip


def upkeep_rows() -> list[Upkeep]:
    """Return the routine care; the given minutes are split into work and isolation, which is never zero."""
    return [
        Upkeep(task="scrap_bin", exposure="running_hour", interval=8.0, duration_min=4.0, isolation_min=1.0,
               night_limit="output", basis="estimated", source=GUESS),
        Upkeep(task="nozzle_check", exposure="running_hour", interval=4.0, duration_min=0.8, isolation_min=0.2,
               night_limit="stop", basis="estimated", source=GUESS),
        Upkeep(task="tables_and_chutes", exposure="open_day", interval=1.0, duration_min=8.0, isolation_min=2.0,
               night_limit="output", basis="estimated", source=GUESS),
    ]  # fmt: skip


def quality_rows() -> list[Quality]:
    """Return the causes of marked parts."""
    return [
        Quality(cause="die_marks", applies_to="surface_sensitive=true", rate=0.03, rework_min=4.0, scrap_share=0.3,
                basis="estimated", source=GUESS),
    ]  # fmt: skip


RING = "L s s " * 10 + "s s s s"
"""Ring order of the turret: large stations stand between small ones, so that a tall form bars small tools only."""


def stations() -> list[dict[str, object]]:
    """Return the turret's stations in ring order: 6 x 55 and 4 x 90 among 14 x 16 and 10 x 30.

    Rule of the demo: a large station, then a 16 and a 30 in turn; the first 30 and the first 55 turn.
    """
    large = iter([55, 90, 55, 55, 90, 55, 90, 55, 90, 55])
    small = iter([16, 30] * 10 + [16] * 4)
    ring = [next(large) if mark == "L" else next(small) for mark in RING.split()]
    first = {size: ring.index(size) for size in (30, 55)}
    return [
        {"size_mm": float(size), "turning": place in first.values()} if place in first.values()
        else {"size_mm": float(size)}
        for place, size in enumerate(ring)
    ]  # fmt: skip


def turret_rows(shop: Shop, uses: Uses) -> list[StartRow]:
    """Return the turret at the start.

    Rule of the demo: the most used tools of each size at their most used clearance, one station of each
    size left free, turning tools in turning stations, no tall form (it would bar two stations).
    """
    return [
        StartRow(what="turret", item=tool_id(tool), station=station + 1, clearance_mm=clearance or None,
                 hits=float(round(0.3 * LIMIT_SHARE * 60000, -2)))
        for tool, clearance, station in _placed(shop, stations(), uses)
    ]  # fmt: skip


def backlog_rows(shop: Shop, orders: list[DrawnOrder], days: Mapping[int, int]) -> list[StartRow]:
    """Return what waits at the start: copies of the orders of the book that these days released.

    ``days``: by day of the book, working days from then to the Monday of the start.
    """
    return [
        StartRow(what="backlog", item=str(shop.first_order + number), due_in_days=order.lead - days[order.day])
        for number, order in enumerate(orders)
        if order.day in days and order.lead >= days[order.day]
    ]


def _placed(shop: Shop, ring: list[dict[str, object]], uses: Uses) -> Iterable[tuple[int, float, int]]:
    """Yield (tool row, clearance, station index) for the start."""
    taken: set[int] = set()
    spare = {16.0: 1, 30.0: 1, 55.0: 1, 90.0: 1}
    for tool in ranked_tools(uses):
        fact = shop.tools[tool]
        if fact.height >= 5.0:
            continue
        free = [
            place for place, station in enumerate(ring)
            if station["size_mm"] == fact.size and place not in taken
            and (not fact.turning or station.get("turning", False))
        ]  # fmt: skip
        still = [place for place, station in enumerate(ring) if station["size_mm"] == fact.size and place not in taken]
        if not free or len(still) <= spare[fact.size]:
            continue
        place = next((p for p in free if fact.turning or not ring[p].get("turning", False)), free[0])
        taken.add(place)
        clearance = max((count, -c) for (t, c), count in uses.items() if t == tool)[1]
        yield tool, -clearance, place
