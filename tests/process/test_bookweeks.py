"""Which release weeks a replication draws: evenly used, in random order, with the same chance, repeatable alone."""

from __future__ import annotations

import dataclasses
import math
from collections import Counter

import numpy as np
import pytest

from simkit.experiment.replication import draw_luck
from simkit.plant.options import Edit, Option
from simkit.plant.plant import PlantInputs
from simkit.plant.scenarios import make_scenario
from simkit.plant.tables import StartRow
from simkit.process.bookweeks import chosen_weeks, week_hours, weeks_of_orders
from simkit.process.draws import make_draws
from simkit.process.workload import make_workload
from tests.process.test_draws import book_of_weeks
from tests.small_plant import small_plant


def drawn(plant: PlantInputs, weeks: int, replications: int, held: int = 5) -> list[list[int]]:
    return [chosen_weeks(plant, held, 3, k, weeks).tolist() for k in range(replications)]


@pytest.mark.parametrize("weeks", [5, 10, 15])
def test_whole_books_use_each_week_equally_often_in_every_replication(weeks: int) -> None:
    for chosen in drawn(small_plant(), weeks, 8):
        assert Counter(chosen) == dict.fromkeys(range(5), weeks // 5)


@pytest.mark.parametrize("weeks", [6, 7, 8, 12, 13])
def test_what_is_over_is_used_at_most_once_more_and_evenly_over_replications(weeks: int) -> None:
    sharing = 5 // math.gcd(5, weeks % 5)
    many = drawn(small_plant(), weeks, 4 * sharing)
    for chosen in many:
        assert set(Counter(chosen).values()) <= {weeks // 5, weeks // 5 + 1}
    for first in range(0, len(many), sharing):
        together = Counter(week for chosen in many[first : first + sharing] for week in chosen)
        assert together == dict.fromkeys(range(5), weeks * sharing // 5)


@pytest.mark.parametrize(("weeks", "held"), [(1, 4), (2, 4), (3, 4), (2, 5), (3, 5), (4, 6)])
def test_short_replications_share_a_deal_without_repeats_in_one(weeks: int, held: int) -> None:
    sharing = held // math.gcd(held, weeks)
    many = drawn(small_plant(), weeks, 5 * sharing, held)
    assert all(len(set(chosen)) == weeks for chosen in many)
    for first in range(0, len(many), sharing):
        together = Counter(week for chosen in many[first : first + sharing] for week in chosen)
        assert together == dict.fromkeys(range(held), weeks * sharing // held)
    deals = [tuple(map(tuple, many[first : first + sharing])) for first in range(0, len(many), sharing)]
    assert len(set(deals)) > 1


def test_a_replication_is_the_same_alone_and_another_for_another_seed() -> None:
    plant = small_plant()
    assert chosen_weeks(plant, 5, 3, 17, 13).tolist() == drawn(plant, 13, 18)[17]
    assert chosen_weeks(plant, 5, 4, 17, 13).tolist() != drawn(plant, 13, 18)[17]


def test_the_order_of_weeks_is_random() -> None:
    """Each week is in each place of a replication equally often: 2,000 seeds, 400 expected, 5 standard deviations."""
    places = np.array([chosen_weeks(small_plant(), 5, seed, 0, 5) for seed in range(2000)])
    counts = np.array([[(places[:, place] == week).sum() for week in range(5)] for place in range(5)])
    assert np.abs(counts - 400).max() < 5 * math.sqrt(2000 * 0.2 * 0.8)


@pytest.mark.parametrize("draw", ["balanced", "with_replacement"])
@pytest.mark.parametrize(("weeks", "replication"), [(2, 0), (2, 3), (7, 1), (5, 2)])
def test_every_week_has_the_same_chance(draw: str, weeks: int, replication: int) -> None:
    plant = small_plant(run={"week_draw": draw})
    counts = np.zeros(5)
    for seed in range(2000):
        counts += np.bincount(chosen_weeks(plant, 5, seed, replication, weeks), minlength=5)
    expected = 2000 * weeks / 5
    assert np.abs(counts - expected).max() < 5 * math.sqrt(expected)


@pytest.mark.parametrize(("weeks", "factor"), [(2, 1.0), (5, 1.0), (7, 1.3), (3, 0.6)])
def test_drawn_hours_have_the_mean_that_is_known(weeks: int, factor: float) -> None:
    """Unbiased: over 300 seeds the mean of the hours drawn is the book's, within 4 standard errors."""
    start = (StartRow(what="backlog", item="1001-2", sheets=2, due_in_days=1),)
    today = make_scenario(dataclasses.replace(book_of_weeks(5), start=start), ())
    luck = [draw_luck(today, seed, seed % 4, weeks, factor) for seed in range(300)]
    (mean,) = {one.drawn_mean_h for one in luck}
    hours = np.array([one.drawn_h for one in luck])
    assert hours.mean() == pytest.approx(mean, abs=4 * hours.std() / math.sqrt(300) + 1e-9)
    per_week = week_hours(today.plant)
    backlog_h = mean - factor * weeks * per_week.mean()
    assert 0 < backlog_h < per_week.max()
    if weeks == 5:
        assert hours == pytest.approx(mean)


def test_hours_bought_outside_are_todays_whatever_an_option_changes() -> None:
    """With a magazine no tool is loaded by hand; a subcontracted hour stays an hour of today's plant."""
    places = Edit(path="plant.magazine.places", value={"16": 20, "30": 10, "55": 5})
    plant = small_plant(options=(Option(id="A1", name="magazine", kind="bought", edits=(places,)),))
    today, magazine = (make_scenario(plant, options) for options in ((), ("A1",)))
    luck = draw_luck(today, 1, 0, 1, 1.0)
    own, other = (make_workload(scenario, luck) for scenario in (today, magazine))
    assert other.planned_h.sum() < own.planned_h.sum()
    assert luck.order_h.tolist() == own.planned_h.tolist()


def test_the_mean_is_not_told_where_weeks_are_not_projected() -> None:
    draws = draw_luck(make_scenario(small_plant(run={"source": "replay"}), ()), 1, 0, 1, 1.0)
    assert draws.drawn_mean_h is None


def test_weeks_are_counted_from_the_monday_of_the_first_release() -> None:
    plant = book_of_weeks(3)
    assert np.bincount(weeks_of_orders(plant)).tolist() == [6, 6, 6]
    hours = week_hours(plant)
    assert (np.diff(hours) > 0).all()  # one sheet more in each order, each week
    whole = make_draws(plant, 1, 0, weeks=3)
    assert len(whole.book) == 18
