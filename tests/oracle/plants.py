"""Small plants at random: few machines, few people, times from a short list so that equal moments are common."""

from __future__ import annotations

import dataclasses
import datetime as dt
from typing import Any

from hypothesis import assume
from hypothesis import strategies as st

from simkit.base.messages import CellError
from simkit.base.vocabulary import FAULT_MOMENTS, SKILLS, TASKS
from simkit.cell.run import simulate
from simkit.plant.conditions import can_be_shared
from simkit.plant.plant import PlantInputs, ScenarioInputs
from simkit.plant.tables import LoadFault, MachineRow, Order, Person, ProgramPart, Stop, Tool, Upkeep
from simkit.process.draws import make_draws
from simkit.process.workload import Workload, make_workload
from tests.small_plant import (
    MONDAY,
    WORKDAYS,
    changed_settings,
    small_elements,
    small_materials,
    small_parts,
    small_plant,
    small_programs,
    small_tools,
)

BEFORE_LEAVING = ("first_order", "care", "output", "magazine", "material")
INTERRUPTS = ("clear > bench", "clear > changeover", "load > preparation", "rush > bench", "changeover > upkeep",
              "load > changeover", "load > bench", "unload > preparation")  # fmt: skip
MINUTES = st.sampled_from((0.0, 0.25, 1.0, 2.0, 5.0, 40.0))
BREAKABLE = tuple(task for task in TASKS if task != "rush")
NIGHT = {"days": WORKDAYS, "start": "22:00", "end": "06:00"}
WEEKEND = {"days": ("Sat", "Sun", "Mon"), "start": "00:00", "end": "00:00"}
EVENING = {"days": WORKDAYS, "start": "22:00", "end": "00:30"}
SATURDAY = {"days": ("Sat",), "start": "06:00", "end": "12:00"}
EXPOSURES = ("running_hour", "calendar_hour", "sheet", "part", "hit", "tool_load")
TURRETS = (
    ({"size_mm": 16, "count": 4}, {"size_mm": 30, "count": 3}, {"size_mm": 55, "turning": True}),
    ({"size_mm": 16, "count": 1}, {"size_mm": 30, "count": 1, "retracting": True}, {"size_mm": 55, "turning": True}),
)
"""One with room for all, and one that must exchange in the middle of a program."""


def workload_of(
    plant: PlantInputs, seed: int = 1, replication: int = 0, scenario: ScenarioInputs | None = None
) -> Workload:
    """The workload of one replication of a plant as it is, or of a scenario of it."""
    # a saturated queue is long enough with an hour an order, since orders here are shorter or cut
    draws = make_draws(plant, seed, replication, mean_order_h=1.0)
    return make_workload(scenario or ScenarioInputs("today", plant), draws)


@st.composite
def orders(draw: st.DrawFn) -> tuple[Order, ...]:
    rows = draw(st.lists(st.tuples(st.sampled_from(("P-1", "P-2")), st.integers(1, 4), st.integers(0, 3),
                                   st.integers(0, 3), st.booleans()), min_size=1, max_size=7))  # fmt: skip
    return tuple(
        Order(order_id=f"{1000 + number}", program_id=program, sheets=sheets, released=MONDAY + dt.timedelta(day),
              due=MONDAY + dt.timedelta(day + lead), rush=rush and number > 2)
        for number, (program, sheets, day, lead, rush) in enumerate(rows)
    )  # fmt: skip


