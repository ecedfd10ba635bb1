"""A log by hand: states, silences, clocks that were set back, run times, changeovers, stops."""

from __future__ import annotations

import dataclasses
import datetime as dt
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.analysis.log_times import exposures, ratio_of_sums, sheet_runs, stops
from simkit.analysis.machine_log import CANNOT_TELL, LOG_STATES, MEANINGS, RUNNING, WAITING, MachineLog, read_log
from simkit.base.messages import BadInput
from simkit.plant.plant import PlantInputs
from simkit.process.estimate import run_estimates
from tests.small_plant import small_plant

DAY = dt.date(2026, 1, 5)
Line = tuple[str, str, str]


@pytest.fixture(scope="module")
def plant() -> PlantInputs:
    made = small_plant()
    return dataclasses.replace(made, settings=made.settings.model_copy(update={"time_zone": "UTC"}))


def log_of(tmp_path: Path, plant: PlantInputs, *lines: Line, day: dt.date = DAY) -> MachineLog:
    rows = [f"{day}T{time}Z,{item},{value}" for time, item, value in lines]
    path = tmp_path / "events.csv"
    path.write_text("\n".join(["time_utc,item,value", *rows]) + "\n", encoding="utf-8")
    return read_log(path, plant)


def hours(log: MachineLog) -> dict[str, float]:
    total = log.hours().sum()
    return {state: round(value, 4) for state, value in total.items() if value}


def run_of(start: str, end: str, program: str = "P-1") -> list[Line]:
    return [(start, "PROGRAM", program), (start, "EXECUTION", "ACTIVE"), (end, "EXECUTION", "READY")]


def test_each_state_has_the_time_until_the_next_line(tmp_path, plant):
    lines = [("06:00:00", "EXECUTION", "READY"), ("06:00:00", "FUNCTIONAL_MODE", "SETUP"),
             ("06:30:00", "FUNCTIONAL_MODE", "PRODUCTION"), ("06:30:00", "WAIT_STATE", "MATERIAL_LOAD"),
             ("06:36:00", "EXECUTION", "ACTIVE"), ("07:06:00", "EXECUTION", "INTERRUPTED"),
             ("07:12:00", "EXECUTION", "READY"), ("07:12:00", "WAIT_STATE", "PART_UNLOAD"),
             ("07:18:00", "WAIT_STATE", "NONE"), ("07:30:00", "FUNCTIONAL_MODE", "MAINTENANCE"),
             ("08:00:00", "EXECUTION", "ACTIVE")]  # fmt: skip
    log = log_of(tmp_path, plant, *lines)
    assert hours(log) == {"changeover": 0.5, "loading": 0.1, "running": 0.5, "stopped": 0.1, "unloading": 0.1,
                          "waiting": 0.2, "upkeep": 0.5}  # fmt: skip
    assert log.findings == ()


def test_what_lies_in_a_break_or_outside_shifts_is_closed_unless_the_machine_runs(tmp_path, plant):
    lines = [*run_of("08:30:00", "09:05:00"), ("09:30:00", "EXECUTION", "ACTIVE"), ("09:45:00", "EXECUTION", "READY")]
    assert hours(log_of(tmp_path, plant, *lines)) == {"running": round(50 / 60, 4), "closed": round(10 / 60, 4),
                                                      "waiting": 0.25}  # fmt: skip


def test_a_silence_cannot_be_told_and_values_before_it_do_not_count_behind_it(tmp_path, plant):
    lines = [*run_of("06:00:00", "06:10:00"), ("10:00:00", "WAIT_STATE", "NONE"), ("10:10:00", "EXECUTION", "ACTIVE"),
             ("10:20:00", "EXECUTION", "READY")]  # fmt: skip
    log = log_of(tmp_path, plant, *lines)
    assert hours(log)[CANNOT_TELL] == pytest.approx(3 + 35 / 60 + 10 / 60, abs=1e-3)
    assert hours(log)[RUNNING] == pytest.approx(20 / 60, abs=1e-3)
    assert "no line for 3 h 50 min from 2026-01-05 06:10" in log.findings[0].why


