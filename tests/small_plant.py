"""A small valid plant: one machine, two programs, a day of work. Shared by the tests of all packages."""

from __future__ import annotations

import dataclasses
import datetime as dt
from pathlib import Path
from typing import Any

from simkit.plant.plant import PlantInputs
from simkit.plant.settings import Calendar, MachineSettings, RunSettings, Settings, Shift, Station
from simkit.plant.settings_money import Money
from simkit.plant.tables import (
    Element,
    MachineRow,
    Material,
    Order,
    Person,
    Program,
    ProgramPart,
    ProgramTool,
    Stop,
    Tool,
    Upkeep,
)

MONDAY = dt.date(2026, 1, 5)
WORKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri")
OPERATOR_SKILLS = (
    "clear",
    "unload",
    "load",
    "first_piece",
    "changeover",
    "material",
    "pallet",
    "upkeep",
    "preparation",
)
DAY_SKILLS = (*OPERATOR_SKILLS, "technician", "programming")


def small_settings() -> Settings:
    """Two shifts on working days, a turret of ten stations, a bench with three places."""
    shifts = (
        Shift(name="early", days=WORKDAYS, start="06:00", end="14:00", breaks=(("09:00", "09:15"), ("11:30", "12:00"))),
        Shift(name="late", days=WORKDAYS, start="14:00", end="22:00", breaks=(("17:00", "17:15"), ("19:30", "20:00"))),
    )
    stations = (Station(size_mm=16, count=6), Station(size_mm=30, count=3), Station(size_mm=55, count=1, turning=True))
    return Settings(
        name="Small plant",
        calendar=Calendar(shifts=shifts),
        machine=MachineSettings(stations=stations),
        money=Money(subcontract_per_h=110, operator_rate_per_h=30, bench_rate_per_h=25),
        run=RunSettings(start_monday=MONDAY, weeks=1, replications=2, seed=7),
    )


def small_orders() -> tuple[Order, ...]:
    """Six orders of the first week; the last one is a rush order."""
    rows = [("1001", "P-1", 3, 0, 2), ("1002", "P-2", 5, 0, 2), ("1003", "P-1", 2, 1, 3), ("1004", "P-2", 4, 2, 4)]
    rows += [("1005", "P-1", 6, 2, 4), ("1006", "P-2", 1, 3, 4)]
    return tuple(
        Order(
            order_id=name,
            program_id=program,
            sheets=sheets,
            released=MONDAY + dt.timedelta(released),
            due=MONDAY + dt.timedelta(due),
            rush=name == "1006",
        )
        for name, program, sheets, released, due in rows
    )


def small_programs() -> tuple[Program, ...]:
    """One program that punches and cuts, one that also forms."""
    size = {"sheet_length_mm": 1250.0, "sheet_width_mm": 1000.0}
    return (
        Program(
            program_id="P-1", family="LOCK", material_id="MS-1.5", hits_per_sheet=300, forming_hits_per_sheet=0,
            cut_length_mm=9000, contours=12, repositions=1, proven=True, **size,
        ),
        Program(
            program_id="P-2", family="BOOK", material_id="AL-1.5", hits_per_sheet=200, forming_hits_per_sheet=20,
            cut_length_mm=6000, contours=20, **size,
        ),
    )  # fmt: skip


def small_parts() -> tuple[ProgramPart, ...]:
    """Six parts a sheet of the first program, ten of the second."""
    return (
        ProgramPart(
            program_id="P-1", part_id="LOCK-A", per_sheet=6, length_mm=500, width_mm=310, mass_kg=1.84,
            flat_area_mm2=90000, tabs=6,
        ),
        ProgramPart(
            program_id="P-2", part_id="BOOK-A", per_sheet=10, length_mm=400, width_mm=230, mass_kg=0.38,
            form_height_mm=2.5, flat_area_mm2=50000, tabs=4, surface_sensitive=True,
        ),
    )  # fmt: skip


