"""What Quennow makes and with what: few programs, long orders, every tool at its place in the turret."""

from __future__ import annotations

from facts import TOOLS, Family, Shop

SEED = 41018
STREAMS = ("tools", "programs", "use", "orders")

PROGRAMS = {"PANL": 9, "TRAY": 10, "SHLF": 5}
"""Proven programs by family, 24 in all."""

ORDERS = 62
"""Orders of four weeks. Rule of the demo: 1.6 times what the shift makes."""

SHEETS = (12, 40)
"""Fewest and most sheets of an order, all numbers alike."""

LEAD_DAYS = (6, 12)
"""Shortest and longest lead time in working days, all alike."""

FAMILIES: dict[str, Family] = {
    "PANL": Family(0, {"MS-1.0": 0.5, "MS-1.5": 0.5}, (12, 20, 28), 5, 11, 900, 2, 8, pitch_mm=60.0, cup_share=0.6),
    "TRAY": Family(0, {"MS-1.0": 0.6, "MS-1.5": 0.4}, (24, 36, 52), 5, 11, 420, 2, 4, pitch_mm=35.0, cup_share=0.55),
    "SHLF": Family(0, {"MS-1.0": 0.3, "MS-1.5": 0.7}, (8, 14, 18), 5, 26, 1400, 2, 6, pitch_mm=50.0, cup_share=0.6),
}  # fmt: skip

OWNED = {
    "round": ("3", "4.2", "5", "6", "7", "8", "10", "20", "40"), "obround": ("6x18", "8x22"), "square": ("10", "60"),
    "rectangle": ("5x50", "6x80"), "corner": ("5",), "extrusion": ("M4",),
}  # fmt: skip
"""Tools by shape, as the common list calls them: with a second copy of every cutting tool 14 of 16 mm, 9 of 30, 6 of 55
and 4 of 90, so that all stand in the turret."""

CLEARANCES_HELD = (0.20, 0.30)
"""Each cutting tool stands in the turret at both, those of its two materials."""

SHOP = Shop(
    FAMILIES, tuple(tool for tool in TOOLS if tool.text in OWNED.get(tool.shape, ())), ("MS-1.0", "MS-1.5"),
    first_order=20101,
)  # fmt: skip
