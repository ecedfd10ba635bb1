"""Draws: whole weeks, demand that contains less demand, positions that never move."""

from __future__ import annotations

import dataclasses
import datetime as dt

import numpy as np
import pytest

from simkit.plant.plant import PlantInputs
from simkit.plant.tables import HistoryRow, StartRow
from simkit.process.draws import Draws, make_draws
from tests.small_plant import MONDAY, small_orders, small_plant


def book_of_weeks(weeks: int) -> PlantInputs:
    """The small book, once a week, with one sheet more each week."""
    rows = [
        dataclasses.replace(row, order_id=f"{row.order_id}-{week}", sheets=row.sheets + week,
                            released=row.released + dt.timedelta(7 * week), due=row.due + dt.timedelta(7 * week))
        for week in range(weeks) for row in small_orders()
    ]  # fmt: skip
    return small_plant(orders=tuple(rows))


def entries(draws: Draws) -> dict[int, tuple[float, ...]]:
    """What is drawn, by position."""
    book = draws.book
    columns = (book.row, book.sheets, book.released_s, book.due_s, book.rush, book.first_sheet, book.first_need)
    return {int(p): tuple(map(float, row)) for p, *row in zip(book.position, *columns, strict=True)}


def test_whole_weeks_are_drawn_with_replacement() -> None:
    plant = book_of_weeks(5)
    run = plant.settings.run.model_copy(update={"week_draw": "with_replacement"})
    plant = dataclasses.replace(plant, settings=plant.settings.model_copy(update={"run": run}))
    draws = make_draws(plant, 3, 0, weeks=40)
    week = (draws.book.released_s // (7 * 86400)).astype(int)
    source = draws.book.row // len(small_orders())
    for number in range(40):
        assert len(set(source[week == number])) == 1
        assert (week == number).sum() == len(small_orders())
    assert set(source) == set(range(5))
    assert len({(source == number).sum() for number in range(5)}) > 1


@pytest.mark.parametrize(("less", "more"), [(0.4, 0.8), (0.8, 1.0), (1.0, 1.25), (1.25, 1.6), (1.6, 2.7)])
def test_higher_demand_contains_lower_with_the_same_luck(less: float, more: float) -> None:
    plant = book_of_weeks(5)
    low, high = (entries(make_draws(plant, 3, 0, weeks=8, demand_factor=factor)) for factor in (less, more))
    assert len(low) < len(high)
    assert {position: high[position] for position in low} == low


def test_the_expected_number_of_orders_follows_the_factor() -> None:
    count = np.mean([len(make_draws(book_of_weeks(5), 3, r, weeks=20, demand_factor=1.3).book) for r in range(20)])
    assert count == pytest.approx(1.3 * 20 * 6, rel=0.02)


def test_lead_times_are_kept_in_working_days() -> None:
    friday = dataclasses.replace(small_orders()[0], released=MONDAY + dt.timedelta(4), due=MONDAY + dt.timedelta(7))
    draws = make_draws(small_plant(orders=(friday,)), 1, 0, weeks=2)
    # one working day over the weekend: due at the end of Monday
    assert draws.book.released_s[0] == 4 * 86400 + 6 * 3600
    assert draws.book.due_s[0] == 8 * 86400


def test_replay_takes_the_observed_sequence() -> None:
    started = [("1003", 2), ("1001", 3)]
    history = tuple(
        HistoryRow(order_id=name, machine="M1", started=dt.datetime(2026, 1, day),
                   finished=dt.datetime(2026, 1, 9), sheets=1)
        for name, day in started
    )  # fmt: skip
    orders = tuple(dataclasses.replace(row, released=MONDAY) for row in small_orders())
    book = make_draws(small_plant(orders=orders, history=history, run={"source": "replay"}), 1, 0).book
    assert [orders[row].order_id for row in book.row] == ["1003", "1001", "1002", "1004", "1005", "1006"]
    assert set(book.released_s) == {6 * 3600.0}


def test_the_backlog_comes_first_with_what_is_left_of_it() -> None:
    start = (StartRow(what="backlog", item="1005", sheets=2, due_in_days=1),)
    book = make_draws(small_plant(start=start), 1, 0).book
    assert (book.position[0], book.sheets[0], book.released_s[0]) == (0, 2, 0.0)
    assert book.due_s[0] == 2 * 86400
    assert book.first_sheet[1] == 2


def test_arrivals_by_a_law_have_its_mean_and_stay_before_the_horizon() -> None:
    plant = small_plant(run={"source": "law", "arrival_mean_s": 600.0, "horizon_s": 6e6})
    released = make_draws(plant, 1, 0).book.released_s
    assert len(released) == pytest.approx(10_000, abs=4 * 100)
    assert released.max() < 6e6
    assert (np.diff(released) >= 0).all()


def test_a_saturated_queue_outlasts_the_horizon() -> None:
    plant = small_plant(run={"source": "saturated", "horizon_s": 360_000.0})
    assert make_draws(plant, 1, 0, mean_order_h=0.5).book.released_s.max() == 0.0
    assert len(make_draws(plant, 1, 0, mean_order_h=0.5).book) > 100 / 0.5
    with pytest.raises(ValueError, match="horizon_s"):
        make_draws(small_plant(run={"source": "saturated"}), 1, 0)


def test_luck_is_the_same_for_every_scenario_and_other_for_every_replication() -> None:
    one, again, other = (make_draws(small_plant(), 1, r).uniform("element:load", 50) for r in (0, 0, 1))
    assert one.tolist() == again.tolist() != other.tolist()