def test_repeated_lines_count_once(tmp_path, plant):
    lines = [*run_of("06:00:00", "06:10:00"), *run_of("06:00:00", "06:10:00"), ("06:20:00", "EXECUTION", "ACTIVE")]
    log = log_of(tmp_path, plant, *lines)
    assert hours(log) == {"running": round(1 / 6, 4), "waiting": round(1 / 6, 4)}
    assert "3 lines are repeated (rows 5, 6, 7)" in log.findings[0].why


def test_a_clock_that_was_set_back_leaves_time_that_cannot_be_told(tmp_path, plant):
    lines = [("06:00:00", "EXECUTION", "READY"), ("06:10:00", "EXECUTION", "ACTIVE"),
             ("06:06:00", "EXECUTION", "ACTIVE"), ("06:30:00", "EXECUTION", "READY")]  # fmt: skip
    log = log_of(tmp_path, plant, *lines)
    assert hours(log) == {"waiting": 0.1, CANNOT_TELL: round(4 / 60, 4), "running": round(20 / 60, 4)}
    assert "drifted: it was set back by at least 4.0 min" in log.findings[0].why


@pytest.mark.parametrize(
    ("day", "said"), [(dt.date(2026, 10, 25), "the log is in wall time"), (DAY, "an hour comes twice")]
)
def test_an_hour_that_comes_twice_is_told_from_the_change_of_clocks(tmp_path, plant, day, said):
    berlin = dataclasses.replace(plant, settings=plant.settings.model_copy(update={"time_zone": "Europe/Berlin"}))
    lines = [("00:30:00", "EXECUTION", "ACTIVE"), ("02:59:00", "EXECUTION", "READY"),
             ("02:00:30", "EXECUTION", "ACTIVE"), ("04:00:00", "EXECUTION", "READY")]  # fmt: skip
    log = log_of(tmp_path, berlin, *lines, day=day)
    assert said in log.findings[0].why
    assert hours(log).get("running", 0) + hours(log).get("closed", 0) + hours(log).get(CANNOT_TELL, 0) == 3.5


def test_words_that_nobody_knows_are_told_and_count_as_cannot_tell(tmp_path, plant):
    lines = [("06:00:00", "EXECUTION", "BUSY"), ("06:30:00", "EXECUTION", "ACTIVE"), ("06:40:00", "MOOD", "GOOD"),
             ("07:00:00", "EXECUTION", "READY")]  # fmt: skip
    log = log_of(tmp_path, plant, *lines)
    assert hours(log) == {CANNOT_TELL: 0.5, "running": 0.5}
    assert [f.why for f in log.findings] == ["items that nothing reads: MOOD", "EXECUTION has unknown words: BUSY"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("time,item,value\n1,2,3\n", "has no column time_utc"),
        ("time_utc,item,value\n", "holds no lines"),
        ("time_utc,item,value\nsoon,EXECUTION,ACTIVE\n", "is no ISO time"),
    ],
)
def test_what_is_no_log_is_refused(tmp_path, plant, text, said):
    (tmp_path / "events.csv").write_text(text, encoding="utf-8")
    with pytest.raises(BadInput, match=said):
        read_log(tmp_path / "events.csv", plant)


