"""Laser cutting: time of a sheet's contours, severance energy, and the heat that melting a kerf needs.

The plant's table of effective speeds decides every time; nothing here makes a speed for a plant. Severance
energies and the melt balance only say whether a speed in that table is plausible (see ``cutcheck``).
Units: mm, m/min, W, s, J/mm2 of cut face, J/mm3 of melted metal, degrees Celsius.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from simkit.base.arrays import Floats
from simkit.base.units import M3_PER_MM3, MM_PER_M, SECONDS_PER_MINUTE
from simkit.process.quantities import above_zero, not_below_zero, share, share_above_zero

ROOM_C = 25.0
"""Temperature of the sheet before the cut, degrees Celsius."""


# ---- the time of a sheet's contours ----


def contours_s(cut_length_mm: float, speed_m_min: float, contours: float, pierce_s: float) -> float:
    """Seconds with the beam on for a sheet's contours: their length over the effective speed, and a pierce for each.

    ``speed_m_min`` (above 0) is the effective speed, corners included: a catalogue's speed is not that. Source:
    arithmetic; the list of parts is common practice, no source.
    """
    speed_mm_s = speed_m_min * MM_PER_M / SECONDS_PER_MINUTE
    return cut_length_mm / speed_mm_s + contours * pierce_s


# ---- severance energy ----


def severance_energy_j_mm2(power_w: ArrayLike, thickness_mm: ArrayLike, speed_m_min: ArrayLike) -> Floats:
    """Severance energy, J per mm2 of cut face: power over thickness times speed, Es = P / (t v).

    ``power_w`` is the optical power; all are above 0, else ValueError. Source: Steen and Mazumder, Laser
    Material Processing (the definition, from memory).
    """
    speed_mm_s = above_zero(speed_m_min, "speed_m_min") * MM_PER_M / SECONDS_PER_MINUTE
    return above_zero(power_w, "power_w") / (above_zero(thickness_mm, "thickness_mm") * speed_mm_s)


def severance_speed_m_min(severance_j_mm2: ArrayLike, power_w: ArrayLike, thickness_mm: ArrayLike) -> Floats:
    """Speed at which a power cuts a thickness with this severance energy, m/min: v = P / (Es t).

    The inverse of :func:`severance_energy_j_mm2`, for showing what a published energy would mean. It is no
    speed to plan with. All are above 0, else ValueError. Source: the same definition.
    """
    face = above_zero(severance_j_mm2, "severance_j_mm2") * above_zero(thickness_mm, "thickness_mm")
    return above_zero(power_w, "power_w") / face * SECONDS_PER_MINUTE / MM_PER_M


@dataclass(frozen=True)
class Severance:
    """A published severance energy, J/mm2: range (None where only a mean is printed) and mean."""

    metal: str
    gases: tuple[str, ...]
    low: float | None
    high: float | None
    mean: float
    source: str


_STEEN = "Steen and Mazumder, Laser Material Processing, table after Powell, CO2 lasers (from memory)"

SEVERANCE: tuple[Severance, ...] = (
    Severance("mild steel", ("oxygen",), 4.0, 13.0, 5.7, _STEEN),
    Severance("mild steel", ("nitrogen",), 7.0, 22.0, 10.0, _STEEN),
    Severance("stainless", ("oxygen",), 3.0, 10.0, 5.0, _STEEN),
    Severance("stainless", ("nitrogen", "argon"), 8.0, 20.0, 13.0, _STEEN),
    Severance("titanium", ("oxygen",), 1.0, 5.0, 3.0, _STEEN),
    Severance("titanium", ("argon",), 11.0, 18.0, 14.0, _STEEN),
    Severance("aluminium", ("oxygen",), None, None, 14.0, _STEEN),
    Severance("copper", ("oxygen",), None, None, 30.0, _STEEN),
    Severance("brass", ("oxygen",), None, None, 22.0, _STEEN),
    Severance("acrylic", (), 1.0, 3.0, 1.2, _STEEN),
)
"""Published severance energies: an order of magnitude, measured with CO2 lasers.