@st.composite
def people(draw: st.DrawFn) -> tuple[Person, ...]:
    """One who can do everything, a second pair of hands, and up to two more."""
    shifts = st.sampled_from(("early", "late", "always"))
    rows = [Person(person_id="A", skills=SKILLS, shift=draw(shifts))]
    rows.append(Person(person_id="B", skills=("second_person", "bench"), shift=draw(shifts)))
    for name in range(draw(st.integers(0, 2))):
        skills = tuple(draw(st.lists(st.sampled_from(SKILLS), min_size=1, max_size=5, unique=True)))
        duties = draw(st.sampled_from(("", "Mon-Fri 10:00-14:00")))
        rows.append(Person(person_id=f"C{name}", skills=skills, shift=draw(shifts), duties=duties,
                           absence_share=draw(st.sampled_from((0.0, 0.0, 0.4)))))  # fmt: skip
    for name in range(draw(st.sampled_from((0, 1, 1, 2)))):
        skills = draw(st.sampled_from((("clear",), ("clear", "technician"), SKILLS, SKILLS)))
        rows.append(Person(person_id=f"D{name}", skills=skills, shift="on_call"))
    away = st.sampled_from(({}, {}, {}, {"elsewhere_min": 7.0}, {"elsewhere_min": 90.0, "elsewhere_law": "exponential"},
                            {"elsewhere_min": 5.0, "elsewhere_per_h": 2.0},
                            {"elsewhere_min": 30.0, "elsewhere_per_h": 0.3, "elsewhere_law": "gamma",
                             "elsewhere_cv": 0.5}))  # fmt: skip
    return tuple(dataclasses.replace(row, **draw(away)) for row in rows)


@st.composite
def stops(draw: st.DrawFn) -> tuple[Stop, ...]:
    hours = st.sampled_from(("both", "both", "attended", "unattended"))
    kinds = [draw(st.tuples(st.sampled_from(EXPOSURES), hours)) for _ in range(draw(st.integers(0, 3)))]
    return tuple(
        Stop(cause=f"cause {number}", exposure=exposure, needs_entry=draw(st.booleans()),
             acts="both" if exposure == "calendar_hour" else acts, rate=draw(st.sampled_from((0.0, 0.2))),
             repair_law=draw(st.sampled_from(("constant", "gamma"))), repair_min=draw(MINUTES), repair_cv=0.5,
             retries=draw(st.integers(0, 2)), retry_success=0.5, retry_s=draw(st.sampled_from((0.0, 30.0))),
             clears=draw(st.sampled_from(("nobody", "clear", "technician"))),
             early_factor=draw(st.sampled_from((1.0, 0.5, 4.0))), settle_weeks=draw(st.sampled_from((0.0, 0.3))),
             sheets_scrapped=draw(st.sampled_from((0.0, 0.5, 1.0, 2.0))),
             file=draw(st.sampled_from(("", "", "list"))))
        for number, (exposure, acts) in enumerate(kinds)
    )  # fmt: skip


LISTS = {"list": (0.25, 1.0, 0.0, 3.0, 7.0), "list:repair": (2.0, 40.0, 0.0, 5.0)}
"""Intervals between stops (hours, or counts) and repairs in minutes, consumed in the order of start."""


@st.composite
def load_faults(draw: st.DrawFn) -> tuple[LoadFault, ...]:
    share = st.sampled_from((0.0, 0.5, 1.0))
    return tuple(
        LoadFault(fault=f"fault {number}", exchanges=draw(st.sampled_from((FAULT_MOMENTS, ("tool_load",)))),
                  rate=draw(st.sampled_from((0.0, 0.3))), break_share=draw(share), found_first_piece=draw(share),
                  found_after_sheets=draw(st.sampled_from((1.0, 3.0))), repair_min=draw(MINUTES),
                  clears=draw(st.sampled_from(("clear", "technician"))))
        for number in range(draw(st.integers(0, 2)))
    )  # fmt: skip


@st.composite
def tools(draw: st.DrawFn) -> tuple[Tool, ...]:
    """The small plant's tools; some wear out, some are reground at a limit, some have a spare copy."""
    lives = st.sampled_from(({}, {"life_hits": 500.0}, {"life_hits": 700.0, "life_law": "exponential"}))
    limits = st.sampled_from(({}, {"tracked": True, "regrind_limit_hits": 400.0}))
    return tuple(
        dataclasses.replace(row, copies=draw(st.integers(1, 2)), grind_life=draw(st.integers(0, 2)), **draw(lives),
                            **draw(limits))
        for row in small_tools()
    )  # fmt: skip


