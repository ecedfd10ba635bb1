"""Times from the motion of the machine by hand, and what a run takes from them: nothing where a row exists."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest

from simkit.plant.book_counts import driver_counts
from simkit.plant.plant import PlantInputs
from simkit.plant.scenarios import make_scenario
from simkit.plant.tables import MachineRow, StartRow
from simkit.process.motion import Axis
from simkit.process.motiontimes import (
    STATE_OF,
    Axes,
    motion_seconds,
    motion_uses,
    occurrences,
    tool_stations,
)
from simkit.process.programs import program_tables, run_shares
from tests.oracle.plants import workload_of
from tests.small_plant import small_elements, small_plant

MOTION = {
    "x_speed_m_s": 1.5, "x_accel_m_s2": 10.0, "ram_s": 0.05, "forming_ram_s": 0.9, "settle_s": 0.01, "clamping_s": 4.0,
    "turret_step_s": 0.5, "turret_lock_s": 0.25, "rapid_m_s": 2.0, "rapid_m_s2": 5.0, "height_sense_s": 0.3,
    "lead_in_mm": 11.0,
}  # fmt: skip
ROWS = ("hit", "form_hit", "index", "reposition", "contour_move")


def moving(motion: dict[str, float] | None = None, **changes: Any) -> PlantInputs:
    """The small plant with a motion: hits 25 mm apart, contours 50 mm."""
    motion = MOTION if motion is None else motion
    plant = small_plant(machine={"motion": motion}, run={"source": "replay"}, **changes)
    programs = (dataclasses.replace(row, mean_pitch_mm=25.0, rapid_mm=50.0) for row in plant.programs)
    return dataclasses.replace(plant, programs=tuple(programs))


def without_rows(*names: str) -> tuple[Any, ...]:
    return tuple(row for row in small_elements() if row.element not in (names or ROWS))


def test_seconds_by_hand() -> None:
    seconds = motion_seconds(moving())
    # 25 mm at 10 m/s2: 2 sqrt(0.025 / 10) = 0.1 s, 0.01 s of settling, and the stroke
    assert seconds["hit"] == pytest.approx([0.16, 0.16])
    assert seconds["forming_hit"] == pytest.approx([1.01, 1.01])
    # 1250 mm in two halves: 0.625 / 1.5 + 1.5 / 10 = 0.56667 s and 4 s of clamping; the other is never re-clamped
    assert seconds["reposition"][0] == pytest.approx(4.566667, abs=1e-6)
    # 50 mm at 5 m/s2: 0.2 s; 0.3 s; 11 mm at 11 m/min: 0.06 s, at 10 m/min: 0.066 s
    assert seconds["contour"] == pytest.approx([0.56, 0.566])


def test_turret_turns_by_hand() -> None:
    """TL-001 in place 0 (16 mm), TL-003 in 6 (30), TL-005 in 9 (55, turns) of ten: 1 + 3 + 6 or 4 steps back."""
    plant = moving()
    assert tool_stations(plant, plant.programs[0]) == (0, 6, 9)
    # from 6 to 9 to 0 and back to 6: 3 + 1 + 4 = 8 steps of 0.5 s, three turns of 0.25 s, for three tools
    assert motion_seconds(plant)["tool"][0] == pytest.approx((8 * 0.5 + 3 * 0.25) / 3)


def test_a_tool_stays_where_it_stands_at_the_start() -> None:
    plant = moving(start=(StartRow(what="turret", item="TL-001", station=4),))
    assert tool_stations(plant, plant.programs[0]) == (3, 6, 9)
    assert tool_stations(plant, plant.programs[1])[0] == 3


def test_no_two_tools_of_a_program_share_a_station() -> None:
    """TL-001 and TL-002 both fit the places of 16 mm, from 0 on; TL-004 those of 30 mm, from 6 on."""
    assert tool_stations(moving(), moving().programs[1]) == (0, 1, 6)


def test_a_single_tool_needs_no_turn() -> None:
    plant = moving(program_tools=small_plant().program_tools[:1])
    assert motion_seconds(plant)["tool"].tolist() == [0.0, 0.0]


def test_unlike_axes_are_taken_half_and_half() -> None:
    x, y = Axis(1.5, 10.0), Axis(1.5, 2.5)
    assert Axes(x, y).move_s(25.0) == pytest.approx((0.1 + 0.2) / 2)


def test_what_is_not_given_is_not_known() -> None:
    seconds = motion_seconds(small_plant())
    assert all(np.isnan(value).all() for value in seconds.values())
    plant = moving({key: MOTION[key] for key in ("x_speed_m_s", "x_accel_m_s2", "ram_s")})
    known = {driver for driver, value in motion_seconds(plant).items() if not np.isnan(value).any()}
    assert known == {"hit"}
    bare = dataclasses.replace(plant, programs=(small_plant().programs[0], plant.programs[1]))
    assert np.isnan(motion_seconds(bare)["hit"]).tolist() == [True, False]


def test_occurrences_are_those_of_the_drivers() -> None:
    plant = moving()
    counts = occurrences(plant)
    for number, (program, flow) in enumerate(zip(plant.programs, program_tables(plant).flows, strict=True)):
        known = driver_counts(plant, program, flow)
        assert {driver: float(counts[driver][number]) for driver in STATE_OF} == {d: known[d] for d in STATE_OF}


# ---- what a run takes ----


def test_nothing_changes_where_rows_exist() -> None:
    still, moved = small_plant(run={"source": "replay"}), moving()
    assert motion_uses(moved) == ()
    before, after = workload_of(still).sheets, workload_of(moved).sheets
    for name in ("punch_s", "form_s", "cut_s", "run_s", "load_s", "bench_s"):
        assert (getattr(before, name) == getattr(after, name)).all()


def test_nothing_is_filled_in_without_a_motion() -> None:
    plant = small_plant(elements=without_rows())
    assert motion_uses(plant) == ()


def test_the_motion_fills_in_what_has_no_row() -> None:
    punch, form, cut = run_shares(program_tables(moving(elements=without_rows())))
    index = (8 * 0.5 + 3 * 0.25) / 3
    assert punch[0] == pytest.approx(300 * 0.16 + 3 * index + 4.566667, abs=1e-5)
    assert form[1] == pytest.approx(20 * 1.01)
    # 9 m at 11 m/min, 12 contours of 0.3 s pierce and 0.56 s, 5 s change of mode by its row
    assert cut[0] == pytest.approx(9000 / (11000 / 60) + 12 * (0.3 + 0.56) + 5.0)


def test_a_row_for_one_driver_leaves_the_others_to_the_motion() -> None:
    names = {use.name for use in motion_uses(moving(elements=without_rows("hit", "reposition")))}
    assert names == {"motion_hit", "motion_reposition"}


def test_a_run_takes_the_times_of_the_motion() -> None:
    sheets = workload_of(moving(elements=without_rows("hit"))).sheets
    assert sheets.punch_s[0] == pytest.approx(300 * 0.16 + 3 * 2.2 + 6.0, abs=1e-5)


def test_a_change_of_the_motion_changes_the_run() -> None:
    slower = make_scenario(moving(elements=without_rows("hit")), (), ("plant.machine.motion.ram_s=0.15",)).plant
    assert workload_of(slower).sheets.punch_s[0] == pytest.approx(300 * 0.26 + 3 * 2.2 + 6.0, abs=1e-5)


def test_a_machine_can_have_a_motion_of_its_own() -> None:
    machines = (MachineRow(machine_id="M1"), MachineRow(machine_id="M2", overrides="plant.machine.motion.ram_s=0.15"))
    scenario = make_scenario(moving(elements=without_rows("hit"), machines=machines))
    fast, slow = (run_shares(program_tables(plant))[0][0] for plant in scenario.machine_plants)
    assert slow - fast == pytest.approx(300 * 0.1)
