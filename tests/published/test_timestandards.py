"""Time standards, allowances and learning curves as printed."""

from __future__ import annotations

from operator import attrgetter

import pytest

from tests.published.rows import Row

TIMES = "simkit.process.timestandards."
EXACT = "arithmetic on exact numbers"
DIGITS = "half a unit of the last digit"
STUDY = "worked example of a work-study teaching page, recomputed"
BY_HAND = "worked by hand"
PERCENT = "older ILO percent table, Introduction to Work Study, widely reprinted (from memory, verify before any use)"
POINTS = "ILO, Introduction to Work Study, 4th ed. 1992, as relayed by Konz"
WRIGHT = "Wright's curve, unit model, worked by hand"
WIDEMAN = "Wideman, appendix on learning curves, cumulative-average model, recomputed"
PLATEAU = "plateau form of Wright's curve, worked by hand"


def allowed(item: str, men: float, women: float) -> Row:
    return Row(f"allowance for {item}", TIMES + "allowance_of", {"item": item}, (men, women), "%", 0.0, "as printed",
               PERCENT, read=attrgetter("men_percent", "women_percent"))  # fmt: skip


def points(work: str) -> Row:
    return Row(f"points for {work}", TIMES + "fatigue_points", {"work": work}, 2, "points", 0.0, "as printed", POINTS)


STANDARDS = [
    Row("STD-D1 normal time", TIMES + "normal_time_s", {"observed_s": 20.0, "rating": 1.20}, 24.0, "s", 1e-12, EXACT,
        STUDY),
    Row("STD-D1 standard time, allowance on the job", TIMES + "job_standard_s", {"normal_s": 24.0, "allowance": 0.20},
        28.8, "s", 1e-12, EXACT, STUDY),
    Row("STD-D1 standard time, allowance on the workday", TIMES + "workday_standard_s",
        {"normal_s": 24.0, "allowance": 0.20}, 30.0, "s", 1e-12, EXACT, BY_HAND),
    Row("work and machine time", TIMES + "job_standard_with_machine_s",
        {"work_s": 60.0, "machine_s": 40.0, "personal": 0.05, "fatigue": 0.10}, 111.0, "s", 1e-9, "105 + 6",
        "fatigue on work only: ILO as relayed by Konz; worked by hand"),
    Row("observations for 5 %", TIMES + "observations_needed",
        {"mean_s": [10.0, 10.0], "deviation_s": [2.0, 0.0], "accuracy": 0.05}, (62, 1), "cycles", 0.0,
        "(1.96 x 2 / 0.5)^2 = 61.47, rounded up", "textbook formula (from memory), worked by hand"),
]  # fmt: skip

ALLOWANCES = [
    allowed("personal needs", 5, 7), allowed("basic fatigue", 4, 4), allowed("standing", 2, 4),
    allowed("slightly awkward posture", 0, 1), allowed("awkward posture, bending", 2, 3),
    allowed("very awkward posture", 7, 7), allowed("lifting 5 kg", 1, 2), allowed("lifting 10 kg", 3, 4),
    allowed("lifting 15 kg", 5, 8), allowed("lifting 20 kg", 9, 13), allowed("lifting 25 kg", 13, 20),
    allowed("close attention, fairly fine", 0, 0), allowed("close attention, fine", 2, 2),
    allowed("close attention, very fine", 5, 5), allowed("noise, intermittent loud", 2, 2),
    allowed("noise, very loud", 5, 5), allowed("mental strain, lowest", 1, 1), allowed("mental strain, middle", 4, 4),
    allowed("mental strain, highest", 8, 8), allowed("monotony, low", 0, 0), allowed("monotony, medium", 1, 1),
    allowed("monotony, high", 4, 4),
    Row("allowances of standing work that lifts 15 kg", TIMES + "allowance_share",
        {"items": ("personal needs", "basic fatigue", "standing", "lifting 15 kg"), "column": "women"}, 0.23, "share",
        1e-12, "7 + 4 + 4 + 8 percent", PERCENT),
    points("noise of a light machine shop"),
    points("vibration of a power press or guillotine while holding the material"),
    points("eye strain of sorting coloured articles or finding easily visible faults"),
]  # fmt: skip

LEARNING = [
    Row("exponent of an 80 % curve", TIMES + "learning_exponent", {"rate": 0.8}, -0.321928, "", 5e-7, DIGITS, BY_HAND),
    Row("factor after one doubling", TIMES + "learning_factor", {"number": 2, "rate": 0.8}, 0.8, "", 1e-12, EXACT,
        BY_HAND),
    Row("LRN-D1 exact doublings", TIMES + "unit_time_s", {"first_s": 100.0, "number": [1, 2, 4, 8], "rate": 0.80},
        (100.0, 80.0, 64.0, 51.2), "s", 1e-9, EXACT, WRIGHT),
    Row("LRN-D1 other units", TIMES + "unit_time_s", {"first_s": 100.0, "number": [10, 25, 50, 100], "rate": 0.80},
        (47.651, 35.478, 28.383, 22.706), "s", 5e-4, DIGITS, WRIGHT),
    Row("LRN-D1 total of ten, unit model", TIMES + "total_time_s", {"first_s": 100.0, "counts": 10, "rate": 0.80},
        631.54, "s", 0.005, DIGITS, WRIGHT),
    Row("LRN-D2 averages", TIMES + "average_time_s", {"first_s": 100.0, "count": [2, 4], "rate": 0.80}, (80.0, 64.0),
        "% of the first", 1e-9, EXACT, WIDEMAN),
    Row("LRN-D2 second unit", TIMES + "unit_time_s",
        {"first_s": 100.0, "number": 2, "rate": 0.80, "model": "cumulative average"}, 60.0, "% of the first", 1e-9,
        EXACT, WIDEMAN),
    Row("LRN-D2 third and fourth unit", TIMES + "unit_time_s",
        {"first_s": 100.0, "number": [3, 4], "rate": 0.80, "model": "cumulative average"}, (50.631, 45.369),
        "% of the first", 5e-4, DIGITS, "cumulative-average model, worked by hand"),
    Row("LRN-D3 plateau, first doublings", TIMES + "unit_time_s",
        {"first_s": 60.0, "number": [1, 2, 4, 8], "rate": 0.8, "floor": 0.4}, (60.0, 52.8, 47.04, 42.432), "s", 1e-9,
        EXACT, PLATEAU),
    Row("LRN-D3 plateau, later doublings", TIMES + "unit_time_s",
        {"first_s": 60.0, "number": [16, 32], "rate": 0.8, "floor": 0.4}, (38.746, 35.796), "s", 5e-4, DIGITS, PLATEAU),
    Row("weeks of a ramp, unit model", TIMES + "weekly_ramp",
        {"units_per_week": [1, 1, 2], "first_s": 100.0, "standard_s": 40.0, "rate": 0.80}, (100.0, 80.0, 67.105), "s",
        5e-4, "third unit 70.210, fourth 64", WRIGHT, read=attrgetter("mean_s")),
    Row("output of a ramp, cumulative average", TIMES + "weekly_ramp",
        {"units_per_week": [2, 2], "first_s": 100.0, "standard_s": 40.0, "rate": 0.80, "model": "cumulative average"},
        (0.5, 0.833333), "share of the standard", 5e-7, "40/80 and 40/48", WIDEMAN, read=attrgetter("share")),
]  # fmt: skip

PUBLISHED = [*STANDARDS, *ALLOWANCES, *LEARNING]


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row):
    row.check()
