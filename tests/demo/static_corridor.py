"""Closed sums of the demo plant: what the book needs if nobody ever waits. Not the cell.

Machine hours are fixed times, changes, handling and process, with ten per cent added for stops; orders
come in the order of arrival, the tool used longest ago leaves, and there are 290 attended hours in four weeks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from simkit.base.units import SECONDS_PER_HOUR, sheet_mass_kg
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Program
from tests.demo.sequencing import Changes, changes_of, grouped, in_arrival_order, works_of

LOSSES = 1.1
"""Ten per cent for stops."""

ATTENDED_H = 290.0
BOOK_SEED, DEMAND_STREAM = 41017, 5
"""The demand uniforms are a sixth stream of the book's seed, beside the five of the generator."""


@dataclass(frozen=True)
class Minutes:
    """Times of the sums, in minutes where the name does not say otherwise."""

    order_fixed: float = 9.0
    first_piece: float = 6.0
    tool_load: float = 1.6 + 2.4
    die_change: float = 1.5
    angle_change: float = 0.0
    nozzle_change: float = 0.0
    material_fetch: float = 6.0
    load: float = 1.9
    heavy_load: float = 1.9
    pull_out: float = 1.3
    film_per_m: float = 0.0
    hit_s: float = 0.33
    form_hit_s: float = 1.5
    index_s: float = 2.2
    reposition_s: float = 6.0
    mode_change_s: float = 5.0
    contour_move_s: float = 1.2


PAGE = Minutes()
"""The description's sums: 1.9 min to load every sheet, no film pass, no nozzle and angle changes."""

CASES = {
    "Today": (PAGE, False),
    "N2": (replace(PAGE, tool_load=0.2 + 1.6, order_fixed=5.0), False),
    "N1+N2": (replace(PAGE, tool_load=0.2 + 1.6, order_fixed=5.0), True),
    "A5b": (replace(PAGE, load=0.9, heavy_load=0.9, material_fetch=0.0), False),
    "A1, every exchange hidden": (replace(PAGE, tool_load=0.0, die_change=0.0), False),
}
"""Case to its times and whether orders are grouped."""


def own_minutes(plant: PlantInputs) -> Minutes:
    """Return the plant's own rows: heavy sheets load longer, film passes, nozzles and angles count."""
    typical = {(row.element, row.applies_to): row.typical for row in plant.elements}
    load = typical["load", ""]
    return Minutes(
        order_fixed=typical["order_fixed", ""], first_piece=typical["first_piece", ""],
        tool_load=typical["tool_search", ""] + typical["tool_fit", ""], die_change=typical["die_change", ""],
        angle_change=typical["angle_change", ""], nozzle_change=typical["nozzle_change", ""],
        material_fetch=typical["material_fetch", ""], load=load, heavy_load=typical.get(("load", "mass_kg>25"), load),
        pull_out=typical["pull_out", ""], film_per_m=typical["film_pass", "family=GALL"], hit_s=typical["hit", ""],
        form_hit_s=typical["form_hit", ""], index_s=typical["index", ""], reposition_s=typical["reposition", ""],
        mode_change_s=typical["mode_change", ""], contour_move_s=typical["contour_move", ""],
    )  # fmt: skip


@dataclass(frozen=True)
class Hours:
    """Machine hours of a book without losses, by what they go to, and the bench's labour hours."""

    order_fixed: float
    tool_loads: float
    die_changes: float
    angle_changes: float
    nozzle_changes: float
    fetches: float
    loading: float
    pulling: float
    punching: float
    laser: float
    bench: float

    @property
    def setup(self) -> float:
        """Hours of set-up."""
        return (
            self.order_fixed + self.tool_loads + self.die_changes + self.angle_changes + self.nozzle_changes
            + self.fetches
        )  # fmt: skip

    @property
    def handling(self) -> float:
        """Hours of loading and pulling out."""
        return self.loading + self.pulling

    @property
    def process(self) -> float:
        """Hours of punching, forming and cutting."""
        return self.punching + self.laser

    @property
    def with_losses(self) -> float:
        """Machine hours needed, losses added."""
        return LOSSES * (self.setup + self.handling + self.process)


