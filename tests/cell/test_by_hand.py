"""The cell by hand: constant times, minutes after 06:00, one rule a test."""

from __future__ import annotations

import dataclasses

import pytest

from simkit.base.messages import CellError
from simkit.plant.tables import Stop, Upkeep
from tests.cell.bench_plant import (
    exchanges,
    machines,
    made,
    order,
    part,
    person,
    plant,
    program,
    run,
    story,
    tool,
    use,
    work,
)
from tests.oracle.compare import first_difference
from tests.oracle.plants import workload_of
from tests.small_plant import WORKDAYS

DAY = 24 * 60
BREAK = (("09:00", "09:15"),)  # minutes 180 to 195
NIGHT = {"rule": "allowed", "windows": ({"days": WORKDAYS, "start": "14:00", "end": "06:00"},),
         "assessed_by": "a test", "assessed_on": "2026-01-01"}  # fmt: skip
AUTOMATIC = {"load": "machine", "unload": "machine"}


# --- people ---------------------------------------------------------------------------------------


def test_a_break_pauses_a_changeover_which_is_resumed():
    trace = run(plant(breaks=BREAK, times={"fixed": 190.0}))
    assert story(trace) == [("changeover", 180.0), ("waiting_person", 195.0), ("changeover", 205.0), ("run", 215.0)]


def test_loading_is_finished_into_the_break():
    trace = run(plant(breaks=BREAK, times={"fixed": 175.0, "load": 10.0}))
    assert story(trace) == [("changeover", 175.0), ("loading", 185.0), ("run", 195.0)]
    assert trace.tasks.end_s[-1] - trace.tasks.window_end_s[-1] == 5 * 60.0


def test_a_task_that_ends_with_the_window_is_not_paused():
    assert story(run(plant(breaks=BREAK, times={"fixed": 180.0})))[:1] == [("changeover", 180.0)]


def test_the_shift_end_pauses_until_the_next_day():
    trace = run(plant(times={"fixed": 490.0}))
    assert story(trace)[:3] == [("changeover", 480.0), ("waiting_person", float(DAY)), ("changeover", DAY + 10.0)]


def test_no_new_sheet_after_hours_but_the_one_in_process_finishes():
    trace = run(plant(orders=(order("1", "A", sheets=60),)))
    assert made(trace)[47:49] == [(47, 480.0), (48, DAY + 10.0)]
    late = run(plant(times={"fixed": 5.0}, orders=(order("1", "A", sheets=60),)))
    assert made(late)[47:49] == [(47, 485.0), (48, DAY + 10.0)]


def test_no_new_sheet_starts_after_care_that_ran_into_the_evening():
    care = Upkeep(task="bin", exposure="running_hour", interval=7.5, duration_min=30)
    at_break = {"upkeep": "finish"}
    trace = run(plant(orders=(order("1", "A", sheets=47),), times={"fixed": 15.0}, upkeep=(care,),
                      people_rules={"break_rules": at_break}, who=AUTOMATIC))  # fmt: skip
    assert story(trace)[-3:] == [("upkeep", 495.0), ("closed", float(DAY)), ("run", DAY + 20.0)]


def test_requests_of_one_instant_are_served_by_priority():
    care = Stop(cause="jam", exposure="sheet", rate=1.0, repair_min=1.0, clears="clear")
    two = plant(machines=machines("ab"),
                orders=(order("1", "A"), order("2", "A")), times={"fixed": 10.0})  # fmt: skip
    assert work(run(two), 0) == [("changeover", 0.0, 10.0), ("changeover", 10.0, 20.0)]
    trace = run(dataclasses.replace(two, stops=(care,), orders=(order("1", "A", 2), order("2", "A", 2))))
    assert [task for task, *_ in work(trace, 0)][:3] == ["changeover", "clear", "changeover"]


def test_unloading_goes_before_loading_at_one_instant():
    two = plant(machines=machines("ab"),
                programs=(program("A", 10.0), program("B", 10.0)), orders=(order("1", "A", 2), order("2", "B", 2)),
                times={"load": 5.0, "unload": 5.0})  # fmt: skip
    # a loads 0-5, b loads 5-10; a is done at 15, b at 20 when a (unloaded at 20) wants to load: b's unloading first
    rows = work(run(two), 0)
    assert rows[:4] == [("load", 0.0, 5.0), ("load", 5.0, 10.0), ("unload", 15.0, 20.0), ("unload", 20.0, 25.0)]


