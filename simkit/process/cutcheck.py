"""Is a cutting speed of the plant's table plausible? Compared with the melt floor and with published energies.

The check judges and names its numbers; it changes no speed. A verdict is a note for the report and never an
error, since the laser's power, the kerf and the coupling are assumptions too.
"""

from __future__ import annotations

from dataclasses import dataclass

from simkit.base.messages import Finding
from simkit.process.lasercut import (
    Severance,
    melt_enthalpy_j_mm3,
    melt_floor_j_mm2,
    melt_limit_m_min,
    melting_of,
    published_severance,
    severance_energy_j_mm2,
)

NARROW_KERF_MM = 0.10
"""Kerf for the floor: narrower than the usual 0.15 to 0.30 mm, so that the floor is low. Assumed, no source."""

HIGH_COUPLING = 0.6
"""Share of the beam that heats the kerf, at best. Assumed, no source."""

INERT_GASES = ("nitrogen", "argon", "helium")
"""Gases with which the beam alone melts the kerf, so that the melt floor binds."""

IMPOSSIBLE = "below the melt floor: impossible as entered"
BURNING = "below the melt floor of the beam alone: only burning metal could add the heat"
BEYOND = "faster than melting allows at the assumed coupling"
FASTER = "faster than the published range"
INSIDE = "inside the published range"
SLOWER = "slower than the published range"
UNPUBLISHED = "above the melt floor, no published range"
UNKNOWN = "nothing to compare with"

VERDICTS = (IMPOSSIBLE, BURNING, BEYOND, FASTER, INSIDE, SLOWER, UNPUBLISHED, UNKNOWN)
"""What a check can say, from the worst to the least."""


_TIMED = "compare it with a timed sheet"
_MENDS = {
    IMPOSSIBLE: "Check the speed, the thickness and the power of the laser",
    BURNING: "Check the speed, the thickness and the power of the laser",
    BEYOND: f"Check the speed and the power of the laser, and {_TIMED}",
    FASTER: f"The range was measured with CO2 lasers, and other lasers on thin sheet are faster; {_TIMED}",
    SLOWER: f"An effective speed holds corners and short contours, which may be the reason; {_TIMED}",
}


@dataclass(frozen=True)
class SpeedCheck:
    """A speed of the table, the verdict (of :data:`VERDICTS`), and in words all its numbers and where they come from.

    ``limit_m_min`` is the highest that melting allows at the assumed coupling, None for a metal without melting
    properties; ``published`` is None where no row fits.
    """

    speed_m_min: float
    severance_j_mm2: float
    limit_m_min: float | None
    published: Severance | None
    verdict: str
    words: str

    def finding(self, place: str, column: str = "cutting_speed_m_min") -> Finding | None:
        """Return the check as a note about ``place``, or None where there is nothing to mend."""
        if self.verdict not in _MENDS:
            return None
        value = f"{self.speed_m_min:g}"
        return Finding(place, self.words, _MENDS[self.verdict], column=column, value=value, severity="note")


def check_speed(metal: str, gas: str, power_w: float, thickness_mm: float, speed_m_min: float) -> SpeedCheck:
    """Judge a cutting speed by the melt floor and by the published severance energy of metal and gas.

    ``metal`` and ``gas`` are names of :data:`~simkit.process.lasercut.MELTING` and
    :data:`~simkit.process.lasercut.SEVERANCE`; others have nothing to compare with. Power, thickness and speed are
    above 0, else ValueError. Source: the bounds of ``lasercut``; the order of the verdicts is this kit's own.
    """
    severance = float(severance_energy_j_mm2(power_w, thickness_mm, speed_m_min))
    known, published, inert = melting_of(metal), published_severance(metal, gas), gas in INERT_GASES
    floor = limit = None
    bounds = []
    if known is not None:
        enthalpy = melt_enthalpy_j_mm3(known.density_kg_m3, known.melting_c, known.heat_j_kg_k, known.fusion_j_kg)
        floor = float(melt_floor_j_mm2(enthalpy, NARROW_KERF_MM))
        limit = float(melt_limit_m_min(power_w, HIGH_COUPLING, enthalpy, NARROW_KERF_MM, thickness_mm))
        bounds.append(
            f"melt floor {floor:.3g} J/mm2, at most {limit:.3g} m/min (kerf {NARROW_KERF_MM:g} mm, coupling "
            f"{HIGH_COUPLING:g}: assumed)"
        )
        bounds += [] if inert else ["these hold for a beam without burning metal"]
    if published is not None:
        span = f"{published.low:g} to {published.high:g}, mean " if published.low is not None else "mean "
        bounds.append(f"published {span}{published.mean:g} J/mm2 ({published.source})")
    verdict = _verdict(severance, floor, limit is not None and speed_m_min > limit, inert, published)
    head = (
        f"{speed_m_min:g} m/min through {thickness_mm:g} mm {metal} with {power_w:g} W and {gas} takes "
        f"{severance:.3g} J/mm2, {verdict}"
    )
    return SpeedCheck(speed_m_min, severance, limit, published, verdict, "; ".join([head, *bounds]))


def _verdict(severance: float, floor: float | None, over: bool, inert: bool, published: Severance | None) -> str:
    if floor is not None and severance < floor:
        return IMPOSSIBLE if inert else BURNING
    if over and inert:
        return BEYOND
    if published is not None and published.low is not None and published.high is not None:
        if severance < published.low:
            return FASTER
        return SLOWER if severance > published.high else INSIDE
    return UNKNOWN if floor is None else UNPUBLISHED
