"""What the motion of the machine says a sheet takes, next to what the plant's rows say and to a measured run time.

Element by element: hits, turret index, forming hits, repositions, change of mode, cutting, pierces, contours (moves,
heights, lead-ins). A measured run time wins; an element row that was measured or logged wins over the motion; the
motion wins over a row that is estimated, quoted or a default. What a run uses does not change by any of this
(see ``motiontimes``): the estimate only stands beside it. Luck, and losses that stretch every run alike, are left out.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass

import numpy as np

from simkit.base.arrays import Floats
from simkit.base.units import SECONDS_PER_MINUTE
from simkit.base.vocabulary import DRIVERS, PROCESS_STATES
from simkit.plant.book_counts import driver_counts
from simkit.plant.conditions import facts_of
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Program
from simkit.process.elements import chosen_rows, timed
from simkit.process.motiontimes import BASIS, SOURCE, missing_drivers, motion_seconds
from simkit.process.programs import SHEET_DRIVERS, program_tables

CUT, PIERCE = "cut", "pierce"
NAMES = {
    "hit": "hits", "tool": "turret index", "forming_hit": "forming hits",
    "reposition": "repositions", "mode_change": "change of mode", CUT: "cutting (m)", PIERCE: "pierces",
    "contour": "contours: moves, heights, lead-ins",
}  # fmt: skip
"""Elements of a run in the trade's words; any other is named by its driver."""
FIRST = ("hit", "tool", "forming_hit", "reposition", "mode_change", CUT, PIERCE, "contour")
"""Order in which elements are told."""
WATCHED = ("measured", "logged")
"""Bases of rows that win over the motion."""
TABLE = "speeds and pierce times of materials.csv"


@dataclass(frozen=True)
class ElementTime:
    """One element of a sheet's run, in s a sheet.

    ``motion_s`` is what the motion (or the table of speeds) says, None where it is silent; ``run_s`` is what the
    simulated runs use on average, run-time ratio applied: the rows (``has_row``), else the motion or the table.
    ``best_s`` is the one that is believed, ``share`` its part of the run, ``source`` says which.
    """

    element: str
    count: float
    motion_s: float | None
    run_s: float
    has_row: bool
    best_s: float
    share: float
    source: str


@dataclass(frozen=True)
class RunEstimate:
    """What a sheet of a program takes and why, in s a sheet.

    ``motion_s`` takes the motion wherever it speaks and the rows elsewhere; ``run_s`` is what the simulated runs use
    on average; ``best_s`` is what is believed. ``sheets`` counts the sheets of the book.
    """

    program_id: str
    sheets: int
    elements: tuple[ElementTime, ...]
    motion_s: float
    run_s: float
    measured_s: float | None
    best_s: float

    @property
    def ratio(self) -> float:
        """What the motion says over what the runs use; infinite where they use none."""
        if self.run_s == 0.0:
            return 1.0 if self.motion_s == 0.0 else math.inf
        return self.motion_s / self.run_s


def run_name(driver: str) -> str:
    """An element of a run in words, by its driver."""
    return NAMES.get(driver) or DRIVERS.get(driver, driver).removeprefix("a ")


def run_estimates(plant: PlantInputs) -> tuple[RunEstimate, ...]:
    """The estimate of every program, in file order."""
    tables, motion, missing = program_tables(plant), _motion(plant), missing_drivers(plant)
    ratio = tables.run_ratio
    found = []
    for number, program in enumerate(plant.programs):
        rows = _rows(plant, program, float(tables.sheet_kg[number]))
        counts = driver_counts(plant, program, tables.flows[number])
        counts |= {CUT: counts["m_cut"], PIERCE: counts["contour"]}
        elements = [
            _element(driver, counts[driver], float(motion[driver][number]) if driver in motion else math.nan,
                     rows.get(driver, []), float(ratio[number]), driver in missing)
            for driver in dict.fromkeys((*FIRST, *rows))
            if counts[driver] > 0
        ]  # fmt: skip
        found.append(_estimate(program, elements, plant.sheets_of[program.program_id], tables.other_losses))
    return tuple(found)


