"""Weekly hours and cost of posts, by hand."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest

from simkit.finance.roster import Post, Roster, roster_of
from simkit.plant.settings import Shift
from simkit.plant.tables import CalendarDay, Person
from tests.small_plant import MONDAY, WORKDAYS, changed_settings, small_plant


def test_a_shift_of_8_hours_with_45_minutes_of_breaks_is_36_25_hours_a_week():
    roster = roster_of(small_plant())
    assert [post.h_per_week for post in roster.posts] == [36.25] * 4
    assert roster.attended_h_per_day == 14.5
    assert roster.crew_rate_per_h == 30 + 25


def test_closed_days_do_not_change_the_ordinary_week():
    closed = CalendarDay(date=MONDAY + dt.timedelta(1), shift="", change="closed")
    plant = small_plant(calendar=(closed,))
    assert roster_of(plant) == roster_of(small_plant())


def test_duties_elsewhere_are_not_paid_here_and_make_no_whole_post():
    setter = Person(
        person_id="SE-1", skills=("preparation",), shift="early", rate_per_h=36, duties="Mon-Fri 10:00-14:00"
    )
    roster = roster_of(small_plant(people=(setter,)))
    assert roster.posts[0].h_per_week == 5 * (4 - 0.25)
    assert not roster.posts[0].whole
    assert roster.crew_rate_per_h == 0


def test_breaks_written_as_duties_leave_a_whole_post_that_is_paid_for_overtime():
    plant = small_plant()
    shifts = tuple(shift.model_copy(update={"breaks": ()}) for shift in plant.settings.calendar.shifts)
    calendar = plant.settings.calendar.model_copy(update={"shifts": shifts})
    breaks = {"early": "Mon-Fri 09:30-09:45;Mon-Fri 11:15-11:45", "late": "Mon-Fri 17:30-17:45;Mon-Fri 18:45-19:15"}
    people = tuple(dataclasses.replace(person, duties=breaks[person.shift]) for person in plant.people)
    settings = plant.settings.model_copy(update={"calendar": calendar})
    roster = roster_of(dataclasses.replace(plant, settings=settings, people=people))
    assert [post.h_per_week for post in roster.posts] == [36.25] * 4
    assert all(post.whole for post in roster.posts)
    assert roster.crew_rate_per_h == roster_of(plant).crew_rate_per_h == 30 + 25


def test_a_night_shift_is_paid_with_the_night_premium():
    plant = small_plant(people=(Person(person_id="N", skills=("load",), shift="night", rate_per_h=30),))
    night = Shift(name="night", days=WORKDAYS, start="21:00", end="05:00")
    calendar = plant.settings.calendar.model_copy(update={"shifts": (night,)})
    settings = plant.settings.model_copy(update={"calendar": calendar})
    post = roster_of(dataclasses.replace(plant, settings=settings)).posts[0]
    assert (post.day_h_per_week, post.night_h_per_week) == (5.0, 35.0)
    assert post.cost_per_week(0.25) == pytest.approx(30 * (5 + 35 * 1.25))


def test_cost_of_a_post():
    assert Post("A", "early", (), 20.0, 30.0, 10.0).cost_per_week(0.5) == 20 * (30 + 15)


def test_calls_to_other_cells_are_not_paid_here_and_who_has_them_is_no_whole_post():
    """Two calls an hour of 6 minutes are a fifth of the time at work."""
    called = Person(person_id="S", skills=("clear",), shift="early", elsewhere_min=6, elsewhere_per_h=2.0)
    leaving = dataclasses.replace(called, elsewhere_per_h=None)
    posts = roster_of(small_plant(people=(called, leaving))).posts
    assert [post.h_per_week for post in posts] == [pytest.approx(0.8 * 36.25), 36.25]
    assert not any(post.whole for post in posts)


def test_hours_on_call_are_paid_by_their_share_of_the_rate():
    """Five nights of eight hours at a fifth of the rate are eight hours of pay; without a share nothing is paid."""
    night = {"rule": "allowed", "windows": ({"days": WORKDAYS, "start": "22:00", "end": "06:00"},)}
    people = (Person(person_id="C", skills=("clear",), shift="on_call", rate_per_h=30),)
    plant = small_plant(people=people, calendar={"night": night})
    assert roster_of(plant).posts[0].h_per_week == 0
    paid = changed_settings(plant.settings, {"people": {"standby_share": 0.2}})
    post = roster_of(dataclasses.replace(plant, settings=paid)).posts[0]
    assert (post.h_per_week, post.night_h_per_week, post.whole) == (pytest.approx(8.0), 0.0, False)
    assert post.cost_per_week(0.25) == pytest.approx(240.0)


def test_who_is_named_comes_to_overtime_and_is_paid_and_nobody_else():
    posts = (Post("A", "early", ("load",), 30.0, 36.0), Post("B", "early", ("bench",), 26.0, 36.0, whole=False),
             Post("C", "late", ("load",), 31.0, 36.0))  # fmt: skip
    assert Roster(posts, "early").crew_rate_per_h == 30.0
    assert Roster(posts, "early", overtime_people=("B", "C")).crew_rate_per_h == 57.0
