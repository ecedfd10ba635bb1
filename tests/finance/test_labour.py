"""Labour by hand, in both directions: two people of one shift and skills, 36 h each, limit 85 %, cap 4 h."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from simkit.finance.roster import Post, Roster
from simkit.plant.settings import Rules
from tests.finance.hand import BOUGHT, amounts, hand_plant, table, today, totals

PAIR = Roster((Post("A", "early", ("load",), 30.0, 36.0), Post("B", "early", ("load",), 40.0, 36.0)), "early", 14.5)
PLANT = hand_plant(BOUGHT, rules=Rules(overtime_cap_h_per_week=4.0))
LIMIT_H = 0.85 * 72
RATE = 35 * 1.5
POST = 36 * 35


def busy(load_h, roster=PAIR):
    """Busy hours of a group, spread evenly over its people."""
    ids = [post.person_id for post in roster.posts]
    return {f"busy_h_{one}": load_h / len(ids) for one in ids}


def worth(before_h, after_h, before=PAIR, after=PAIR, plant=PLANT):
    """Overtime and posts of year 1, money a week."""
    cash = table(plant, today(before, **busy(before_h, before)), totals(roster=after, **busy(after_h, after)))
    return [amounts(cash, line, kind="cash_releasing")[1] / 50 for line in ("labour_overtime", "labour_posts")]


def test_hours_moved_to_people_whose_paid_hours_are_free_cost_nothing():
    assert worth(20.0, 61.0) == [0.0, 0.0]
    assert worth(61.0, 20.0) == [0.0, 0.0]


def test_beyond_the_limit_overtime_is_paid_with_its_premium():
    assert worth(20.0, LIMIT_H + 3.0) == pytest.approx([-3 * RATE, 0.0])


def test_beyond_the_cap_of_overtime_a_whole_post_is_paid():
    """5 h above the limit: 4 of overtime, and the fifth needs a post; one post carries 0.85 x 36 = 30.6 h."""
    assert worth(20.0, LIMIT_H + 5.0) == pytest.approx([-4 * RATE, -POST])
    assert worth(20.0, LIMIT_H + 4.0 + 30.6) == pytest.approx([-4 * RATE, -POST])
    assert worth(20.0, LIMIT_H + 4.0 + 30.7) == pytest.approx([-4 * RATE, -2 * POST])


@pytest.mark.parametrize("loads", [(70.0, 50.0), (64.0, 62.5), (110.0, 66.0), (61.0, 61.5)])
def test_what_an_option_takes_off_gains_what_the_reverse_loses(loads):
    assert worth(*loads) == [-amount for amount in worth(*reversed(loads))]
    assert any(worth(*loads))


def test_swapping_today_and_option_turns_every_sign_between_different_rosters_too():
    three = Roster((*PAIR.posts, Post("C", "early", ("load",), 50.0, 36.0)), "early", 14.5)
    late = Roster((Post("A", "late", ("load", "clear"), 30.0, 10.0),), "early", 14.5)
    for before, after in ((PAIR, three), (PAIR, late), (late, three)):
        there, back = worth(70.0, 75.0, before, after), worth(75.0, 70.0, after, before)
        assert there == [-amount for amount in back]


def test_another_person_of_the_group_brings_paid_hours():
    """70 h are 8.8 above the limit of two people and below that of three."""
    three = Roster((*PAIR.posts, Post("C", "early", ("load",), 50.0, 36.0)), "early", 14.5)
    assert worth(70.0, 70.0, PAIR, three) == pytest.approx([4 * RATE, POST])


def test_absence_is_paid_and_carries_no_work():
    """A tenth absent: 64.8 h present, limit 55.08."""
    posts = tuple(dataclasses.replace(post, absence_share=0.1) for post in PAIR.posts)
    assert worth(20.0, 56.08, PAIR, Roster(posts, "early", 14.5)) == pytest.approx([-1 * RATE, 0.0])


def test_groups_are_people_of_the_same_shift_and_skills():
    """The skills in another order are the same group; another shift is another group with paid hours of its own."""
    two = Roster((Post("A", "early", ("load", "clear"), 30.0, 36.0), Post("B", "early", ("clear", "load"), 40.0, 36.0)))
    apart = Roster((two.posts[0], dataclasses.replace(two.posts[1], shift="late")))
    uneven = {"busy_h_A": 36.0, "busy_h_B": 20.0}
    for roster, wanted in ((two, 0.0), (apart, -4 * 30 * 1.5)):
        cash = table(PLANT, today(roster, busy_h_A=0.0, busy_h_B=0.0), totals(roster=roster, **uneven))
        assert amounts(cash, "labour_overtime")[1] / 50 == pytest.approx(wanted)
        assert amounts(cash, "labour_posts")[1] / 50 == pytest.approx(0.0 if not wanted else -36 * 30)


def test_who_is_on_call_belongs_to_no_group():
    called = Roster((*PAIR.posts, Post("C", "on_call", ("load",), 30.0, 2.0, whole=False)))
    cash = table(PLANT, today(called, **busy(30.0), busy_h_C=0.0), totals(roster=called, **busy(30.0), busy_h_C=9.0))
    assert {row.line for row in cash.rows}.isdisjoint({"labour_overtime", "labour_posts"})


def test_busy_hours_of_only_some_people_are_refused():
    with pytest.raises(KeyError, match="busy_h_B is missing"):
        table(PLANT, today(PAIR, busy_h_A=1.0), totals(roster=PAIR, busy_h_A=1.0))


def test_many_cases_at_once_cost_what_each_costs_alone():
    loads = [50.0, 62.0, 65.0, 70.0, 110.0]
    many = np.array(loads) / 2
    cash = table(PLANT, today(PAIR, **busy(60.0)), totals(roster=PAIR, busy_h_A=many, busy_h_B=many))
    for place, line in enumerate(("labour_overtime", "labour_posts")):
        found = cash.amounts("A1", ("cash_releasing",), lines=(line,))[1] / 50
        assert found == pytest.approx([worth(60.0, load)[place] for load in loads])