def test_equal_moments_go_to_the_lower_machine_row():
    rows = (order("1", "B", 3), order("2", "A", 2), order("3", "A"), order("4", "A"))
    two = plant(machines=machines("ab"), programs=(program("A", 10.0), program("B", 5.0)), orders=rows,
                times={"fixed": 1.0}, who={"fixed": "machine"})  # fmt: skip
    trace = run(two)
    # both start their last sheet at 11 and choose then; b planned that moment at 1, a at 6: a takes the earlier order
    assert [made(trace, row)[-1] for row in (0, 1)] == [(5, 27.0), (6, 32.0)]


def test_a_person_walks_after_a_task_at_a_machine():
    trace = run(plant(times={"fixed": 10.0, "load": 5.0}, people_rules={"walk_s": 120.0}))
    assert story(trace) == [("changeover", 10.0), ("waiting_person", 12.0), ("loading", 17.0), ("run", 27.0)]


def test_a_heavy_sheet_needs_two_people_and_takes_any_pair_that_can():
    # the sheet weighs 8 kg; OP alone can load, but is first in row order for the second pair of hands too
    crew = (person("OP", "load", "second_person", "changeover", "unload", "material", "first_piece", "clear"),
            person("TWO", "load"), person("BE", "bench"))  # fmt: skip
    trace = run(plant(people=crew, machine={"one_person_kg": 5.0}, times={"load": 4.0}))
    assert story(trace) == [("loading", 4.0), ("run", 14.0)]
    assert work(trace, 0) == [("load", 0.0, 4.0)]
    assert work(trace, 1) == [("load", 0.0, 4.0)]


def test_a_lifter_replaces_the_second_person():
    trace = run(plant(machine={"one_person_kg": 5.0, "lifter": True}, times={"load": 4.0}))
    assert work(trace, 1) == []


def test_a_skill_that_nobody_has_is_told():
    with pytest.raises(CellError, match="'load'"):
        run(plant(people=(person("BE", "bench"),), times={"load": 4.0}))


# --- orders ---------------------------------------------------------------------------------------


def test_a_rush_order_overtakes_the_committed_one():
    rows = (order("1", "A", 200), order("2", "B"), order("3", "A", rush=True, day=1))
    trace = run(plant(orders=rows))
    first, second, rush = trace.jobs
    assert second.started_s > rush.started_s > first.started_s


def test_first_piece_is_measured_after_the_first_sheet_only():
    trace = run(plant(orders=(order("1", "A", 2),), times={"first": 6.0}))
    assert story(trace) == [("run", 10.0), ("first_piece", 16.0), ("run", 26.0)]


def test_first_piece_rules():
    times, rows = {"first": 6.0}, (order("1", "A"), order("2", "B"))
    programs = (program("A", 10.0), program("B", 10.0, proven=False))
    for rule, pieces in {"each_order": 2, "new_program": 1, "never": 0, "attended_only": 2}.items():
        trace = run(plant(times=times, orders=rows, programs=programs, rules={"first_piece": rule}))
        assert [state for state, _ in story(trace)].count("first_piece") == pieces


def test_merged_repeats_are_set_up_once():
    rows = (order("1", "A"), order("2", "A"))
    apart = run(plant(orders=rows, times={"fixed": 5.0}))
    merged = run(plant(orders=rows, times={"fixed": 5.0}, rules={"merge_days": 1.0}))
    assert (made(apart)[-1][1], made(merged)[-1][1]) == (30.0, 25.0)
    assert merged.jobs[0].members == (0, 1)


def test_moved_work_occupies_people_after_all_else():
    trace = run(plant(times={"prepare": 30.0, "load": 4.0}))
    assert work(trace, 0) == [("load", 0.0, 4.0), ("preparation", 4.0, 34.0)]
    assert trace.outside_s == {"preparation": 30 * 60.0}


# --- where sheets go ------------------------------------------------------------------------------


def test_a_full_bench_blocks_and_nobody_is_held():
    trace = run(plant(orders=(order("1", "A", 3),), times={"bench": 25.0, "unload": 1.0}, bench={"places": 1}))
    assert story(trace) == [("run", 10.0), ("unloading", 11.0), ("run", 21.0), ("blocked", 36.0), ("unloading", 37.0),
                            ("run", 47.0), ("blocked", 62.0), ("unloading", 63.0)]  # fmt: skip