@st.composite
def upkeep(draw: st.DrawFn) -> tuple[Upkeep, ...]:
    return tuple(
        Upkeep(task=f"care {number}", exposure=draw(st.sampled_from(("running_hour", "slug_kg", "sheet", "open_day"))),
               interval=draw(st.sampled_from((1.0, 3.0, 0.3))), duration_min=draw(MINUTES),
               needs_person=draw(st.booleans()), planned_in_break=draw(st.booleans()),
               break_by=draw(st.sampled_from(("crew", "others"))),
               night_limit=draw(st.sampled_from(("output", "stop"))))
        for number in range(draw(st.integers(0, 2)))
    )  # fmt: skip


@st.composite
def more_parts(draw: st.DrawFn) -> tuple[ProgramPart, ...]:
    """A second kind of part on some sheets, which is picked like the first or too small for it."""
    return tuple(
        dataclasses.replace(row, part_id=f"{row.part_id}2", per_sheet=3, width_mm=draw(st.sampled_from((120.0, 20.0))))
        for row in small_parts() if draw(st.booleans())
    )  # fmt: skip


@st.composite
def rules(draw: st.DrawFn) -> dict[str, Any]:
    drawn = {
        "dispatch": draw(st.sampled_from(("arrival", "due", "grouped", "searched"))),
        "night_queue": draw(st.sampled_from(("as_ranked", "prepared", "reserved"))),
        "before_leaving": draw(st.lists(st.sampled_from(BEFORE_LEAVING), unique=True)),
        "before_leaving_min": draw(st.sampled_from((0.0, 45.0, 240.0))),
        "merge_days": draw(st.sampled_from((0.0, 2.0))),
        "eviction": draw(st.sampled_from(("lru", "fifo", "soonest"))), "lookahead_sheets": draw(st.integers(0, 2)),
        "first_piece": draw(st.sampled_from(("each_order", "new_program", "attended_only", "never"))),
        "overtime_cap_h_per_week": draw(st.sampled_from((2.0, 6.0))),
        "subcontract_cap_h_per_week": draw(st.sampled_from((0.0, 2.0, 20.0))),
        "planning_factor": draw(st.sampled_from((1.15, 5.0, 20.0))),
        "night_share_planned": draw(st.sampled_from((None, None, 0.5))),
    }  # fmt: skip
    drawn["first_piece_beside"] = "proven" if drawn["overtime_cap_h_per_week"] < 4 else "none"
    return drawn | {"group_nozzles": drawn["subcontract_cap_h_per_week"] == 2.0}


@st.composite
def overflow(draw: st.DrawFn) -> dict[str, Any]:
    """What may be done about work short of time; planned hours well above those needed make it short."""
    return {
        "least_h": draw(st.sampled_from((0.0, 2.0))), "tolerance_days": draw(st.sampled_from((0.0, 1.0))),
        "overtime": draw(st.booleans()), "overtime_block_h": draw(st.sampled_from((0.5, 2.0))),
        "subcontract": draw(st.booleans()), "subcontract_lead_days": draw(st.sampled_from((0.0, 1.0, 3.0))),
        "refuse": draw(st.booleans()),
    }  # fmt: skip


