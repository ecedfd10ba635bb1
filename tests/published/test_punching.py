"""Punching forces, press check and clearances as printed in textbooks, teaching pages and trade charts."""

from __future__ import annotations

from math import pi
from operator import attrgetter

import pytest

from tests.published.rows import Row

PUNCHING = "simkit.process.punching."
ROUNDING = "0.1 %, rounding of pi and of the print"
EXACT = "arithmetic on exact numbers"
EXAM = "exam question on a teaching page, recomputed"
TEACHING = "engineering teaching page, recomputed"
CALCULATOR = "page of a calculator, recomputed"
FORUM = "guide in a trade forum, recomputed"
SOLUTION = "solution sheet of a course, recomputed"
GROOVER_EXAMPLE = "Groover, Fundamentals of Modern Manufacturing, ch. 20, example (from memory), recomputed"
GROOVER_TABLE = "Groover, Fundamentals of Modern Manufacturing, ch. 20, table of clearance allowances"
CHART_A = "trade chart A, US tons per inch of cut, recomputed"
CHART_B = "trade chart B"
BY_HAND = "worked by hand"


def force(name: str, perimeter_mm: float, thickness_mm: float, shear_mpa: float, kn: float, source: str) -> Row:
    inputs = {"perimeter_mm": perimeter_mm, "thickness_mm": thickness_mm, "shear_mpa": shear_mpa}
    return Row(name, PUNCHING + "punching_force_kn", inputs, kn, "kN", kn / 1000, ROUNDING, source)


def strength(family: str, number: int, low: float, high: float, source: str) -> Row:
    """The ``number``-th printed strength of a family."""
    return Row(f"shear strength {number + 1} of {family}", PUNCHING + "shear_strengths", {"family": family},
               (low, high), "MPa", 0.0, "as printed", source,
               read=lambda rows: (rows[number].low_mpa, rows[number].high_mpa))  # fmt: skip


def by_chart(metal: str, us_tons_per_inch: float, us_tons: float, tolerance: float) -> Row:
    """6 in of 20 gauge (0.0359 in) by a chart of tons an inch: its shear strength is tons an inch over the thickness.

    1 US ton is 8.896443 kN; 1.01 US tons an inch are 56.3 ksi.
    """
    shear_mpa = us_tons_per_inch * 8896.443 / (25.4 * 0.0359 * 25.4)
    inputs = {"perimeter_mm": 152.4, "thickness_mm": 0.0359 * 25.4, "shear_mpa": shear_mpa}
    return Row(f"PUN-D8 {metal} of 20 gauge by chart", PUNCHING + "punching_force_kn", inputs, us_tons, "US tons",
               tolerance, ROUNDING, CHART_A, read=lambda kn: kn / 8.896443)  # fmt: skip


def advised(family: str, number: int, total_percent: tuple[float, float], source: str) -> Row:
    """The ``number``-th row of advice for a family, as total clearance."""
    return Row(f"clearance advice {number + 1} for {family}", PUNCHING + "clearance_advice", {"family": family},
               total_percent, "% of the thickness, total", 1e-9, "as printed; per side counts twice", source,
               read=lambda rows: rows[number].total_percent)  # fmt: skip


FORCES = [
    force("PUN-D1 disc of 20 mm", pi * 20, 1.5, 300.0, 28.27, EXAM),
    force("PUN-D2 flat punch of 10 mm", pi * 10, 3.0, 400.0, 37.70, EXAM),
    Row(
        "PUN-D2 punch with 2 mm of shear", PUNCHING + "sheared_punch_force_kn",
        {"flat_kn": 37.699, "thickness_mm": 3.0, "penetration": 0.40, "shear_mm": 2.0},
        22.62, "kN", 0.0226, ROUNDING, EXAM,
    ),
    force("PUN-D3 hole of 10 mm", pi * 10, 3.0, 350.0, 32.9867, TEACHING),
    force("PUN-D4 cut of 40 mm in aluminium", 40.0, 3.0, 172.4, 20.688, CALCULATOR),
    force("PUN-D5 hole of 100 mm", pi * 100, 2.0, 280.0, 175.93, FORUM),
    force("PUN-D6 blank of 150 mm", pi * 150, 3.2, 310.0, 467.47, GROOVER_EXAMPLE),
    Row(
        "PUN-D6 clearance, punch and die for a blank of 150 mm", PUNCHING + "clearance_advice",
        {"family": "mild steel"}, (0.24, 149.52, 150.0), "mm per side, mm, mm", 1e-9,
        "half hard: 7.5 % of 3.2 mm per side; the blank has the size of the die", GROOVER_EXAMPLE,
        read=lambda rows: (per_side := rows[1].low_percent / 100 * 3.2, 150 - 2 * per_side, 150.0),
    ),
    force("PUN-D7 cut of 320 mm", 320.0, 2.5, 280.0, 224.0, SOLUTION),
    Row(
        "PUN-D7 required capacity", PUNCHING + "press_check",
        {"punching_kn": 224.0, "thickness_mm": 2.5, "shear_mpa": 280.0, "capacity_kn": 400.0, "stripping_share": 0.0,
         "factor": 1.3},
        291.2, "kN", 1e-9, EXACT, SOLUTION, read=attrgetter("required_kn"),
    ),
    by_chart("mild steel", 1.01, 6.06, 0.006),
    by_chart("stainless", 1.50, 9.0, 0.009),
    force("PUN-D9 rectangle of 50 x 20", 140.0, 2.0, 345.0, 96.60, BY_HAND),
    force("PUN-D10 stainless hole of 30 mm", pi * 30, 1.5, 520.0, 73.51, BY_HAND),
    Row(
        "PUN-D11 largest round hole", PUNCHING + "largest_round_mm",
        {"capacity_kn": 200.0, "thickness_mm": 3.0, "shear_mpa": 345.0, "stripping_share": 0.10, "factor": 1.2},
        46.60, "mm", 0.0466, ROUNDING, BY_HAND,
    ),
]  # fmt: skip

