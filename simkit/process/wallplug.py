"""Electric power of a laser: draw and heat from optical power, and energy of running and idle hours.

The efficiency is that of the laser source from the mains to the beam. Chiller, extraction, drives and
compressor are extra and entered by the plant. Units: kW, h, kWh; efficiencies and shares are fractions.
"""

from __future__ import annotations

from dataclasses import dataclass

from numpy.typing import ArrayLike

from simkit.process.quantities import Floats, not_below_zero, share, share_above_zero


@dataclass(frozen=True)
class Efficiency:
    """Wall-plug efficiency of a kind of laser: lowest and highest, fractions."""

    laser: str
    low: float
    high: float
    source: str


EFFICIENCIES: tuple[Efficiency, ...] = (
    Efficiency("fibre", 0.30, 0.45, "planning range: common practice, no source; a general page prints up to 0.40"),
    Efficiency("older diode-pumped solid state", 0.27, 0.30, "a general page on kinds of lasers, title not kept"),
    Efficiency("CO2", 0.05, 0.12, "from memory"),
)
"""Efficiencies for planning; the maker's data sheet wins."""


@dataclass(frozen=True)
class Draw:
    """Electric draw of a laser source at its highest and at its lowest efficiency, kW."""

    least_kw: Floats
    most_kw: Floats


def draw_kw(optical_kw: ArrayLike, efficiency: ArrayLike) -> Floats:
    """Electric draw of the laser source with the beam on, kW: optical power over efficiency.

    The power is 0 or more, the efficiency above 0 and at most 1, else ValueError. Definition.
    """
    return not_below_zero(optical_kw, "optical_kw") / share_above_zero(efficiency, "efficiency")


def heat_kw(optical_kw: ArrayLike, efficiency: ArrayLike) -> Floats:
    """Heat that the source gives to its chiller with the beam on, kW: draw less optical power.

    Ranges and errors of :func:`draw_kw`. The beam's own power ends as heat at the cut and is not in it.
    Source: conservation of energy.
    """
    return draw_kw(optical_kw, efficiency) - not_below_zero(optical_kw, "optical_kw")


def draw_range(optical_kw: ArrayLike, efficiency: Efficiency) -> Draw:
    """Draw of the source over a range of efficiency, such as one of :data:`EFFICIENCIES`."""
    return Draw(draw_kw(optical_kw, efficiency.high), draw_kw(optical_kw, efficiency.low))


def mean_running_kw(
    optical_kw: ArrayLike, efficiency: ArrayLike, beam_share: ArrayLike, others_kw: ArrayLike = 0.0
) -> Floats:
    """Mean electric power while the machine runs, kW: the source for the share with the beam on, and the others.

    ``beam_share`` lies between 0 and 1; ``others_kw`` (0 or more) holds chiller, extraction, drives and the
    source's own power without beam. ValueError outside. Common practice, no source.
    """
    beam = draw_kw(optical_kw, efficiency) * share(beam_share, "beam_share")
    return beam + not_below_zero(others_kw, "others_kw")


def energy_kwh(running_h: ArrayLike, idle_h: ArrayLike, running_kw: ArrayLike, idle_kw: ArrayLike) -> Floats:
    """Energy, kWh, of hours running and hours switched on but idle; all 0 or more, else ValueError. Definition."""
    running = not_below_zero(running_h, "running_h") * not_below_zero(running_kw, "running_kw")
    return running + not_below_zero(idle_h, "idle_h") * not_below_zero(idle_kw, "idle_kw")
