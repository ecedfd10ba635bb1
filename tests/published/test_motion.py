"""Times of moves and hits: kinematics worked by hand."""

from __future__ import annotations

from math import inf
from operator import attrgetter

import pytest

from simkit.process.motion import Axis
from tests.published.rows import Row

MOTION = "simkit.process.motion."
DIGITS = "1e-6 s, digits of the worked value"
KINEMATICS = "kinematics textbook formula (from memory), worked by hand"
RATE = (
    "kinematics textbook formula (from memory), worked by hand; 60 ms of ram and settling: common practice, no source"
)
PRACTICE = "common practice, no source; worked by hand"
DRIVE = Axis(1.5, 12.0)


def moved(name: str, distance_mm: float, speed: float, accel: float, seconds: float, jerk: float = inf) -> Row:
    """A move from rest to rest."""
    limits = {"speed_m_s": speed, "accel_m_s2": accel, "jerk_m_s3": jerk}
    return Row(name, MOTION + "Axis", limits, seconds, "s", 1e-6, DIGITS, KINEMATICS,
               read=lambda axis: axis.move_s(distance_mm))  # fmt: skip


def peak(name: str, distance_mm: float, speed: float, accel: float, expected: float) -> Row:
    """The highest speed of a move: twice its mean speed, as long as that is not above the limit."""
    limits = {"speed_m_s": speed, "accel_m_s2": accel}
    return Row(name, MOTION + "Axis", limits, expected, "m/s", 1e-6, DIGITS, KINEMATICS,
               read=lambda axis: min(speed, 2e-3 * distance_mm / axis.move_s(distance_mm)))  # fmt: skip


def rate(pitch_mm: float, expected: float) -> Row:
    """Hits a minute in a row of holes, 60 ms of ram and settling after each move."""
    return Row(f"hits a minute at {pitch_mm:g} mm", "simkit.process.motiontimes.Axes", {"x": DRIVE, "y": DRIVE},
               expected, "1/min", 0.005, "half a unit of the last digit", RATE,
               read=lambda axes: 60 / (axes.move_s(pitch_mm) + 0.060))  # fmt: skip


PUBLISHED = [
    moved("MOT-D1 short move", 25.0, 1.0, 10.0, 0.1),
    moved("MOT-D2 move at the boundary", 100.0, 1.0, 10.0, 0.2),
    moved("MOT-D3 half a metre", 500.0, 1.5, 12.0, 0.458333),
    moved("MOT-D4 one metre", 1000.0, 1.5, 12.0, 0.791667),
    moved("MOT-D5 two metres", 2000.0, 2.0, 10.0, 1.2),
    moved("MOT-D6 five millimetres", 5.0, 1.5, 15.0, 0.036515),
    moved("MOT-D7 three metres", 3000.0, 1.6, 6.0, 2.141667),
    moved("one metre without a limit of jerk", 1000.0, 1.5, 10.0, 0.816667),
    peak("MOT-D1 peak", 25.0, 1.0, 10.0, 0.5),
    peak("MOT-D2 peak", 100.0, 1.0, 10.0, 1.0),
    peak("MOT-D3 peak", 500.0, 1.5, 12.0, 1.5),
    peak("MOT-D6 peak", 5.0, 1.5, 15.0, 0.273861),
    moved("MOT-D8 seven segments", 1000.0, 1.5, 10.0, 0.866667, jerk=200.0),
    moved("jerk only: four segments", 4.0, 1.5, 10.0, 0.086177, jerk=200.0),
    moved("no stretch of constant speed", 100.0, 1.5, 10.0, 0.256155, jerk=200.0),
    moved("no stretch of constant acceleration", 1000.0, 0.32, 10.0, 3.205, jerk=200.0),
    moved("MOT-D9 two axes at once take as long as the slower one", 800.0, 1.5, 10.0, 0.683333),
    moved("MOT-D9 the faster axis", 300.0, 1.2, 12.0, 0.35),
    *(rate(pitch, hits) for pitch, hits in (
        (1.0, 766.70), (2.0, 699.14), (5.0, 595.09), (10.0, 509.62), (25.0, 396.60), (50.0, 317.29),
        (100.0, 247.35), (250.0, 170.62),
    )),
    Row(
        "reposition over half a metre", MOTION + "reposition_s",
        {"distance_mm": 500.0, "axis": DRIVE, "clamping_s": 2.5},
        2.958333, "s", 1e-6, "2.5 + 0.458333", PRACTICE,
    ),
    Row(
        "shorter way round a ring of 12", MOTION + "ring_steps",
        {"from_station": [1, 11, 0], "to_station": [10, 2, 6], "stations": 12},
        (3, 3, 6), "steps", 0.0, "a count", "worked by hand",
    ),
    Row(
        "tools of a sheet, one forming tool", MOTION + "tool_order",
        {"stations": [3, 8, 1], "forming": [False, True, False], "ring": 12, "start": 0},
        (2, 0, 1), "tools", 0.0, "0 to 1 to 3 to 8 in 1 + 2 + 5 steps; by 3 first it is 10", "worked by hand",
        read=attrgetter("order"),
    ),
    Row(
        "steps of a sheet, turning back once", MOTION + "tool_order",
        {"stations": [19, 2, 18, 5], "forming": [False] * 4, "ring": 20, "start": 0},
        9, "steps", 0.0, "0 back to 18, then on to 5: 2 + 7 steps", "worked by hand", read=attrgetter("steps"),
    ),
    Row(
        "tools of a sheet, turning back once", MOTION + "tool_order",
        {"stations": [19, 2, 18, 5], "forming": [False] * 4, "ring": 20, "start": 0},
        (0, 2, 1, 3), "tools", 0.0, "0 back to 18, then on to 5: 2 + 7 steps", "worked by hand",
        read=attrgetter("order"),
    ),
]  # fmt: skip


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row):
    row.check()
