"""Orders one by one: when they began and were there, who was late, what was given out; their sums are the measures."""

from __future__ import annotations

import dataclasses
import datetime as dt

import numpy as np
import pytest

from simkit.base.vocabulary import WEEKDAYS
from simkit.cell.orders import IN_HOUSE, SUBCONTRACT
from simkit.cell.run import simulate
from simkit.experiment.measures import measure_run
from simkit.experiment.ordermeasures import (
    DAYS_TO_DUE,
    lateness,
    name_of_day,
    name_of_days,
    order_table,
)
from simkit.experiment.replication import draw_luck, run_cell
from simkit.plant.scenarios import make_scenario
from tests.cell.bench_plant import order, plant, program
from tests.must_lose.changed import whole_demo
from tests.oracle.plants import workload_of


def test_an_order_by_hand() -> None:
    """Three sheets of an hour from 06:00 on Monday, then two: there at 09:00 and 11:00."""
    work = workload_of(plant(orders=(order("1", "A", 3), order("2", "A", 2)), programs=(program("A", 60.0),)))
    orders = order_table(simulate(work), work)
    assert orders["order_id"].tolist() == ["1", "2"]
    assert orders["sheets"].tolist() == [3, 2]
    assert orders["started_h"].tolist() == [6.0, 9.0]
    assert orders["there_h"] == pytest.approx([9.0, 11.0], abs=0.1)
    assert np.isnan(orders["gone_h"]).all()
    assert set(orders["fate"]) == {IN_HOUSE}


@pytest.fixture(scope="module")
def busy():
    """Two weeks of the demo with twice the work, some of it given out."""
    today = make_scenario(whole_demo())
    return run_cell(today, draw_luck(today, 7, 0, 2.0, 2.0))


def test_orders_sum_to_the_measures(busy) -> None:
    totals, records = busy
    orders = records["orders"]
    out = orders[orders["fate"] == SUBCONTRACT]
    assert out["invoice_h"].sum() == pytest.approx(totals["subcontract_h"])
    assert totals["subcontract_h"] > 0
    for names in (map(name_of_day, WEEKDAYS), map(name_of_days, DAYS_TO_DUE)):
        assert sum(totals[name] for name in names) == pytest.approx(totals["subcontract_h"])
    assert (orders["there_h"] > orders["due_h"]).sum() == totals["orders_late"] > 0


def test_an_order_that_is_not_there_is_late_by_the_end_of_the_run() -> None:
    """Two days after the first order's due date neither is made: it is two days late, and the other one not yet due."""
    first, second = order("1", "A", 3), dataclasses.replace(order("2", "A", 2), due=dt.date(2026, 12, 1))
    work = workload_of(plant(orders=(first, second), programs=(program("A", 60.0),)))
    trace = simulate(work)
    for job in trace.jobs:
        job.finished_s = -1.0
    end_s = float(work.draws.book.due_s[0]) + 2 * 86_400
    orders = order_table(dataclasses.replace(trace, end_s=end_s), work)
    assert orders["late_days"][0] == 2.0
    assert orders["late_days"][1] < 0
    found = lateness(orders, end_s / 3600)
    assert (found["orders_late"], found["late_share"], found["late_mean_days"]) == (1.0, 0.5, 2.0)
    assert lateness(orders[:0], 72.0)["late_share"] == 0.0


def test_orders_that_are_merged_are_recorded_one_by_one() -> None:
    built = plant(orders=(order("1", "A", 3), order("2", "A", 2)), programs=(program("A", 60.0),))
    work = dataclasses.replace(workload_of(built), groups=((0, 1),))
    trace = simulate(work)
    orders = order_table(trace, work)
    assert orders["sheets"].tolist() == [3, 2]
    assert orders["planned_h"].sum() == pytest.approx(trace.jobs[0].hours)
    assert measure_run(trace, work)["orders_finished"] == 2