def test_a_bench_that_needs_nobody_still_takes_its_time():
    trace = run(plant(orders=(order("1", "A", 2),), times={"bench": 25.0}, who={"bench": "machine"},
                      bench={"places": 1}))  # fmt: skip
    assert story(trace) == [("run", 20.0), ("blocked", 35.0)]
    assert trace.jobs[0].finished_s == (6 * 60 + 60) * 60.0


def test_sorting_what_went_down_the_chute_takes_somebody_but_no_place():
    trace = run(
        plant(
            orders=(order("1", "A", 2),),
            programs=(program("A", 10.0, handover="chute"),),
            program_parts=(part("A", 3),),
            times={"sort": 9.0, "bench": 50.0},
        )
    )
    assert story(trace) == [("run", 20.0)]
    assert work(trace, 0) == [("bench", 10.0, 37.0)]
    assert trace.jobs[0].finished_s == (6 * 60 + 47) * 60.0  # a second person sorts the second sheet


def test_whole_sheets_wait_on_the_stack_at_night():
    trace = run(plant(orders=(order("1", "A", 50),), who=AUTOMATIC, times={"bench": 1.0}, stack={"places": 5},
                      calendar={"night": NIGHT}))  # fmt: skip
    assert made(trace)[49] == (49, 500.0)
    levels = [(moment / 60 - 360, stack) for moment, _, stack in trace.bench_level if stack]
    # sheets end at 480 (the shift is over), 490 and 500; all are drawn at 06:00 of the next day
    assert [stack for moment, stack in levels if moment <= 500] == [1, 2, 3]
    assert trace.jobs[0].finished_s == (6 * 60 + DAY + 2) * 60.0  # two people, three sheets


AT_ONCE = [("run", 20.0), ("blocked", 40.0), ("run", 50.0), ("blocked", 70.0), ("run", 80.0), ("blocked", 100.0)]
ONE_WAITS = [("run", 30.0), ("blocked", 40.0), ("run", 50.0), ("blocked", 70.0)]


@pytest.mark.parametrize(
    ("handover", "use", "expected"),
    [("bench", "unattended", AT_ONCE), ("bench", "by_program", AT_ONCE), ("stack", "unattended", ONE_WAITS),
     ("stack", "by_program", ONE_WAITS), ("bench", "always", [("run", 40.0)]), ("stack", "always", [("run", 40.0)])],
)  # fmt: skip
def test_by_day_the_stack_takes_the_sheets_of_its_programs(handover: str, use: str, expected: list[tuple[str, float]]):
    """Two sheets of A, then two of B, 10 min each; the bench has one place and takes 30 min a sheet.

    A's second sheet finds the bench taken: it waits on the stack, where A is handed over to it, or on the machine.
    """
    trace = run(plant(orders=(order("1", "A", 2), order("2", "B", 2)), stack={"places": 9, "use": use},
                      programs=(program("A", 10.0, handover=handover), program("B", 10.0)),
                      bench={"places": 1}, times={"bench": 30.0}))  # fmt: skip
    assert story(trace) == expected
    assert max(job.finished_s for job in trace.jobs) == (6 * 60 + 130) * 60.0


def test_a_night_ends_at_a_sheet_that_is_not_for_the_stack():
    night = {"who": AUTOMATIC, "times": {"bench": 9999.0}, "calendar": {"night": NIGHT}, "bench": {"places": 1}}
    whole = {"orders": (order("1", "A", 60),), "stack": {"places": 99, "use": "by_program"}}
    for handover, sheets in (("stack", 60), ("bench", 1)):  # a second one stands on the machine
        trace = run(plant(programs=(program("A", 10.0, handover=handover),), **night, **whole))
        assert sum(moment <= 600.0 for _, moment in made(trace)) == sheets


def test_full_stacks_of_parts_are_taken_away_first():
    # 1 part of 1 mm a sheet, stacks of 2 mm, one place: after two sheets the stack goes, five minutes
    trace = run(plant(orders=(order("1", "A", 4),), programs=(program("A", 10.0, handover="removal"),),
                      program_parts=(part("A"),), times={"pick": 0.0, "stack": 5.0},
                      removal={"pickers": 1, "stack_places": 1, "stack_height_mm": 2.0}))  # fmt: skip
    assert story(trace) == [("run", 20.0), ("blocked", 25.0), ("run", 45.0)]