def small_program_tools() -> tuple[ProgramTool, ...]:
    """The tools of the two programs; their hits sum to the counts of the programs."""
    uses = [("P-1", "TL-001", 200, 0.0), ("P-1", "TL-003", 60, 0.0), ("P-1", "TL-005", 40, 90.0)]
    uses += [("P-2", "TL-001", 120, 0.0), ("P-2", "TL-002", 80, 0.0), ("P-2", "TL-004", 20, 0.0)]
    return tuple(ProgramTool(program_id=p, tool_id=t, hits_per_sheet=n, angle=angle) for p, t, n, angle in uses)


def small_tools() -> tuple[Tool, ...]:
    """Three small tools, a forming tool, and one that needs a turning station."""
    owned = (0.2, 0.3)
    return (
        Tool(tool_id="TL-001", shape="round 6", length_mm=6, width_mm=6, station_size_mm=16, clearances=owned),
        Tool(tool_id="TL-002", shape="rd 4", length_mm=4, width_mm=4, station_size_mm=16, clearances=owned, copies=2),
        Tool(tool_id="TL-003", shape="obround 6x18", length_mm=18, width_mm=6, station_size_mm=30, clearances=owned),
        Tool(
            tool_id="TL-004", shape="extrusion M4", length_mm=10, width_mm=10, station_size_mm=30, kind="forming",
            form_height_mm=2.5,
        ),
        Tool(
            tool_id="TL-005", shape="rectangle 5x50", length_mm=50, width_mm=5, station_size_mm=55,
            needs_turning=True, clearances=owned,
        ),
    )  # fmt: skip


def small_materials() -> tuple[Material, ...]:
    """Mild steel and aluminium, 1.5 mm."""
    return (
        Material(
            material_id="MS-1.5", metal="MS", thickness_mm=1.5, density_kg_m3=7850, clearance_mm=0.3,
            cutting_speed_m_min=11, pierce_s=0.3, price_per_kg=1.02, scrap_price_per_kg=0.18,
        ),
        Material(
            material_id="AL-1.5", metal="AL", thickness_mm=1.5, density_kg_m3=2680, clearance_mm=0.2,
            cutting_speed_m_min=10, pierce_s=0.3, price_per_kg=3.9, scrap_price_per_kg=1.1, shear_strength_mpa=180,
        ),
    )  # fmt: skip


ELEMENT_ROWS: tuple[tuple[str, str, str, str, str, float], ...] = (
    ("order_fixed", "", "changeover", "min/order", "changeover", 9.0),
    ("first_piece", "", "first_piece", "min/order", "first_piece", 6.0),
    ("tool_search", "", "changeover", "min/tool_load", "changeover", 1.6),
    ("tool_fit", "", "changeover", "min/tool_load", "changeover", 2.4),
    ("die_change", "", "changeover", "min/die_change", "changeover", 1.5),
    ("angle_change", "", "changeover", "min/angle_change", "changeover", 1.0),
    ("magazine_exchange", "", "machine", "min/magazine_exchange", "changeover", 0.75),
    ("magazine_die_change", "", "machine", "min/magazine_die_change", "changeover", 0.6),
    ("material_fetch", "", "material", "min/material_change", "changeover", 6.0),
    ("store_exchange", "", "machine", "min/store_exchange", "changeover", 2.0),
    ("load", "", "load", "min/sheet", "loading", 1.9),
    ("load", "mass_kg>25", "load", "min/sheet", "loading", 2.6),
    ("pull_out", "", "unload", "min/sheet", "unloading", 1.3),
    ("hit", "", "machine", "s/hit", "punching", 0.33),
    ("form_hit", "", "machine", "s/forming_hit", "forming", 0.6),
    ("index", "", "machine", "s/tool", "punching", 2.2),
    ("reposition", "", "machine", "s/reposition", "punching", 6.0),
    ("mode_change", "", "machine", "s/mode_change", "cutting", 5.0),
    ("clamp_change", "", "changeover", "s/clamp_change", "changeover", 7.0),
    ("nozzle_change", "", "changeover", "min/nozzle_change", "changeover", 4.0),
    ("contour_move", "", "machine", "s/contour", "cutting", 1.2),
    ("break_out", "", "bench", "s/part", "bench", 6.5),
    ("deburr", "", "bench", "s/part", "bench", 4.0),
    ("sort", "", "bench", "s/part", "bench", 3.0),
    ("programming", "", "programming", "min/new_program", "outside", 12.0),
    ("run_time_ratio", "", "machine", "ratio/process", "cutting", 1.0),
    ("regrind", "", "technician", "min/regrind", "outside", 12.0),
    ("micro_joint", "", "bench", "s/tab", "bench", 0.0),
)
"""element, applies_to, task_of, unit, state, typical."""


