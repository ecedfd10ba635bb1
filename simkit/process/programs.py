"""Program tables: what each program of a scenario needs, before any luck. Made once per scenario."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simkit.base.arrays import Floats, Ints
from simkit.base.keeping import kept
from simkit.base.units import on_grid_s
from simkit.base.vocabulary import BENCH, CHANGEOVER, CUTTING, EXCHANGES, FORMING, OUTSIDE, PUNCHING
from simkit.plant.book_counts import driver_counts
from simkit.plant.conditions import PART_DRIVERS, asks_about_part, facts_of, holds, part_facts, tool_facts
from simkit.plant.part_ways import LIFTS, PartFlow, part_flow, way_of
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Element, Order, Program, ProgramPart, Quality
from simkit.process.elements import ElementUse, chosen_rows, timed
from simkit.process.lasercut import contours_s
from simkit.process.motiontimes import motion_uses
from simkit.process.slugs import program_slugs_kg

Facts = dict[str, float | str]

SHEET_DRIVERS = (
    "sheet", "hit", "forming_hit", "tool", "reposition", "mode_change", "contour", "m_cut", "part", "tab", "kg",
    "pick", "pick_blocking", "chute_part", "skeleton",
    "remnant", "stored_sheet",
)  # fmt: skip
"""Drivers whose count is known for each sheet."""
BY_DEVICE = ("pick", "pick_blocking", "skeleton")
"""Those of what a removal device does to a sheet."""


@dataclass(frozen=True)
class ProgramTables:
    """Programs of a scenario in file order: static facts as arrays, element rows with their counts.

    The tool needs of all programs stand in one row, in the order of program_tools.csv: those of program p from
    ``first_need[p]`` up to ``first_need[p + 1]``. Of a sheet, ``slug_kg`` falls into the bin, and ``remnant_kg`` is
    kept for use, at most what parts and slugs leave. ``at_risk`` holds, per cause of quality.csv, the parts of a sheet
    that it may mark; ``may_strike``, per row of load_faults.csv, whether it is for each need.
    """

    programs: tuple[Program, ...]
    index: dict[str, int]
    flows: tuple[PartFlow, ...]
    material: Ints
    sheet_kg: Floats
    slug_kg: Floats
    remnant_kg: Floats
    cut_base_s: Floats
    measured_run_s: Floats
    uses: tuple[ElementUse, ...]
    at_risk: tuple[Floats, ...]
    first_need: Ints
    may_strike: tuple[NDArray[np.bool_], ...]
    other_losses: float

    @property
    def filled(self) -> Floats:
        """Share of each program's places on a sheet that hold a part: its orders take so many times 1/filled sheets."""
        return np.array([flow.filled for flow in self.flows])

    @property
    def sorted_by_hand(self) -> Floats:
        """Parts of a sheet that people take out of the chute's container, at most all that went down."""
        chute = np.array([flow.chute for flow in self.flows])
        found: dict[str, Floats] = {}
        for use in self.uses:
            if use.driver == "chute_part" and use.state == BENCH and use.by_person and use.law.mean > 0:
                found[use.name] = found.get(use.name, np.zeros(len(chute))) + use.count
        return np.minimum(np.max(list(found.values()), axis=0), chute) if found else np.zeros(len(chute))

    @property
    def skeleton_kg(self) -> Floats:
        """What parts, slugs and a kept remnant leave of each program's sheet, kg: skeleton, cut-outs and kerf."""
        rest: Floats = self.sheet_kg - np.array([flow.parts_kg for flow in self.flows]) - self.slug_kg
        return rest - self.remnant_kg

    def of_orders(self, orders: Iterable[Order]) -> Ints:
        """The program of each order."""
        return np.array([self.index[order.program_id] for order in orders], np.int64)

    @property
    def run_ratio(self) -> Floats:
        """Mean run-time ratio of each program; of several rows the last counts, as in a run."""
        ratio = np.ones(len(self.programs))
        for use in self.uses:
            if use.driver == "process":
                ratio = np.where(use.count > 0, use.law.mean, ratio)
        return ratio

    def sheet_s(self, *states: str, start: Floats | float = 0.0, besides: str = "", by_person: bool = False) -> Floats:
        """Mean seconds a sheet of each program by the rows of these states, on top of those at the start.

        Left out are rows counted ``besides``, and for ``by_person`` those that need nobody.
        """
        seconds = np.zeros(len(self.programs)) + start
        for use in self.uses:
            if use.state in states and use.driver in SHEET_DRIVERS and use.driver != besides:
                seconds += use.count * use.law.mean * (use.by_person or not by_person)
        return seconds


