"""Wall time to elapsed time: clock changes, shifts over midnight, holidays, duties."""

from __future__ import annotations

import datetime as dt

import pytest

from simkit.plant.conditions import parse_duties
from simkit.plant.plant import PlantInputs
from simkit.plant.settings import Shift
from simkit.plant.tables import CalendarDay, Person
from simkit.process.shifts import merged, plan_shifts, without
from tests.small_plant import MONDAY, WORKDAYS, changed_settings, small_plant

H = 3600.0
NIGHT = Shift(name="night", days=WORKDAYS, start="22:00", end="06:00", breaks=(("01:00", "01:15"), ("05:30", "06:00")))


def at(plant: PlantInputs, monday: dt.date, zone: str = "Europe/Berlin") -> PlantInputs:
    settings = changed_settings(plant.settings, {"run": {"start_monday": monday}})
    return PlantInputs(**{**vars(plant), "settings": settings.model_copy(update={"time_zone": zone})})


@pytest.mark.parametrize(
    ("monday", "length_h"), [(dt.date(2026, 3, 23), 23.0), (dt.date(2026, 10, 19), 25.0), (MONDAY, 24.0)]
)
def test_a_day_of_a_clock_change_has_23_or_25_hours(monday: dt.date, length_h: float) -> None:
    plan = plan_shifts(at(small_plant(), monday), 9)
    assert plan.day_start[7] - plan.day_start[6] == length_h * H
    # the early shift of the Monday after starts at 06:00 wall time all the same
    assert next(start - plan.day_start[7] for _, start, _ in plan.shift_spans if start > plan.day_start[7]) == 6 * H
    assert plan.day_of(plan.day_start[7]) == 7
    assert plan.day_of(plan.day_start[7] - 1.0) == 6


def test_a_night_shift_over_the_clock_change_is_an_hour_shorter() -> None:
    saturday = Shift(name="night", days=("Sat",), start="22:00", end="06:00")
    plant = at(small_plant(calendar={"shifts": (saturday,)}, people=()), dt.date(2026, 3, 23))
    assert [end - start for start, end in plan_shifts(plant, 9).attended] == [7 * H]


def test_a_shift_over_midnight_has_its_breaks_on_the_next_day() -> None:
    plant = small_plant(calendar={"shifts": (NIGHT,)}, people=(Person(person_id="N", skills=("load",), shift="night"),))
    first = [(a / H, b / H) for a, b in plan_shifts(plant, 2).person[0][:2]]
    # the break at the shift's end shortens the window, and Monday's shift belongs to Monday
    assert first == [(22.0, 25.0), (25.25, 29.5)]


def test_a_holiday_after_a_night_keeps_the_night_that_began_before() -> None:
    tuesday = MONDAY + dt.timedelta(1)
    plant = small_plant(calendar={"shifts": (NIGHT,), "closed_days": (tuesday,)}, people=())
    assert [(a / H, b / H) for a, b in plan_shifts(plant, 3).attended] == [(22.0, 30.0), (70.0, 78.0)]