def timed_elements(draw: st.DrawFn) -> tuple[Any, ...]:
    """The small plant's elements with times from the list; some need nobody, some vary."""
    rows = []
    for row in small_elements():
        if row.unit.startswith("min/"):
            law = draw(st.sampled_from(("constant", "constant", "exponential")))
            share = draw(st.sampled_from((0.0, 0.4, 0.8, 1.0))) if row.state == "changeover" else 0.0
            row = dataclasses.replace(row, typical=draw(MINUTES), law=law, parallel_share=share)
        if row.element in ("load", "pull_out", "material_fetch", "nozzle_change"):
            row = dataclasses.replace(row, task_of=draw(st.sampled_from((row.task_of, row.task_of, "machine"))))
        rows.append(row)
    outside = (("staging", "material", "min/material_change"), ("relabel", "bench", "s/part"),
               ("preset", "preparation", "min/tool_load"), ("fill", "preparation", "min/magazine_load"),
               ("grinding", "preparation", "min/regrind"), ("restock", "material", "min/store_load"),
               ("refill", "material", "min/stored_sheet"))  # fmt: skip
    for name, task, unit in outside:
        rows.append(dataclasses.replace(rows[0], element=name, task_of=task, unit=unit, state="outside",
                                        typical=draw(MINUTES)))  # fmt: skip
    for name, task, unit in (
        ("stack_exchange", "pallet", "min/stack_exchange"),
        ("skeleton_exchange", "pallet", "min/skeleton_exchange"),
        ("entry", "clear", "min/cell_entry"),
        ("new_pack", "material", "min/pack_change"),
        ("store", "machine", "min/store_exchange"),
    ):
        rows.append(dataclasses.replace(rows[0], element=name, task_of=task, unit=unit, typical=draw(MINUTES)))
    rise = draw(st.sampled_from((0.0, 7.0)))
    rows.append(dataclasses.replace(rows[0], element="rise", task_of="machine", unit="s/engagement", state="punching",
                                    typical=rise))  # fmt: skip
    for name, unit in (("pick", "s/pick"), ("pick_blocking", "s/pick_blocking")):
        rows.append(dataclasses.replace(rows[0], element=name, task_of="machine", unit=unit, state="unloading",
                                        typical=draw(st.sampled_from((0.0, 3.0, 30.0)))))  # fmt: skip
    return tuple(rows)


@st.composite
def plants(draw: st.DrawFn) -> PlantInputs:
    """A small plant; every stage may be absent and every time may be zero."""
    windows = draw(st.sampled_from(((NIGHT,), (NIGHT, WEEKEND))))
    night = {"rule": "allowed", "windows": windows, "assessed_by": "a test", "assessed_on": "2026-01-01",
             "on_call_response_min": draw(st.sampled_from((None, 0.0, 20.0, 20.0, 90.0))),
             "on_call_calls_per_night": draw(st.sampled_from((0, 1, 3, 9)))}  # fmt: skip
    source = draw(st.sampled_from(("project", "replay", "law", "saturated")))
    horizon_s = draw(st.sampled_from((90000.0, 200000.0)))
    ways = st.sampled_from(("removal", "mixed", "bench", "chute", "stack"))
    programs = [dataclasses.replace(program, handover=draw(ways)) for program in small_programs()]
    plant = small_plant(
        machines=tuple(MachineRow(machine_id=f"M{row}") for row in range(draw(st.integers(1, 3)))),
        orders=draw(orders()), people=draw(people()), stops=draw(stops()), sequences=LISTS, upkeep=draw(upkeep()),
        elements=timed_elements(draw), programs=tuple(programs), rules=draw(rules()),
        overflow=draw(overflow()),
        bench={"places": draw(st.integers(1, 2))},
        stack={"places": draw(st.integers(0, 2)), "use": draw(st.sampled_from(("unattended", "always", "by_program")))},
        removal={"pickers": draw(st.sampled_from((1, 2, 0))), "stack_places": draw(st.integers(1, 3)),
                 "stack_height_mm": draw(st.sampled_from((20.0, 400.0))), "sample_drawer": draw(st.booleans()),
                 "stacking": draw(st.sampled_from(("kits", "as_nested", "by_order"))),
                 "stack_mass_kg": draw(st.sampled_from((None, 25.0))), "kit_orders": draw(st.integers(1, 3)),
                 "skeleton_places": draw(st.integers(0, 2)), "pickers_share": draw(st.booleans()),
                 "yield_loss": draw(st.sampled_from((0.0, 0.25)))},
        machine={"one_person_kg": draw(st.sampled_from((5.0, 25.0))), "stations": draw(st.sampled_from(TURRETS))},
        tools=draw(tools()), load_faults=draw(load_faults()), program_parts=(*small_parts(), *draw(more_parts())),
        magazine={"places": draw(st.sampled_from(({}, {"16": 4, "30": 2, "55": 1}, {"16": 1, "30": 1, "55": 1}))),
                  "loading": draw(st.sampled_from(("fixed", "ahead")))},
        store={"shelves": draw(st.integers(0, 2)), "packs": draw(st.integers(0, 2))},
        materials=tuple(dataclasses.replace(row, sheets_per_pack=draw(st.sampled_from((None, 1, 3))))
                        for row in small_materials()),
        calendar={"night": night if draw(st.booleans()) else {},
                  "overtime": draw(st.sampled_from(((SATURDAY,), (SATURDAY, EVENING)))),
                  "overtime_people": draw(st.sampled_from(((), ("A",), ("B",)))),
                  "overtime_shift": draw(st.sampled_from(("", "late")))},
        run={"source": source, "horizon_s": horizon_s if source in ("law", "saturated") else None, "max_weeks": 2.0,
             "arrival_mean_s": 7200.0, "arrival_law": draw(st.sampled_from(("constant", "exponential")))},
    )  # fmt: skip
    at_breaks = {task: draw(st.sampled_from(("pause", "finish", "stop"))) for task in BREAKABLE}
    rules_of_people = {"walk_s": draw(st.sampled_from((0.0, 0.0, 30.0))), "break_rules": at_breaks,
                       "may_interrupt": draw(st.sampled_from(((), ("clear > bench", "unload > bench"), INTERRUPTS))),
                       "priorities": draw(st.sampled_from(((), ("bench", "load"))))}  # fmt: skip
    plant = dataclasses.replace(plant, settings=changed_settings(plant.settings, {"people": rules_of_people}))
    assume(ever_done(plant))
    return plant


