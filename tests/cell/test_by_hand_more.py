"""More of the cell by hand: releases at night, first pieces, lost sheets, heavy sheets, loads done ahead."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest

from simkit.base.units import TIME_GRID_PER_S
from simkit.cell.run import simulate
from simkit.experiment.measures import measure_run
from simkit.plant.tables import HistoryRow, Stop
from tests.cell.bench_plant import made, order, part, person, plant, program, run, story, tool, use, work
from tests.cell.test_by_hand import AUTOMATIC, NIGHT, magazine, stop
from tests.oracle.plants import workload_of
from tests.small_plant import MONDAY

DAY = 24 * 60
LAW = {"source": "law", "arrival_law": "constant", "arrival_mean_s": 15 * 3600.0, "horizon_s": 3 * 86400.0}


def test_what_arrives_at_night_waits_for_people_to_release_it() -> None:
    # arrivals every 15 h: Monday 15:00, in the night, Tuesday 06:00, Tuesday 21:00
    trace = run(plant(who=AUTOMATIC, calendar={"night": NIGHT}, run=LAW))
    assert [moment for _, moment in made(trace)] == [DAY + 10.0, DAY + 20.0, 2 * DAY + 10.0, 2 * DAY + 370.0]
    by_day = run(plant(who=AUTOMATIC, run=LAW))
    assert made(by_day) == made(trace)


@pytest.mark.parametrize("rule", ["attended_only", "never"])
@pytest.mark.parametrize(("proven", "limits"), [(True, []), (False, ["release"])])
def test_a_program_that_is_not_proven_ends_the_night(rule: str, proven: bool, limits: list[str]) -> None:
    programs = (program("A", 10.0), program("B", 10.0, proven=proven))
    trace = run(plant(orders=(order("1", "A", 49), order("2", "B", 3)), programs=programs, who=AUTOMATIC,
                      times={"first": 1.0}, calendar={"night": NIGHT}, rules={"first_piece": rule}))  # fmt: skip
    assert trace.machines[0].night_limit[:1] == limits


def test_a_first_piece_measured_by_the_machine_needs_nobody() -> None:
    trace = run(plant(times={"first": 6.0}, who={"first": "machine"}))
    assert story(trace) == [("run", 10.0), ("first_piece", 16.0)]
    assert work(trace, 0) == []


def test_a_sample_drawer_does_not_spare_the_entry_to_clear_a_stop() -> None:
    cell = {"programs": (program("A", 10.0, handover="removal"),), "program_parts": (part("A"),),
            "times": {"entry": 4.0, "pick": 0.0}, "removal": {"pickers": 1, "sample_drawer": True}}  # fmt: skip
    assert story(run(plant(**cell, **stop((0.1, 100.0)))))[:2] == [("run", 6.0), ("stopped", 15.0)]


def test_two_sheets_lost_at_a_stop_take_two_more_blanks_and_make_no_more_parts() -> None:
    trace = run(plant(orders=(order("1", "A", 3),), **stop((0.25, 100.0), sheets_scrapped=2.0)))
    log = trace.machines[0]
    assert (sorted(log.made), log.lost) == ([0, 1, 2], [1, 1])
    assert story(trace)[-1] == ("run", 15.0 + 5.0 + 30.0)


def test_a_heavy_sheet_is_pulled_out_by_two_too() -> None:
    crew = (person("OP"), person("TWO", "second_person"), person("BE", "bench"))
    heavy = {"people": crew, "machine": {"one_person_kg": 5.0}, "times": {"unload": 2.0}}
    assert work(run(plant(**heavy)), 1) == [("unload", 10.0, 12.0)]
    # of the 8 kg, 3.5 kg went down the chute
    gone = (dataclasses.replace(part("A"), mass_kg=3.5),)
    chute = (program("A", 10.0, handover="chute"),)
    assert work(run(plant(**heavy, programs=chute, program_parts=gone)), 1) == []


def test_tools_loaded_ahead_count_as_loads_too() -> None:
    fault = Stop(cause="misfit", exposure="tool_load", rate=1.0, repair_min=2.0)
    hidden = run(magazine(10.0, 4.0, 2, stops=(fault,)))
    assert hidden.tools[0].hidden_s == 240.0
    assert len(hidden.machines[0].stop_cause) == 2


def test_a_tool_of_the_middle_of_a_running_program_is_not_loaded_ahead() -> None:
    # A needs T0 and T1 in one station of 16; B needs T1 in a station of its own size besides
    wide = dataclasses.replace(tool("T2"), station_size_mm=30)
    cell = plant(
        orders=(order("1", "A"), order("2", "B")), programs=(program("A", 30.0), program("B", 10.0)),
        tools=(tool("T0"), tool("T1"), wide), program_tools=(*use("A", "T0", "T1"), *use("B", "T2", "T1")),
        times={"gripper": 2.0, "tool": 9.0}, magazine={"places": {"16": 5, "30": 5}},
        machine={"stations": ({"size_mm": 16, "count": 1}, {"size_mm": 30, "count": 1})},
    )  # fmt: skip
    assert run(cell).tools[0].hidden_s == 120.0  # T2 alone


def test_the_way_after_a_task_lies_on_the_time_grid() -> None:
    trace = run(plant(times={"fixed": 1.0, "load": 1.0}, people_rules={"walk_s": 7.3}))
    assert all((moment * TIME_GRID_PER_S).is_integer() for moment in trace.machines[0].end_s)


def test_a_replay_runs_the_orders_in_the_observed_sequence() -> None:
    rows = (order("1", "A"), order("2", "B"), order("3", "A", rush=True))
    observed = {"2": 6, "1": 7, "3": 8}
    begun = {name: dt.datetime.combine(MONDAY, dt.time(hour)) for name, hour in observed.items()}
    history = tuple(
        HistoryRow(order_id=name, machine="M1", started=at, finished=at, sheets=1) for name, at in begun.items()
    )
    for known, expected in ((history, ["2", "1", "3"]), ((), ["3", "1", "2"])):
        work_of = workload_of(plant(orders=rows, history=known, rules={"dispatch": "due"}))
        jobs = sorted(simulate(work_of).jobs, key=lambda job: job.started_s)
        assert [rows[work_of.draws.book.row[job.number]].order_id for job in jobs] == expected


def test_waits_for_people_are_those_of_machines() -> None:
    work_of = workload_of(plant(times={"prepare": 30.0, "load": 4.0}))
    trace = run(work_of.plant)
    assert len(trace.tasks.request_task) == 2  # loading, and preparation that waits for it
    assert measure_run(trace, work_of)["people_wait_share"] == 0.0


def test_people_are_busy_in_overtime_too_when_their_utilisation_is_told() -> None:
    saturday = {"overtime": ({"days": ("Sat",), "start": "06:00", "end": "12:00"},)}
    rows = tuple(order(str(n), "A", 60, due=7) for n in range(6))
    cell = plant(orders=rows, times={"load": 2.0}, calendar=saturday, people=(person("OP"),),
                 run={"source": "replay", "weeks": 1.0},
                 rules={"overtime_cap_h_per_week": 4.0}, overflow={"overtime": True})  # fmt: skip
    work_of = workload_of(cell)
    told = measure_run(run(cell), work_of)
    assert told["people_utilisation"] == pytest.approx(told["person_busy_h"] / 44.0)
