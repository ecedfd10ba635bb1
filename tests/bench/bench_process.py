"""How fast the process formulas run on arrays, as ratios to a plain Python loop within one run.

``make bench`` writes bench_process.json. The measure of a whole year is the first, travel of all hits of all its
sheets; the others show what less work on each number gives. Seconds depend on the computer and its load; only the
ratios are worth comparing. The plain loops read the same limits and reckon the same sums one number at a time, by
the plain functions below, over a share of the sheets; results are compared before anything is timed. How plain a
loop is matters: ``travel_lean_loop`` holds the arrays against a loop without functions, its limits worked out once.
"""

from __future__ import annotations

import argparse
import json
import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from simkit.process.lifting import METRIC, recommended_weight_limit
from simkit.process.motion import Axis, travel_s
from simkit.process.punching import press_check, punching_force_kn, round_perimeter_mm
from tests.bench.timing import medians

Floats = NDArray[np.float64]

MEANINGS = {
    "travel": "travel of hit patterns, two axes with unequal acceleration and deceleration",
    "travel_lean_loop": "the same against a loop written for speed: limits worked out once, no function for a move",
    "travel_limited_jerk": "travel of hit patterns, two axes with limited jerk",
    "press_check": "force and press check of round figures, one a sheet",
    "lifting_limit": "recommended weight limit of lifts, one a sheet",
}
EVEN = Axis(1.5, 10.0, 12.0), Axis(1.2, 8.0, 9.0)
SMOOTH = Axis(1.5, 10.0, jerk_m_s3=200.0), Axis(1.2, 8.0, jerk_m_s3=150.0)
CAPACITY_KN = 200.0


def plain_move_s(distance_mm: float, axis: Axis) -> float:
    """A move from rest to rest, one at a time."""
    distance_m = abs(distance_mm) / 1000
    speed, accel, jerk = axis.speed_m_s, axis.accel_m_s2, axis.jerk_m_s3
    if math.isfinite(jerk):
        return plain_smooth_s(distance_m, speed, accel, jerk)
    decel = accel if axis.decel_m_s2 is None else axis.decel_m_s2
    if distance_m >= speed**2 / (2 * accel) + speed**2 / (2 * decel):
        return distance_m / speed + speed / (2 * accel) + speed / (2 * decel)
    peak = math.sqrt(2 * distance_m * accel * decel / (accel + decel))
    return peak / accel + peak / decel


def plain_smooth_s(distance_m: float, speed: float, accel: float, jerk: float) -> float:
    """The same with limited jerk, case by case."""
    ramp_s = speed / accel + accel / jerk if speed >= accel**2 / jerk else 2 * math.sqrt(speed / jerk)
    if distance_m >= speed * ramp_s:
        return distance_m / speed + ramp_s
    if distance_m >= 2 * accel**3 / jerk**2:
        lag = accel / jerk
        peak = accel / 2 * (math.sqrt(lag**2 + 4 * distance_m / accel) - lag)
        return 2 * (peak / accel + lag)
    return 4 * (distance_m / (2 * jerk)) ** (1 / 3)


def plain_travel_s(x_mm: list[list[float]], y_mm: list[list[float]], x_axis: Axis, y_axis: Axis) -> list[float]:
    """Travel of each sheet, move by move."""
    totals = []
    for xs, ys in zip(x_mm, y_mm, strict=True):
        total = 0.0
        for i in range(1, len(xs)):
            total += max(plain_move_s(xs[i] - xs[i - 1], x_axis), plain_move_s(ys[i] - ys[i - 1], y_axis))
        totals.append(total)
    return totals


def lean_limits(axis: Axis) -> tuple[float, float, float]:
    """Speed in mm/s, twice the sum of the inverse accelerations in s2/mm, boundary distance in mm."""
    decel = axis.accel_m_s2 if axis.decel_m_s2 is None else axis.decel_m_s2
    speed, ease = axis.speed_m_s * 1000, (1 / axis.accel_m_s2 + 1 / decel) / 1000
    return speed, 2 * ease, speed**2 * ease / 2


def lean_travel_s(x_mm: list[list[float]], y_mm: list[list[float]], x_axis: Axis, y_axis: Axis) -> list[float]:
    """Travel of each sheet in a loop written for speed, without limits of jerk."""
    root, totals = math.sqrt, []
    (x_speed, x_ease, x_bound), (y_speed, y_ease, y_bound) = lean_limits(x_axis), lean_limits(y_axis)
    for xs, ys in zip(x_mm, y_mm, strict=True):
        total, last_x, last_y = 0.0, xs[0], ys[0]
        for x, y in zip(xs, ys, strict=True):
            across, along = abs(x - last_x), abs(y - last_y)
            x_s = root(x_ease * across) if across < x_bound else (across + x_bound) / x_speed
            y_s = root(y_ease * along) if along < y_bound else (along + y_bound) / y_speed
            total += x_s if x_s > y_s else y_s
            last_x, last_y = x, y
        totals.append(total)
    return totals


