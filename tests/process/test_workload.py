"""Workload: every sheet's and order's times, worked by hand from the small plant's elements."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from pydantic import ValidationError

from simkit.base.units import on_grid_s
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Quality
from tests.oracle.plants import workload_of
from tests.small_plant import small_elements, small_plant, with_element


def replay(**changes) -> PlantInputs:
    return small_plant(run={"source": "replay"}, **changes)


def test_the_times_of_a_sheet_by_hand() -> None:
    sheets = workload_of(replay()).sheets
    # P-1: 300 hits, 3 tools, 1 reposition; 9 m at 11 m/min, 12 contours of 0.3 + 1.2 s, 5 s change of mode
    punch = 300 * 0.33 + 3 * 2.2 + 6.0
    cut = 9000 / (11000 / 60) + 12 * 1.5 + 5.0
    assert sheets.punch_s[0] == pytest.approx(punch, abs=1e-6)
    assert sheets.cut_s[0] == pytest.approx(cut, abs=1e-6)
    assert (sheets.load_s[0], sheets.unload_s[0]) == (on_grid_s(1.9 * 60), 78.0)
    assert sheets.bench_s[0] == 6 * 13.5
    # P-2 also forms: 20 forming hits
    first_of_p2 = int(np.flatnonzero(sheets.program == 1)[0])
    assert sheets.form_s[first_of_p2] == 12.0
    assert (sheets.run_s == sheets.punch_s + sheets.form_s + sheets.cut_s + sheets.tail_s).all()


def test_the_ratio_scales_the_process_and_nothing_else() -> None:
    base, slow = workload_of(replay()).sheets, workload_of(with_element(replay(), "run_time_ratio", typical=1.5)).sheets
    assert slow.punch_s[0] == pytest.approx(1.5 * base.punch_s[0], abs=1e-6)
    assert slow.load_s[0] == base.load_s[0]


def test_a_measured_run_time_wins_and_keeps_the_shares() -> None:
    base = replay()
    programs = (dataclasses.replace(base.programs[0], measured_run_s=400.0), base.programs[1])
    estimate, measured = workload_of(base).sheets, workload_of(dataclasses.replace(base, programs=programs)).sheets
    assert measured.run_s[0] == pytest.approx(400.0, abs=1e-5)
    assert measured.punch_s[0] / measured.run_s[0] == pytest.approx(estimate.punch_s[0] / estimate.run_s[0], rel=1e-6)


def test_other_losses_stretch_the_process() -> None:
    base, slow = workload_of(replay()).sheets, workload_of(replay(rules={"other_losses": 0.2})).sheets
    assert slow.run_s[0] == pytest.approx(base.run_s[0] / 0.8, abs=1e-5)


@pytest.mark.parametrize(
    ("pick_s", "blocking_s", "pickers", "expected_s"),
    # 6 parts; the process takes P: P + 6 blocking, and never less than the sum of cycles
    [(10.0, 3.0, 1, "process + 18"), (60.0, 3.0, 1, "360"), (60.0, 3.0, 2, "process + 18"), (100.0, 3.0, 2, "300")],
)
def test_a_sheet_waits_for_its_picks(pick_s: float, blocking_s: float, pickers: int, expected_s: str) -> None:
    blank = dataclasses.replace(small_elements()[0], task_of="machine", state="unloading")
    rows = [
        dataclasses.replace(blank, element=name, unit=f"s/{name}", typical=seconds)
        for name, seconds in (("pick", pick_s), ("pick_blocking", blocking_s))
    ]
    base = replay(elements=(*small_elements(), *rows), removal={"pickers": pickers})
    programs = (dataclasses.replace(base.programs[0], handover="removal"), base.programs[1])
    sheets = workload_of(dataclasses.replace(base, programs=programs)).sheets
    process = sheets.punch_s[0] + sheets.form_s[0] + sheets.cut_s[0]
    assert sheets.run_s[0] == pytest.approx(process + 18 if "process" in expected_s else float(expected_s), abs=1e-5)
    assert sheets.bench_s[0] == 0.0


def test_rework_is_done_at_the_bench_and_told_apart() -> None:
    marks = Quality(cause="marks", applies_to="surface_sensitive=true", rate=0.1, rework_min=2.0, scrap_share=0.5)
    base, worse = workload_of(replay()).sheets, workload_of(replay(quality=(marks,))).sheets
    second = int(np.flatnonzero(base.program == 1)[0])
    # 10 sensitive parts x 0.1 x (1 - 0.5) x 120 s on P-2, none on P-1
    assert worse.rework_s[second] == pytest.approx(60.0, abs=1e-6)
    assert (worse.rework_s[0], base.rework_s[second]) == (0.0, 0.0)
    assert (worse.bench_s == base.bench_s).all()
    assert worse.hand_s[second] == base.bench_s[second] + worse.rework_s[second]


def test_a_cause_of_rework_is_for_the_parts_that_its_condition_names() -> None:
    rows = [Quality(cause="burr", applies_to=f"material={name}", rate=0.1, rework_min=1.0) for name in ("MS-1.5", "XX")]
    base, worse = workload_of(replay()).sheets, workload_of(replay(quality=tuple(rows))).sheets
    second = int(np.flatnonzero(base.program == 1)[0])
    # 6 parts x 0.1 x 60 s on P-1, which is of MS-1.5; none on P-2, which is of AL-1.5
    assert worse.rework_s[0] == pytest.approx(36.0, abs=1e-6)
    assert (worse.rework_s[second], base.rework_s[0]) == (0.0, 0.0)


def test_orders_and_moved_work_by_hand() -> None:
    orders = workload_of(replay()).orders
    assert orders.seconds["fixed"][0] == 540.0
    assert orders.seconds["first_piece"][0] == 360.0
    assert orders.seconds["material_change"][0] == 360.0
    # programming counts for programs that are not proven: P-2
    assert orders.outside_s["order"]["programming"].tolist() == [0.0, 720.0, 0.0, 720.0, 0.0, 720.0]


def test_moved_work_is_counted_by_its_driver() -> None:
    film = dataclasses.replace(
        small_elements()[0], element="film", task_of="preparation", unit="s/m_cut", state="outside", typical=2.0
    )
    orders = workload_of(replay(elements=(*small_elements(), film))).orders
    # 9 m on each of 3 sheets of P-1, 6 m on each of 5 sheets of P-2
    assert orders.outside_s["order"]["preparation"][:2].tolist() == [54.0, 60.0]


def test_tool_times_of_search_and_fit_add_up() -> None:
    needs = workload_of(replay()).needs
    assert needs.first.tolist() == [0, 3, 6, 9, 12, 15, 18]
    assert set(needs.seconds["tool_load"]) == {240.0}
    assert set(needs.seconds["die_change"]) == {90.0}


def test_the_planner_counts_run_handling_and_fixed_times() -> None:
    work = workload_of(replay(rules={"planner_load_share": 0.0, "planner_die_share": 0.0}))
    per_sheet = work.sheets.run_s[0] + work.sheets.load_s[0] + work.sheets.unload_s[0]
    fixed = 60 * (9.0 + 6.0 + 6.0)
    factor = work.plant.settings.rules.planning_factor
    assert work.planned_h[0] == pytest.approx(factor * (3 * per_sheet + fixed) / 3600, rel=1e-6)


def test_who_does_what_is_read_from_the_rows() -> None:
    assert workload_of(replay()).who["load"] == "load"
    assert workload_of(with_element(replay(), "load", task_of="machine")).who["load"] == "machine"


def test_repeats_within_the_window_of_the_first_are_merged() -> None:
    # P-1 on days 0, 1, 2 and P-2 on days 0, 2, 3
    assert workload_of(replay()).groups == ((0,), (1,), (2,), (3,), (4,), (5,))
    assert workload_of(replay(rules={"merge_days": 1.0})).groups == ((0, 2), (1,), (3, 5), (4,))
    assert workload_of(replay(rules={"merge_days": 2.0})).groups == ((0, 2, 4), (1, 3), (5,))


def test_the_same_sheet_has_the_same_luck_in_every_scenario() -> None:
    varied = with_element(replay(), "load", law="lognormal", cv=0.5)
    changed = with_element(with_element(varied, "load", typical=3.8), "break_out", law="gamma", cv=1.0)
    assert np.allclose(workload_of(changed).sheets.load_s, 2 * workload_of(varied).sheets.load_s, atol=1e-5)
    merged = workload_of(dataclasses.replace(varied, settings=replay(rules={"merge_days": 2.0}).settings))
    assert merged.sheets.load_s.tolist() == workload_of(varied).sheets.load_s.tolist()


def test_a_measured_run_time_without_counts_is_cutting() -> None:
    base = replay()
    bare = dataclasses.replace(
        base.programs[0], hits_per_sheet=0, cut_length_mm=0.0, contours=0, repositions=0, measured_run_s=400.0
    )
    tools = tuple(row for row in base.program_tools if row.program_id != "P-1")
    work = workload_of(dataclasses.replace(base, programs=(bare, base.programs[1]), program_tools=tools))
    assert (work.sheets.cut_s[0], work.sheets.run_s[0]) == (400.0, 400.0)
    assert work.planned_h[0] > 1.15 * 3 * 400 / 3600


def test_picks_that_only_hold_the_sheet_still_lengthen_it() -> None:
    blank = dataclasses.replace(small_elements()[0], task_of="machine", state="unloading")
    row = dataclasses.replace(blank, element="blocking", unit="s/pick_blocking", typical=3.0)
    base = replay(elements=(*small_elements(), row), removal={"pickers": 1})
    programs = (dataclasses.replace(base.programs[0], handover="removal"), base.programs[1])
    assert workload_of(dataclasses.replace(base, programs=programs)).sheets.tail_s[0] == 18.0


def test_an_element_of_a_sequence_is_refused_and_not_taken_at_its_mean() -> None:
    with pytest.raises(ValidationError, match="law"):
        with_element(replay(sequences={"f": (60.0, 180.0)}), "load", law="sequence", file="f")


def test_whole_release_weeks_are_measured_over_whole_weeks() -> None:
    assert workload_of(small_plant(run={"weeks": 1.5})).span_s == 14 * 86400.0