def test_calendar_rows_close_move_and_add_shifts() -> None:
    day = {name: MONDAY + dt.timedelta(number) for number, name in enumerate(("mon", "tue", "wed"))}
    rows = (
        CalendarDay(date=day["mon"], change="closed"),
        CalendarDay(date=day["tue"], shift="early", change="moved", start="07:00", end="12:00"),
        CalendarDay(date=MONDAY + dt.timedelta(5), shift="early", change="added"),
    )
    spans = plan_shifts(with_calendar(rows), 7).shift_spans
    early = [(start / H - 24 * (start // (24 * H)), start // (24 * H)) for name, start, _ in spans if name == "early"]
    assert early == [(7.0, 1.0), (6.0, 2.0), (6.0, 3.0), (6.0, 4.0), (6.0, 5.0)]


def with_calendar(rows: tuple[CalendarDay, ...]) -> PlantInputs:
    return PlantInputs(**{**vars(small_plant()), "calendar": rows})


def test_duties_are_cut_out_of_a_persons_windows() -> None:
    person = Person(person_id="S", skills=("load",), shift="early", duties="Mon-Fri 10:00-14:00")
    windows = plan_shifts(small_plant(people=(person,)), 1).person[0]
    assert [(a / H, b / H) for a, b in windows] == [(6.0, 9.0), (9.25, 10.0)]


def test_duties_that_cannot_be_read_are_quoted() -> None:
    assert parse_duties("Mon-Wed 10:00-14:00; Sat 06:00-08:00")[0].days == ("Mon", "Tue", "Wed")
    with pytest.raises(ValueError, match="'Mo 10:00-14:00'"):
        parse_duties("Tue 10:00-14:00; Mo 10:00-14:00")


def test_nights_and_overtime_lie_outside_attended_hours() -> None:
    night = {"rule": "allowed", "windows": ({"days": ("Mon",), "start": "20:00", "end": "07:00"},)}
    plan = plan_shifts(small_plant(calendar={"night": night}), 3)
    assert [(a / H, b / H) for a, b in plan.nights] == [(22.0, 30.0)]


@pytest.mark.parametrize("how", ["closed_days", "calendar.csv"])
def test_no_night_and_no_overtime_starts_on_a_closed_day(how: str) -> None:
    """Tuesday is closed: Monday's night runs on into it, Tuesday's does not begin, nor does its overtime."""
    tuesday = MONDAY + dt.timedelta(1)
    night = {"rule": "allowed", "windows": ({"days": WORKDAYS, "start": "22:00", "end": "06:00"},)}
    calendar = {"night": night, "overtime": ({"days": WORKDAYS, "start": "04:00", "end": "05:00"},)}
    if how == "closed_days":
        plant = small_plant(calendar={**calendar, "closed_days": (tuesday,)})
    else:
        plant = small_plant(calendar=calendar)
        plant = PlantInputs(**{**vars(plant), "calendar": (CalendarDay(date=tuesday, change="closed"),)})
    plan = plan_shifts(plant, 3)
    assert [(a / H, b / H) for a, b in plan.nights] == [(22.0, 30.0), (70.0, 78.0)]
    assert [(a / H, b / H) for a, b in plan.overtime] == [(4.0, 5.0), (52.0, 53.0)]
    assert [(a / H, b / H) for a, b in plan.attended] == [(6.0, 22.0), (54.0, 70.0)]


def test_a_night_may_start_on_a_closed_day_to_which_a_shift_was_added() -> None:
    tuesday = MONDAY + dt.timedelta(1)
    night = {"rule": "allowed", "windows": ({"days": ("Tue",), "start": "22:00", "end": "06:00"},)}
    plant = small_plant(calendar={"night": night, "closed_days": (tuesday,)})
    plant = PlantInputs(**{**vars(plant), "calendar": (CalendarDay(date=tuesday, shift="early", change="added"),)})
    assert [(a / H, b / H) for a, b in plan_shifts(plant, 3).nights] == [(46.0, 54.0)]


def test_a_shift_inside_the_window_of_a_night_is_a_visit_whatever_its_name() -> None:
    """Nights from 22:00 to 07:00: an hour's shift at 02:00 lies in one, and so does the first hour of the early one."""
    night = {"rule": "allowed", "windows": ({"days": ("Mon",), "start": "22:00", "end": "07:00"},)}
    early = Shift(name="early", days=("Mon", "Tue"), start="06:00", end="14:00")
    watch = Shift(name="watch", days=("Tue",), start="02:00", end="03:00")
    plan = plan_shifts(small_plant(calendar={"night": night, "shifts": (early, watch)}), 2)
    assert [(a / H, b / H) for a, b in plan.visits] == [(26.0, 27.0), (30.0, 31.0)]
    assert [(a / H, b / H) for a, b in plan.nights] == [(22.0, 26.0), (27.0, 30.0)]
    refused = small_plant(calendar={"night": {**night, "rule": "not_allowed"}, "shifts": (early, watch)})
    assert plan_shifts(refused, 2).visits == ()


def test_both_crews_talk_at_a_shift_change() -> None:
    """The late shift starts when the early one ends: its first minutes are talk. The early one starts alone."""
    plan = plan_shifts(small_plant(calendar={"handover_min": 12.0}), 1)
    early, late = ([(a / H, b / H) for a, b in plan.person[row]] for row in (0, 1))
    assert early == [(6.0, 9.0), (9.25, 11.5), (12.0, 14.0)]
    assert late[0] == (14.2, 17.0)


def test_overlapping_shifts_both_lose_the_minutes_of_the_handover() -> None:
    late = Shift(name="late", days=("Mon",), start="13:30", end="21:30")
    early = Shift(name="early", days=("Mon",), start="06:00", end="14:00")
    people = tuple(Person(person_id=name, skills=("load",), shift=name) for name in ("early", "late"))
    plan = plan_shifts(small_plant(calendar={"shifts": (early, late), "handover_min": 15.0}, people=people), 1)
    assert [[(a / H, b / H) for a, b in spans] for spans in plan.person] == [
        [(6.0, 13.5), (13.75, 14.0)], [(13.75, 21.5)]]  # fmt: skip


def test_sets_of_spans() -> None:
    assert merged([(4, 5), (0, 2), (2, 3), (1, 2)]) == ((0, 3), (4, 5))
    assert without([(0, 10), (20, 30)], [(2, 3), (8, 22)]) == ((0, 2), (3, 8), (22, 30))
    assert without([(0, 10)], []) == ((0, 10),)
    assert without([(0, 10)], [(0, 10)]) == ()
