"""Counts by hour, morning and night: means over replications, zero where a replication saw none."""

from __future__ import annotations

import pytest

from simkit.analysis.record_tables import BENCH_HOUR, MORNING, NIGHT_PLACES, PICK, STOPPED, TABLES
from simkit.experiment.backlog import Hour, Morning
from simkit.experiment.cache import Run
from simkit.experiment.intervals import t_interval
from simkit.experiment.nights import Night
from simkit.experiment.partmeasures import Picks
from simkit.experiment.results import results_from_runs
from simkit.experiment.tables import table_of

ZEROS = dict.fromkeys(Night._fields, 0) | {"ended_by": "", "want": "", "lost_h": 0.0}


def night(machine: str, number: int, places: int) -> Night:
    return Night(**ZEROS | {"machine": machine, "night": number, "most_places": places})


def run(mornings, nights, picks) -> Run:
    rows = {"hours": (Hour, [(hour, hour / 2, 0.0) for hour in range(24)]), "mornings": (Morning, mornings),
            "nights": (Night, nights), "picks": (Picks, picks)}  # fmt: skip
    return Run({"span_weeks": 1.0}, {name: table_of(*what) for name, what in rows.items()})


FIRST = run([(6.0, 2, 1), (30.0, 3, 0), (54.0, 0, 0)], [night("M1", 0, 4), night("M2", 0, 4), night("M1", 1, 12)],
            [("M1", 10, 2, 2.5), ("M2", 10, 3, 2.5)])  # fmt: skip
SECOND = run([(6.0, 0, 0)], [night("M1", 0, 4), night("M2", 0, 4)], [("M1", 10, 1, 2.5), ("M2", 0, 0, 0.0)])


@pytest.fixture(scope="module")
def table():
    runs = [("today", 1.0, number, each) for number, each in enumerate((FIRST, SECOND))]
    return TABLES["parts"].of(results_from_runs(runs, {"span_weeks": "weeks"}, TABLES["parts"].records), 1.0)


def mean(table, quantity, which):
    (row,) = table[(table["quantity"] == quantity) & (table["which"] == which)].itertuples()
    return row.mean


def test_hours_of_the_day_have_two_digits(table):
    assert mean(table, BENCH_HOUR, "07") == 3.5


def test_mornings_count_what_waits_wherever_it_lies(table):
    assert (mean(table, MORNING, "3"), mean(table, MORNING, "0")) == (1.0, 1.0)
    (row,) = table[(table["quantity"] == MORNING) & (table["which"] == "3")].itertuples()
    assert row.mean_half_width == pytest.approx(t_interval([2.0, 0.0]).half_width)


def test_a_night_counts_once_whatever_the_number_of_machines(table):
    assert (mean(table, NIGHT_PLACES, "4"), mean(table, NIGHT_PLACES, "12")) == (1.0, 0.5)


def test_picks_add_up_over_machines(table):
    assert mean(table, PICK, STOPPED) == (5 + 1) / 2