def test_entering_the_guarded_cell_adds_to_the_first_piece():
    cell = {"programs": (program("A", 10.0, handover="removal"),), "program_parts": (part("A"),),
            "times": {"first": 6.0, "entry": 4.0, "pick": 0.0}}  # fmt: skip
    assert story(run(plant(**cell, removal={"pickers": 1})))[-1] == ("first_piece", 20.0)
    assert story(run(plant(**cell, removal={"pickers": 1, "sample_drawer": True})))[-1] == ("first_piece", 16.0)


# --- material and tools ---------------------------------------------------------------------------


def test_the_store_brings_material_from_the_moment_an_order_is_committed():
    rows = (order("1", "A"), order("2", "B"))
    cell = {"orders": rows, "times": {"fetch": 6.0, "store": 12.0}}
    by_hand = run(plant(**cell))
    assert story(by_hand) == [("changeover", 6.0), ("run", 16.0), ("changeover", 22.0), ("run", 32.0)]
    # order 2 is committed when order 1's only sheet starts (12): its material is there at 24
    stored = run(plant(**cell, store={"shelves": 2}))
    assert story(stored) == [("waiting_material", 12.0), ("run", 22.0), ("waiting_material", 24.0), ("run", 34.0)]


def test_material_is_staged_while_the_order_before_runs():
    trace = run(plant(orders=(order("1", "A"), order("2", "B")), times={"stage": 14.0, "fetch": 1.0}))
    assert story(trace)[:4] == [("waiting_material", 14.0), ("changeover", 15.0), ("run", 25.0),
                                ("waiting_material", 29.0)]  # fmt: skip


def test_a_nozzle_change_is_by_hand_or_automatic():
    rows = (order("1", "A"), order("2", "B"))
    for automatic, persons in ((False, [("changeover", 10.0, 14.0)]), (True, [])):
        trace = run(plant(orders=rows, times={"nozzle": 4.0}, machine={"nozzle_automatic": automatic}))
        assert story(trace)[1:] == [("changeover", 14.0), ("run", 24.0)]
        assert work(trace, 0) == persons


def magazine(cut_min: float, exchange_min: float, stations: int, **changes):
    """Order 1 uses T0, order 2 uses T1; both come from the magazine."""
    return plant(
        orders=(order("1", "A"), order("2", "B")), programs=(program("A", cut_min), program("B", 10.0)),
        program_tools=(*use("A", "T0"), *use("B", "T1")), times={"gripper": exchange_min, "tool": 9.0},
        machine={"stations": ({"size_mm": 16, "count": stations},)}, magazine={"places": {"16": 5}}, **changes,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("cut", "exchange", "stations", "hidden"),
    [(10.0, 4.0, 2, 4.0), (4.0, 4.0, 2, 4.0), (3.0, 4.0, 2, 0.0), (0.0, 4.0, 2, 0.0), (10.0, 4.0, 1, 0.0)],
    ids=["fits", "just fits", "does not fit", "no cutting", "all stations in use"],
)
def test_look_ahead_hides_whole_exchanges_as_far_as_cutting_allows(cut, exchange, stations, hidden):
    counts = run(magazine(cut, exchange, stations)).tools[0]
    assert (counts.hidden_s, counts.hidden_s + counts.visible_s) == (60 * hidden, 60 * 2 * exchange)


def test_look_ahead_can_be_switched_off():
    off = run(magazine(10.0, 4.0, 2, rules={"lookahead_sheets": 0}))
    assert (off.tools[0].hidden_s, off.tools[0].visible_s) == (0.0, 480.0)


def test_tools_are_fetched_by_hand_without_a_magazine():
    trace = run(plant(program_tools=use("A", "T0", "T1"), times={"tool": 9.0}))
    assert story(trace) == [("changeover", 18.0), ("run", 28.0)]
    assert exchanges(trace) == {"tool_load": 2}


