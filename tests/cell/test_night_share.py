"""What the planner counts on of nights when orders are given out, by hand."""

from __future__ import annotations

from typing import Any

import pytest

from simkit.cell.nightshare import NightShare
from simkit.plant.plant import Plant
from simkit.plant.tables import Stop
from tests.cell.bench_plant import machines, order, person, plant, program, run
from tests.oracle.compare import first_difference
from tests.oracle.plants import workload_of

WEEK_S = 7 * 86400.0
NIGHTS = ((100.0, 200.0), (300.0, 400.0), (500.0, 600.0))
DID = {
    NIGHTS[0]: [("cutting", 90.0, 150.0), ("stopped", 150.0, 210.0)],
    NIGHTS[1]: [("cutting", 300.0, 320.0), ("no_work", 320.0, 400.0)],
    NIGHTS[2]: [("waiting_person", 500.0, 600.0)],
}


def share(stated: float | None = None) -> NightShare:
    found = NightShare(NIGHTS, stated)
    found.seen = DID.__getitem__
    return found


def test_nothing_is_counted_on_before_a_night_is_over() -> None:
    assert share().hours_s(0.0, 1000.0) == 0.0
    assert share().hours_s(199.0, 1000.0) == 0.0


def test_the_share_is_hours_worked_over_hours_with_work() -> None:
    """50 of 100 at first; an empty queue counts on neither side: 70 of 120; then a night of nothing: 70 of 220."""
    assert [share().share(moment) for moment in (200.0, 400.0, 600.0)] == [0.5, 70 / 120, 70 / 220]


def test_what_is_left_of_the_nights_counts_by_that_share() -> None:
    """At 200 two nights of 100 are left; until 550 half of the second; within one only its rest."""
    assert share().hours_s(200.0, 1000.0) == 0.5 * 200
    assert share().hours_s(200.0, 550.0) == 0.5 * 150
    assert share(0.25).hours_s(150.0, 350.0) == 0.25 * (50 + 50)


def test_the_share_at_a_moment_does_not_depend_on_when_it_was_asked_for_before() -> None:
    asked_often = share()
    assert [asked_often.share(moment) for moment in (50.0, 210.0, 210.0, 450.0)] == [0.0, 0.5, 0.5, 70 / 120]


# --- in the cell ----------------------------------------------------------------------------------


ALL_NIGHT = {"rule": "allowed", "assessed_by": "a test", "assessed_on": "2026-01-01", "windows": (
    {"days": ("Mon", "Tue", "Wed", "Thu", "Fri"), "start": "14:00", "end": "06:00"},)}  # fmt: skip


def cell(tuesday_h: int, *, runs_h: tuple[float, ...] = (12.0,), stated: float | None = None, **changes: Any) -> Plant:
    """Forty hours of sheets on Monday, so many on Tuesday; a stop after so many running hours waits for the morning."""
    stop = Stop(cause="stop", exposure="running_hour", rate=1.0, repair_law="sequence", repair_min=1, file="s.csv")
    rules = {"planning_factor": 1.0, "subcontract_backlog_h": 0.0, "subcontract_cap_h_per_week": 500.0,
             "night_share_planned": stated}  # fmt: skip
    built = plant(**{"orders": (order("1", "A", 40), order("2", "A", tuesday_h, day=1)), "rules": rules,
                     "programs": (program("A", 60.0), program("B", 60.0)), "calendar": {"night": ALL_NIGHT},
                     "bench": {"places": 1000}, "people": (person("OP"),), "stops": (stop,),
                     "sequences": {"s.csv": (*runs_h, *(1e4,) * 99), "s.csv:repair": (1.0,)}, **changes})  # fmt: skip
    assert first_difference(workload_of(built)) == ""
    return built


def fates(built: Plant) -> list[str]:
    return [job.fate for job in run(built).jobs]


@pytest.mark.parametrize(("hours", "fate"), [(8, "in_house"), (9, "subcontract")])
def test_on_tuesday_a_night_counts_by_what_monday_night_gave(hours: int, fate: str) -> None:
    """Monday 14:00 to 18:00 ran, 4 of 16 h. 40 h wait; left are 4 x 8 attended and 4 x 16 / 4: 48, so 8 h fit."""
    assert fates(cell(hours))[1] == fate


@pytest.mark.parametrize(("hours", "fate"), [(24, "in_house"), (25, "subcontract")])
def test_a_stated_share_counts_instead(hours: int, fate: str) -> None:
    """Half of 4 x 16 h: 32 + 32 - 40 = 24."""
    assert fates(cell(hours, stated=0.5))[1] == fate


def test_on_monday_nothing_is_known_so_only_attended_hours_count() -> None:
    """40 attended hours in the week: 40 h of sheets stay, of 41 they go out; a stated share lets them stay."""
    for hours, stated, fate in ((40, None, "in_house"), (41, None, "subcontract"), (41, 0.1, "in_house")):
        rows = (order("1", "A", hours),)
        assert fates(cell(1, stated=stated, orders=rows)) == [fate]


def test_nights_to_come_do_not_matter() -> None:
    """Whether Tuesday's night will give an hour or all of it, Tuesday's decision is the same."""
    for second in (0.5, 14.0, 1e4):
        assert fates(cell(8, runs_h=(12.0, second)))[1] == "in_house"
        assert fates(cell(9, runs_h=(12.0, second)))[1] == "subcontract"


@pytest.mark.parametrize(("hours", "fate"), [(48, "in_house"), (49, "subcontract")])
def test_two_machines_count_by_all_their_hours_with_work(hours: int, fate: str) -> None:
    """a: 4 of 16 h; b ran until its work was out at 02:00, 12 of 12: 16 / 28. 32 + 64 x 16 / 28 - 20 = 48.6."""
    rows = (order("1", "A", 20), order("3", "B", 20), order("2", "A", hours, day=1))
    assert fates(cell(0, machines=machines("ab"), orders=rows))[2] == fate


def test_without_nights_nothing_changes() -> None:
    """32 attended hours are left on Tuesday and 40 h wait: whatever comes goes out, with any share."""
    for stated in (None, 1.0):
        assert fates(cell(1, stated=stated, calendar={}))[1] == "subcontract"


def test_an_empty_queue_does_not_teach_that_nights_give_nothing() -> None:
    """Monday: 10 h of sheets, 8 by day, 2 at night, all run: every hour with work was worked, so nights count whole."""
    rows = (order("1", "A", 10), order("2", "A", 96, day=1), order("3", "A", 1, day=1))
    built = cell(0, runs_h=(1e4,), orders=rows)
    assert fates(built) == ["in_house", "in_house", "subcontract"], "32 + 64 h are left"


def test_overtime_is_decided_by_the_same_hours() -> None:
    """On Friday 140 h wait and 8 are left, or 24 with the night: more than 120 too many, or less."""
    saturday = {"night": ALL_NIGHT, "overtime": ({"days": ("Sat",), "start": "06:00", "end": "10:00"},)}
    for stated, worked in ((0.0, True), (1.0, False)):
        rules = {"planning_factor": 1.0, "overtime_backlog_h": 120.0, "night_share_planned": stated}
        built = cell(0, orders=(order("1", "A", 140),), calendar=saturday, rules=rules)
        assert bool(run(built).overtime_spans) == worked