def test_run_times_leave_out_stops_and_breaks(tmp_path, plant):
    lines = [("06:00:00", "WAIT_STATE", "MATERIAL_LOAD"), ("06:00:00", "EXECUTION", "READY"),
             ("06:10:00", "PROGRAM", "P-1"), ("06:10:00", "EXECUTION", "ACTIVE"),
             ("06:14:00", "EXECUTION", "FEED_HOLD"), ("06:20:00", "EXECUTION", "ACTIVE"),
             ("06:26:00", "EXECUTION", "READY"), ("06:30:00", "EXECUTION", "ACTIVE"),
             ("06:35:00", "EXECUTION", "READY"), ("06:40:00", "PROGRAM", "OTHER"),
             ("06:40:00", "EXECUTION", "ACTIVE"),
             ("06:45:00", "EXECUTION", "READY"),
             ("06:50:00", "EXECUTION", "READY")]  # fmt: skip
    runs = sheet_runs(log_of(tmp_path, plant, *lines), plant)
    assert list(runs["measured_s"]) == [600.0, 300.0]
    own = next(one.run_s for one in run_estimates(plant) if one.program_id == "P-1")
    ratio, low, high = ratio_of_sums(runs["measured_s"].to_numpy(), runs["estimated_s"].to_numpy())
    assert ratio == pytest.approx(450 / own)
    assert low < ratio < high


def test_stops_have_their_cause_and_exposure_ends_censored_with_the_shift(tmp_path, plant):
    lines = [*run_of("07:10:00", "08:00:00"), ("08:00:00", "CONDITION", "FAULT jam"),
             ("08:00:00", "EXECUTION", "INTERRUPTED"), ("08:12:00", "CONDITION", "NORMAL"),
             ("08:12:00", "EXECUTION", "ACTIVE"), ("08:42:00", "EXECUTION", "INTERRUPTED"),
             ("08:50:00", "EXECUTION", "ACTIVE"), ("09:40:00", "EXECUTION", "ACTIVE"),
             ("10:30:00", "EXECUTION", "ACTIVE"), ("11:20:00", "EXECUTION", "ACTIVE"),
             ("12:10:00", "EXECUTION", "ACTIVE"), ("13:00:00", "EXECUTION", "ACTIVE"),
             ("13:50:00", "EXECUTION", "ACTIVE"), ("14:20:00", "EXECUTION", "READY"),
             ("14:30:00", "EXECUTION", "READY")]  # fmt: skip
    log = log_of(tmp_path, plant, *lines)
    found = stops(log)
    assert list(found["cause"]) == ["jam", CANNOT_TELL]
    assert list(found["minutes"]) == pytest.approx([12, 8])
    told = exposures(log, "jam")
    assert list(told["stopped"]) == [True, False, False]
    assert list(told["hours"]) == pytest.approx([5 / 6, 0.5 + 5 + 1 / 6, 1 / 3])
    assert told["attended"].all()


# ---- always ----

WORDS = [(item, value) for item, values, _ in MEANINGS for value in values] + [
    ("PROGRAM", "P-1"),
    ("CONDITION", "NORMAL"),
]


@settings(max_examples=80, deadline=None, derandomize=True)
@given(st.lists(st.tuples(st.integers(0, 5 * 1440), st.sampled_from(WORDS)), min_size=2, max_size=40))
def test_states_sum_to_the_time_that_the_log_covers(tmp_path_factory, lines):
    made = small_plant()
    start = dt.datetime.combine(DAY, dt.time())
    rows = [f"{(start + dt.timedelta(minutes=at)).isoformat()}Z,{item},{value}" for at, (item, value) in lines]
    path = tmp_path_factory.mktemp("log") / "events.csv"
    path.write_text("\n".join(["time_utc,item,value", *rows]) + "\n", encoding="utf-8")
    stamps = [at for at, _ in lines]
    covered = max(stamps) - stamps[0]
    if not covered:
        with pytest.raises(BadInput, match="covers no time"):
            read_log(path, made)
        return
    log = read_log(path, made)
    assert log.hours().to_numpy().sum() == pytest.approx(covered / 60)
    assert set(log.stretches["state"]) <= set(LOG_STATES)
    assert {WAITING, RUNNING} <= set(LOG_STATES)
    assert sum(exposures(log, CANNOT_TELL)["hours"]) == pytest.approx(hours(log).get(RUNNING, 0.0), abs=1e-3)