def plain_checks(diameters_mm: list[float]) -> list[float]:
    """Press check of each round figure in mild steel of 2 mm, all of its values; gives the shares."""
    shares = []
    for diameter_mm in diameters_mm:
        force_kn = math.pi * diameter_mm * 2.0 * 345.0 / 1000
        required_kn = force_kn * (1 + 0.1) * 1.2
        largest_mm = CAPACITY_KN / (math.pi * 2.0 * 345.0 / 1000 * (1 + 0.1) * 1.2)
        check = (
            force_kn,
            force_kn * 0.1,
            required_kn,
            required_kn / CAPACITY_KN,
            required_kn > CAPACITY_KN,
            largest_mm,
        )
        shares.append(check[3])
    return shares


def plain_limits(reaches: list[float], heights: list[float]) -> list[float]:
    """Recommended weight limit of each lift, three a minute for up to an hour, fair grip."""
    limits = []
    for reach, height in zip(reaches, heights, strict=True):
        hm = 0.0 if reach > 63 else 25 / max(reach, 25)
        vm = 0.0 if height > 175 else 1 - 0.003 * abs(height - 75)
        dm = 0.82 + 4.5 / 50
        cm = 1.0 if height >= 75 else 0.95
        limits.append(METRIC.load_constant * hm * vm * dm * 0.88 * cm)
    return limits


def ratios(sheets: int, hits: int, part: int, rounds: int) -> dict[str, float]:
    """Plain loop over arrays for each formula; the loop does one sheet in ``part`` and counts ``part`` times."""
    rng = np.random.default_rng(1)
    x, y = rng.uniform(0, 2500, (sheets, hits)), rng.uniform(0, 1250, (sheets, hits))
    sizes = rng.uniform(3, 90, sheets)
    reaches, heights = rng.uniform(20, 60, sheets), rng.uniform(0, 170, sheets)
    few = sheets // part
    x_few, y_few = x[:few].tolist(), y[:few].tolist()
    sizes_few, reaches_few, heights_few = sizes[:few].tolist(), reaches[:few].tolist(), heights[:few].tolist()
    arrays: dict[str, Callable[[], Floats]] = {
        "travel": lambda: travel_s(x, y, *EVEN),
        "travel_lean_loop": lambda: travel_s(x, y, *EVEN),
        "travel_limited_jerk": lambda: travel_s(x, y, *SMOOTH),
        "press_check": lambda: (
            press_check(punching_force_kn(round_perimeter_mm(sizes), 2.0, 345.0), 2.0, 345.0, CAPACITY_KN).share
        ),
        "lifting_limit": lambda: recommended_weight_limit(reaches, heights, 50.0, 0.0, 3.0, "short", "fair"),
    }
    loops: dict[str, Callable[[], list[float]]] = {
        "travel": lambda: plain_travel_s(x_few, y_few, *EVEN),
        "travel_lean_loop": lambda: lean_travel_s(x_few, y_few, *EVEN),
        "travel_limited_jerk": lambda: plain_travel_s(x_few, y_few, *SMOOTH),
        "press_check": lambda: plain_checks(sizes_few),
        "lifting_limit": lambda: plain_limits(reaches_few, heights_few),
    }
    for name, loop in loops.items():
        expected = loop()
        np.testing.assert_allclose(arrays[name]()[: len(expected)], expected, rtol=1e-9)
    fast_s, plain_s = medians(dict(arrays), rounds), medians(dict(loops), rounds)
    return {name: part * plain_s[name] / fast_s[name] for name in MEANINGS}


def main() -> None:
    """Run the benchmark from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, default=Path("build/bench"), help="folder of the result")
    parser.add_argument("--sheets", type=int, default=20_000, help="sheets of a year")
    parser.add_argument("--hits", type=int, default=200, help="hits per sheet")
    parser.add_argument("--part", type=int, default=20, help="the plain loop does one sheet in this many")
    parser.add_argument("--rounds", type=int, default=5, help="rounds of which the median is taken")
    given = parser.parse_args()
    found = ratios(given.sheets, given.hits, given.part, given.rounds)
    setting = f"{given.sheets} sheets of {given.hits} hits, median of {given.rounds} rounds"
    given.out.mkdir(parents=True, exist_ok=True)
    record = {"setting": setting, "plain_loop_over_arrays": found, "meanings": MEANINGS}
    (given.out / "bench_process.json").write_text(json.dumps(record, indent=2) + "\n", encoding="utf-8")
    print(f"{setting}: time of a plain Python loop over the time on arrays")
    for name, value in found.items():
        print(f"{value:8.3g}  {MEANINGS[name]}")


if __name__ == "__main__":
    main()
