"""Gas and power of an hour, by material: what cutting and running cost, beside the plant's own figures.

Money is in the plant's currency, power in kW, gas in normal m3. The flow is that of the nozzle where its opening and
pressure are given, else the machine's figure. What a simulated run is charged does not change by this.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simkit.base.vocabulary import CUTTING
from simkit.plant.plant import Plant
from simkit.plant.tables import Material
from simkit.process.gasflow import gas_cost_per_h
from simkit.process.lasernotes import nozzle_flow
from simkit.process.programs import SHEET_DRIVERS, ProgramTables, program_tables, run_shares
from simkit.process.wallplug import draw_kw, mean_running_kw

Floats = NDArray[np.float64]

NOZZLE, FIGURE = "nozzle and pressure", "machine.gas_m3_per_h"


@dataclass(frozen=True)
class HourCost:
    """Gas and power of an hour of one material; ``low`` and ``high`` span the usual discharge of nozzles.

    Shares are of the running time of the book's sheets of this material: ``cutting_share`` as the runs count cutting,
    moves of the head included, ``beam_share`` with the beam on. The flow of a nozzle runs with the beam, the machine's
    figure through all of the cutting. ``running_kw`` and ``idle_kw`` are the plant's; ``estimated_kw`` is the running
    power from the laser's efficiency with the idle power for all else, None without an efficiency.
    """

    material_id: str
    gas: str
    flow_source: str
    flow_low_m3n_h: float
    flow_high_m3n_h: float
    cutting_share: float
    beam_share: float
    gas_per_cutting_h_low: float
    gas_per_cutting_h_high: float
    gas_per_running_h_low: float
    gas_per_running_h_high: float
    running_kw: float
    idle_kw: float
    laser_kw: float | None
    estimated_kw: float | None
    energy_per_running_h: float
    energy_per_idle_h: float


@dataclass(frozen=True)
class CutShare:
    """Shares of the running time of a material's sheets: cutting as the runs count it, and with the beam on."""

    cutting: float
    beam: float


def hour_costs(plant: Plant) -> tuple[HourCost, ...]:
    """The row of every material that the order book uses, in file order."""
    shares = cut_shares(plant)
    return tuple(_row(plant, row, shares[row.material_id]) for row in plant.materials if row.material_id in shares)


def cut_shares(plant: Plant) -> dict[str, CutShare]:
    """Shares of cutting in the running time of each material of the book, by the mean times of the runs."""
    tables = program_tables(plant)
    punch_s, form_s, cut_s = run_shares(tables)
    sheets = np.zeros(len(plant.programs))
    for order in plant.orders:
        sheets[tables.index[order.program_id]] += order.sheets
    seconds = (punch_s + form_s + cut_s, cut_s, cut_s * _beam_part(tables))
    run_s, cutting_s, beam_s = (np.bincount(tables.material, s * sheets, len(plant.materials)) for s in seconds)
    return {
        row.material_id: CutShare(float(cutting_s[number] / run_s[number]), float(beam_s[number] / run_s[number]))
        for number, row in enumerate(plant.materials)
        if run_s[number] > 0
    }


def _beam_part(tables: ProgramTables) -> Floats:
    """Part of each program's cutting in which the beam is on: cuts and pierces of all that counts as cutting."""
    others_s = np.zeros(len(tables.programs))
    for use in tables.uses:
        if use.timed.state == CUTTING and use.timed.driver in SHEET_DRIVERS:
            others_s = others_s + use.count * use.timed.law.mean
    whole_s = tables.cut_base_s + others_s
    return np.divide(tables.cut_base_s, whole_s, out=np.zeros(len(whole_s)), where=whole_s > 0)


def _row(plant: Plant, material: Material, share: CutShare) -> HourCost:
    machine, money = plant.settings.machine, plant.settings.money
    flow = nozzle_flow(material)
    low, high = (machine.gas_m3_per_h,) * 2 if flow is None else (flow.low_m3n_h, flow.high_m3n_h)
    flowing = share.cutting if flow is None else share.beam
    running = [float(gas_cost_per_h(each, flowing, money.gas_per_m3)) for each in (low, high)]
    cutting = [each / share.cutting if share.cutting else 0.0 for each in running]
    laser, estimated = _laser(plant, share.beam)
    return HourCost(
        material_id=material.material_id, gas=material.gas, flow_source=FIGURE if flow is None else NOZZLE,
        flow_low_m3n_h=low, flow_high_m3n_h=high, cutting_share=share.cutting, beam_share=share.beam,
        gas_per_cutting_h_low=cutting[0], gas_per_cutting_h_high=cutting[1],
        gas_per_running_h_low=running[0], gas_per_running_h_high=running[1],
        running_kw=machine.running_kw, idle_kw=machine.idle_kw, laser_kw=laser, estimated_kw=estimated,
        energy_per_running_h=machine.running_kw * money.energy_per_kwh,
        energy_per_idle_h=machine.idle_kw * money.energy_per_kwh,
    )  # fmt: skip


def _laser(plant: Plant, beam_share: float) -> tuple[float | None, float | None]:
    """Draw of the laser with the beam on, and mean running power with idle power for all else; None if not given."""
    machine = plant.settings.machine
    if machine.laser_efficiency is None:
        return None, None
    draw = float(draw_kw(machine.laser_power_kw, machine.laser_efficiency))
    mean = mean_running_kw(machine.laser_power_kw, machine.laser_efficiency, beam_share, machine.idle_kw)
    return draw, float(mean)
