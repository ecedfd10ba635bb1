from __future__ import annotations

import pytest

from simkit.experiment.compare import difference_table, level_table
from simkit.experiment.intervals import CANNOT_TELL, NEVER_DIFFERS, TELLS
from simkit.experiment.results import BACKLOG_GROWS, Results, results_from

UNITS = {"hours_needed": "h", "backlog_grows": "share", "machine_queue_mean": "orders"}
HOURS = {
    "today": [100.0, 110.0, 90.0],
    "A": [90.0, 101.0, 79.0],
    "B": [95.0, 104.0, 86.0],
    "A+B": [86.0, 96.0, 76.0],
    "C": [99.0, 112.0, 90.0],
    "D": [100.0, 110.0, 90.0],
}


@pytest.fixture
def results() -> Results:
    def measured(name: str, k: int) -> dict[str, float]:
        grows = float(name == "D")
        return {"hours_needed": HOURS[name][k], "backlog_grows": grows, "machine_queue_mean": 4.0}

    return results_from([(name, 1.0, k, measured(name, k)) for name in HOURS for k in range(3)], UNITS)


def test_differences_say_what_is_sure(results: Results) -> None:
    table = difference_table(results, "today").set_index("scenario")
    assert table.loc["A", "mean"] == -10.0
    assert table["verdict"].to_dict() == {
        "A": TELLS, "B": CANNOT_TELL, "A+B": TELLS, "C": CANNOT_TELL, "D": NEVER_DIFFERS,
    }  # fmt: skip


def test_a_few_comparisons_are_told_apart_better_than_many(results: Results) -> None:
    alone = difference_table(results, "today", scenarios=["B"]).set_index("scenario")
    assert alone.loc["B", "verdict"] == TELLS


def test_steady_measures_are_refused_in_tables(results: Results) -> None:
    table = difference_table(results, "today", ["machine_queue_mean"]).set_index("scenario")
    assert table.loc["D", "verdict"] == BACKLOG_GROWS
    levels = level_table(results, ["machine_queue_mean"]).set_index("scenario")
    assert levels["verdict"].to_dict() == {**dict.fromkeys(["today", "A", "B", "A+B", "C"], ""), "D": BACKLOG_GROWS}
