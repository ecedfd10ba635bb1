"""The revised NIOSH lifting equation: examples of the manual as printed, and at full precision.

The manual rounds each multiplier to two decimals (0.44 for 10/23 alone is 1.2 %), so a printed value may differ
by 2.5 % and half a unit of its last digit.
"""

from __future__ import annotations

from dataclasses import replace
from operator import attrgetter

import pytest

from simkit.process.lifting import US, Hands
from tests.published.rows import Row

LIFTING = "simkit.process.lifting."
MANUAL = "NIOSH 94-110, Applications Manual for the Revised NIOSH Lifting Equation"
RELAYED = f"{MANUAL}, results relayed in public software"
MEMORY = f"{MANUAL}, inputs and results from memory"
METRIC_EXAMPLE = "metric example of public software, recomputed"
BY_HAND = f"formula of {MANUAL}; worked by hand"
PRINT = "2.5 % for multipliers that the manual rounds, and half a unit of the last digit"
DIGITS = "half a unit of the last digit, full precision"
TABLE = f"{MANUAL}, table of frequency multipliers (retyped copy)"


def lift(name: str, inputs: dict, printed: dict[str, float], full: dict[str, float], source: str) -> list[Row]:
    """Rows of one assessed lift: values as printed (one decimal), and to the digits of the full precision."""
    rows = []
    for field, value in printed.items():
        rows.append(Row(f"{name}, {field} as printed", LIFTING + "assess_lift", inputs, value, "lb or ratio",
                        0.025 * value + 0.05, PRINT, source, read=attrgetter(field)))  # fmt: skip
    for field, value in full.items():
        rows.append(Row(f"{name}, {field}", LIFTING + "assess_lift", inputs, value, "lb or ratio", 5e-4, DIGITS,
                        BY_HAND, read=attrgetter(field)))  # fmt: skip
    return rows


def limit(name: str, expected: float, tolerance: float, source: str, **changes: object) -> Row:
    inputs = {"reach": 30.0, "height": 75.0, "travel": 50.0, "asymmetry_deg": 30.0, "lifts_per_min": 3.0,
              "duration": "short", "coupling": "fair", **changes}  # fmt: skip
    return Row(name, LIFTING + "recommended_weight_limit", inputs, expected, "kg", tolerance, DIGITS, source)


def index(name: str, load: float, weight_limit: float, expected: float, tolerance: float, source: str) -> Row:
    return Row(name, LIFTING + "lifting_index", {"load": load, "limit": weight_limit}, expected, "ratio", tolerance,
               DIGITS, source)  # fmt: skip


EXAMPLES = [
    *lift(
        "NIO-D1 loading punch press stock",
        {"load": 44.0, "origin": Hands(23.0, 15.0), "destination": Hands(23.0, 64.0), "lifts_per_min": 0.2,
         "duration": "short", "coupling": "fair", "control": True, "units": US},
        {"limit_origin": 16.3, "limit_destination": 14.5, "index_origin": 2.7, "index": 3.0},
        {"limit_origin": 16.017, "limit_destination": 14.153, "index_origin": 2.747, "index_destination": 3.109,
         "limit": 14.153},
        f"{RELAYED}; positions from memory",
    ),
    *lift(
        "NIO-D2 bags into a hopper",
        {"load": 40.0, "origin": Hands(18.0, 15.0, 45.0), "destination": Hands(10.0, 36.0), "lifts_per_min": 0.2,
         "duration": "short", "coupling": "fair", "control": False, "units": US},
        {"limit": 18.9, "index": 2.1}, {"limit": 18.521, "index": 2.160}, MEMORY,
    ),
    *lift(
        "NIO-D3 package inspection",
        {"load": 26.0, "origin": Hands(10.0, 22.0), "destination": Hands(20.0, 59.0), "lifts_per_min": 3.0,
         "duration": "short", "coupling": "fair", "control": True, "units": US},
        {"limit_origin": 34.9, "limit_destination": 15.2, "index_origin": 0.7, "index_destination": 1.7},
        {"limit_origin": 34.814, "limit_destination": 15.253}, RELAYED,
    ),
    limit("NIO-D4 reach 25 cm", 16.65, 0.005, METRIC_EXAMPLE, reach=25.0),
    limit("NIO-D4 reach 30 cm", 13.88, 0.005, METRIC_EXAMPLE),
    limit("NIO-D4 reach 35 cm", 11.89, 0.005, METRIC_EXAMPLE, reach=35.0),
    limit("NIO-D4 reach 40 cm", 10.41, 0.005, METRIC_EXAMPLE, reach=40.0),
    index("NIO-D4 index at 25 cm", 15.0, 16.65, 0.90, 0.005, METRIC_EXAMPLE),
    index("NIO-D4 index at 30 cm", 15.0, 13.88, 1.08, 0.005, METRIC_EXAMPLE),
    index("NIO-D4 index at 35 cm", 15.0, 11.89, 1.26, 0.005, METRIC_EXAMPLE),
    index("NIO-D4 index at 40 cm", 15.0, 10.41, 1.44, 0.005, METRIC_EXAMPLE),
    limit("NIO-D5 part sorting", 5.219, 5e-4, BY_HAND, reach=40.0, height=85.0, travel=45.0, lifts_per_min=4.0,
          duration="long"),
    index("NIO-D5 index", 6.0, 5.219, 1.150, 5e-4, BY_HAND),
    limit("NIO-D6 below the column switch", 0.0, 0.0, BY_HAND, reach=35.0, height=70.0, travel=30.0,
          asymmetry_deg=0.0, lifts_per_min=9.0, duration="long", coupling="good"),
    limit("NIO-D6 above the column switch", 2.355, 5e-4, BY_HAND, reach=35.0, height=80.0, travel=30.0,
          asymmetry_deg=0.0, lifts_per_min=9.0, duration="long", coupling="good"),
    index("NIO-D6 index", 4.0, 2.355, 1.699, 5e-4, BY_HAND),
]  # fmt: skip


