"""T8: a night shift whose queue is shorter than the first stop adds nothing beyond its queue; and its twins."""

from __future__ import annotations

import dataclasses

from simkit.experiment.nights import Night, night_records
from simkit.plant.plant import PlantInputs
from simkit.plant.tables import Stop
from tests.cell.bench_plant import order, run
from tests.experiment.test_nights import unattended
from tests.oracle.plants import workload_of


def first_night(sheets: int, stop_h: float, extra: tuple[str, ...] = ()) -> Night:
    """The first night with so many sheets of an hour from 06:00 on, and a stop after so many running hours."""
    stop = Stop(cause="stop", exposure="running_hour", rate=1.0, repair_law="sequence", repair_min=1, file="s.csv")
    built: PlantInputs = dataclasses.replace(
        unattended(sheets, stack=30), stops=(stop,), sequences={"s.csv": (stop_h, 1e4), "s.csv:repair": (1.0, 1.0)}
    )
    more = tuple(order(name, "A", 1) for name in extra)
    built = dataclasses.replace(built, orders=(*built.orders, *more))
    return night_records(run(built), workload_of(built))[0]


def test_beyond_its_queue_a_night_adds_nothing() -> None:
    """Ten sheets: eight by day, two at night. Whether the stop would come after 11 or after 100 hours is the same."""
    record = first_night(10, 11.0)
    assert record == first_night(10, 100.0)
    assert (record.running_h, record.sheets, record.ended_by) == (2.0, 2, "queue")


def test_a_longer_queue_runs_until_the_stop() -> None:
    record = first_night(30, 11.0)
    assert (record.running_h, record.ended_by) == (3.0, "stop")


def test_an_order_more_is_an_hour_more() -> None:
    assert first_night(10, 100.0, ("2",)).running_h == 3.0


def test_a_queue_longer_than_the_stop_adds_nothing_either() -> None:
    assert first_night(30, 11.0) == first_night(40, 11.0)
