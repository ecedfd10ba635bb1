"""Tables of counts: four weeks, means over replications, zero where a replication saw none."""

from __future__ import annotations

import math

import pytest

from simkit.analysis.record_tables import ALL, TABLES
from simkit.experiment.cache import Run
from simkit.experiment.intervals import t_interval
from simkit.experiment.results import results_from_runs
from simkit.experiment.tables import table_of
from simkit.experiment.toolmeasures import HITS, FamilyUse, Fault, ToolUse


def run(tools, families, faults) -> Run:
    rows = {"tools": (ToolUse, tools), "families": (FamilyUse, families), "faults": (Fault, faults)}
    return Run({"span_weeks": 2.0}, {name: table_of(*what) for name, what in rows.items()})


FIRST = run(
    [("T", "tool_load", 6, 24, 0), ("T", "die_change", 1, 2, 0), ("T", HITS, 500, 0, 0)],
    [("F", 26, 0, 30, 10, 18, 2)],
    [("wrong", "later", 1)],
)
SECOND = run([("T", "tool_load", 2, 8, 4), ("T", HITS, 300, 0, 0)], [("G", 8, 4, 0, 0, 0, 1)], [])


def means(name: str, *runs: Run):
    named = [("today", 1.0, number, own) for number, own in enumerate(runs)]
    table = TABLES[name]
    return table.of(results_from_runs(named, {"span_weeks": "weeks"}, table.records), 1.0)


@pytest.fixture
def rows():
    return means("tools", FIRST, SECOND).set_index("exchange")


def test_amounts_are_of_four_weeks_and_means_of_the_replications(rows):
    assert rows.loc["tool_load", "times"] == pytest.approx((12 + 4) / 2)
    assert rows.loc["tool_load", "visible_min"] == pytest.approx((48 + 16) / 2)
    assert rows.loc["tool_load", "hidden_min"] == pytest.approx(8 / 2)
    assert rows.loc["tool_load", "visible_min_half_width"] == pytest.approx(t_interval([48.0, 16.0]).half_width)


def test_what_a_replication_does_not_mention_did_not_happen(rows):
    assert rows.loc["die_change", "times"] == pytest.approx(1.0)
    assert rows.loc["die_change", "times_half_width"] == pytest.approx(t_interval([2.0, 0.0]).half_width)


def test_a_tool_has_a_row_of_all_kinds_and_one_of_its_hits(rows):
    assert rows.loc[ALL, "visible_min"] == pytest.approx((48 + 4 + 16) / 2)
    assert rows.loc[ALL, "visible_min_half_width"] == pytest.approx(t_interval([52.0, 16.0]).half_width)
    assert rows.loc[HITS, "times"] == pytest.approx(800.0)


def test_families_and_the_row_of_all_of_them():
    families = means("tool_families", FIRST, SECOND).set_index("family")
    assert set(families.index) == {"F", "G", ALL}
    assert families.loc["F", "visible_min"] == pytest.approx(26.0)
    assert families.loc[ALL, "visible_min"] == pytest.approx(26.0 + 8.0)
    assert families.loc[ALL, "orders"] == pytest.approx(3.0)
    assert families.loc[ALL, "visible_min_half_width"] == pytest.approx(t_interval([52.0, 16.0]).half_width)


def test_faults_by_where_they_were_found():
    (row,) = means("tool_faults", FIRST, SECOND).itertuples(index=False)
    assert (row.fault, row.found, row.times) == ("wrong", "later", pytest.approx(1.0))


def test_one_replication_has_no_half_width():
    assert math.isnan(means("tools", FIRST).set_index("exchange").loc[ALL, "visible_min_half_width"])


def test_a_run_without_exchanges_gives_empty_tables():
    for name in ("tools", "tool_families", "tool_faults"):
        found = means(name, run([], [], []), run([], [], []))
        assert (len(found), tuple(found.columns)) == (0, TABLES[name].columns)
