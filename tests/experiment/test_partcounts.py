"""Counts by hour, night and sheet: by hand, and equal to the measures of the same run."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from simkit.experiment.partcounts import (
    BENCH_HOUR,
    EXPECTED,
    MORNING,
    NIGHT_PLACES,
    NIGHT_SHEETS,
    NIGHT_SKELETONS,
    PICK,
    PICKED,
    SPAN,
    STACK_HOUR,
    STOPPED,
    UNITS,
    apart,
    count_parts,
    most_in,
)
from simkit.experiment.task import draw_luck, run_cell
from simkit.plant.scenarios import make_scenario
from tests.must_lose.changed import demo, parts, rows

NIGHT = ("A1", "A4", "A5b", "C1")


@pytest.fixture(scope="module")
def night():
    """Counts and measures of two weeks of the demo's night with removal, every pick failing one time in five."""
    plant = parts(demo(), per_sheet=3)
    scenario = make_scenario(plant, NIGHT, ("stops[pick_failure].rate=0.2", "plant.rules.first_piece=never"))
    luck = draw_luck(make_scenario(plant), 7, 0, 2.0, 1.0)
    return count_parts(scenario, luck), run_cell(scenario, luck)


def of(counts, quantity):
    return {which: value for name, value in counts.items() for q, which in [apart(name)] if q == quantity}


def test_names_come_apart():
    assert apart("bench_hour_07") == (BENCH_HOUR, "07")
    assert apart("night_places_12") == (NIGHT_PLACES, "12")
    assert apart(SPAN) == (SPAN, "")


def test_every_quantity_has_a_unit(night):
    assert {apart(name)[0] for name in night[0]} <= set(UNITS)


def test_hours_average_to_the_level_of_the_bench(night):
    counts, measures = night
    assert len(of(counts, BENCH_HOUR)) == len(of(counts, STACK_HOUR)) == 24
    assert np.mean(list(of(counts, BENCH_HOUR).values())) == pytest.approx(measures["bench_sheets_mean"])


def test_each_morning_and_each_night_is_counted_once(night):
    counts, measures = night
    assert sum(of(counts, MORNING).values()) == 10
    for quantity in (NIGHT_PLACES, NIGHT_SHEETS, NIGHT_SKELETONS):
        assert sum(of(counts, quantity).values()) == measures["nights"]
    assert set(of(counts, NIGHT_SHEETS)) == {"0"}


def test_places_taken_never_exceed_those_there_are(night):
    taken = [int(which) for which in of(night[0], NIGHT_PLACES)]
    assert 0 < max(taken) <= 4


def test_failing_picks_stop_about_as_many_sheets_as_the_closed_form_says(night):
    picks = of(night[0], PICK)
    assert picks[EXPECTED] == pytest.approx(picks[PICKED] * (1 - 0.8**3))
    spread = np.sqrt(picks[PICKED] * 0.8**3 * (1 - 0.8**3))
    assert abs(picks[STOPPED] - picks[EXPECTED]) < 4 * spread
    assert spread < 0.1 * picks[EXPECTED]


def test_no_pick_no_count():
    plant = demo()
    today = make_scenario(plant)
    counts = count_parts(today, draw_luck(today, 7, 0, 1.0, 1.0))
    assert of(counts, PICK) == {}
    assert of(counts, NIGHT_PLACES) == {}


def test_the_highest_level_of_a_span_counts_what_it_begins_with():
    level = [(0.0, 1), (10.0, 3), (20.0, 0), (30.0, 5)]
    assert most_in(level, (12.0, 25.0)) == 3
    assert most_in(level, (21.0, 30.0)) == 0
    assert most_in(level, (21.0, 31.0)) == 5
    assert most_in([], (0.0, 9.0)) == 0


def test_entries_are_first_pieces_and_stops_that_somebody_clears():
    """Every sheet picked, each order's first piece measured inside the guarded cell, no stop: an entry per order."""
    plant = dataclasses.replace(parts(demo(), per_sheet=3), stops=(), load_faults=())
    plant = rows(plant, "tools", life_hits=None, regrind_limit_hits=None)
    luck = draw_luck(make_scenario(plant), 7, 0, 1.0, 1.0)
    calm = "stops[pick_failure].rate=0"
    found = run_cell(make_scenario(plant, ("A4",), (calm,)), luck)
    assert found["cell_entries"] == found["orders_finished"] > 0
    drawer = run_cell(make_scenario(plant, ("A4",), (calm, "plant.removal.sample_drawer=true")), luck)
    assert drawer["cell_entries"] == 0
    assert run_cell(make_scenario(plant), luck)["cell_entries"] == 0
