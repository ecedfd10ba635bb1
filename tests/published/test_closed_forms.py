"""Closed forms of a cell with one person and of a night without anybody, through the whole cell.

Two clocks: the sheet cycle is max(load + process + pull-out, load + pull-out + bench) with one person, and
max(load + process + pull-out, bench) with a second one at the bench. Failed picks: a sheet of n picks is
stopped with chance 1 - (1 - p)^n. Night: if nobody restarts, H hours run (1 - e^(-lambda H)) / lambda on average.
"""

from __future__ import annotations

import dataclasses
import math
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.special import gammainc

from simkit.cell.run import simulate
from simkit.cell.trace import Trace
from simkit.experiment.replication import draw_luck
from simkit.experiment.results import Results
from simkit.experiment.runner import run_experiment
from simkit.plant.plant import PlantInputs
from simkit.plant.reading import read_plant
from simkit.plant.scenarios import make_scenario
from simkit.process.workload import Workload, make_workload
from tests.published.long_run import problems
from tests.published.rows import Row

PLANTS = Path(__file__).parent / "plants"
HAND = "closed form, worked by hand"
NIGHT_H = 8.0
PICKS, FAILING = 20, 0.005


def workload_of(plant: PlantInputs, replication: int = 0, overrides: tuple[str, ...] = ()) -> Workload:
    """One replication's work."""
    scenario = make_scenario(plant, (), overrides)
    run = scenario.plant.settings.run
    draws = draw_luck(scenario, run.seed, replication, run.weeks, 1.0)
    return make_workload(scenario, draws)


# ---- two clocks ----


def cycle_min(trace: Trace) -> float:
    """Minutes from sheet to sheet, after the start-up, over 100 sheets."""
    moments = trace.machines[0].made_at_s
    return (moments[200] - moments[100]) / 100 / 60.0


def clock_rows() -> list[Row]:
    """Load 2, process 5, pull-out 1 min; bench 4 or 9 min."""
    one = read_plant(PLANTS / "cf_two_clocks")
    loader = dataclasses.replace(one.people[0], skills=("load", "unload"))
    bench = dataclasses.replace(one.people[0], person_id="op2", skills=("bench",))
    two = dataclasses.replace(one, people=(loader, bench))
    cases = [("one person", one, 4, 8.0), ("one person", one, 9, 12.0), ("second person", two, 4, 8.0),
             ("second person", two, 9, 9.0)]  # fmt: skip
    return [
        Row(f"two clocks, {who}, bench {minutes} min", "simkit.cell.run.simulate",
            {"workload": workload_of(plant, overrides=(f"elements[break_out].typical={minutes}",))}, expected, "min",
            1e-9, "nothing varies: rounding only", HAND, cycle_min)
        for who, plant, minutes, expected in cases
    ]  # fmt: skip


PUBLISHED = clock_rows()


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row: Row) -> None:
    row.check()


# ---- failed picks ----


@lru_cache
def stopped_sheets(rate: float) -> tuple[Any, ...]:
    """Per replication: for each sheet whether a failed pick stopped it."""
    plant = read_plant(PLANTS / "cf_pick_failures")
    found = []
    for replication in range(20):
        log = simulate(workload_of(plant, replication, (f"stops[failed_pick].rate={rate}",))).machines[0]
        stopped = np.zeros(len(log.made_at_s), bool)
        at = np.searchsorted(log.made_at_s, log.stop_at_s)
        stopped[at[at < len(stopped)]] = True
        found.append(stopped)
    return tuple(found)


def any_in(stopped: Any, sheets: int) -> float:
    """Share of runs of so many sheets in which at least one is stopped."""
    runs = len(stopped) // sheets
    return float(stopped[: runs * sheets].reshape(runs, sheets).any(axis=1).mean())


@pytest.mark.parametrize(("sheets", "width"), [(1, 0.04), (10, 0.03), (40, 0.02)])
def test_the_chance_of_a_stop_grows_with_the_picks(sheets: int, width: float) -> None:
    """0.5 % and 20 parts a sheet: 9.5 % of the sheets stop, and of 40 sheets at least one in 98 % of nights."""
    expected = 1 - (1 - FAILING) ** (PICKS * sheets)
    values = [any_in(stopped, sheets) for stopped in stopped_sheets(FAILING)]
    assert problems(values, expected, width * expected) == []
    printed = {1: 9.5, 10: 63.3, 40: 98.0}
    assert 100 * expected == pytest.approx(printed[sheets], abs=0.5)


