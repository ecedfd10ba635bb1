"""Early life of stops: the inverse of the integrated rate, by hand and through the cell."""

from __future__ import annotations

import dataclasses
import math

import pytest

from simkit.base.units import SECONDS_PER_WEEK
from simkit.cell.earlylife import EarlyLife, early_life
from simkit.plant.tables import Stop
from tests.cell.bench_plant import order, plant, program, run
from tests.oracle.compare import first_difference
from tests.oracle.plants import workload_of


def test_the_rate_settles_by_a_third_after_its_time() -> None:
    early = EarlyLife(4.0, SECONDS_PER_WEEK)
    assert early.rate_at(0.0) == 4.0
    assert early.rate_at(SECONDS_PER_WEEK) == pytest.approx(1 + 3 / math.e)
    assert early.grown(0.0, SECONDS_PER_WEEK) == pytest.approx(SECONDS_PER_WEEK * (1 + 3 * (1 - 1 / math.e)))


@pytest.mark.parametrize("factor", [0.01, 0.5, 4.0, 100.0])
@pytest.mark.parametrize("settled_s", [1.0, 5e4, 2e6])
def test_until_is_the_inverse_of_what_has_grown(factor: float, settled_s: float) -> None:
    early = EarlyLife(factor, 2 * SECONDS_PER_WEEK)
    for moment in (0.0, 1e6, 1e8):
        seconds = early.until(moment, settled_s)
        assert early.grown(moment, moment + seconds) == pytest.approx(settled_s, rel=1e-9, abs=1e-7)


def test_no_early_life_without_a_time_or_a_factor() -> None:
    stop = Stop(cause="s", exposure="running_hour", rate=1.0, repair_min=1.0)
    assert early_life(stop) is None
    assert early_life(dataclasses.replace(stop, early_factor=3.0)) is None
    assert early_life(dataclasses.replace(stop, settle_weeks=3.0)) is None
    assert early_life(dataclasses.replace(stop, early_factor=3.0, settle_weeks=1.0)) == EarlyLife(3.0, SECONDS_PER_WEEK)


@pytest.mark.parametrize("exposure", ["running_hour", "calendar_hour"])
def test_the_same_luck_falls_sooner(exposure: str) -> None:
    """A listed gap of eleven settled hours: it falls where the integral of the rate is eleven hours."""
    stop = Stop(cause="s", exposure=exposure, rate=1.0, repair_law="sequence", repair_min=6, file="s.csv",
                early_factor=3.0, settle_weeks=1.0)  # fmt: skip
    sequences = {"s.csv": (11.0, 1000.0), "s.csv:repair": (6.0, 6.0)}
    built = plant(orders=(order("1", "A"),), programs=(program("A", 20 * 60.0),), stops=(stop,))
    built = dataclasses.replace(built, sequences=sequences)
    assert first_difference(workload_of(built)) == ""
    (moment,) = run(built).machines[0].stop_at_s
    start_s = 6 * 3600.0 if exposure == "running_hour" else 0.0
    assert EarlyLife(3.0, SECONDS_PER_WEEK).grown(start_s, moment) == pytest.approx(11 * 3600.0, abs=1e-5)
    settled = dataclasses.replace(built, stops=(dataclasses.replace(stop, early_factor=1.0),))
    assert run(settled).machines[0].stop_at_s == [start_s + 11 * 3600.0]


def test_of_counts_a_sheet_goes_by_the_rate_at_its_start() -> None:
    """Four times the rate over the whole run: well above the stops of the settled cause."""
    stop = Stop(cause="s", exposure="sheet", rate=0.5, repair_min=0, early_factor=4.0, settle_weeks=1e6)
    built = plant(orders=(order("1", "A", 400),), programs=(program("A", 1.0),), stops=(stop,), run={"source": "replay",
                  "horizon_s": 90000.0})  # fmt: skip
    assert first_difference(workload_of(built)) == ""
    settled = dataclasses.replace(built, stops=(dataclasses.replace(stop, settle_weeks=0.0, rate=0.5),))
    early, late = (len(run(case).machines[0].stop_at_s) for case in (built, settled))
    assert early > 3 * late > 100