@kept
def program_tables(plant: PlantInputs) -> ProgramTables:
    """Work out the static tables of every program."""
    programs = plant.programs
    materials = [row.material_id for row in plant.materials]
    flows = tuple(part_flow(plant, program) for program in programs)
    masses = np.array([plant.sheet_kg(program) for program in programs])
    parts_kg, filled = (np.array([getattr(flow, name) for flow in flows]) for name in ("parts_kg", "filled"))
    left_kg = masses - parts_kg / filled
    slug_kg = filled * [program_slugs_kg(plant, *each) for each in zip(programs, left_kg, strict=True)]
    of = [plant.material_by_id[program.material_id] for program in programs]
    cut_s = [contours_s(p.cut_length_mm, m.cutting_speed_m_min, p.contours, m.pierce_s)
             for p, m in zip(programs, of, strict=True)]  # fmt: skip
    remnants = plant.settings.store.remnants_kept * np.array([program.remnant_share for program in programs])
    needs = [_facts_of_needs(plant, program, float(mass)) for program, mass in zip(programs, masses, strict=True)]
    return ProgramTables(
        programs=programs,
        index={program.program_id: number for number, program in enumerate(programs)},
        flows=flows,
        material=np.array([materials.index(program.material_id) for program in programs], np.int64),
        sheet_kg=masses,
        slug_kg=slug_kg,
        remnant_kg=np.minimum(remnants * masses, np.maximum(masses - parts_kg - slug_kg, 0.0)),
        cut_base_s=filled * cut_s,
        measured_run_s=filled * [p.measured_run_s if p.measured_run_s is not None else np.nan for p in programs],
        uses=(
            *_uses(plant, programs, flows, masses, needs),
            *(dataclasses.replace(use, count=filled * use.count) for use in motion_uses(plant)),
        ),
        at_risk=tuple(filled * _at_risk(plant, cause, programs, masses) for cause in plant.quality),
        first_need=np.cumsum([0, *map(len, needs)]).astype(np.int64),
        may_strike=tuple(
            np.array([holds(row.applies_to, facts) for program in needs for facts in program], bool)
            for row in plant.load_faults
        ),
        other_losses=plant.settings.rules.other_losses,
    )


def _facts_of_needs(plant: PlantInputs, program: Program, sheet_kg: float) -> list[Facts]:
    """What conditions can ask about each tool need of a program: its tool, and the program and sheet."""
    facts = facts_of(plant, program, sheet_kg)
    return [
        {**facts, **tool_facts(plant.tool_by_id[need.tool_id])} for need in plant.tools_of.get(program.program_id, ())
    ]


def _uses(
    plant: PlantInputs,
    programs: tuple[Program, ...],
    flows: tuple[PartFlow, ...],
    masses: Floats,
    needs: list[list[Facts]],
) -> tuple[ElementUse, ...]:
    """Every element row that is for at least one program, tool need or part, with its count per program."""
    ready = {id(row): timed(row, plant.sequences) for row in plant.elements}
    found = _need_uses(plant, ready, needs)
    counts: dict[int, Floats] = {}
    by_part = {row.element for row in plant.elements if asks_about_part(row)}
    for number, program in enumerate(programs):
        facts = facts_of(plant, program, float(masses[number]))
        drivers = driver_counts(plant, program, flows[number])
        for row in chosen_rows(plant.elements, facts).values():
            if ready[id(row)].driver not in EXCHANGES and row.element not in by_part:
                column = counts.setdefault(id(row), np.zeros(len(programs)))
                column[number] = _occurrences(ready[id(row)], drivers, flows[number])
        if by_part:
            rows = [row for row in plant.elements if row.element in by_part]
            _count_by_part(plant, program, number, rows, facts, ready, counts)
            for row in rows:
                if id(row) in counts:
                    counts[id(row)][number] *= flows[number].filled
    found |= {key: dataclasses.replace(ready[key], count=count) for key, count in counts.items()}
    return tuple(found[id(row)] for row in plant.elements if id(row) in found)


def _count_by_part(
    plant: PlantInputs, program: Program, number: int, rows: list[Element], facts: Facts, ready: dict[int, ElementUse],
    counts: dict[int, Floats],
) -> None:  # fmt: skip
    """Count rows of elements that ask about parts, part by part."""
    for part in plant.parts_of.get(program.program_id, ()):
        for row in chosen_rows(rows, {**facts, **part_facts(part)}).values():
            column = counts.setdefault(id(row), np.zeros(len(plant.programs)))
            column[number] += part.per_sheet * _per_part(ready[id(row)], way_of(plant, program, part), part)


def _per_part(element: ElementUse, way: str, part: ProgramPart) -> float:
    """Count of an element at one part that leaves its sheet this way."""
    if element.state == OUTSIDE and element.driver == "part":
        return 1.0
    benched = float(way in ("bench", "stack"))
    return {
        "part": benched, "tab": benched * part.tabs, "kg": benched * part.mass_kg, "pick": float(way == "removal"),
        "pick_blocking": float(way == "removal"), "chute_part": float(way == "chute"),
    }.get(element.driver, 0.0)  # fmt: skip


