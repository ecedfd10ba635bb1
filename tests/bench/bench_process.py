"""How fast the process formulas run on arrays, as ratios to a plain Python loop within one run.

``make bench`` writes bench_process.json. Seconds depend on the computer and its load; only the ratios are worth
comparing. The plain loops read the same limits and reckon the same sums one number at a time, by the plain functions
below, over a share of the sheets; results are compared before anything is timed.
"""

from __future__ import annotations

import argparse
import json
import math
from collections.abc import Callable
from pathlib import Path

import numpy as np

from simkit.base.arrays import Floats
from simkit.process.lifting import METRIC, recommended_weight_limit
from simkit.process.motion import Axis
from simkit.process.punching import press_check, punching_force_kn, round_perimeter_mm
from tests.bench.timing import medians

MEANINGS = {
    "moves": "moves of one axis from rest to rest",
    "moves_limited_jerk": "the same with limited jerk",
    "press_check": "force and press check of round figures, one a sheet",
    "lifting_limit": "recommended weight limit of lifts, one a sheet",
}
EVEN, SMOOTH = Axis(1.5, 10.0), Axis(1.5, 10.0, 200.0)
CAPACITY_KN = 200.0


def plain_move_s(distance_mm: float, axis: Axis) -> float:
    """A move from rest to rest, one at a time."""
    distance_m = abs(distance_mm) / 1000
    speed, accel, jerk = axis.speed_m_s, axis.accel_m_s2, axis.jerk_m_s3
    if math.isfinite(jerk):
        return plain_smooth_s(distance_m, speed, accel, jerk)
    if distance_m >= speed**2 / accel:
        return distance_m / speed + speed / accel
    return 2 * math.sqrt(distance_m / accel)


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


def ratios(sheets: int, part: int, rounds: int) -> dict[str, float]:
    """Plain loop over arrays for each formula; the loop does one sheet in ``part`` and counts ``part`` times."""
    rng = np.random.default_rng(1)
    lengths = rng.uniform(0, 2500, sheets)
    sizes = rng.uniform(3, 90, sheets)
    reaches, heights = rng.uniform(20, 60, sheets), rng.uniform(0, 170, sheets)
    few = sheets // part
    lengths_few = lengths[:few].tolist()
    sizes_few, reaches_few, heights_few = sizes[:few].tolist(), reaches[:few].tolist(), heights[:few].tolist()
    arrays: dict[str, Callable[[], Floats]] = {
        "moves": lambda: EVEN.move_s(lengths),
        "moves_limited_jerk": lambda: SMOOTH.move_s(lengths),
        "press_check": lambda: (
            press_check(punching_force_kn(round_perimeter_mm(sizes), 2.0, 345.0), 2.0, 345.0, CAPACITY_KN).share
        ),
        "lifting_limit": lambda: recommended_weight_limit(reaches, heights, 50.0, 0.0, 3.0, "short", "fair"),
    }
    loops: dict[str, Callable[[], list[float]]] = {
        "moves": lambda: [plain_move_s(length, EVEN) for length in lengths_few],
        "moves_limited_jerk": lambda: [plain_move_s(length, SMOOTH) for length in lengths_few],
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
    parser.add_argument("--part", type=int, default=20, help="the plain loop does one sheet in this many")
    parser.add_argument("--rounds", type=int, default=5, help="rounds of which the median is taken")
    given = parser.parse_args()
    found = ratios(given.sheets, given.part, given.rounds)
    setting = f"{given.sheets} sheets, median of {given.rounds} rounds"
    given.out.mkdir(parents=True, exist_ok=True)
    record = {"setting": setting, "plain_loop_over_arrays": found, "meanings": MEANINGS}
    (given.out / "bench_process.json").write_text(json.dumps(record, indent=2) + "\n", encoding="utf-8")
    print(f"{setting}: time of a plain Python loop over the time on arrays")
    for name, value in found.items():
        print(f"{value:8.3g}  {MEANINGS[name]}")


if __name__ == "__main__":
    main()
