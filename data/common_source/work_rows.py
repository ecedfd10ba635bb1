"""Rows of the work: orders, programs, their parts and tools, and the materials."""

from __future__ import annotations

import datetime as dt

import numpy as np
from drawing import DrawnOrder, DrawnProgram
from facts import (
    GAS_BAR,
    HANDBOOK,
    MATERIALS,
    NOZZLE_BY_THICKNESS,
    NOZZLE_MM,
    SCRAP_PER_KG,
    SHEAR_MPA,
    SHEET_MM,
    WEAR_FACTOR,
    YIELD,
    Shop,
)

from simkit.base.units import sheet_mass_kg
from simkit.plant.tables import Material, Order, Program, ProgramPart, ProgramTool

START_MONDAY = dt.date(2026, 5, 4)
"""First Monday of the book: no clock change in the twelve weeks that follow."""

SLOTS = ("obround", "rectangle")
"""Shapes that have a direction."""

LONG_PART_MM = 1100.0
"""Rule of the demo: sheets with parts longer than this are re-clamped twice, all others once."""

RAPID_SHARE = 0.5
"""Rule of the demo: the head travels half the spacing that the contours would have if spread evenly over the sheet."""


CHUTE_PARTS = 40
"""Rule of the demo: spares of so many to a sheet, about 350 x 170 mm, drop through the chute and are sorted later."""

REMNANT_SHARE = 0.15
"""Rule of the demo: a sheet with one part leaves a strip that can be used again."""


def tool_id(row: int) -> str:
    """Return the number of a tool by its row."""
    return f"TL-{row + 1:03d}"


def program_id(program: DrawnProgram) -> str:
    """Return the name of a program."""
    return f"{program.family}-{program.number + 1:03d}"


def thickness_mm(material: str) -> float:
    """Return the sheet thickness that the material's name states."""
    return float(material.partition("-")[2])


def material_rows(shop: Shop) -> list[Material]:
    """Return the materials."""
    return [_material(name, *MATERIALS[name]) for name in shop.materials]


def _material(name: str, density: float, clearance: float, speed: float, pierce: float, price: float) -> Material:
    metal, thickness = name[:2], thickness_mm(name)
    nozzle = next(nozzle for limit, nozzle in NOZZLE_BY_THICKNESS if thickness <= limit)
    return Material(
        material_id=name, metal=metal, thickness_mm=thickness, density_kg_m3=density, clearance_mm=clearance,
        cutting_speed_m_min=speed, pierce_s=pierce,
        nozzle=nozzle, gas="nitrogen", price_per_kg=price, scrap_price_per_kg=SCRAP_PER_KG[metal],
        shear_strength_mpa=SHEAR_MPA[metal], wear_factor=WEAR_FACTOR[metal], handbook=HANDBOOK[metal],
        nozzle_mm=NOZZLE_MM[nozzle], gas_pressure_bar=GAS_BAR[name],
    )  # fmt: skip


def order_rows(shop: Shop, programs: list[DrawnProgram], orders: list[DrawnOrder]) -> list[Order]:
    """Return the order book in the order of release."""
    return [
        Order(
            order_id=str(shop.first_order + number), program_id=program_id(programs[order.program]),
            sheets=order.sheets,
            released=START_MONDAY + dt.timedelta(days=order.day),
            due=_due(order), rush=order.rush,
        )
        for number, order in enumerate(orders)
    ]  # fmt: skip


def _due(order: DrawnOrder) -> dt.date:
    released = np.datetime64(START_MONDAY + dt.timedelta(days=order.day), "D")
    due: dt.date = np.busday_offset(released, order.lead).astype(object)
    return due


def program_rows(shop: Shop, programs: list[DrawnProgram]) -> list[Program]:
    """Return the programs; all counts are per sheet."""
    return [_program(shop, program) for program in programs]


def _program(shop: Shop, program: DrawnProgram) -> Program:
    hits = {True: 0, False: 0}
    for tool, per_part in zip(program.tools, program.hits, strict=True):
        hits[shop.tools[tool].forming] += per_part * program.parts
    length, _ = _sides_mm(program)
    family = shop.families[program.family]
    contours = family.contours * program.parts
    return Program(
        program_id=program_id(program), family=program.family, material_id=program.material,
        sheet_length_mm=SHEET_MM[0], sheet_width_mm=SHEET_MM[1], hits_per_sheet=hits[False],
        forming_hits_per_sheet=hits[True], cut_length_mm=round(program.cut_mm * program.parts),
        contours=contours, repositions=1 + (length > LONG_PART_MM),
        handover="chute" if family.chute and program.parts >= CHUTE_PARTS else "bench",
        remnant_share=REMNANT_SHARE if program.parts == 1 else 0.0, proven=program.proven,
        mean_pitch_mm=family.pitch_mm,
        rapid_mm=round(RAPID_SHARE * float(np.sqrt(SHEET_MM[0] * SHEET_MM[1] / contours))),
    )  # fmt: skip


def _sides_mm(program: DrawnProgram) -> tuple[float, float]:
    """Sides of a part from its area and side ratio; no side is longer than the sheet's."""
    area = YIELD * SHEET_MM[0] * SHEET_MM[1] / program.parts
    width = min(float(np.sqrt(area / program.side_ratio)), SHEET_MM[1])
    length = min(area / width, SHEET_MM[0])
    return round(length, 1), round(area / length, 1)


def part_rows(shop: Shop, programs: list[DrawnProgram]) -> list[ProgramPart]:
    """Return the one part of each program."""
    return [_part(shop, program) for program in programs]


def _part(shop: Shop, program: DrawnProgram) -> ProgramPart:
    length, width = _sides_mm(program)
    family = shop.families[program.family]
    density = MATERIALS[program.material][0]
    heights = [shop.tools[tool].height for tool in program.tools if shop.tools[tool].forming]
    return ProgramPart(
        program_id=program_id(program), part_id=f"{program_id(program)}-A", per_sheet=program.parts,
        length_mm=length, width_mm=width,
        mass_kg=round(sheet_mass_kg(length, width, thickness_mm(program.material), density), 3),
        form_height_mm=max(heights, default=0.0), flat_area_mm2=round(length * width * family.cup_share),
        tabs=family.tabs, surface_sensitive=family.surface_sensitive,
    )  # fmt: skip


def program_tool_rows(shop: Shop, programs: list[DrawnProgram]) -> list[ProgramTool]:
    """Return which program uses which tool.

    Rule of the demo: door skins lie across the sheet, so their slots stand at 90 degrees; all else at 0.
    """
    return [
        ProgramTool(
            program_id=program_id(program), tool_id=tool_id(tool), hits_per_sheet=per_part * program.parts,
            angle=90.0 if program.family == "DOOR" and shop.tools[tool].shape in SLOTS else 0.0,
        )
        for program in programs
        for tool, per_part in zip(program.tools, program.hits, strict=True)
    ]  # fmt: skip