@st.composite
def crowded(draw: st.DrawFn) -> PlantInputs:
    """Two machines, and all orders on one morning: in the end one machine lacks work that the other has committed."""
    plant, sheets = draw(plants()), draw(st.lists(st.integers(1, 3), min_size=6, max_size=6))
    rows = tuple(
        Order(order_id=f"{number}", program_id=f"P-{1 + number % 2}", sheets=many, released=MONDAY,
              due=MONDAY + dt.timedelta(4), rush=number in (2, 5))
        for number, many in enumerate(sheets)
    )  # fmt: skip
    changes = {"rules": {"lookahead_sheets": 2, "merge_days": 0.0}, "run": {"source": "replay", "horizon_s": None}}
    two = tuple(MachineRow(machine_id=name) for name in ("M1", "M2"))
    settings = changed_settings(plant.settings, changes)
    plant = dataclasses.replace(plant, machines=two, orders=rows, settings=settings)
    assume(ever_done(plant))
    return plant


@st.composite
def two_setters(draw: st.DrawFn) -> PlantInputs:
    """A second person who sets up is there all the time, and most of the set-up can be shared."""
    plant = draw(plants())
    second = Person(person_id="S", skills=draw(st.sampled_from((SKILLS, ("changeover", "material")))), shift="always",
                    elsewhere_min=draw(st.sampled_from((0.0, 0.0, 7.0))))  # fmt: skip
    rows = [dataclasses.replace(row, parallel_share=draw(st.sampled_from((0.3, 0.5, 0.8)))) if can_be_shared(row)
            else row for row in plant.elements]  # fmt: skip
    plant = dataclasses.replace(plant, people=(*plant.people, second), elements=tuple(rows))
    assume(ever_done(plant))
    return plant


def ever_done(plant: PlantInputs) -> bool:
    """Whether no work that is begun anew after a break is longer than every window: else there is no run."""
    if "stop" in plant.settings.people.break_rules.values():
        try:
            simulate(workload_of(plant))
        except CellError:
            return False
    return True