def demand_uniforms(plant: PlantInputs) -> NDArray[np.float64]:
    """Return one uniform per order, the same at every demand factor, evenly spread over 0 to 1.

    Evenly spread, because these sums have no replications over which luck could average out.
    """
    child = np.random.SeedSequence(BOOK_SEED).spawn(DEMAND_STREAM + 1)[DEMAND_STREAM]
    rng, count = np.random.default_rng(child), len(plant.orders)
    spread: NDArray[np.float64] = (rng.permutation(count) + rng.random(count)) / count
    return spread


def static_hours(plant: PlantInputs, minutes: Minutes, factor: float = 1.0, group: bool = False) -> Hours:
    """Sum the machine hours of the book at a demand factor."""
    orders = in_arrival_order(plant.orders, demand_uniforms(plant), factor)
    works = works_of(plant, orders)
    changes = changes_of(plant, grouped(works) if group else works)
    sheets = [(plant.program_by_id[order.program_id], order.sheets) for order in orders]
    return _hours(plant, minutes, changes, sheets)


def _hours(plant: PlantInputs, t: Minutes, changes: Changes, sheets: Sequence[tuple[Program, int]]) -> Hours:
    minute = 1 / 60
    count = sum(number for _, number in sheets)
    heavy = sum(number for program, number in sheets if sheet_kg(plant, program) > 25)
    parts = sum(number * sum(p.per_sheet for p in plant.parts_of[program.program_id]) for program, number in sheets)
    return Hours(
        order_fixed=len(sheets) * (t.order_fixed + t.first_piece) * minute,
        tool_loads=changes.tool_loads * t.tool_load * minute,
        die_changes=changes.die_changes * t.die_change * minute,
        angle_changes=changes.angle_changes * t.angle_change * minute,
        nozzle_changes=changes.nozzle_changes * t.nozzle_change * minute,
        fetches=changes.material_changes * t.material_fetch * minute,
        loading=((count - heavy) * t.load + heavy * t.heavy_load) * minute,
        pulling=count * t.pull_out * minute,
        punching=sum(number * punch_s(plant, program, t) for program, number in sheets) / SECONDS_PER_HOUR,
        laser=sum(number * laser_s(plant, program, t) for program, number in sheets) / SECONDS_PER_HOUR,
        bench=parts * (6.5 + 4.0 + 3.0) / SECONDS_PER_HOUR,
    )


def sheet_kg(plant: PlantInputs, program: Program) -> float:
    """Mass of a program's sheet in kg."""
    material = plant.material_by_id[program.material_id]
    return sheet_mass_kg(
        program.sheet_length_mm, program.sheet_width_mm, material.thickness_mm, material.density_kg_m3
    )  # fmt: skip


def punch_s(plant: PlantInputs, program: Program, t: Minutes) -> float:
    """Punching and forming of a sheet in s."""
    return (
        program.hits_per_sheet * t.hit_s
        + program.forming_hits_per_sheet * t.form_hit_s
        + len(plant.tools_of[program.program_id]) * t.index_s
        + program.repositions * t.reposition_s
    )


def laser_s(plant: PlantInputs, program: Program, t: Minutes) -> float:
    """Cutting of a sheet in s, its film pass included."""
    material = plant.material_by_id[program.material_id]
    cut_m = program.cut_length_mm / 1000
    film_s = 60 * t.film_per_m * cut_m if program.family == "GALL" else 0.0
    contours_s = program.contours * (material.pierce_s + t.contour_move_s)
    return 60 * cut_m / material.cutting_speed_m_min + contours_s + t.mode_change_s + film_s
