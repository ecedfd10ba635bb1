"""Notes about laser cutting: implausible speeds, and the gas flow of the nozzles against the plant's figure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from simkit.base.units import W_PER_KW
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Material
from simkit.process.cutcheck import BEYOND, BURNING, IMPOSSIBLE, SpeedCheck, check_speed
from simkit.process.gasflow import CONE_DISCHARGE, GASES, nozzle_m3n_h
from simkit.process.lasercut import severance_energy_j_mm2, severance_speed_m_min
from simkit.process.physicsnote import GAS, HIGH, LASER, LOW, MIDDLE, PhysicsNote, listed, physics_note
from simkit.process.programs import program_tables

FLOW_TOLERANCE = 0.25
"""Difference between the nozzles' flow and the plant's figure from which it is noted: common practice, no source."""
SEVERANCE_J_MM2 = (4.0, 30.0)
"""Severance energies where no handbook metal is named: Steen and Mazumder, table after Powell, from memory."""
SPEED_SLACK = 3.0
"""An effective speed holds corners and short contours, other lasers are faster: the range is stretched by this factor
both ways. Common practice, no source."""
_LEVEL = {IMPOSSIBLE: HIGH, BURNING: MIDDLE, BEYOND: MIDDLE}


def cut_materials(plant: PlantInputs) -> tuple[Material, ...]:
    """Materials that some program cuts; none without a laser."""
    cut = {program.material_id for program in plant.programs if program.cut_length_mm > 0}
    return tuple(row for row in plant.materials if row.material_id in cut and plant.settings.machine.laser_power_kw > 0)


def speed_checks(plant: PlantInputs) -> tuple[tuple[Material, SpeedCheck], ...]:
    """The check of the speed of every material that some program cuts and whose ``handbook`` names its metal."""
    power_w = plant.settings.machine.laser_power_kw * W_PER_KW
    return tuple(
        (row, check_speed(row.handbook, row.gas, power_w, row.thickness_mm, row.cutting_speed_m_min))
        for row in cut_materials(plant)
        if row.handbook
    )


def speed_notes(plant: PlantInputs) -> Iterator[PhysicsNote]:
    """Speeds that are not plausible, by the bounds of ``cutcheck``, or of any metal where no handbook names it."""
    for row, check in speed_checks(plant):
        finding = check.finding(f"materials.csv {row.material_id}")
        if finding is not None:
            yield PhysicsNote(_LEVEL.get(check.verdict, LOW), LASER, finding)
    power_w = plant.settings.machine.laser_power_kw * W_PER_KW
    low, high = SEVERANCE_J_MM2[0] / SPEED_SLACK, SEVERANCE_J_MM2[1] * SPEED_SLACK
    for row in cut_materials(plant):
        spent = float(severance_energy_j_mm2(power_w, row.thickness_mm, row.cutting_speed_m_min))
        if not row.handbook and not low <= spent <= high:
            slow, fast = severance_speed_m_min(np.array([high, low]), power_w, row.thickness_mm)
            why = (
                f"{row.thickness_mm:g} mm at {row.cutting_speed_m_min:g} m/min with {power_w / W_PER_KW:g} kW spends "
                f"{spent:.3g} J/mm2; usual are {low:.2g} to {high:.2g}, so {slow:.2g} to {fast:.2g} m/min (table after "
                f"Powell, from memory, times {SPEED_SLACK:g})"
            )
            mend = "Correct the speed, the thickness or machine.laser_power_kw; compare with a timed sheet"
            yield physics_note(LOW, LASER, f"materials.csv {row.material_id}", why, mend, "cutting_speed_m_min")


@dataclass(frozen=True)
class NozzleFlow:
    """Flow of assist gas of a material's nozzle at its pressure, normal m3/h, over the usual discharge of nozzles."""

    material: Material
    low_m3n_h: float
    high_m3n_h: float


def nozzle_flow(material: Material) -> NozzleFlow | None:
    """Flow of a material's nozzle, or None without opening and pressure or for a gas that is not known.

    Isentropic flow of ``gasflow`` at 20 degrees, with the usual range of discharge of conical nozzles. Purging,
    piercing gas and leaks come on top.
    """
    gas = GASES.get(material.gas)
    if gas is None or material.nozzle_mm is None or material.gas_pressure_bar is None:
        return None
    low, high = nozzle_m3n_h(material.nozzle_mm, material.gas_pressure_bar, gas, discharge=1.0) * np.array(
        CONE_DISCHARGE
    )
    return NozzleFlow(material, float(low), float(high))


@dataclass(frozen=True)
class BookFlow:
    """Flow of the nozzles whose opening and pressure are given, on average of the book's cutting time, normal m3/h."""

    flows: tuple[NozzleFlow, ...]
    low_m3n_h: float
    high_m3n_h: float


def book_flow(plant: PlantInputs) -> BookFlow | None:
    """The nozzles' flow, averaged by the seconds of cutting and piercing in the book; None where none is given."""
    cut_s = dict.fromkeys((row.material_id for row in plant.materials), 0.0)
    for program, seconds in zip(plant.programs, program_tables(plant).cut_base_s, strict=True):
        cut_s[program.material_id] += plant.sheets_of[program.program_id] * float(seconds)
    used = [flow for row in plant.materials if cut_s[row.material_id] > 0 and (flow := nozzle_flow(row)) is not None]
    if not used:
        return None
    rows = [(flow.low_m3n_h, flow.high_m3n_h) for flow in used]
    low, high = np.average(rows, axis=0, weights=[cut_s[flow.material.material_id] for flow in used])
    return BookFlow(tuple(used), float(low), float(high))


def gas_notes(plant: PlantInputs) -> Iterator[PhysicsNote]:
    """The plant's figure of gas an hour, if it lies well outside what the nozzles let through."""
    found, figure = book_flow(plant), plant.settings.machine.gas_m3_per_h
    if found is None:
        return
    low, high = found.low_m3n_h, found.high_m3n_h
    if low * (1 - FLOW_TOLERANCE) <= figure <= high * (1 + FLOW_TOLERANCE):
        return
    least, most = min(flow.low_m3n_h for flow in found.flows), max(flow.high_m3n_h for flow in found.flows)
    names = listed([flow.material.material_id for flow in found.flows])
    why = (
        f"{figure:g} m3/h of gas while cutting; the nozzles and pressures of {names} let "
        f"{low:.1f} to {high:.1f} m3/h through on average of the book ({least:.1f} to {most:.1f} by material; at 0 "
        f"degrees and 1.013 bar, discharge {CONE_DISCHARGE[0]:g} to {CONE_DISCHARGE[1]:g}, without purging and leaks)"
    )
    mend = (
        "Compare with the meter or the invoices; correct the figure, or nozzle_mm and gas_pressure_bar in materials.csv"
    )
    yield physics_note(LOW, GAS, "plant.toml", why, mend, "machine.gas_m3_per_h")
