"""Seconds that the motion of the machine gives for what element rows count: hits, tool index, repositions, contours.

Inputs are ``machine.motion`` of plant.toml and the columns ``mean_pitch_mm`` and ``rapid_mm`` of programs.csv. Where a
plant has no element row for one of these drivers, a run takes its time from here (basis estimated, source "motion of
the machine"); where it has one, the row counts and this stands beside it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from simkit.base.arrays import Floats
from simkit.base.laws import Law
from simkit.base.units import MM_PER_M, SECONDS_PER_MINUTE
from simkit.base.vocabulary import CUTTING, FORMING, PROCESS_STATES, PUNCHING
from simkit.plant.conditions import split_unit
from simkit.plant.plant import PlantInputs
from simkit.plant.settings import Motion
from simkit.plant.tables import Program
from simkit.process.elements import ElementUse
from simkit.process.motion import Axis, reposition_s, ring_steps, tool_order

STATE_OF = {
    "hit": PUNCHING, "forming_hit": FORMING, "tool": PUNCHING, "reposition": PUNCHING, "contour": CUTTING,
}  # fmt: skip
"""Drivers whose time the motion can give, and the state it goes to."""
SOURCE = "motion of the machine"
BASIS = "estimated"


@dataclass(frozen=True)
class Axes:
    """The two axes under the sheet: along its length and across it."""

    x: Axis
    y: Axis

    def move_s(self, distance_mm: ArrayLike) -> Floats:
        """Seconds of a move in a row of hits: the mean of one along the sheet and one across it.

        Rows of holes lie along one of the axes, half of them along each: common practice, no source. Moves of unlike
        length take a little less on average than moves of their mean length, so that this is on the high side.
        """
        return np.asarray((self.x.move_s(distance_mm) + self.y.move_s(distance_mm)) / 2)


def axes_of(motion: Motion) -> Axes | None:
    """The axes that the motion describes, or None without speed and acceleration along the sheet."""
    if motion.x_speed_m_s is None or motion.x_accel_m_s2 is None:
        return None
    jerk = math.inf if motion.jerk_m_s3 is None else motion.jerk_m_s3
    y_speed, y_accel = motion.y_speed_m_s or motion.x_speed_m_s, motion.y_accel_m_s2 or motion.x_accel_m_s2
    return Axes(Axis(motion.x_speed_m_s, motion.x_accel_m_s2, jerk_m_s3=jerk), Axis(y_speed, y_accel, jerk_m_s3=jerk))


def motion_seconds(plant: PlantInputs) -> dict[str, Floats]:
    """Seconds of one occurrence by driver of :data:`STATE_OF` and program (file order), NaN where an input is missing.

    A hit is a move over the mean pitch, the settling and the stroke; a reposition moves the carriage back by an equal
    share of the sheet's length; a contour is a rapid move, the height and a lead-in at cutting speed; a tool is its
    share of the turret's turns on one sheet (:func:`index_s`).
    """
    motion = plant.settings.machine.motion
    return {
        "hit": _hit_s(plant, motion.ram_s),
        "forming_hit": _hit_s(plant, motion.forming_ram_s),
        "tool": np.array([_number(index_s(plant, program)) for program in plant.programs]),
        "reposition": _repositions(plant),
        "contour": _contours(plant),
    }


def _number(value: float | None) -> float:
    return math.nan if value is None else value


def _hit_s(plant: PlantInputs, ram_s: float | None) -> Floats:
    motion, axes = plant.settings.machine.motion, axes_of(plant.settings.machine.motion)
    pitch_mm = np.array([_number(program.mean_pitch_mm) for program in plant.programs])
    if axes is None or ram_s is None:
        return np.full(len(pitch_mm), math.nan)
    known = np.where(np.isnan(pitch_mm), 0.0, pitch_mm)
    return np.where(np.isnan(pitch_mm), math.nan, axes.move_s(known) + motion.settle_s + ram_s)


def _repositions(plant: PlantInputs) -> Floats:
    motion, axes = plant.settings.machine.motion, axes_of(plant.settings.machine.motion)
    if axes is None or motion.clamping_s is None:
        return np.full(len(plant.programs), math.nan)
    back_mm = np.array([program.sheet_length_mm / (program.repositions + 1) for program in plant.programs])
    return reposition_s(back_mm, axes.x, motion.clamping_s)


def _contours(plant: PlantInputs) -> Floats:
    motion = plant.settings.machine.motion
    accel = motion.rapid_m_s2 or motion.x_accel_m_s2
    rapid_mm = np.array([_number(program.rapid_mm) for program in plant.programs])
    if motion.rapid_m_s is None or accel is None:
        return np.full(len(rapid_mm), math.nan)
    move_s = Axis(motion.rapid_m_s, accel).move_s(np.where(np.isnan(rapid_mm), 0.0, rapid_mm))
    speeds = [plant.material_by_id[program.material_id].cutting_speed_m_min for program in plant.programs]
    lead_in_s = motion.lead_in_mm / MM_PER_M / np.array(speeds, float) * SECONDS_PER_MINUTE
    return np.where(np.isnan(rapid_mm), math.nan, move_s + motion.height_sense_s + lead_in_s)


# ---- turret ----


def index_s(plant: PlantInputs, program: Program) -> float | None:
    """Seconds of turret turns per tool of a program's sheet, or None without a turn time or a turret.

    Tools are used in the order of the fewest steps, cutting tools first, and the turret turns back to the first tool
    for the next sheet; a sheet with one tool needs no turn. Tools stand where :func:`tool_stations` puts them.
    """
    motion, uses = plant.settings.machine.motion, plant.tools_of.get(program.program_id, ())
    ring = sum(station.count for station in plant.settings.machine.stations)
    if motion.turret_step_s is None or not ring:
        return None
    stations = tool_stations(plant, program)
    forming = tuple(plant.tool_by_id[use.tool_id].kind == "forming" for use in uses)
    steps, turns = _turns(stations, forming, ring)
    return (steps * motion.turret_step_s + turns * motion.turret_lock_s) / max(len(uses), 1)


@lru_cache(maxsize=4096)
def _turns(stations: tuple[int, ...], forming: tuple[bool, ...], ring: int) -> tuple[int, int]:
    """Steps and turns of one sheet, the way back to its first tool included."""
    order = [stations[tool] for tool in tool_order(stations, forming, ring).order]
    steps = ring_steps(order, [*order[1:], *order[:1]], ring)
    return int(steps.sum()), int((steps > 0).sum())


def tool_stations(plant: PlantInputs, program: Program) -> tuple[int, ...]:
    """Ring place (from 0) of each tool of a program, in the order of program_tools.csv.

    A tool that stands in the turret at the start stays there; each other takes the first station that fits it and
    holds no other tool of the program, or, where all are taken, the first that fits.
    """
    at_start = {row.item: row.station - 1 for row in plant.start if row.what == "turret"}
    uses = plant.tools_of.get(program.program_id, ())
    places = {use.tool_id: at_start[use.tool_id] for use in uses if use.tool_id in at_start}
    for use in uses:
        if use.tool_id not in places:
            places[use.tool_id] = _place(plant, use.tool_id, list(places.values()))
    return tuple(places[use.tool_id] for use in uses)


def _place(plant: PlantInputs, tool_id: str, taken: list[int]) -> int:
    tool = plant.tool_by_id[tool_id]
    ring = [station for row in plant.settings.machine.stations for station in [row] * row.count]
    fitting = [
        place
        for place, station in enumerate(ring)
        if tool.station_size_mm in (station.size_mm, *station.also_mm) and (station.turning or not tool.needs_turning)
    ]
    free = (place for place in fitting if taken.count(place) < ring[place].tools)
    return next(free, fitting[0] if fitting else 0)


# ---- what a run takes from here ----


def missing_drivers(plant: PlantInputs) -> tuple[str, ...]:
    """Drivers of :data:`STATE_OF` that no element row of the run counts."""
    counted = {split_unit(row.unit)[1] for row in plant.elements if row.state in PROCESS_STATES}
    return tuple(driver for driver in STATE_OF if driver not in counted)


def occurrences(plant: PlantInputs) -> dict[str, Floats]:
    """How often each driver of :data:`STATE_OF` occurs on a sheet, by program (file order)."""
    programs = plant.programs
    counts = {
        "hit": [p.hits_per_sheet for p in programs],
        "forming_hit": [p.forming_hits_per_sheet for p in programs],
        "tool": [len(plant.tools_of.get(p.program_id, ())) for p in programs],
        "reposition": [p.repositions for p in programs],
        "contour": [p.contours for p in programs],
    }
    return {driver: np.array(count, float) for driver, count in counts.items()}


def motion_uses(plant: PlantInputs) -> tuple[ElementUse, ...]:
    """Times for the drivers without a row: one second each, and how many of them on a sheet of each program.

    Empty where the motion gives none of them, or every driver has its row.
    """
    missing = missing_drivers(plant)
    if plant.settings.machine.motion == Motion() or not missing:
        return ()
    seconds, count = motion_seconds(plant), occurrences(plant)
    found = ((driver, np.nan_to_num(seconds[driver]) * count[driver]) for driver in missing)
    return tuple(
        ElementUse(f"motion_{driver}", driver, STATE_OF[driver], "machine", Law("constant", 1.0), count=per_sheet)
        for driver, per_sheet in found
        if per_sheet.any()
    )