def small_elements() -> tuple[Element, ...]:
    """Constant times, a first guess without source."""
    names = ("element", "applies_to", "task_of", "unit", "state", "typical")
    return tuple(Element(**dict(zip(names, row, strict=True))) for row in ELEMENT_ROWS)


def small_people() -> tuple[Person, ...]:
    """An operator in each shift, and a person at the bench by day."""
    return (
        Person(person_id="OP-1", skills=DAY_SKILLS, shift="early", rate_per_h=30),
        Person(person_id="OP-2", skills=OPERATOR_SKILLS, shift="late", rate_per_h=30),
        Person(person_id="BE-1", skills=("bench",), shift="early", rate_per_h=25),
        Person(person_id="BE-2", skills=("bench",), shift="late", rate_per_h=25),
    )


def small_stops() -> tuple[Stop, ...]:
    """A breakdown and a short stop."""
    return (
        Stop(cause="breakdown", exposure="running_hour", rate=0.018, repair_min=78, clears="technician"),
        Stop(cause="short stop", exposure="running_hour", rate=0.4, repair_min=2.5),
    )


def small_upkeep() -> tuple[Upkeep, ...]:
    """The scrap bin and the nozzle."""
    return (
        Upkeep(task="scrap bin", exposure="running_hour", interval=8, duration_min=5, isolation_min=1),
        Upkeep(task="nozzle check", exposure="cutting_hour", interval=4, duration_min=1, isolation_min=0.5),
    )


def small_plant(**changes: Any) -> PlantInputs:
    """Return the small plant with changes.

    A tuple replaces a table (``orders=(...)``, ``people=(...)``); a dict changes keys of a section of the
    settings (``rules={"dispatch": "due"}``, ``run={"weeks": 2}``, ``calendar={...}``); ``settings=`` and
    ``sequences=`` replace those whole.
    """
    plant = PlantInputs(
        settings=small_settings(), orders=small_orders(), programs=small_programs(), materials=small_materials(),
        elements=small_elements(), machines=(MachineRow(machine_id="M1"),), people=small_people(),
        program_parts=small_parts(), program_tools=small_program_tools(), tools=small_tools(),
        stops=small_stops(), upkeep=small_upkeep(),
    )  # fmt: skip
    whole = {k: v for k, v in changes.items() if k in ("settings", "sequences", "files") or not isinstance(v, dict)}
    plant = dataclasses.replace(plant, **whole)
    sections = {k: v for k, v in changes.items() if k not in whole}
    return dataclasses.replace(plant, settings=changed_settings(plant.settings, sections)) if sections else plant


def changed_settings(settings: Settings, sections: dict[str, dict[str, Any]]) -> Settings:
    """Return the settings with keys of sections changed, checked again."""
    content = settings.model_dump()
    for section, keys in sections.items():
        content[section] = {**content[section], **keys}
    return Settings.model_validate(content)


def with_element(plant: PlantInputs, element: str, **changes: Any) -> PlantInputs:
    """Return the plant with every row of one element changed, as in ``with_element(plant, "load", typical=0.0)``."""
    rows = tuple(dataclasses.replace(row, **changes) if row.element == element else row for row in plant.elements)
    return dataclasses.replace(plant, elements=rows)


def write_small_plant(folder: Path, **changes: Any) -> Path:
    """Write the small plant as a folder that can be read, and return the folder."""
    from simkit.plant.writing import write_plant

    write_plant(small_plant(**changes), folder)
    return folder


def with_orders(plant: PlantInputs, count: int) -> PlantInputs:
    """Return the plant with its book repeated to this many orders, numbered anew."""
    book = plant.orders
    rows = (dataclasses.replace(book[number % len(book)], order_id=f"{number:06}") for number in range(count))
    return dataclasses.replace(plant, orders=tuple(rows), start=(), history=())
