"""What Tarnholt makes: its product families as the description lists them, and how its orders are drawn."""

from __future__ import annotations

from facts import MATERIALS, TOOLS, Family, Shop

SEED = 41017
STREAMS = ("tools", "orders", "use", "calendar", "log", "more")
"""One random stream per purpose, spawned from the seed in this order and never shared; the last draws the growth."""

GROWTH = 0.24
"""Orders beyond those of the description, as a share of them, by family: the book then has 1.25 times the hours."""

FAMILIES: dict[str, Family] = {
    "LOCK": Family(43, {"MS-1.5": 0.6, "MS-2.0": 0.4}, (3, 6, 10), 7, 42, 1500, 2, 6, pitch_mm=60.0, cup_share=0.5),
    "LOUV": Family(
        31, {"AL-1.5": 0.7, "AL-2.0": 0.3}, (8, 14, 24), 6, 50, 300, 1, 5, ("louvre", "cluster"), True,
        pitch_mm=30.0, cup_share=0.25,
    ),
    "BOOK": Family(
        43, {"MS-1.0": 0.45, "MS-1.5": 0.35, "MS-2.0": 0.2}, (10, 20, 36), 8, 24, 500, 2, 4,
        ("extrusion", "countersink"), pitch_mm=50.0, cup_share=0.45,
    ),
    "GALL": Family(
        23, {"SS-1.0": 0.55, "SS-1.5": 0.45}, (2, 4, 8), 5, 18, 5200, 6, 6, ("corner", "drain rib"), True,
        pitch_mm=80.0, cup_share=0.6,
    ),
    "DOOR": Family(15, {"MS-1.0": 0.7, "MS-3.0": 0.3}, (1, 2, 2), 3, 20, 6000, 4, 8, pitch_mm=120.0, cup_share=0.7),
    "MISC": Family(
        25,
        {"MS-1.0": 0.2, "MS-1.5": 0.2, "MS-2.0": 0.15, "MS-3.0": 0.1, "SS-1.0": 0.1, "SS-1.5": 0.05,
         "AL-1.5": 0.1, "AL-2.0": 0.1},
        (6, 24, 60), 7, 14, 350, 2, 4, pitch_mm=40.0, cup_share=0.4, chute=True,
    ),
}  # fmt: skip

WEEKDAY_WEIGHTS = (1.5, 1.1, 1.0, 0.9, 0.5)
RUSH_SHARE = 0.08
REPEAT_SHARE = 0.35

SHOP = Shop(FAMILIES, TOOLS, tuple(MATERIALS), first_order=10401)
