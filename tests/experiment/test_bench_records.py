"""Records of hours, mornings and picks: equal to the measures of the same run and to the closed form."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from simkit.experiment.replication import draw_luck, run_cell
from simkit.plant.scenarios import make_scenario
from tests.must_lose.changed import demo, parts, rows

NIGHT = ("A1", "A4", "A5b", "C1")


@pytest.fixture(scope="module")
def night():
    """Measures and records of two weeks of the demo's night with removal, every pick failing one time in five."""
    plant = parts(demo(), per_sheet=3)
    scenario = make_scenario(plant, NIGHT, ("stops[pick_failure].rate=0.2", "plant.rules.first_piece=never"))
    return run_cell(scenario, draw_luck(make_scenario(plant), 7, 0, 2.0, 1.0))


def test_hours_average_to_the_level_of_the_bench(night):
    assert night.records["hours"]["hour"].tolist() == list(range(24))
    assert night.records["hours"]["bench"].mean() == pytest.approx(night.totals["bench_sheets_mean"])


def test_each_morning_and_each_night_is_recorded_once(night):
    mornings, nights = night.records["mornings"], night.records["nights"]
    assert len(mornings) == 10
    assert (mornings["bench"] + mornings["stack"]).max() == night.totals["bench_morning_most"]
    assert len(nights) == night.totals["nights"]
    assert nights["most_stack_sheets"].max() == 0


def test_places_taken_never_exceed_those_there_are(night):
    assert 0 < night.records["nights"]["most_places"].max() <= 4


def test_failing_picks_stop_about_as_many_sheets_as_the_closed_form_says(night):
    (picks,) = night.records["picks"]
    passes = (1 - 0.2 * 0.98) ** 3  # the device costs 2 % of yield: so many places hold no part to be picked
    assert picks["expected"] == pytest.approx(picks["sheets"] * (1 - passes))
    spread = np.sqrt(picks["sheets"] * passes * (1 - passes))
    assert abs(picks["stopped"] - picks["expected"]) < 4 * spread
    assert spread < 0.1 * picks["expected"]


def test_no_pick_no_night_no_record_and_no_hours_of_less_than_a_day():
    plant = demo()
    today = make_scenario(plant)
    records = run_cell(today, draw_luck(today, 7, 0, 1.0, 1.0)).records
    assert (len(records["picks"]), len(records["nights"])) == (0, 0)
    short = make_scenario(plant, (), ("plant.run.horizon_s=50000",))
    assert len(run_cell(short, draw_luck(short, 7, 0, 1.0, 1.0)).records["hours"]) == 0


def test_entries_are_first_pieces_and_stops_that_somebody_clears():
    """Every sheet picked, each order's first piece measured inside the guarded cell, no stop: an entry per order."""
    plant = dataclasses.replace(parts(demo(), per_sheet=3), stops=(), load_faults=())
    plant = rows(plant, "tools", life_hits=None, regrind_limit_hits=None)
    luck = draw_luck(make_scenario(plant), 7, 0, 1.0, 1.0)
    calm = "stops[pick_failure].rate=0"
    found = run_cell(make_scenario(plant, ("A4",), (calm,)), luck).totals
    assert found["cell_entries"] == found["orders_finished"] > 0
    drawer = run_cell(make_scenario(plant, ("A4",), (calm, "plant.removal.sample_drawer=true")), luck).totals
    assert drawer["cell_entries"] == 0
    assert run_cell(make_scenario(plant), luck).totals["cell_entries"] == 0
