"""Power of the running machine by the laser's efficiency, beside the plant's own figure. No run is charged by it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from simkit.base.arrays import Floats
from simkit.base.vocabulary import CUTTING
from simkit.plant.plant import PlantInputs
from simkit.process.programs import program_tables, run_shares
from simkit.process.quantities import not_below_zero, share, share_above_zero


def beam_share(plant: PlantInputs) -> float:
    """Share of the running time of the book's sheets with the beam on, by the mean times of the runs; 0 without one.

    Of each program's cutting it is on for the cuts and pierces alone.
    """
    tables = program_tables(plant)
    punch_s, form_s, cut_s = run_shares(tables)
    sheets = np.array([plant.sheets_of[program.program_id] for program in plant.programs], float)
    run_s = float(sheets @ (punch_s + form_s + cut_s))
    all_cutting_s = tables.cut_base_s + tables.sheet_s(CUTTING)
    beam = np.divide(tables.cut_base_s, all_cutting_s, out=np.zeros(len(cut_s)), where=all_cutting_s > 0)
    return float(sheets @ (cut_s * beam)) / run_s if run_s else 0.0


def estimated_running_kw(plant: PlantInputs) -> float | None:
    """Running power with the idle power for all but the laser, kW; None where no efficiency of the laser is given."""
    machine = plant.settings.machine
    if machine.laser_efficiency is None:
        return None
    beam = beam_share(plant)
    return float(mean_running_kw(machine.laser_power_kw, machine.laser_efficiency, beam, machine.idle_kw))


def draw_kw(optical_kw: ArrayLike, efficiency: ArrayLike) -> Floats:
    """Electric draw of the laser source with the beam on, kW: optical power over efficiency.

    The power is 0 or more, the efficiency above 0 and at most 1, else ValueError. Definition.
    """
    return not_below_zero(optical_kw, "optical_kw") / share_above_zero(efficiency, "efficiency")


def mean_running_kw(
    optical_kw: ArrayLike, efficiency: ArrayLike, beam_share: ArrayLike, others_kw: ArrayLike = 0.0
) -> Floats:
    """Mean electric power while the machine runs, kW: the source for the share with the beam on, and the others.

    ``beam_share`` lies between 0 and 1; ``others_kw`` (0 or more) holds chiller, extraction, drives and the
    source's own power without beam. ValueError outside. Common practice, no source.
    """
    beam = draw_kw(optical_kw, efficiency) * share(beam_share, "beam_share")
    return beam + not_below_zero(others_kw, "others_kw")
