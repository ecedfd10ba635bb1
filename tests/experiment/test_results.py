from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.base.messages import BadInput
from simkit.experiment.results import BACKLOG_GROWS, COLUMNS, Results, results_from, unit_of

UNITS = {"hours_needed": "h", "backlog_grows": "share", "machine_queue_mean": "orders", "material_kg": "kg"}
TODAY = [100.0, 110.0, 90.0]
BETTER = [98.0, 107.0, 89.0]


def results(values: dict[str, list[float]], measure: str = "hours_needed") -> Results:
    rows = [(name, 1.0, k, {measure: value}) for name, sample in values.items() for k, value in enumerate(sample)]
    return results_from(rows, UNITS)


def test_the_table_is_tidy_and_in_the_order_of_the_run() -> None:
    table = results({"today": TODAY, "A1": BETTER})
    assert tuple(table.frame.columns) == COLUMNS
    assert table.scenarios == ("today", "A1")
    assert table.frame.iloc[3].to_list() == ["A1", 1.0, 0, "hours_needed", 98.0, "h"]


def test_an_estimate_is_the_mean_over_replications() -> None:
    estimate = results({"today": TODAY}).estimate("today", "hours_needed", 1.0)
    assert (estimate.mean, estimate.n, estimate.unit) == (100.0, 3, "h")
    assert estimate.half_width == pytest.approx(4.302653 * 10 / math.sqrt(3), abs=1e-5)


def test_pairing_sees_what_the_spread_of_weeks_hides() -> None:
    table = results({"today": TODAY, "A1": BETTER})
    paired = table.paired("A1", "today", "hours_needed", 1.0)
    assert paired.mean == -2.0
    assert paired.half_width == pytest.approx(4.302653 / math.sqrt(3), abs=1e-5)
    assert table.estimate("A1", "hours_needed").half_width > 5 * paired.half_width


def test_pairing_needs_the_same_replications() -> None:
    table = results({"today": TODAY, "A1": BETTER[:2]})
    with pytest.raises(ValueError, match="same replications"):
        table.paired("A1", "today", "hours_needed", 1.0)


def test_simultaneous_intervals_are_wider() -> None:
    table = results({"today": TODAY, "A1": BETTER, "A2": [101.0, 111.0, 92.0]})
    together = table.simultaneous("today", "hours_needed", 1.0)
    assert list(together) == ["A1", "A2"]
    assert together["A1"].half_width > table.paired("A1", "today", "hours_needed").half_width


def test_a_missing_name_is_met_with_the_nearest() -> None:
    table = results({"today": TODAY})
    with pytest.raises(KeyError, match="did you mean 'hours_needed'"):
        table.estimate("today", "hour_needed", 1.0)
    with pytest.raises(KeyError, match=r"demand factor 1.25 was not run"):
        table.estimate("today", "hours_needed", 1.25)


def test_steady_measures_are_refused_while_the_backlog_grows() -> None:
    growing = enumerate([1.0, 0.0])
    rows = [("today", 1.0, k, {"backlog_grows": grows, "machine_queue_mean": 5.0}) for k, grows in growing]
    table = results_from(rows, UNITS)
    assert table.refusal("today", "machine_queue_mean") == BACKLOG_GROWS
    assert table.refusal("today", "backlog_grows") == ""


def test_a_measure_per_material_takes_the_unit_of_its_stem() -> None:
    assert unit_of("material_kg_MS-1.5", UNITS) == "kg"
    with pytest.raises(KeyError, match="no unit"):
        unit_of("something_else", UNITS)


def test_joining_keeps_what_is_known() -> None:
    table = results({"today": TODAY}).joined(results({"today": [1.0, 2.0, 3.0], "A1": BETTER}))
    assert list(table.values("today", "hours_needed")) == TODAY
    assert list(table.values("A1", "hours_needed")) == BETTER
    assert len(table.frame) == 6


@settings(max_examples=30, deadline=None)
@given(st.lists(st.floats(allow_nan=True, allow_infinity=True), min_size=1, max_size=6))
def test_the_file_gives_back_every_bit(tmp_path_factory: pytest.TempPathFactory, values: list[float]) -> None:
    folder = tmp_path_factory.mktemp("results")
    table = results({"today": values})
    table.to_csv(folder / "first.csv")
    again = Results.from_csv(folder / "first.csv")
    again.to_csv(folder / "second.csv")
    np.testing.assert_array_equal(again.frame["value"], table.frame["value"])
    assert (folder / "first.csv").read_bytes() == (folder / "second.csv").read_bytes()
    assert again.frame.dtypes.equals(table.frame.dtypes)


def test_a_file_of_another_kind_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "orders.csv"
    path.write_text("order_id,program_id\n1,P\n", encoding="utf-8")
    with pytest.raises(BadInput, match="order_id"):
        Results.from_csv(path)
