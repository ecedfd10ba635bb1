"""Records of stops: moments, causes and hours by hand; their sums are the measures."""

from __future__ import annotations

import dataclasses

import pytest

from simkit.experiment.measures import measure_run
from simkit.experiment.records import stop_table
from simkit.plant.tables import Stop
from tests.cell.bench_plant import order, plant, run
from tests.experiment.test_nights import unattended
from tests.oracle.plants import workload_of

JAM = Stop(cause="jam", exposure="sheet", rate=1.0, repair_min=2.0)


def test_each_stop_has_its_moment_its_cause_and_its_minutes() -> None:
    """A jam of 2 min at the start of each of two sheets of 10 min, from 06:00 on."""
    built = plant(orders=(order("1", "A", 2),), stops=(JAM,))
    table = stop_table(run(built), workload_of(built))
    assert table["cause"].tolist() == ["jam", "jam"]
    assert (table["at_h"] * 60).tolist() == pytest.approx([360.0, 372.0])
    assert (table["stopped_h"] * 60).tolist() == pytest.approx([2.0, 2.0])
    assert not table["unattended"].any()


def test_a_stop_at_night_stands_until_people_come() -> None:
    """Sheets of an hour from 06:00, the bench takes one; nobody is there from 14:00, when the next sheet jams."""
    built = dataclasses.replace(unattended(20, stack=9), stops=(JAM,))
    trace = run(built)
    table = stop_table(trace, workload_of(built))
    night = table[table["unattended"]]
    assert len(night) > 0
    assert night["stopped_h"][0] == pytest.approx(30.0 + 2 / 60 - night["at_h"][0])


def test_hours_and_counts_sum_to_the_measures() -> None:
    built = dataclasses.replace(unattended(20, stack=9), stops=(JAM,))
    trace, workload = run(built), workload_of(built)
    table, measures = stop_table(trace, workload), measure_run(trace, workload)
    assert len(table) == measures["stops"]
    assert table["stopped_h"].sum() == pytest.approx(measures["stop_h"])
    assert not len(stop_table(run(unattended(2)), workload_of(unattended(2))))
