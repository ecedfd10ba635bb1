"""What Uthmarsh makes and with what: trial pieces of every metal, seventy tools, an order or two of a program."""

from __future__ import annotations

from facts import MATERIALS, TOOLS, Family, Shop, ToolFact

SEED = 41019
STREAMS = ("tools", "programs", "use", "orders")

PROGRAMS = {"PROT": 130, "RIGS": 80, "JIGS": 90}
"""Programs by family, 300 in all."""

WEEKS = 5
"""Weeks of the book."""

REPEATED, REPEATS = 40, 100
"""Programs that come back, all proven, and how many orders they have beside the one that each program has."""

SHEETS = (1, 3)
"""Fewest and most sheets of an order, all numbers alike."""

RUSH_SHARE, LEAD_DAYS = 0.1, (2, 4)
"""Rush orders are due the next day, the others after two to four working days, all alike."""

_MILD_AND_BRIGHT = {"MS-1.0": 0.15, "MS-1.5": 0.2, "MS-2.0": 0.15, "MS-3.0": 0.1, "SS-1.0": 0.1, "SS-1.5": 0.1,
                    "AL-1.5": 0.1, "AL-2.0": 0.1}  # fmt: skip

FAMILIES: dict[str, Family] = {
    "PROT": Family(0, _MILD_AND_BRIGHT, (2, 6, 14), 6, 40, 4000, 6, 4, ("extrusion", "countersink"), pitch_mm=45.0,
                   cup_share=0.4),
    "RIGS": Family(0, {"MS-2.0": 0.35, "MS-3.0": 0.3, "AL-2.0": 0.35}, (1, 3, 6), 7, 100, 9000, 8, 6, pitch_mm=70.0,
                   cup_share=0.6),
    "JIGS": Family(0, {"SS-1.0": 0.3, "SS-1.5": 0.4, "AL-1.5": 0.3}, (3, 8, 18), 5, 36, 3200, 6, 4, pitch_mm=40.0,
                   cup_share=0.45, surface_sensitive=True),
}  # fmt: skip

MORE_TOOLS = (
    ToolFact(16, "round", "3.2", 3.2, 3.2, 3), ToolFact(16, "round", "5.2", 5.2, 5.2, 3),
    ToolFact(16, "round", "6.2", 6.2, 6.2, 2), ToolFact(16, "round", "8.5", 8.5, 8.5, 3),
    ToolFact(30, "round", "24", 24.0, 24.0, 2), ToolFact(30, "obround", "7x20", 20.0, 7.0, 2),
    ToolFact(30, "square", "12", 12.0, 12.0, 2), ToolFact(55, "round", "45", 45.0, 45.0, 1),
)  # fmt: skip
"""Beside the 62 of the common list, 70 in all."""

SHOP = Shop(FAMILIES, (*TOOLS, *MORE_TOOLS), tuple(MATERIALS), first_order=30101)