def test_a_tracked_tool_is_reground_before_its_limit_and_an_untracked_one_fails_in_a_sheet():
    life = {"life_hits": 250.0, "regrind_limit_hits": 250.0}
    hits = tuple(dataclasses.replace(row, hits_per_sheet=100) for row in use("A", "T0"))
    cell = {"program_tools": hits, "orders": (order("1", "A", 2), order("2", "A", 2)), "times": {"tool": 1.0}}
    tracked = run(plant(tools=(dataclasses.replace(tool("T0"), tracked=True, **life),), **cell))
    assert (sum(tracked.tools[0].wear.reground.values()), tracked.machines[0].lost) == (1, [])
    # hits reach 250 in the middle of the third sheet; the tool is changed in a minute, and the sheet made again
    worn = run(plant(tools=(dataclasses.replace(tool("T0"), tracked=False, **life),), **cell))
    assert story(worn) == [("changeover", 1.0), ("run", 26.0), ("stopped", 27.0), ("run", 47.0)]
    assert (worn.machines[0].lost, made(worn)[-1]) == ([2], (2, 47.0))


# --- stops and care -------------------------------------------------------------------------------


def stop(hours: tuple[float, ...], repair: tuple[float, ...] = (5.0,), **changes):
    row = Stop(cause="jam", exposure="running_hour", rate=1.0, repair_min=5.0, file="jam.csv")
    return {"stops": (dataclasses.replace(row, **changes),), "sequences": {"jam.csv": hours, "jam.csv:repair": repair}}


def test_a_stop_in_a_sheet_falls_where_the_running_clock_says():
    trace = run(plant(orders=(order("1", "A", 2),), times={"load": 1.0}, **stop((0.25, 100.0))))
    assert story(trace) == [("loading", 1.0), ("run", 11.0), ("loading", 12.0), ("run", 17.0), ("stopped", 22.0),
                            ("run", 27.0)]  # fmt: skip


def test_a_scrapped_sheet_is_made_again_at_the_end():
    trace = run(plant(orders=(order("1", "A", 2),), **stop((0.1, 100.0), sheets_scrapped=1.0)))
    assert [sheet for sheet, _ in made(trace)] == [1, 0]
    assert made(trace)[-1][1] == 6 + 5 + 10 + 10
    assert trace.machines[0].lost == [0]


def test_a_technician_clears_a_stop_before_other_work_and_finishes_it_into_the_break():
    # an order takes 11 min, its preparation 16, so that preparation queues up; stop at 172, preparation on until 176
    rows = tuple(order(str(n), "A") for n in range(40))
    crew = (person("OP", "changeover"), person("TE", "technician", "preparation"))
    trace = run(plant(orders=rows, people=crew, breaks=BREAK, times={"prepare": 16.0, "fixed": 1.0},
                      **stop((2.6, 100.0), (10.0,), clears="technician")))  # fmt: skip
    assert [row for row in work(trace, 1) if row[0] == "technician"] == [("technician", 176.0, 186.0)]


def test_a_certain_stop_strikes_every_sheet_once():
    jam = Stop(cause="jam", exposure="sheet", rate=1.0, repair_min=2.0)
    assert story(run(plant(orders=(order("1", "A", 2),), stops=(jam,)))) == [
        ("stopped", 2.0), ("run", 12.0), ("stopped", 14.0), ("run", 24.0)]  # fmt: skip


def test_a_retry_that_works_needs_nobody():
    trace = run(plant(**stop((0.1, 100.0), retries=1, retry_success=1.0, retry_s=30.0)))
    assert story(trace) == [("run", 6.0), ("stopped", 6.5), ("run", 10.5)]
    assert work(trace, 0) == []


def test_lists_are_consumed_in_the_order_of_start_over_all_machines():
    two = plant(machines=machines("ab"),
                orders=(order("1", "A"), order("2", "A")), times={"fixed": 1.0}, who={"fixed": "machine"},
                **stop((0.05, 0.1, 100.0), (1.0, 2.0)))  # fmt: skip
    trace = run(two)
    assert [log.stop_at_s[0] / 60 - 360 for log in trace.machines] == [4.0, 7.0]


def test_calendar_hours_pass_while_the_machine_is_set_up_or_idle():
    calendar = {"exposure": "calendar_hour", "rate": 1.0}
    # the clock runs from midnight: 6.2 h is 12 min after 06:00, during the changeover; found at the start of the run
    trace = run(plant(times={"fixed": 20.0}, **stop((6.2, 100.0), **calendar)))
    assert story(trace) == [("changeover", 20.0), ("stopped", 25.0), ("run", 35.0)]
    idle = run(plant(orders=(order("1", "A", day=1),), **stop((8.0, 100.0), sheets_scrapped=1.0, **calendar)))
    assert story(idle)[0] == ("stopped", 125.0)
    assert idle.machines[0].lost == []


