"""What the planner counts on of nights when orders are given out, by hand."""

from __future__ import annotations

from typing import Any

import pytest

from simkit.cell.nightshare import NightShare
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Stop
from tests.cell.bench_plant import HOUR, OPEN, machines, order, person, plant, program, run
from tests.oracle.compare import first_difference
from tests.oracle.plants import workload_of

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
    assert share().share(0.0) == 0.0
    assert share().share(199.0) == 0.0


def test_the_share_is_hours_worked_over_hours_with_work() -> None:
    """50 of 100 at first; an empty queue counts on neither side: 70 of 120; then a night of nothing: 70 of 220."""
    assert [share().share(moment) for moment in (200.0, 400.0, 600.0)] == [0.5, 70 / 120, 70 / 220]


def test_the_share_at_a_moment_does_not_depend_on_when_it_was_asked_for_before() -> None:
    asked_often = share()
    assert [asked_often.share(moment) for moment in (50.0, 210.0, 210.0, 450.0)] == [0.0, 0.5, 0.5, 70 / 120]


# --- in the cell ----------------------------------------------------------------------------------


ALL_NIGHT = {"rule": "allowed", "assessed_by": "a test", "assessed_on": "2026-01-01", "windows": (
    {"days": ("Mon", "Tue", "Wed", "Thu", "Fri"), "start": "14:00", "end": "06:00"},)}  # fmt: skip


def cell(
    tuesday_h: int, *, runs_h: tuple[float, ...] = (12.0,), stated: float | None = None, **changes: Any
) -> PlantInputs:
    """Forty hours of sheets on Monday, so many on Tuesday, due on Saturday; what is short goes out and is back at once.

    A stop after so many running hours waits for the morning.
    """
    stop = Stop(cause="stop", exposure="running_hour", rate=1.0, repair_law="sequence", repair_min=1, file="s.csv")
    rules = {"planning_factor": 1.0, "subcontract_cap_h_per_week": 500.0, "night_share_planned": stated}
    orders = (order("1", "A", 40, due=5), order("2", "A", tuesday_h, day=1, due=5))
    built = plant(**{"orders": orders, "rules": rules,
                     "overflow": {"subcontract": True, "subcontract_lead_days": 0.0, "least_h": 0.0},
                     "programs": (program("A", 60.0), program("B", 60.0)), "calendar": {"night": ALL_NIGHT},
                     "bench": {"places": 1000}, "people": (person("OP"),), "stops": (stop,),
                     "sequences": {"s.csv": (*runs_h, *(1e4,) * 99), "s.csv:repair": (1.0,)}, **changes})  # fmt: skip
    assert first_difference(workload_of(built)) == ""
    return built


def out(built: PlantInputs, day: int = 1) -> list[int]:
    """Numbers of the orders subcontracted at the start of a day, Monday is 0."""
    return [each.job for each in run(built).decisions if each.moment_s == day * 86400.0 + OPEN]


@pytest.mark.parametrize(("hours", "given"), [(20, []), (21, [1])])
def test_on_tuesday_a_night_counts_by_what_monday_night_gave(hours: int, given: list[int]) -> None:
    """Monday 14:00 to 18:00 ran, 4 of 16 h. 28 h are left; there are 4 x 8 attended and 4 x 16 / 4: 48, so 20 h fit."""
    assert out(cell(hours)) == given


@pytest.mark.parametrize(("hours", "given"), [(36, []), (37, [1])])
def test_a_stated_share_counts_instead(hours: int, given: list[int]) -> None:
    """Half of 4 x 16 h: 32 + 32 - 28 = 36."""
    assert out(cell(hours, stated=0.5)) == given


def test_on_monday_nothing_is_known_so_only_attended_hours_count() -> None:
    """40 attended hours in the week: 40 h of sheets stay, of 41 they go out; a stated share lets them stay."""
    for hours, stated, given in ((40, None, []), (41, None, [0]), (41, 0.1, [])):
        assert out(cell(1, stated=stated, orders=(order("1", "A", hours, due=5),)), day=0) == given


def test_nights_to_come_do_not_matter() -> None:
    """Whether Tuesday's night will give an hour or all of it, Tuesday's decision is the same."""
    for second in (0.5, 14.0, 1e4):
        assert out(cell(20, runs_h=(12.0, second))) == []
        assert out(cell(21, runs_h=(12.0, second))) == [1]


