"""The invented facts that the demo plants share: materials, tools, and what a product family is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

SHEET_MM = (2500.0, 1250.0)
YIELD = 0.75
"""Share of the sheet that becomes parts."""

POPULARITY_POWER = 1.4
FAMILY_LIKING = 6.0
"""How much likelier a family takes its own shapes."""

CLEARANCES = (0.20, 0.30, 0.40, 0.60)

MATERIALS: dict[str, tuple[float, float, float, float, float]] = {
    # density kg/m3, clearance mm, cutting m/min, pierce s, CU/kg
    "MS-1.0": (7850, 0.20, 14, 0.25, 1.05),
    "MS-1.5": (7850, 0.30, 11, 0.30, 1.02),
    "MS-2.0": (7850, 0.40, 8, 0.40, 1.00),
    "MS-3.0": (7850, 0.60, 5, 0.60, 1.00),
    "SS-1.0": (7930, 0.20, 13, 0.25, 3.60),
    "SS-1.5": (7930, 0.30, 9, 0.35, 3.50),
    "AL-1.5": (2680, 0.20, 10, 0.30, 3.90),
    "AL-2.0": (2680, 0.30, 8, 0.40, 3.80),
}

SCRAP_PER_KG = {"MS": 0.18, "SS": 0.95, "AL": 1.10}
SHEAR_MPA = {"MS": 300.0, "SS": 480.0, "AL": 150.0}
"""Shear strength, usual values for soft sheet, from memory."""

WEAR_FACTOR = {"MS": 1.0, "SS": 2.0, "AL": 1.0}
"""Stainless hits count double."""

NOZZLE_BY_THICKNESS = ((1.5, "small"), (99.0, "large"))
"""Rule of the demo: sheets up to 1.5 mm are cut with the small nozzle, thicker ones with the large one."""


NOZZLE_MM = {"small": 1.5, "large": 2.0}
"""Opening of the nozzles. Invented, a default of the demo."""

GAS_BAR = {
    "MS-1.0": 10.0, "MS-1.5": 12.0, "MS-2.0": 13.0, "MS-3.0": 15.0, "SS-1.0": 12.0, "SS-1.5": 14.0, "AL-1.5": 12.0,
    "AL-2.0": 14.0,
}  # fmt: skip
"""Gauge pressure of the nitrogen at the nozzle, bar. Invented, a default of the demo."""

HANDBOOK = {"MS": "mild steel", "SS": "stainless", "AL": "aluminium"}

MOTION = {
    "x_speed_m_s": 1.2, "x_accel_m_s2": 6.0, "ram_s": 0.12, "forming_ram_s": 1.2, "settle_s": 0.03, "clamping_s": 4.5,
    "turret_step_s": 0.2, "turret_lock_s": 0.8, "rapid_m_s": 1.2, "height_sense_s": 0.5, "lead_in_mm": 4.0,
}  # fmt: skip
"""Motion of the machine, both axes alike. Invented, a default of the demo; the element rows count in its runs."""


@dataclass(frozen=True)
class ToolFact:
    """A tool of the list: station size, shape word, size text, sides in mm, weight, and what it forms."""

    size: float
    shape: str
    text: str
    length: float
    width: float
    weight: float
    forming: bool = False
    turning: bool = False
    height: float = 0.0
    countersink: bool = False


def _plain(size: float, shape: str, *items: tuple[str, float]) -> list[ToolFact]:
    """Cutting tools of one shape; the text is a diameter, a square's side or two sides."""
    found = []
    for text, weight in items:
        turning = text.endswith(" turning")
        sides = sorted((float(s) for s in text.removesuffix(" turning").split("x")), reverse=True)
        found.append(ToolFact(size, shape, text, sides[0], sides[-1], weight, turning=turning))
    return found


def _form(size: float, shape: str, text: str, side: float, height: float, weight: float) -> ToolFact:
    return ToolFact(size, shape, text, side, side, weight, forming=True, height=height)


_ROUNDS_16 = (
    "2.5:2 3:4 3.5:5 4:6 4.2:5 4.5:3 5:6 5.5:3 6:7 6.5:3 7:4 8:6 9:2 10:5 11:2 12:3 13:2 14:1 15.5:1"
)  # fmt: skip

TOOLS: tuple[ToolFact, ...] = (
    *_plain(16, "round", *((d, float(w)) for d, w in (item.split(":") for item in _ROUNDS_16.split()))),
    *_plain(30, "round", ("18", 2), ("20", 3), ("22", 2), ("25", 2), ("28", 1)),
    *_plain(30, "obround", ("5x12", 4), ("6x18", 3), ("8x22", 2), ("10x25", 1)),
    *_plain(30, "square", ("6", 1), ("10", 3), ("15", 2), ("20", 2)),
    *_plain(30, "rectangle", ("3x25", 4), ("5x25 turning", 5), ("6x28", 2)),
    *_plain(30, "keyhole", ("12x6", 1)),
    _form(30, "knockout", "20.5", 20.5, 2.0, 1),
    _form(30, "extrusion", "M4", 4.0, 2.5, 3),
    _form(30, "extrusion", "M5", 5.0, 3.0, 2),
    ToolFact(30, "countersink", "M4", 8.0, 8.0, 2, countersink=True),
    ToolFact(30, "countersink", "M5", 10.0, 10.0, 1, countersink=True),
    _form(30, "emboss", "earth mark", 12.0, 0.8, 2),
    *_plain(55, "round", ("32", 2), ("40", 2), ("50", 1)),
    *_plain(55, "rectangle", ("5x50", 5), ("8x50", 2), ("10x40 turning", 2)),
    *_plain(55, "square", ("30", 2)),
    *_plain(55, "corner", ("5", 3), ("10", 2)),
    _form(55, "louvre", "50", 50.0, 6.0, 2),
    _form(55, "knockout", "40.5", 40.5, 2.0, 1),
    ToolFact(55, "cluster", "9x4", 40.0, 40.0, 2),
    _form(55, "bridge lance", "30", 30.0, 5.0, 1),
    *_plain(90, "rectangle", ("6x80", 4), ("10x80", 2)),
    *_plain(90, "square", ("60", 1)),
    _form(90, "louvre", "80", 80.0, 8.0, 2),
    ToolFact(90, "cluster", "25x5", 70.0, 70.0, 2),
    *_plain(90, "round", ("75", 1)),
    _form(90, "drain rib", "70", 70.0, 4.0, 1),
)


@dataclass(frozen=True)
class Family:
    """A product family: how many orders of the book, and what its programs look like.

    ``chute``: its small parts go down the chute. ``pitch_mm``: mean distance between hits; ``cup_share``: share of a
    part's area that is flat and free for suction cups. All three are rules of the demo, invented.
    """

    orders: int
    materials: dict[str, float]
    parts_per_sheet: tuple[float, float, float]
    tools: float
    hits_per_part: float
    cut_mm_per_part: float
    contours: int
    tabs: int
    likes: tuple[str, ...] = ()
    surface_sensitive: bool = False
    pitch_mm: float = 50.0
    cup_share: float = 0.5
    chute: bool = False


@dataclass(frozen=True)
class Shop:
    """What a plant of the demo works with: families by name, its tools, names of its materials, its first order."""

    families: Mapping[str, Family]
    tools: tuple[ToolFact, ...]
    materials: tuple[str, ...]
    first_order: int


SHAPE_PRICE = {16.0: 180.0, 30.0: 320.0, 55.0: 520.0, 90.0: 900.0}
"""Tool set prices by station size, CU, invented."""