def frequency(lifts_per_min: float, duration: str, below: float, above: float) -> Row:
    """Multiplier below and at the ideal height."""
    inputs = {"lifts_per_min": lifts_per_min, "duration": duration, "origin_height": [74.9, 75.0]}
    return Row(f"FM at {lifts_per_min:g}/min, {duration}", LIFTING + "frequency_multiplier", inputs, (below, above),
               "factor", 1e-12, "as printed", TABLE)  # fmt: skip


def strict(lifts_per_min: float, duration: str, below: float, above: float) -> Row:
    """The same where the table steps to zero for low hands, high hands or both."""
    row = frequency(lifts_per_min, duration, below, above)
    return replace(row, tolerance_reason="strict reading: zero beyond the last line that is not zero",
                   source=f"{TABLE}; between its lines worked by hand")  # fmt: skip


FREQUENCIES = [
    frequency(0.1, "short", 1.00, 1.00), frequency(0.2, "short", 1.00, 1.00), frequency(0.2, "moderate", 0.95, 0.95),
    frequency(0.2, "long", 0.85, 0.85), frequency(0.5, "short", 0.97, 0.97), frequency(0.5, "moderate", 0.92, 0.92),
    frequency(0.5, "long", 0.81, 0.81), frequency(1, "short", 0.94, 0.94), frequency(1, "moderate", 0.88, 0.88),
    frequency(1, "long", 0.75, 0.75), frequency(2, "short", 0.91, 0.91), frequency(2, "moderate", 0.84, 0.84),
    frequency(2, "long", 0.65, 0.65), frequency(3, "short", 0.88, 0.88), frequency(3, "moderate", 0.79, 0.79),
    frequency(3, "long", 0.55, 0.55), frequency(4, "short", 0.84, 0.84), frequency(4, "moderate", 0.72, 0.72),
    frequency(4, "long", 0.45, 0.45), frequency(5, "short", 0.80, 0.80), frequency(5, "moderate", 0.60, 0.60),
    frequency(5, "long", 0.35, 0.35), frequency(6, "short", 0.75, 0.75), frequency(6, "moderate", 0.50, 0.50),
    frequency(6, "long", 0.27, 0.27), frequency(7, "short", 0.70, 0.70), frequency(7, "moderate", 0.42, 0.42),
    frequency(7, "long", 0.22, 0.22), frequency(8, "short", 0.60, 0.60), frequency(8, "moderate", 0.35, 0.35),
    frequency(8, "long", 0.18, 0.18), frequency(9, "short", 0.52, 0.52), frequency(9, "moderate", 0.30, 0.30),
    frequency(9, "long", 0.00, 0.15), frequency(10, "short", 0.45, 0.45), frequency(10, "moderate", 0.26, 0.26),
    frequency(10, "long", 0.00, 0.13), frequency(11, "short", 0.41, 0.41), frequency(11, "moderate", 0.00, 0.23),
    frequency(11, "long", 0.00, 0.00), frequency(12, "short", 0.37, 0.37), frequency(12, "moderate", 0.00, 0.21),
    frequency(12, "long", 0.00, 0.00), frequency(13, "short", 0.00, 0.34), frequency(13, "moderate", 0.00, 0.00),
    frequency(14, "short", 0.00, 0.31), frequency(15, "short", 0.00, 0.28), frequency(15, "long", 0.00, 0.00),
    frequency(15.1, "short", 0.00, 0.00),
    strict(12.5, "short", 0.00, 0.355), strict(8.5, "long", 0.00, 0.165), strict(10.5, "moderate", 0.00, 0.245),
    strict(10.5, "long", 0.00, 0.00), strict(12.5, "moderate", 0.00, 0.00), strict(14.5, "short", 0.00, 0.295),
    frequency(2.4, "short", 0.898, 0.898), frequency(2.4, "moderate", 0.820, 0.820),
    frequency(2.4, "long", 0.610, 0.610),
]  # fmt: skip