def test_a_tenth_fewer_failures_turns_the_check_red() -> None:
    values = [any_in(stopped, 1) for stopped in stopped_sheets(0.9 * FAILING)]
    assert problems(values, 1 - (1 - FAILING) ** PICKS, np.inf) != []


# ---- a night that nobody restarts ----


@lru_cache
def nights(stops_per_h: float, *overrides: str) -> Results:
    """A hundred nights, twenty times; somebody is on call, who is called only where the overrides say so."""
    plant = read_plant(PLANTS / "cf_night_no_restart")
    called = dataclasses.replace(plant.people[0], person_id="op2", shift="on_call")
    plant = dataclasses.replace(plant, people=(*plant.people, called))
    rate = f"stops[stop].rate={stops_per_h}"
    return run_experiment(plant, [()], overrides=(rate, *overrides), workers=1, progress=False)


def a_night(results: Results, name: str) -> Any:
    """A total per night, one value per replication."""
    return results.values("today", name) / results.values("today", "nights")


@pytest.mark.parametrize(("mean_h", "printed_h"), [(4.0, 3.5), (10.0, 5.5), (20.0, 6.6)])
def test_a_night_runs_until_its_first_stop(mean_h: float, printed_h: float) -> None:
    results = nights(1 / mean_h)
    expected = (1 - math.exp(-NIGHT_H / mean_h)) * mean_h
    assert expected == pytest.approx(printed_h, abs=0.05)
    assert problems(a_night(results, "night_running_h"), expected, 0.04 * expected) == []
    share = 1 - math.exp(-NIGHT_H / mean_h)
    assert problems(a_night(results, "night_ended_stop"), share, 0.12 * share) == []
    lost = a_night(results, "night_lost_stop_h") + a_night(results, "night_running_h")
    assert np.median(lost) == pytest.approx(NIGHT_H, abs=1e-6)


@pytest.mark.parametrize(("success", "retries"), [(0.5, 1), (0.4, 3)])
def test_retries_thin_the_stops_that_end_a_night(success: float, retries: int) -> None:
    """Of stops at rate lambda, lambda (1 - s)^k need a person; retries take no time here."""
    results = nights(0.25, f"stops[stop].retries={retries}", f"stops[stop].retry_success={success}")
    rate = 0.25 * (1 - success) ** retries
    expected = (1 - math.exp(-rate * NIGHT_H)) / rate
    assert problems(a_night(results, "night_running_h"), expected, 0.04 * expected) == []
    assert problems(a_night(nights(0.25), "night_running_h"), expected, np.inf) != []


def on_call(calls: int, response_h: float) -> tuple[str, str]:
    """Overrides: so many calls a night, so long a way."""
    night = "plant.calendar.night"
    return f"{night}.on_call_response_min={60 * response_h}", f"{night}.on_call_calls_per_night={calls}"


@pytest.mark.parametrize(("calls", "response_h"), [(1, 1.0), (2, 0.5), (3, 2.0)])
def test_calls_prolong_a_night(calls: int, response_h: float) -> None:
    """H hours with c calls of R hours run sum over k = 0..c of P(k + 1, lambda (H - k R)) / lambda.

    P is the regularised incomplete gamma function: after k calls H - k R hours are left for k + 1 exponential runs.
    """
    rate, left = 0.25, [NIGHT_H - number * response_h for number in range(calls + 1)]
    expected = float(sum(gammainc(number + 1, rate * hours) for number, hours in enumerate(left) if hours > 0)) / rate
    results = nights(rate, *on_call(calls, response_h))
    assert problems(a_night(results, "night_running_h"), expected, 0.03 * expected) == []
    made = float(sum(gammainc(number, rate * hours) for number, hours in enumerate(left) if number and hours > 0))
    assert problems(a_night(results, "on_call_calls"), made, 0.05 * made) == []
    one_less = nights(rate, *on_call(calls - 1, response_h))
    if calls < 3:  # a third call of two hours' way hardly ever finds time
        assert problems(a_night(one_less, "night_running_h"), expected, np.inf) != []


def test_a_tenth_more_stops_turns_the_check_red() -> None:
    expected = (1 - math.exp(-NIGHT_H / 4.0)) * 4.0
    assert problems(a_night(nights(0.25 * 1.1), "night_running_h"), expected, np.inf) != []