FIGURES = [
    Row("perimeter of a round", PUNCHING + "round_perimeter_mm", {"diameter_mm": [10.0, 20.0]}, (31.416, 62.832), "mm",
        5e-4, "digits of the print", BY_HAND),
    Row("perimeter of a rectangle", PUNCHING + "rectangle_perimeter_mm", {"length_mm": 50.0, "width_mm": 20.0}, 140.0,
        "mm", 0.0, EXACT, BY_HAND),
    Row("perimeter of a square", PUNCHING + "rectangle_perimeter_mm", {"length_mm": 12.5, "width_mm": 12.5},
        50.0, "mm", 0.0, EXACT, BY_HAND),
    Row("perimeter of an obround", PUNCHING + "obround_perimeter_mm", {"length_mm": 30.0, "width_mm": 10.0}, 71.416,
        "mm", 5e-4, "40 + 10 pi", BY_HAND),
    Row("perimeter of a cluster of six", PUNCHING + "cluster_perimeter_mm", {"perimeter_mm": 20.0, "figures": 6}, 120.0,
        "mm", 0.0, EXACT, BY_HAND),
    Row("figures narrower than the sheet", PUNCHING + "is_narrow", {"width_mm": [2.9, 3.0], "thickness_mm": 3.0},
        (True, False), "", 0.0, "a verdict", "common practice, no source"),
    Row("shear strength from tensile strength", PUNCHING + "shear_from_tensile_mpa", {"tensile_mpa": 400.0}, 320.0,
        "MPa", 1e-9, EXACT, "0.8 for mild steel from memory; worked by hand"),
]  # fmt: skip

STRENGTHS = [
    strength("mild steel", 0, 280.0, 345.0, "trade chart B (345); teaching pages (280, 300)"),
    strength("mild steel", 1, 276.0, 276.0, CHART_B),
    strength("medium-carbon steel", 0, 552.0, 552.0, CHART_B),
    strength("stainless", 0, 450.0, 517.0, "teaching page (450); calculator page (517)"),
    *(strength(family, number, mpa, mpa, CHART_B) for family, printed in (
        ("aluminium", (62.0, 76.0, 103.0, 138.0, 207.0, 331.0)), ("copper", (152.0, 179.0, 193.0)),
        ("brass", (234.0, 276.0)),
    ) for number, mpa in enumerate(printed)),
]  # fmt: skip

CLEARANCES = [
    Row("20 % total of 3 mm", PUNCHING + "clearance_advice", {"family": "mild steel"}, (0.30, 0.60), "mm", 1e-9, EXACT,
        BY_HAND, read=lambda rows: (rows[2].total_percent[0] / 200 * 3.0, rows[2].total_percent[0] / 100 * 3.0)),
    advised("aluminium", 0, (9.0, 9.0), GROOVER_TABLE),
    advised("aluminium", 1, (12.0, 12.0), GROOVER_TABLE),
    advised("brass", 0, (12.0, 12.0), GROOVER_TABLE),
    advised("mild steel", 0, (12.0, 12.0), GROOVER_TABLE),
    advised("mild steel", 1, (15.0, 15.0), GROOVER_TABLE),
    advised("stainless", 0, (12.0, 12.0), GROOVER_TABLE),
    advised("stainless", 1, (15.0, 15.0), GROOVER_TABLE),
    advised("mild steel", 2, (20.0, 20.0), "trade chart of clearances"),
    advised("mild steel", 3, (25.0, 25.0), "trade chart of clearances"),
    advised("aluminium", 2, (15.0, 15.0), "trade chart of clearances"),
    advised("aluminium", 3, (18.0, 18.0), "trade chart of clearances"),
    advised("aluminium", 4, (20.0, 20.0), "trade chart of clearances"),
    advised("aluminium", 5, (9.0, 15.0), "tooling page, clearance recommended with ejectors"),
    advised("mild steel", 4, (20.0, 30.0), "tooling page, clearance recommended with ejectors"),
    advised("stainless", 2, (20.0, 30.0), "tooling page, clearance recommended with ejectors"),
    advised("any", 0, (14.0, 24.0), "trade page, 7 to 12 % per side"),
    advised("any", 1, (10.0, 20.0), "second trade page, thin to thick"),
]  # fmt: skip

PUBLISHED = [*FORCES, *FIGURES, *STRENGTHS, *CLEARANCES]


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row):
    row.check()