def _need_uses(plant: PlantInputs, ready: dict[int, ElementUse], needs: list[list[Facts]]) -> dict[int, ElementUse]:
    """Rows counted per tool exchange, by their identity: for which needs, and for what share of each program's."""
    names = {row.element for row in plant.elements if ready[id(row)].driver in EXCHANGES}
    rows = [row for row in plant.elements if row.element in names]
    program_of = np.repeat(np.arange(len(needs)), [len(program) for program in needs])
    per_need: dict[int, Floats] = {}
    for place, facts in enumerate(facts for program in needs for facts in program):
        for row in chosen_rows(rows, facts).values():
            if ready[id(row)].driver in EXCHANGES:
                per_need.setdefault(id(row), np.zeros(len(program_of)))[place] = 1.0
    of_program = np.maximum(np.bincount(program_of, minlength=len(needs)), 1)
    return {
        key: dataclasses.replace(ready[key], count=np.bincount(program_of, yes, len(needs)) / of_program, per_need=yes)
        for key, yes in per_need.items()
    }


def _at_risk(plant: PlantInputs, cause: Quality, programs: tuple[Program, ...], masses: Floats) -> Floats:
    """Parts per sheet that a cause of quality.csv may mark; sensitivity and hand-over are asked of each part.

    Where it may mark a part at each lift, a part counts more than once, so that this times the rate is the share of
    parts marked at least once.
    """
    found = np.zeros(len(programs))
    for number, program in enumerate(programs):
        facts = facts_of(plant, program, float(masses[number]))
        for part in plant.parts_of.get(program.program_id, ()):
            facts |= part_facts(part)
            facts["handover"] = way = way_of(plant, program, part)
            if holds(cause.applies_to, facts):
                found[number] += part.per_sheet * _times(cause, LIFTS[way])
    return found


def _times(cause: Quality, lifts: int) -> float:
    """By how much a cause that strikes at each lift strikes more often than once: (1 - (1 - rate)^lifts) / rate."""
    if cause.per == "part":
        return 1.0
    return (1.0 - (1.0 - cause.rate) ** lifts) / cause.rate if cause.rate > 0 else float(lifts)


def _occurrences(element: ElementUse, drivers: dict[str, float], flow: PartFlow) -> float:
    """Count of an element on one sheet; moved work per part is for all parts, whichever way they leave.

    Of bench work, what is not counted by parts is for sheets that come to the bench.
    """
    if element.state == OUTSIDE and element.driver == "part":
        return flow.parts
    if element.state == BENCH and element.driver not in PART_DRIVERS and not flow.to_bench:
        return 0.0
    return drivers.get(element.driver, 1.0)


def exchange_seconds(tables: ProgramTables) -> dict[str, float]:
    """Mean seconds of each kind of exchange while the machine stands, over the tool needs of all programs.

    Kinds that the plant has no rows for are left out.
    """
    found: dict[str, float] = {}
    for use in tables.uses:
        if use.driver in EXCHANGES and use.state == CHANGEOVER:
            found[use.driver] = found.get(use.driver, 0.0) + float(use.per_need.mean()) * use.law.mean
    return {kind: on_grid_s(seconds) for kind, seconds in found.items()}


def run_shares(tables: ProgramTables) -> tuple[Floats, Floats, Floats]:
    """Static seconds per sheet of punching, forming and cutting as the runs use them on average, no luck."""
    punch_s, form_s = tables.sheet_s(PUNCHING), tables.sheet_s(FORMING)
    cut_s = tables.sheet_s(CUTTING, start=tables.cut_base_s)
    return run_stages(punch_s, form_s, cut_s, tables.measured_run_s, tables.run_ratio, tables.other_losses)


def run_stages(
    punch_s: Floats, form_s: Floats, cut_s: Floats, measured_s: Floats, ratio: Floats, other_losses: float
) -> tuple[Floats, Floats, Floats]:
    """Seconds of the three stages by the rows, stretched to the run: run-time ratio or measured time, and losses.

    A measured time (NaN: none) holds what the ratio stands for, but not what is lost beside it; where no row says
    anything, all of it is cutting.
    """
    unshared = (punch_s + form_s + cut_s == 0) & ~np.isnan(measured_s)
    cut_s = np.where(unshared, measured_s, cut_s)
    by_rows_s = np.maximum((punch_s + form_s + cut_s) * ratio, 1e-9)
    scale = np.where(np.isnan(measured_s), 1.0, measured_s / by_rows_s) * ratio / (1.0 - other_losses)
    return punch_s * scale, form_s * scale, cut_s * scale
