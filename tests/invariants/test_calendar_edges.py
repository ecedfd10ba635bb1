"""Runs that end or change their clock at an awkward moment obey every invariant and the oracle."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest

from simkit.cell.run import simulate
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import CalendarDay
from tests.cell.test_on_call import night_plant
from tests.invariants.legal import check_all
from tests.oracle.compare import first_difference
from tests.oracle.plants import workload_of
from tests.small_plant import changed_settings, small_plant

SPRING, AUTUMN = dt.date(2026, 3, 23), dt.date(2026, 10, 19)
NIGHT = {"rule": "allowed", "assessed_by": "a test", "assessed_on": "2026-01-01", "windows": (
    {"days": ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"), "start": "22:00", "end": "06:00"},)}  # fmt: skip


def cut_at(plant: PlantInputs, minutes_after_six: float) -> PlantInputs:
    """The plant's run, cut so long after 06:00 of its first day."""
    horizon = {"run": {"source": "law", "horizon_s": 60.0 * (360 + minutes_after_six), "arrival_mean_s": 1800.0}}
    return dataclasses.replace(plant, settings=changed_settings(plant.settings, horizon))


def legal(plant: PlantInputs) -> float:
    """Check a run; return its end, hours."""
    work = workload_of(plant)
    trace = simulate(work)
    check_all(trace, work)
    assert first_difference(work) == ""
    return trace.end_s / 3600


@pytest.mark.parametrize("minutes", [1.0, 5.0, 9.0, 15.0, 17.5, 100.0, 570.0, 960.0])
def test_the_horizon_may_cut_anything(minutes: float) -> None:
    assert legal(cut_at(small_plant(), minutes)) == (360 + minutes) / 60


@pytest.mark.parametrize("minutes", [575.0, 600.0, 605.0, 610.0])
def test_the_horizon_may_cut_a_stop_a_way_and_the_work_of_who_is_called(minutes: float) -> None:
    plant = night_plant()
    horizon = {"run": {"source": "law", "horizon_s": 60.0 * (360 + minutes), "arrival_law": "constant",
                       "arrival_mean_s": 3600.0}}  # fmt: skip
    cut = dataclasses.replace(plant, settings=changed_settings(plant.settings, horizon))
    assert legal(cut) == (360 + minutes) / 60


@pytest.mark.parametrize("monday", [SPRING, AUTUMN])
def test_nights_of_a_clock_change_are_legal(monday: dt.date) -> None:
    """Orders are made through the week of the change, by day and by night, with Saturday and Sunday."""
    plant = small_plant(calendar={"night": NIGHT}, run={"start_monday": monday, "source": "law",
                        "horizon_s": 8 * 86400.0, "arrival_mean_s": 5400.0})  # fmt: skip
    zone = plant.settings.model_copy(update={"time_zone": "Europe/Berlin"})
    assert legal(dataclasses.replace(plant, settings=zone)) == 192.0


def test_a_holiday_after_a_night_and_an_added_saturday_are_legal() -> None:
    tuesday, saturday = dt.date(2026, 1, 6), dt.date(2026, 1, 10)
    rows = (CalendarDay(date=tuesday), CalendarDay(date=saturday, shift="early", change="added"))
    plant = small_plant(calendar={"night": NIGHT}, run={"source": "law", "horizon_s": 7 * 86400.0,
                        "arrival_mean_s": 5400.0})  # fmt: skip
    assert legal(dataclasses.replace(plant, calendar=rows)) == 168.0
