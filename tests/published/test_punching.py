"""Punching forces, press check and clearances as printed in textbooks, teaching pages and trade charts."""

from __future__ import annotations

from math import pi
from operator import attrgetter

import pytest

from simkit.base.units import us_tons
from simkit.process.punching import CHART_DEFECTS, chart_force_kn
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


def strength(metal: str, low: float, high: float, source: str) -> Row:
    return Row(f"shear strength of {metal}", PUNCHING + "shear_strength", {"metal": metal}, (low, high), "MPa", 0.0,
               "as printed", source, read=attrgetter("low_mpa", "high_mpa"))  # fmt: skip


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
        "PUN-D6 clearance", PUNCHING + "clearance", {"thickness_mm": 3.2, "percent": 7.5, "basis": "per side"},
        0.24, "mm per side", 1e-9, EXACT, GROOVER_EXAMPLE, read=attrgetter("per_side_mm"),
    ),
    Row(
        "PUN-D6 punch and die", PUNCHING + "blank_tool_mm", {"size_mm": 150.0, "per_side_mm": 0.24},
        (149.52, 150.0), "mm", 1e-9, EXACT, GROOVER_EXAMPLE,
    ),
    force("PUN-D7 cut of 320 mm", 320.0, 2.5, 280.0, 224.0, SOLUTION),
    Row(
        "PUN-D7 required capacity", PUNCHING + "press_check",
        {"punching_kn": 224.0, "thickness_mm": 2.5, "shear_mpa": 280.0, "capacity_kn": 400.0, "stripping_share": 0.0,
         "factor": 1.3},
        291.2, "kN", 1e-9, EXACT, SOLUTION, read=attrgetter("required_kn"),
    ),
    Row(
        "PUN-D8 mild steel of 20 gauge by chart", PUNCHING + "chart_force_kn",
        {"cut_length_mm": 152.4, "us_tons_per_inch": 1.01},
        6.06, "US tons", 0.006, ROUNDING, CHART_A, read=us_tons,
    ),
    Row(
        "PUN-D8 stainless of 20 gauge by chart", PUNCHING + "chart_force_kn",
        {"cut_length_mm": 152.4, "us_tons_per_inch": 1.50},
        9.0, "US tons", 0.009, ROUNDING, CHART_A, read=us_tons,
    ),
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
    Row("perimeter of a square", PUNCHING + "square_perimeter_mm", {"side_mm": 12.5}, 50.0, "mm", 0.0, EXACT, BY_HAND),
    Row("perimeter of an obround", PUNCHING + "obround_perimeter_mm", {"length_mm": 30.0, "width_mm": 10.0}, 71.416,
        "mm", 5e-4, "40 + 10 pi", BY_HAND),
    Row("perimeter of a following hit", PUNCHING + "following_hit_perimeter_mm", {"step_mm": 54.0, "width_mm": 5.0},
        113.0, "mm", 0.0, EXACT, BY_HAND),
    Row("perimeter of a cluster of six", PUNCHING + "cluster_perimeter_mm", {"perimeter_mm": 20.0, "figures": 6}, 120.0,
        "mm", 0.0, EXACT, BY_HAND),
    Row("figures narrower than the sheet", PUNCHING + "is_narrow", {"width_mm": [2.9, 3.0], "thickness_mm": 3.0},
        (True, False), "", 0.0, "a verdict", "common practice, no source"),
    Row("shear strength from tensile strength", PUNCHING + "shear_from_tensile_mpa", {"tensile_mpa": 400.0}, 320.0,
        "MPa", 1e-9, EXACT, "0.8 for mild steel from memory; worked by hand"),
]  # fmt: skip

STRENGTHS = [
    strength("low-carbon steel, hot rolled", 280.0, 345.0, "trade chart B (345); teaching pages (280, 300)"),
    strength("low-carbon steel, cold rolled", 276.0, 276.0, CHART_B),
    strength("medium-carbon steel, hot rolled", 552.0, 552.0, CHART_B),
    strength("stainless steel, austenitic", 450.0, 517.0, "teaching page (450); calculator page (517)"),
    *(strength(f"aluminium {temper}", mpa, mpa, CHART_B) for temper, mpa in (
        ("1100-O", 62.0), ("1100-H14", 76.0), ("3003-H14", 103.0), ("5052-H32", 138.0), ("6061-T6", 207.0),
        ("7075-T6", 331.0),
    )),
    *(strength(metal, mpa, mpa, CHART_B) for metal, mpa in (
        ("copper, annealed", 152.0), ("copper, half hard", 179.0), ("copper, hard", 193.0),
        ("brass 260, annealed", 234.0), ("brass 260, half hard", 276.0),
    )),
]  # fmt: skip

CLEARANCES = [
    Row("20 % total of 3 mm", PUNCHING + "clearance", {"thickness_mm": 3.0, "percent": 20.0, "basis": "total"},
        (0.30, 0.60), "mm", 1e-9, EXACT, BY_HAND, read=attrgetter("per_side_mm", "total_mm")),
    Row("hole of 10 mm, punch and die", PUNCHING + "hole_tool_mm", {"size_mm": 10.0, "per_side_mm": 0.15},
        (10.0, 10.3), "mm", 1e-9, EXACT, "rule of Groover, ch. 20; worked by hand"),
    Row("widest advice for mild steel of 2 mm", PUNCHING + "clearance_range",
        {"thickness_mm": 2.0, "family": "mild steel"}, (0.20, 0.60), "mm total", 1e-9,
        "10 % of the second trade page to 30 % with ejectors", "worked by hand",
        read=lambda found: tuple(float(end.total_mm) for end in found)),
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


def test_the_first_chart_implies_the_shear_strength_that_its_defect_names():
    """At 20 gauge (0.0359 in) 1.01 US tons an inch are 56.3 ksi, 1 ksi being 6.894757 MPa."""
    shear_mpa = chart_force_kn(25.4, 1.01) * 1000 / (25.4 * 0.0359 * 25.4)
    assert shear_mpa / 6.894757 == pytest.approx(56.3, abs=0.05)
    assert "56 to 59 ksi" in CHART_DEFECTS[2]
