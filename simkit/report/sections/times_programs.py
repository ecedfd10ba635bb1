"""Why each program takes the time it takes: a picture and a table a program, element by element."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from simkit.analysis.sheet_times import ProgramTime, most_hours, tools_in_order
from simkit.plant.plant import Plant
from simkit.process.estimate import ElementTime
from simkit.report.exhibits import Block, Exhibit, Row, paragraph, table
from simkit.report.figures import stacked_hours
from simkit.report.palette import element_colours
from simkit.report.sections.times import NO_SHEETS
from simkit.report.timestudy import TimeStudy
from simkit.report.words import number, percent, plural, with_unit

SILENT = "–"


def why_these(view: TimeStudy, most: int, named: str = "") -> list[Exhibit | Block]:
    """A picture and a table for the programs that use most hours, then for those named (separated by commas).

    Raises BadInput for an unknown program.
    """
    wanted = view.named(name for name in (part.strip() for part in named.split(",")) if name)
    top = most_hours(view.times, max(most, 0))
    rows = list(dict.fromkeys([*top, *wanted]))
    if not rows:
        return [paragraph(NO_SHEETS)]
    share = sum(row.hours for row in top) / view.book_h if view.book_h else 0.0
    first = (
        f"The {plural(len(top), 'program')} with the most hours use {percent(share)} of the book's "
        f"{with_unit(view.book_h, 'h')} of run time."
    )
    blocks = [item for row in rows for item in why_this(view, row)]
    return [paragraph(first), *blocks] if top else blocks


def why_this(view: TimeStudy, row: ProgramTime) -> Iterator[Exhibit | Block]:
    """A program's picture, if it takes any time, and its table."""
    if row.estimate.best_s > 0:
        yield program_bars(view, row)
    yield program_table(view, row)


def program_bars(view: TimeStudy, row: ProgramTime) -> Exhibit:
    """Bars of a sheet's elements: as believed, as the runs use them, and by the motion."""
    estimate = row.estimate
    names = [element.element for element in estimate.elements]
    bars = {
        "believed": [e.best_s for e in estimate.elements],
        "runs use": [e.run_s * _scale(row) for e in estimate.elements],
    }
    if view.has_motion:
        bars["estimate"] = [e.run_s if e.motion_s is None else e.motion_s for e in estimate.elements]
    frame = pd.DataFrame(list(bars.values()), columns=names, index=list(bars))
    title = (
        f"{row.program.program_id}: {_told(row)}; runs use {with_unit(estimate.run_s, 's', 0)}, "
        f"{with_unit(row.hours, 'h')} of the book"
    )
    return stacked_hours(frame, element_colours(names), "s a sheet", title)


def _scale(row: ProgramTime) -> float:
    """Factor that stretches the rows to the measured time, which the runs use."""
    total = sum(e.run_s for e in row.estimate.elements)
    return row.estimate.run_s / total if total else 1.0


def _told(row: ProgramTime) -> str:
    """The program's time and its largest element in words."""
    estimate = row.estimate
    if not estimate.elements:
        return "no element takes time"
    first = max(estimate.elements, key=lambda e: e.best_s)
    return f"{with_unit(estimate.best_s, 's', 0)} a sheet, the largest part {first.element} ({percent(first.share)})"


def program_table(view: TimeStudy, row: ProgramTime) -> Block:
    """Every element of a sheet: count, seconds, share, both sides, and the source that is believed."""
    estimate = row.estimate
    rows = [_element_row(element) for element in estimate.elements]
    best = sum(e.best_s for e in estimate.elements)
    total = ("", number(best, 1), percent(1.0 if best else 0.0), number(estimate.run_s, 1),
             number(estimate.motion_s, 1) if view.has_motion else SILENT,
             "measured run time" if estimate.measured_s is not None else "sum")  # fmt: skip
    rows.append(Row("a sheet", total, "total"))
    title = f"{row.program.program_id}: why a sheet takes {with_unit(estimate.best_s, 's', 0)}, element by element"
    columns = ["element", "count a sheet", "believed, s", "share", "runs use, s", "by motion, s", "believed by"]
    return table(
        title, columns, rows, words=[5], note=f"{_about(view.study.plant, row)} {_tools(view.study.plant, row)}"
    )


def _element_row(e: ElementTime) -> Row:
    motion = SILENT if e.motion_s is None else number(e.motion_s, 1)
    cells = (number(e.count), number(e.best_s, 1), percent(e.share), number(e.run_s, 1), motion, e.source)
    return Row(e.element, cells)


def _about(plant: Plant, row: ProgramTime) -> str:
    """Sheet, book, gas and nozzle of a program in words."""
    program = row.program
    material = plant.material_by_id[program.material_id]
    opening = "" if material.nozzle_mm is None else f", opening {material.nozzle_mm:g} mm"
    pressure = "" if material.gas_pressure_bar is None else f" at {material.gas_pressure_bar:g} bar"
    laser = (
        f"cut with {material.gas}{pressure}, nozzle {material.nozzle}{opening}"
        if program.cut_length_mm > 0
        else "not cut by the laser"
    )
    return (
        f"Sheet {program.sheet_length_mm:g} x {program.sheet_width_mm:g} mm of {program.material_id}, "
        f"{plural(row.estimate.sheets, 'sheet')} in the book, {laser}."
    )


def _tools(plant: Plant, row: ProgramTime) -> str:
    """Tools of a program in order, with station and hits."""
    steps = tools_in_order(plant, row.program)
    if not steps:
        return "No tools."
    told = []
    for step in steps:
        tool = plant.tool_by_id[step.use.tool_id]
        station = f", station {step.station}" if step.station else ""
        told.append(f"{tool.tool_id} {tool.shape} ({plural(step.use.hits_per_sheet, 'hit')}{station})")
    return f"Tools in the order that turns the turret least, cutting before forming: {'; '.join(told)}."
