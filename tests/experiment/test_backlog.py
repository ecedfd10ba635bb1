"""Sheets that wait at the bench, by hour and in the morning, by hand."""

from __future__ import annotations

import numpy as np
import pytest

from simkit.experiment.records import Level, by_hour, mornings
from tests.cell.bench_plant import order, plant, run

HOUR, DAY = 3600.0, 86400.0
# at 6:30 one sheet at the bench, at 7:15 two, at 8:00 none; at 22:00 and 23:00 a whole sheet goes to the stack,
# and at 6:00 of the next day the first of them is drawn
LEVEL = ((6.5 * HOUR, 1, 0), (7.25 * HOUR, 2, 0), (8 * HOUR, 0, 0), (22 * HOUR, 0, 1), (23 * HOUR, 0, 2),
         (30 * HOUR, 1, 1), (31 * HOUR, 0, 0))  # fmt: skip
ATTENDED = ((6 * HOUR, 14 * HOUR), (15 * HOUR, 22 * HOUR), (30 * HOUR, 38 * HOUR))


def means(level: Level, span: tuple[float, float]) -> np.ndarray:
    """Sheets at the bench and on the stack by hour, shape (24, 2)."""
    hours = by_hour(level, span)
    assert hours["hour"].tolist() == list(range(24))
    return np.array([hours["bench"], hours["stack"]]).T


def test_mean_by_hour_of_one_day() -> None:
    mean = means(LEVEL, (0.0, DAY))
    assert mean.shape == (24, 2)
    assert mean[6].tolist() == [0.5, 0.0]
    assert mean[7].tolist() == [0.25 * 1 + 0.75 * 2, 0.0]
    assert mean[22:].tolist() == [[0.0, 1.0], [0.0, 2.0]]
    assert np.delete(mean, (6, 7, 22, 23), axis=0).tolist() == [[0.0, 0.0]] * 20


def test_mean_by_hour_of_two_days_is_the_mean_of_the_days() -> None:
    mean = means(LEVEL, (0.0, 2 * DAY))
    assert mean[6].tolist() == [0.5 * (0.5 + 1.0), 0.5]
    assert mean[0].tolist() == [0.0, 1.0]
    assert mean[23].tolist() == [0.0, 1.0]


def test_parts_of_hours_at_the_edges_are_left_out() -> None:
    assert means(LEVEL, (0.5 * HOUR, DAY + 1.5 * HOUR))[0].tolist() == [0.0, 2.0]  # 24:00 to 25:00 alone
    assert len(by_hour(LEVEL, (0.5 * HOUR, DAY))) == 0, "less than a day of whole hours"


def test_the_sum_over_all_hours_is_the_sheet_hours_of_the_span() -> None:
    rng = np.random.default_rng(5)
    moments = np.sort(rng.uniform(0, 3 * DAY, 200))
    level = [(float(t), int(a), int(b)) for t, a, b in zip(moments, *rng.integers(0, 9, (2, 200)), strict=True)]
    lasted = np.diff([*moments, 3 * DAY])
    sheet_h = [sum(row[k] * s for row, s in zip(level, lasted, strict=True)) / HOUR for k in (1, 2)]
    assert 3 * means(level, (0.0, 3 * DAY)).sum(axis=0) == pytest.approx(sheet_h)


def test_mornings_look_just_before_the_first_people_of_a_day_come() -> None:
    found = mornings(LEVEL, ATTENDED, (0.0, 2 * DAY))
    assert found.tolist() == [(6.0, 0, 0), (30.0, 0, 2)]
    assert mornings(LEVEL, ATTENDED, (DAY, 2 * DAY)).tolist() == [(30.0, 0, 2)]
    assert mornings(LEVEL, (), (0.0, DAY)).tolist() == []
    assert mornings((), ATTENDED, (0.0, DAY)).tolist() == [(6.0, 0, 0)]


def test_whole_sheets_of_a_night_wait_for_the_morning() -> None:
    night = {"rule": "allowed", "assessed_by": "a test", "assessed_on": "2026-01-01",
             "windows": [{"days": ["Mon"], "start": "14:00", "end": "06:00"}]}  # fmt: skip
    who = {"load": "machine", "fixed": "machine", "unload": "machine"}
    trace = run(plant(orders=(order("1", "A", 51),), who=who, times={"bench": 45.0}, stack={"places": 9},
                      calendar={"night": night}))  # fmt: skip
    # by day the bench of three places holds up the machine; then nobody is there and nine sheets fill the stack
    found = mornings(trace.bench_level, trace.attended_spans, (0.0, 2 * DAY))
    assert found["stack"][1] == 9
    assert found["bench"][1] == 3