def test_care_is_done_before_the_next_sheet_when_due():
    care = Upkeep(task="bin", exposure="sheet", interval=2, duration_min=3, isolation_min=1)
    trace = run(plant(orders=(order("1", "A", 3),), upkeep=(care,)))
    assert story(trace) == [("run", 20.0), ("upkeep", 24.0), ("run", 34.0)]
    planned = run(plant(orders=(order("1", "A", 3),), upkeep=(dataclasses.replace(care, planned_in_break=True),)))
    assert story(planned) == [("run", 30.0)]


@pytest.mark.parametrize(("changes", "at_it", "others_min"), [
    ({}, [("upkeep", 20.0, 24.0)], 0.0), ({"break_by": "others"}, [], 4.0), ({"needs_person": False}, [], 0.0),
])  # fmt: skip
def test_care_planned_in_a_break_costs_no_machine_time_but_somebodys(changes, at_it, others_min):
    care = Upkeep(task="bin", exposure="sheet", interval=2, duration_min=3, isolation_min=1, planned_in_break=True)
    built = plant(orders=(order("1", "A", 3),), upkeep=(dataclasses.replace(care, **changes),))
    trace = run(built)
    assert story(trace) == [("run", 30.0)]
    assert [row for row in work(trace, 0) if row[0] == "upkeep"] == at_it
    assert trace.machines[0].care_by_others_s == others_min * 60
    assert first_difference(workload_of(built)) == ""


def test_care_planned_in_a_break_by_the_crew_waits_for_all_other_tasks():
    """The bench has the only person until 58; the care was asked for at 20, before the third sheet."""
    care = Upkeep(task="bin", exposure="sheet", interval=2, duration_min=4, planned_in_break=True)
    built = plant(orders=(order("1", "A", 4),), times={"bench": 12.0}, bench={"places": 9}, upkeep=(care,),
                  people=(person("OP"),))  # fmt: skip
    assert work(run(built), 0)[:6] == [
        ("bench", 10.0, 22.0), ("bench", 22.0, 34.0), ("bench", 34.0, 46.0), ("bench", 46.0, 58.0),
        ("upkeep", 58.0, 62.0)]  # fmt: skip


# --- nights ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("limit", "changes"),
    [
        ("stop", stop((8.25, 100.0))),
        ("release", {"orders": (order("1", "A", 49), order("2", "A", 9)), "times": {"first": 1.0}}),
        ("tool", {"program_tools": use("B", "T0"), "orders": (order("1", "A", 49), order("2", "B", 9)),
                  "times": {"tool": 1.0}}),
        ("material", {"orders": (order("1", "A", 49), order("2", "B", 9)), "times": {"fetch": 1.0}}),
        ("material", {"who": {"unload": "machine"}, "times": {"load": 1.0}}),
        ("output", {"times": {"bench": 1.0}, "bench": {"places": 1}}),
    ],
    ids=["stop", "release", "tool", "material", "load", "output"],
)  # fmt: skip
def test_a_night_ends_at_the_first_need_of_a_person(limit, changes):
    cell = {"orders": (order("1", "A", 60),), "who": AUTOMATIC, "calendar": {"night": NIGHT}} | changes
    log = run(plant(**cell)).machines[0]
    assert log.night_limit[:1] == [limit]
    assert 480 <= log.night_wait_s[0] / 60 - 360 <= 510


def test_an_unattended_machine_goes_on_while_it_needs_nobody():
    trace = run(plant(orders=(order("1", "A", 60),), who=AUTOMATIC, calendar={"night": NIGHT}))
    assert made(trace)[-1] == (59, 600.0)
    assert trace.machines[0].night_limit == []


def test_preparation_of_the_next_order_waits_for_the_morning_at_night_and_not_the_machine():
    rows = (order("1", "A", 49), order("2", "A"))
    trace = run(plant(orders=rows, who=AUTOMATIC, calendar={"night": NIGHT}, times={"fixed": 2.0}))
    assert made(trace)[-1][1] == 2 + 490 + 10
    assert work(trace, 0)[-1] == ("preparation", float(DAY), DAY + 2.0)
