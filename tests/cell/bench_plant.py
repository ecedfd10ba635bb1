"""A plant for tests by hand: one program per letter, constant round times, a day shift from 06:00 to 14:00."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections import Counter
from typing import Any

from simkit.base.vocabulary import SKILLS
from simkit.cell.run import simulate
from simkit.cell.trace import RUN, STATE_CODE, Trace
from simkit.plant.plant import PlantInputs
from simkit.plant.settings import Shift
from simkit.plant.tables import Element, MachineRow, Material, Order, Person, Program, ProgramPart, ProgramTool, Tool
from tests.oracle.compare import merged
from tests.oracle.plants import workload_of
from tests.small_plant import MONDAY, WORKDAYS, changed_settings, small_plant

HOUR, MINUTE = 3600.0, 60.0
OPEN = 6 * HOUR
NAMES = {code: name for name, code in STATE_CODE.items()} | {RUN: "run"}
DEFAULT = {"fixed": 0.0, "load": 0.0, "unload": 0.0, "first": 0.0, "bench": 0.0, "fetch": 0.0}
ROWS = {
    "fixed": ("changeover", "min/order", "changeover"), "load": ("load", "min/sheet", "loading"),
    "unload": ("unload", "min/sheet", "unloading"), "first": ("first_piece", "min/order", "first_piece"),
    "bench": ("bench", "min/sheet", "bench"), "fetch": ("material", "min/material_change", "changeover"),
    "store": ("machine", "min/store_exchange", "changeover"), "tool": ("changeover", "min/tool_load", "changeover"),
    "gripper": ("machine", "min/magazine_exchange", "changeover"), "prepare": ("preparation", "min/order", "outside"),
    "grind": ("preparation", "min/regrind", "outside"), "rise": ("machine", "s/engagement", "punching"),
    "pack": ("material", "min/pack_change", "changeover"), "restock": ("material", "min/store_load", "outside"),
    "fill": ("material", "min/stored_sheet", "outside"),
    "stage": ("material", "min/material_change", "outside"),
    "nozzle": ("changeover", "min/nozzle_change", "changeover"),
    "pick": ("machine", "min/pick", "unloading"), "stack": ("pallet", "min/stack_exchange", "changeover"),
    "skeletons": ("pallet", "min/skeleton_exchange", "outside"),
    "sort": ("bench", "min/chute_part", "bench"), "entry": ("first_piece", "min/cell_entry", "first_piece"),
}  # fmt: skip
"""Short name to who does it, unit and state."""


def element(name: str, minutes: float, who: str = "") -> Element:
    task, unit, state = ROWS[name]
    return Element(element=name, task_of=who or task, unit=unit, state=state, typical=minutes)


def program(name: str, minutes: float, material: str = "MS", **changes: Any) -> Program:
    """A program that only cuts, for so many minutes."""
    row = Program(
        program_id=name, family="X", material_id=material, sheet_length_mm=1000, sheet_width_mm=1000, hits_per_sheet=0,
        forming_hits_per_sheet=0, cut_length_mm=minutes * 1000, contours=0, proven=True,
    )  # fmt: skip
    return dataclasses.replace(row, **changes)


def order(name: str, program: str, sheets: int = 1, day: int = 0, rush: bool = False, due: int | None = None) -> Order:
    """An order released and due so many days after the first Monday; due on its release if nothing is said."""
    released, due_on = (MONDAY + dt.timedelta(number) for number in (day, day if due is None else due))
    return Order(order_id=name, program_id=program, sheets=sheets, released=released, due=due_on, rush=rush)


def material(name: str) -> Material:
    return Material(material_id=name, metal=name, thickness_mm=1.0, density_kg_m3=8000, clearance_mm=0.2,
                    cutting_speed_m_min=1.0, pierce_s=0.0, nozzle=name)  # fmt: skip


def tool(name: str) -> Tool:
    return Tool(tool_id=name, shape="round", length_mm=6, width_mm=6, station_size_mm=16, clearances=(0.2,))


def part(program: str, per_sheet: int = 1) -> ProgramPart:
    return ProgramPart(program_id=program, part_id=f"{program}-part", per_sheet=per_sheet, length_mm=300, width_mm=200,
                       mass_kg=1.0)  # fmt: skip


def use(program: str, *tools: str) -> tuple[ProgramTool, ...]:
    return tuple(ProgramTool(program_id=program, tool_id=name, hits_per_sheet=0) for name in tools)


def person(name: str, *skills: str, shift: str = "day") -> Person:
    return Person(person_id=name, skills=skills or SKILLS, shift=shift)


def plant(*, breaks: tuple[tuple[str, str], ...] = (), times: dict[str, float] | None = None,
          who: dict[str, str] | None = None, **changes: Any) -> PlantInputs:  # fmt: skip
    """Orders A (10 min a sheet) unless ``orders`` says otherwise; ``times`` are minutes by element."""
    times, who = DEFAULT | (times or {}), who or {}
    shift = Shift(name="day", days=WORKDAYS, start="06:00", end="14:00", breaks=breaks)
    people_rules = changes.pop("people_rules", {})
    calendar = {"shifts": (shift,), "overtime_shift": "day"} | changes.pop("calendar", {})
    built = small_plant(**{
        "orders": (order("1", "A"),), "programs": (program("A", 10.0), program("B", 10.0, "AL")),
        "materials": (material("MS"), material("AL")), "program_parts": (part("A"), part("B")), "program_tools": (),
        "elements": tuple(element(name, minutes, who.get(name, "")) for name, minutes in times.items()),
        "people": (person("OP"), person("BE", "bench", "second_person")), "stops": (), "upkeep": (),
        "tools": tuple(tool(f"T{number}") for number in range(6)), "calendar": calendar,
        "run": {"source": "replay"}, **changes,
    })  # fmt: skip
    return dataclasses.replace(built, settings=changed_settings(built.settings, {"people": people_rules}))


def machines(names: str) -> tuple[MachineRow, ...]:
    return tuple(MachineRow(machine_id=name) for name in names)


def run(plant: PlantInputs) -> Trace:
    return simulate(workload_of(plant))


def story(trace: Trace, machine: int = 0, until_h: float = 48.0) -> list[tuple[str, float]]:
    """What a machine did: (state, minutes after 06:00 of the first day at which it ended), no work left out."""
    log = trace.machines[machine]
    rows = merged([(NAMES[s], a, b) for s, a, b in zip(log.state, log.start_s, log.end_s, strict=True)])
    return [(state, (end - OPEN) / MINUTE) for state, _, end in rows if state != "no_work" and end <= until_h * HOUR]


def exchanges(trace: Trace, machine: int = 0) -> dict[str, float]:
    """How many exchanges of each kind, over all tools."""
    found: Counter[str] = Counter()
    for (kind, _), (times, *_) in trace.tools[machine].by_tool.items():
        found[kind] += times
    return dict(found)


def made(trace: Trace, machine: int = 0) -> list[tuple[int, float]]:
    """Sheets in the order made, with minutes after 06:00 of the first day."""
    log = trace.machines[machine]
    return [(int(s), (float(t) - OPEN) / MINUTE) for s, t in zip(log.made, log.made_at_s, strict=True)]


def work(trace: Trace, person: int) -> list[tuple[str, float, float]]:
    """What a person did: (task, from, to) in minutes after 06:00 of the first day."""
    tasks = trace.tasks
    rows = zip(tasks.person, tasks.task, tasks.start_s, tasks.end_s, strict=True)
    return [(SKILLS[t], (a - OPEN) / MINUTE, (b - OPEN) / MINUTE) for p, t, a, b in rows if p == person and t >= 0]