def multiplier(name: str, inputs: dict, expected: object, reason: str = "as printed, or exact at a limit") -> Row:
    return Row(f"{name}_multiplier {len(inputs)} {next(iter(inputs.values()))}", f"{LIFTING}{name}_multiplier", inputs,
               expected, "factor", 5e-5, reason, f"{MANUAL}, formulas and limits (retyped copy)")  # fmt: skip


MULTIPLIERS = [
    multiplier("horizontal", {"reach": [10.0, 25.0, 50.0, 63.0, 63.1]}, (1.0, 1.0, 0.5, 0.3968, 0.0)),
    multiplier("horizontal", {"reach": [23.0, 25.0, 25.1], "units": US}, (0.4348, 0.4, 0.0)),
    multiplier("vertical", {"height": [0.0, 75.0, 175.0, 175.1]}, (0.775, 1.0, 0.7, 0.0)),
    multiplier("vertical", {"height": [0.0, 30.0, 70.0, 70.1], "units": US}, (0.775, 1.0, 0.7, 0.0)),
    multiplier("distance", {"travel": [10.0, 25.0, 175.0, 175.1]}, (1.0, 1.0, 0.8457, 0.0)),
    multiplier("distance", {"travel": [0.0, 10.0, 70.0, 70.1], "units": US}, (1.0, 1.0, 0.8457, 0.0)),
    multiplier("asymmetry", {"asymmetry_deg": [0.0, 90.0, 135.0, 135.1]}, (1.0, 0.712, 0.568, 0.0)),
    multiplier("coupling", {"coupling": "good", "height": [74.0, 75.0]}, (1.0, 1.0)),
    multiplier("coupling", {"coupling": "fair", "height": [74.0, 75.0]}, (0.95, 1.0)),
    multiplier("coupling", {"coupling": "poor", "height": [74.0, 75.0]}, (0.90, 0.90)),
]  # fmt: skip


def duration(work_h: float, recovery_h: float, expected: str, **more: float) -> Row:
    inputs = {"work_h": work_h, "recovery_h": recovery_h, **more}
    return Row(f"{work_h:g} h of lifting, {recovery_h:g} h of recovery {sorted(more.values())}",
               LIFTING + "duration_class", inputs, expected, "class", 0.0, "a class", MANUAL)  # fmt: skip


OTHERS = [
    duration(0.75, 0.75, "short"), duration(0.75, 0.75, "moderate", short_recovery=1.2),
    duration(0.75, 0.9, "short", short_recovery=1.2), duration(0.75, 0.1, "long"), duration(2.0, 0.6, "moderate"),
    duration(2.0, 0.5, "long"), duration(8.0, 8.0, "long"),
    duration(0.5, 0.0, "long"),
    Row("words for an index of 1", LIFTING + "index_in_words", {"index": 1.0},
        "at or below 1.0, the goal for the design of lifting tasks", "words", 0.0, "words", MANUAL),
    Row("sheets by the plant's limit", LIFTING + "sheet_handling",
        {"sheet_kg": [25.0, 25.1, 60.0], "one_person_kg": 25.0, "lifter": False}, (1, 2, 2), "persons", 0.0, "a count",
        "common practice, no source", read=attrgetter("persons")),
    Row("kilograms of sheets in a shift", LIFTING + "shift_load", {"mass_kg": [12.0, 30.0], "lifts": [40, 5]}, 630.0,
        "kg", 0.0, "arithmetic on exact numbers", "worked by hand", read=attrgetter("kg")),
    Row("tool set of a 50 mm station", LIFTING + "tool_set_kg", {"station_size_mm": 50.0}, 1.850, "kg", 5e-4,
        "pi/4 x 2500 x 120 mm3 of steel", "common practice, no source; worked by hand"),
]  # fmt: skip

PUBLISHED = [*EXAMPLES, *FREQUENCIES, *MULTIPLIERS, *OTHERS]


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row):
    row.check()