A fibre laser on thin sheet cuts with less (about 6 J/mm2 on 1 mm stainless, in a comparison by Powell and
Kaplan). They are compared with and printed, never used as a speed.
"""


def published_severance(metal: str, gas: str) -> Severance | None:
    """Return the row of :data:`SEVERANCE` for a metal and an assist gas, or None where there is none."""
    return next((row for row in SEVERANCE if row.metal == metal and (gas in row.gases or not row.gases)), None)


# ---- the heat that melting takes ----


@dataclass(frozen=True)
class Melting:
    """Melting properties of a metal: kg/m3, degrees Celsius, J/(kg K), J/kg."""

    metal: str
    density_kg_m3: float
    melting_c: float
    heat_j_kg_k: float
    fusion_j_kg: float
    source: str


_HANDBOOK = "ordinary handbook value (from memory)"

MELTING: tuple[Melting, ...] = (
    Melting("mild steel", 7860.0, 1535.0, 480.0, 272e3, _HANDBOOK),
    Melting("stainless", 7900.0, 1450.0, 500.0, 260e3, _HANDBOOK),
    Melting("aluminium", 2700.0, 660.0, 900.0, 397e3, _HANDBOOK),
)
"""Melting properties. The specific heat is that of the cold metal; it rises with temperature, so that the heat
computed from it is on the low side, as a floor should be."""


def melting_of(metal: str) -> Melting | None:
    """Return the row of :data:`MELTING` for a metal, or None where there is none."""
    return next((row for row in MELTING if row.metal == metal), None)


def melt_enthalpy_j_mm3(
    density_kg_m3: ArrayLike,
    melting_c: ArrayLike,
    heat_j_kg_k: ArrayLike,
    fusion_j_kg: ArrayLike,
    *,
    start_c: ArrayLike = ROOM_C,
    vapour_share: ArrayLike = 0.0,
    vapour_j_kg: ArrayLike = 0.0,
) -> Floats:
    """Heat that melts a volume of metal, J/mm3: rho (cp (Tm - T0) + Lf + m' Lv).

    ``heat_j_kg_k`` is the specific heat cp, ``fusion_j_kg`` the latent heat of fusion Lf; ``vapour_share``
    (m', 0 to 1) of the melt also takes ``vapour_j_kg`` (Lv). Valid for a start below the melting point.
    Raises ValueError outside these ranges. Source: Steen and Mazumder, Laser Material Processing (the lumped
    balance, from memory).
    """
    rise_k = above_zero(np.subtract(melting_c, start_c), "melting_c less start_c")
    latent = not_below_zero(fusion_j_kg, "fusion_j_kg")
    latent = latent + share(vapour_share, "vapour_share") * not_below_zero(vapour_j_kg, "vapour_j_kg")
    per_kg = above_zero(heat_j_kg_k, "heat_j_kg_k") * rise_k + latent
    return above_zero(density_kg_m3, "density_kg_m3") * M3_PER_MM3 * per_kg


def melt_floor_j_mm2(enthalpy_j_mm3: ArrayLike, kerf_mm: ArrayLike) -> Floats:
    """Lower bound of the severance energy, J/mm2: melt enthalpy times kerf width.

    No beam that has to melt the whole kerf by itself cuts with less. A gas that burns the metal adds heat of
    its own, so with oxygen this is no bound. Both are above 0, else ValueError. Source: the lumped balance of
    :func:`melt_enthalpy_j_mm3` with nothing lost.
    """
    return above_zero(enthalpy_j_mm3, "enthalpy_j_mm3") * above_zero(kerf_mm, "kerf_mm")


def melt_limit_m_min(
    power_w: ArrayLike, coupling: ArrayLike, enthalpy_j_mm3: ArrayLike, kerf_mm: ArrayLike, thickness_mm: ArrayLike
) -> Floats:
    """Upper bound of the speed, m/min, at which a beam can melt the kerf: v = eta P / (w t h).

    ``coupling`` (eta, above 0, at most 1) is the share of the power that heats the kerf; real cutting is
    slower. All others are above 0, else ValueError. Source: the lumped balance of
    :func:`melt_enthalpy_j_mm3`; with oxygen it is no bound.
    """
    heating_w = share_above_zero(coupling, "coupling") * above_zero(power_w, "power_w")
    face_j_mm = melt_floor_j_mm2(enthalpy_j_mm3, kerf_mm) * above_zero(thickness_mm, "thickness_mm")
    return heating_w / face_j_mm * SECONDS_PER_MINUTE / MM_PER_M