@pytest.mark.parametrize(("hours", "given"), [(129, []), (130, [2])])
def test_two_machines_count_by_all_their_hours_with_work(hours: int, given: list[int]) -> None:
    """a: 4 of 16 h; b ran until its work was out at 02:00, 12 of 12: 16 / 28. 2 (32 + 64 x 16 / 28) - 8 = 129.1."""
    rows = (order("1", "A", 20, due=5), order("3", "B", 20, due=5), order("2", "A", hours, day=1, due=5))
    assert out(cell(1, machines=machines("ab"), orders=rows)) == given


def test_without_nights_nothing_changes() -> None:
    """32 attended hours are left on Tuesday and 32 h wait: whatever comes goes out, with any share."""
    for stated in (None, 1.0):
        assert out(cell(1, stated=stated, calendar={})) == [1]


def test_an_empty_queue_does_not_teach_that_nights_give_nothing() -> None:
    """Monday: 10 h of sheets, 8 by day, 2 at night, all run: every hour with work was worked, so nights count whole."""
    rows = (order("1", "A", 10, due=5), order("2", "A", 96, day=1, due=5), order("3", "A", 1, day=1, due=5))
    assert out(cell(1, runs_h=(1e4,), orders=rows)) == [2], "32 + 64 h are left"


def test_overtime_is_decided_by_the_same_hours() -> None:
    """On Friday 37 h are left until Monday's end: 16 attended ones are too few, with 26 of nights they are enough."""
    saturday = {"night": ALL_NIGHT, "overtime": ({"days": ("Sat",), "start": "06:00", "end": "10:00"},)}
    for stated, worked in ((0.0, True), (1.0, False)):
        rules = {"planning_factor": 1.0, "night_share_planned": stated}
        built = cell(1, orders=(order("1", "A", 120, due=7),), calendar=saturday, rules=rules,
                     overflow={"overtime": True})  # fmt: skip
        assert bool(run(built).overtime_spans) == worked


# --- asked by a machine that chooses ----------------------------------------------------------------

DAY, LONG, NEW = "D", "L", "N"


def started(day_h: float, long_sheets: int, proven: bool, **changes: Any) -> list[float]:
    """Hours after Monday 06:00 at which an order over the night, two long proven ones and a new one start.

    What a day keeps back for the night to come are proven orders, as many as fill what nights gave so far.
    """
    built = plant(**{
        "orders": (order("1", DAY, due=6), *(order(n, LONG, long_sheets, due=6) for n in "23"), order("4", NEW, due=6)),
        "programs": (program(DAY, 60 * day_h, proven=proven), program(LONG, 60.0), program(NEW, 120.0, proven=False)),
        "program_parts": (), "people": (person("OP"),), "calendar": {"night": ALL_NIGHT},
        "rules": {"night_queue": "reserved", "first_piece": "new_program", "lookahead_sheets": 0,
                  "planning_factor": 1.0}, "stack": {"places": 99}, "times": {"first": 10.0}, **changes})  # fmt: skip
    assert first_difference(workload_of(built)) == ""
    return [(job.started_s - OPEN) / HOUR for job in run(built).jobs]


def test_the_wait_that_ends_as_the_machine_chooses_counts_once() -> None:
    """The first sheet runs until 18:00 and is released on Tuesday from 06:00 to 06:10: of 16 h with work 4 were worked,
    so 4 are counted on. The first of 3 h does not fill them: both wait, the new order runs until 08:20."""
    assert started(12.0, 3, proven=False) == pytest.approx([0.0, 26 + 20 / 60, 29 + 20 / 60, 24 + 10 / 60])


def test_the_run_that_ends_as_the_machine_chooses_counts_once() -> None:
    """Stopped from 14:00 to 22:00, the sheet runs on until 06:10: 8 h of 16. An order of 9 h fills them, so it waits
    alone; the other one runs until 15:10, and as the night puts its own order first, the new one comes last."""
    stop = Stop(cause="stop", exposure="running_hour", rate=1.0, repair_law="sequence", repair_min=1, file="s.csv",
                clears="nobody")  # fmt: skip
    luck = {"stops": (stop,), "sequences": {"s.csv": (8.0, *(1e4,) * 99), "s.csv:repair": (480.0,)}}
    found = started(16 + 10 / 60, 9, proven=True, **luck)
    assert found == pytest.approx([0.0, 33 + 10 / 60, 24 + 10 / 60, 42 + 10 / 60])