def _rows(plant: PlantInputs, program: Program, sheet_kg: float) -> dict[str, list[tuple[float, str]]]:
    """Mean seconds and basis of the rows of a program's run, by driver."""
    rows: dict[str, list[tuple[float, str]]] = {}
    for row in chosen_rows(plant.elements, facts_of(plant, program, sheet_kg)).values():
        use = timed(row, plant.sequences)
        if use.driver in SHEET_DRIVERS and use.state in PROCESS_STATES:
            rows.setdefault(use.driver, []).append((use.law.mean, row.basis))
    return rows


def _motion(plant: PlantInputs) -> dict[str, Floats]:
    """Seconds an occurrence by the motion, and by the table of speeds for cutting (a metre) and pierces."""
    materials = [plant.material_by_id[program.material_id] for program in plant.programs]
    speeds = np.array([material.cutting_speed_m_min for material in materials], float)
    pierce_s = np.array([material.pierce_s for material in materials], float)
    return motion_seconds(plant) | {CUT: SECONDS_PER_MINUTE / speeds, PIERCE: pierce_s}


# ---- one program ----


def _element(
    driver: str, count: float, second_s: float, rows: list[tuple[float, str]], ratio: float, filled: bool
) -> ElementTime:
    """Weigh motion and rows of an element that occurs ``count`` times, a ``second_s`` each by the motion or the table.

    What a run takes of the motion or the table is stretched by its ratio too.
    """
    motion_s = None if math.isnan(second_s) else second_s * count
    rows_s = sum(mean for mean, _ in rows) * count if rows else None
    bases = tuple(dict.fromkeys(basis for _, basis in rows))
    table = driver in (CUT, PIERCE)
    by_rows = rows_s is not None and (motion_s is None or any(basis in WATCHED for basis in bases))
    if table:
        best, source = motion_s, TABLE
    elif by_rows:
        best, source = rows_s, f"element rows ({', '.join(bases)})"
    elif motion_s is not None:
        best, source = motion_s, f"{SOURCE} ({BASIS}{', no row' if filled else ''})"
    else:
        best, source = 0.0, "nothing: no row, and the motion is silent"
    used = rows_s if rows_s is not None else motion_s if table or filled else None
    stretch = ratio if by_rows or table else 1.0
    return ElementTime(
        element=run_name(driver), count=count, motion_s=motion_s, run_s=(used or 0.0) * ratio,
        best_s=(best or 0.0) * stretch, share=0.0, source=source, has_row=rows_s is not None,
    )  # fmt: skip


def _estimate(program: Program, rows: list[ElementTime], sheets: int, other_losses: float) -> RunEstimate:
    measured = program.measured_run_s
    if other_losses:
        rows = [*rows, _lost(rows, other_losses)]
        measured = None if measured is None else measured / (1.0 - other_losses)
    best = sum(row.best_s for row in rows) if measured is None else measured
    return RunEstimate(
        program_id=program.program_id, sheets=sheets, elements=_shared(rows, best),
        motion_s=sum(row.run_s if row.motion_s is None else row.motion_s for row in rows),
        run_s=sum(row.run_s for row in rows) if measured is None else measured,
        measured_s=program.measured_run_s, best_s=best,
    )  # fmt: skip


def _lost(rows: list[ElementTime], share: float) -> ElementTime:
    """What no element or stop covers, as one more element: a share of the run with it."""
    run_s, best_s = sum(row.run_s for row in rows), sum(row.best_s for row in rows)
    run_s, best_s = (seconds * share / (1.0 - share) for seconds in (run_s, best_s))
    return ElementTime("other losses", 1.0, None, run_s, True, best_s, 0.0, "the plant's share of other losses")


def _shared(rows: list[ElementTime], best_s: float) -> tuple[ElementTime, ...]:
    """The elements with their shares, stretched alike to the time that is believed; without any, all is cutting."""
    total = sum(row.best_s for row in rows)
    if total == 0.0 and best_s > 0.0:
        return (ElementTime(NAMES[CUT], 0.0, None, best_s, False, best_s, 1.0, "measured run time, no element known"),)
    scale = best_s / total if total else 0.0
    return tuple(
        dataclasses.replace(row, best_s=row.best_s * scale, share=row.best_s / total if total else 0.0) for row in rows
    )
