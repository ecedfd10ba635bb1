"""The demo's second calendar: a holiday and the Sunday on which the clocks go back."""

from __future__ import annotations

import dataclasses
import datetime as dt
from pathlib import Path

import pytest

from simkit.base.units import SECONDS_PER_HOUR
from simkit.plant.csv_files import read_sheet
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import CalendarDay
from simkit.process.shifts import ShiftPlan, plan_shifts

SECOND = Path(__file__).with_name("calendar_second.csv")
MONDAY = dt.date(2026, 10, 12)
SUNDAY, HOLIDAY = 13, 16


@pytest.fixture(scope="module")
def autumn(demo: PlantInputs) -> ShiftPlan:
    """Return four weeks from a Monday in autumn under the second calendar."""
    sheet, findings = read_sheet(SECOND, CalendarDay)
    assert findings == []
    run = demo.settings.run.model_copy(update={"start_monday": MONDAY})
    settings = demo.settings.model_copy(update={"run": run})
    return plan_shifts(dataclasses.replace(demo, settings=settings, calendar=sheet.rows), 28)


def _hours(plan: ShiftPlan, day: int) -> float:
    start, end = plan.day_start[day], plan.day_start[day + 1]
    return sum(min(b, end) - max(a, start) for a, b in plan.attended if a < end and b > start) / SECONDS_PER_HOUR


def test_the_sunday_has_twenty_five_hours_and_its_shift_seven(autumn: ShiftPlan) -> None:
    lengths = [(b - a) / SECONDS_PER_HOUR for a, b in zip(autumn.day_start, autumn.day_start[1:], strict=False)]
    assert lengths == [25.0 if day == SUNDAY else 24.0 for day in range(28)]
    assert _hours(autumn, SUNDAY) == 7.0


def test_the_holiday_is_closed_and_no_other_working_day(autumn: ShiftPlan) -> None:
    attended = [_hours(autumn, day) for day in range(28)]
    assert [day for day in range(28) if day % 7 < 5 and attended[day] == 0] == [HOLIDAY]
    assert sum(attended) == 19 * 16.0 + 7.0


def test_the_book_has_290_attended_hours_and_no_clock_change(demo: PlantInputs) -> None:
    plan = plan_shifts(demo, 84)
    assert plan.day_start[84] == 84 * 24 * SECONDS_PER_HOUR
    operators = [n for n, person in enumerate(demo.people) if "load" in person.skills]
    four_weeks = plan.day_start[28]
    worked = sum(b - a for n in operators for a, b in plan.person[n] if b <= four_weeks)
    assert worked / SECONDS_PER_HOUR == pytest.approx(290.0)
