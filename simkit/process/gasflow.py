"""Assist gas through a cutting nozzle: ideal gas, isentropic, choked or not; normal volume and cost.

Gauge pressure (above the surroundings) and absolute pressure never share a name: ``_gauge_bar`` is what a
panel shows, ``_absolute_bar`` what the formulas need. A normal cubic metre (m3n) is one at 0 degrees Celsius
and 1.01325 bar absolute. Purging, piercing gas, leaks and boil-off come on top and are the plant's to enter.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from simkit.base.arrays import Floats
from simkit.base.units import MM2_PER_M2, PA_PER_BAR, SECONDS_PER_HOUR, ZERO_C_IN_K
from simkit.process.quantities import above_zero, not_below_zero, share_above_zero

AMBIENT_ABSOLUTE_BAR = 1.01325
"""Standard atmosphere, bar absolute (exact by definition)."""

NORMAL_C = 0.0
NORMAL_ABSOLUTE_BAR = 1.01325
"""State of a normal cubic metre (DIN 1343, from memory)."""

SUPPLY_K = 293.15
"""Temperature of the gas before the nozzle, K (20 degrees Celsius)."""

CONE_DISCHARGE = (0.80, 0.95)
"""Discharge coefficient of ordinary conical cutting nozzles: common practice, no source."""


@dataclass(frozen=True)
class Gas:
    """An ideal gas: J/(kg K) and the ratio of specific heats."""

    name: str
    gas_constant_j_kg_k: float
    heat_ratio: float
    source: str


NITROGEN = Gas("nitrogen", 296.803, 1.400, "ordinary handbook value (from memory)")
OXYGEN = Gas("oxygen", 259.837, 1.395, "ordinary handbook value (from memory)")
AIR = Gas("air", 287.0, 1.400, "ordinary teaching value (from memory)")

GASES: dict[str, Gas] = {gas.name: gas for gas in (NITROGEN, OXYGEN, AIR)}
"""The assist gases by name."""


# ---- pressures and volumes ----


def absolute_bar(gauge_bar: ArrayLike, ambient_absolute_bar: ArrayLike = AMBIENT_ABSOLUTE_BAR) -> Floats:
    """Absolute pressure, bar, of a gauge pressure (0 or more) above the surroundings. Definition."""
    return not_below_zero(gauge_bar, "gauge_bar") + above_zero(ambient_absolute_bar, "ambient_absolute_bar")


def normal_density_kg_m3(gas: Gas) -> float:
    """Mass of a normal cubic metre, kg/m3: p / (R T). Source: ideal gas law."""
    return NORMAL_ABSOLUTE_BAR * PA_PER_BAR / (gas.gas_constant_j_kg_k * (NORMAL_C + ZERO_C_IN_K))


def normal_m3(mass_kg: ArrayLike, gas: Gas) -> Floats:
    """Normal cubic metres of a mass (0 or more) of gas; of kg/h it gives m3n/h. Source: ideal gas law."""
    return not_below_zero(mass_kg, "mass_kg") / normal_density_kg_m3(gas)


# ---- flow through the nozzle ----


def critical_ratio(heat_ratio: ArrayLike) -> Floats:
    """Ratio of back to supply pressure, both absolute, at and below which the flow is choked.

    ``(2 / (g + 1)) ^ (g / (g - 1))`` for a ratio of specific heats g above 1, else ValueError.
    Source: isentropic flow, as in an encyclopaedia of gas dynamics.
    """
    ratio = _heat_ratio(heat_ratio)
    return np.asarray((2 / (ratio + 1)) ** (ratio / (ratio - 1)))[()]


def flow_coefficient(heat_ratio: ArrayLike) -> Floats:
    """Coefficient C* of the choked flow: sqrt(g) (2 / (g + 1)) ^ ((g + 1) / (2 (g - 1))).

    For a ratio of specific heats g above 1, else ValueError. Source: isentropic flow.
    """
    ratio = _heat_ratio(heat_ratio)
    return np.asarray(np.sqrt(ratio) * (2 / (ratio + 1)) ** ((ratio + 1) / (2 * (ratio - 1))))[()]


def mass_flow_kg_s(
    area_mm2: ArrayLike,
    supply_absolute_bar: ArrayLike,
    gas: Gas,
    *,
    back_absolute_bar: ArrayLike = AMBIENT_ABSOLUTE_BAR,
    discharge: ArrayLike = 1.0,
    supply_k: ArrayLike = SUPPLY_K,
) -> Floats:
    """Mass flow, kg/s, through a converging nozzle of this exit area.

    Choked where back over supply pressure is at or below the critical ratio, then Cd p0 A C* / sqrt(R T0);
    else the isentropic flow at that ratio, which ends at 0 for equal pressures. Pressures are absolute and
    the supply's not below the back pressure; area, temperature (K) and ``discharge`` are above 0, the last at
    most 1; else ValueError. The standoff of the sheet is not modelled. Source: isentropic flow, as in an
    encyclopaedia of gas dynamics.
    """
    supply = above_zero(supply_absolute_bar, "supply_absolute_bar")
    ratio = above_zero(back_absolute_bar, "back_absolute_bar") / supply
    if np.any(ratio > 1.0):
        raise ValueError("supply_absolute_bar must not be below back_absolute_bar")
    area_m2 = above_zero(area_mm2, "area_mm2") / MM2_PER_M2
    density_root = np.sqrt(gas.gas_constant_j_kg_k * above_zero(supply_k, "supply_k"))
    base = share_above_zero(discharge, "discharge") * supply * PA_PER_BAR * area_m2 / density_root
    return base * _flow_function(ratio, gas.heat_ratio)


def nozzle_kg_h(
    nozzle_mm: ArrayLike,
    supply_gauge_bar: ArrayLike,
    gas: Gas,
    *,
    discharge: ArrayLike = 1.0,
    supply_k: ArrayLike = SUPPLY_K,
    ambient_absolute_bar: ArrayLike = AMBIENT_ABSOLUTE_BAR,
) -> Floats:
    """Mass flow, kg/h, of a round nozzle of this diameter into the surroundings, from a gauge pressure.

    Ranges, errors and source of :func:`mass_flow_kg_s`; gauge pressures are 0 or more.
    """
    area_mm2 = np.pi / 4 * above_zero(nozzle_mm, "nozzle_mm") ** 2
    supply_bar = absolute_bar(supply_gauge_bar, ambient_absolute_bar)
    flow_kg_s = mass_flow_kg_s(
        area_mm2, supply_bar, gas, back_absolute_bar=ambient_absolute_bar, discharge=discharge, supply_k=supply_k
    )
    return flow_kg_s * SECONDS_PER_HOUR


def nozzle_m3n_h(nozzle_mm: ArrayLike, supply_gauge_bar: ArrayLike, gas: Gas, *, discharge: ArrayLike = 1.0) -> Floats:
    """Normal cubic metres per hour of flow through a round nozzle: :func:`nozzle_kg_h` as a normal volume."""
    return normal_m3(nozzle_kg_h(nozzle_mm, supply_gauge_bar, gas, discharge=discharge), gas)


def _flow_function(ratio: Floats, heat_ratio: float) -> Floats:
    """Flow per Cd p0 A / sqrt(R T0) at a ratio of pressures; constant from the critical ratio down."""
    spread = ratio ** (2 / heat_ratio) - ratio ** ((heat_ratio + 1) / heat_ratio)
    flow = np.sqrt(2 * heat_ratio / (heat_ratio - 1) * np.maximum(spread, 0.0))
    return np.where(ratio <= critical_ratio(heat_ratio), flow_coefficient(heat_ratio), flow)[()]


def _heat_ratio(heat_ratio: ArrayLike) -> Floats:
    above_zero(np.subtract(heat_ratio, 1.0), "heat_ratio less 1")
    return np.asarray(heat_ratio, dtype=np.float64)
