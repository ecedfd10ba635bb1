"""Intervals, paired comparisons and sample sizes against values printed in textbooks.

The printed values are rounded to the digits of the tolerance; where more digits stand here, they are the
arithmetic on the printed data, checked apart from the kit.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np
import pytest

from tests.published.rows import Row

INTERVALS = "simkit.experiment.intervals."
TEXTBOOK = "Law, Simulation Modeling and Analysis"
KSL = "KSL Book"

BANK = (1.53, 1.66, 1.24, 2.34, 2.00, 1.69, 2.69, 2.86, 1.70, 2.60)
DESIGN_1 = (52.56, 48.77, 53.49, 50.60, 51.60, 51.77, 51.09, 53.51, 47.44, 47.94)
DESIGN_2 = (49.92, 47.08, 50.62, 48.45, 49.20, 49.33, 48.81, 50.64, 46.08, 46.45)
INDEPENDENT_1 = (10.98, 8.87, 10.53, 9.40, 10.10, 10.28, 8.86, 9.00, 9.99, 9.57)
INDEPENDENT_2 = (8.93, 9.82, 9.27, 8.50, 9.63, 9.55, 9.30, 9.31, 9.23, 8.88, 8.05, 8.74)
BATCHES = (10.2, 9.8, 10.5, 9.9, 10.1, 10.4, 9.7, 10.0, 10.3, 9.6)
DELAYS = (1.594843, 1.452237, 1.657355, 1.503747, 1.606765, 1.464981, 1.621275, 1.600563, 1.400995, 1.833414)
SYSTEMS = {
    "1": (63.72, 32.24, 40.28, 36.94, 36.29, 56.94, 34.10, 63.36, 49.29, 87.20),
    "2": (63.06, 31.78, 40.32, 37.71, 36.79, 57.93, 33.39, 62.92, 47.67, 80.79),
    "3": (57.74, 29.65, 36.52, 35.71, 33.81, 51.54, 31.39, 57.24, 42.63, 67.27),
    "4": (62.63, 31.56, 39.87, 37.35, 36.65, 57.15, 33.30, 62.21, 47.46, 79.60),
}
FOUR_SYSTEMS = "Banks et al., Discrete-Event System Simulation, four systems; reprinted in KSL Book 5.7.3"


@dataclass(frozen=True)
class EstimateRow(Row):
    """A row whose function returns an estimate; ``expected`` maps its fields to values."""

    def check(self) -> None:
        actual = self.target()(**self.inputs)
        self.compare({name: getattr(actual, name) for name in self.expected})

    def compare(self, actual: Any) -> None:
        expected = pytest.approx(self.expected, rel=0.0, abs=self.tolerance)
        assert actual == expected, f"{self.id}: {actual} is not {self.expected} {self.unit} ({self.source})"


@dataclass(frozen=True)
class HalfWidthsRow(EstimateRow):
    """A row whose function returns several estimates; ``expected`` maps names to half-widths."""

    def check(self) -> None:
        actual = self.target()(**self.inputs)
        assert all(estimate.tells for estimate in actual.values()), f"{self.id}: all three exclude 0"
        self.compare({name: estimate.half_width for name, estimate in actual.items()})


DIGITS = "digits of the arithmetic on the printed data"
WHOLE = "a count"

PAIRS = {
    ("1", "2"): (0.8, 1.51716390),
    ("1", "3"): (5.686, 3.81883011),
    ("1", "4"): (1.258, 1.67606968),
    ("2", "3"): (4.886, 2.46329699),
    ("2", "4"): (0.458, 0.246444809),
    ("3", "4"): (-4.428, 2.24506306),
}

PUBLISHED: list[Row] = [
    EstimateRow(
        "bank delays, 90 % interval", INTERVALS + "t_interval", {"values": BANK, "level": 0.90},
        {"mean": 2.031, "half_width": 0.322283405, "n": 10}, "min", 1e-9, DIGITS + "; printed 2.03 +- 0.32", TEXTBOOK,
    ),
    Row(
        "replications for +-0.25", INTERVALS + "replications_needed",
        {"variance": 0.31, "half_width": 0.25, "level": 0.90, "at_least": 10}, 16, "replications", 0.0, WHOLE,
        TEXTBOOK + ", 9.4.1",
    ),
    Row(
        "replications for 10 %", INTERVALS + "replications_for_relative",
        {"mean": 2.03, "variance": 0.31, "relative": 0.10, "level": 0.90, "at_least": 10}, 27, "replications", 0.0,
        WHOLE, TEXTBOOK + ", 9.4.1",
    ),
    Row(
        "pseudo-values of a mean are the data", INTERVALS + "pseudo_values",
        {"value": float(np.mean(BANK)), "left_out": [(sum(BANK) - one) / 9 for one in BANK]}, BANK, "min", 1e-9,
        "an identity", "Tukey 1958, from memory",
    ),
    *(
        Row(
            f"replications to tell {first} from {second}", INTERVALS + "replications_to_tell",
            {"differences": np.subtract(SYSTEMS[first], SYSTEMS[second])}, count, "replications", 0.0, WHOLE,
            FOUR_SYSTEMS + "; worked by hand from its means and deviations: t(29, .975) x 2.1208 / sqrt(30) = .792 "
            "< .8 and t(4, .975) x .3445 / sqrt(5) = .428 < .458, with one replication fewer not",
        )
        for first, second, count in (("1", "2", 30), ("2", "4", 5))
    ),
    EstimateRow(
        "paired designs", INTERVALS + "paired_difference", {"values": DESIGN_1, "against": DESIGN_2},
        {"mean": 2.219, "half_width": 0.389202809, "low": 1.82979719, "high": 2.60820281}, "", 1e-8,
        DIGITS + "; printed 2.22 +- 0.393 from a rounded deviation", KSL + ", table 5.5",
    ),
    EstimateRow(
        "the same designs as if independent", INTERVALS + "independent_difference",
        {"values": DESIGN_1, "against": DESIGN_2}, {"mean": 2.219, "half_width": 1.82432208}, "", 1e-8, DIGITS,
        KSL + ", table 5.5",
    ),
    EstimateRow(
        "independent samples, pooled", INTERVALS + "independent_difference",
        {"values": INDEPENDENT_1, "against": INDEPENDENT_2, "equal_variances": True},
        {"mean": 0.657166667, "half_width": 0.552987455}, "", 1e-9, DIGITS + "; printed 0.66 +- 0.553",
        KSL + ", 5.7.1.1",
    ),
    EstimateRow(
        "independent samples, Welch", INTERVALS + "independent_difference",
        {"values": INDEPENDENT_1, "against": INDEPENDENT_2}, {"mean": 0.657166667, "half_width": 0.583185009}, "",
        1e-9, DIGITS, KSL + ", 5.7.1.1",
    ),
    *(
        EstimateRow(
            f"systems {one} and {other}, paired", INTERVALS + "paired_difference",
            {"values": SYSTEMS[one], "against": SYSTEMS[other]}, {"mean": mean, "half_width": half_width}, "", 5e-8,
            DIGITS, FOUR_SYSTEMS,
        )
        for (one, other), (mean, half_width) in PAIRS.items()
    ),
    HalfWidthsRow(
        "three systems against the third", INTERVALS + "against_base", {"systems": SYSTEMS, "base": "3"},
        {"1": 4.9518515, "2": 3.19414077, "4": 2.91115828}, "", 5e-8, DIGITS, FOUR_SYSTEMS,
    ),
    Row(
        "t quantile of that comparison", INTERVALS + "t_quantile", {"probability": 1 - 0.05 / 6, "df": 9}, 2.93332409,
        "", 5e-9, "printed digits", FOUR_SYSTEMS,
    ),
    Row(
        "t quantile of two-stage Bonferroni", INTERVALS + "t_quantile", {"probability": 1 - 0.05 / 3, "df": 9},
        2.50958706, "", 5e-9, "printed digits", "Matejcik and Nelson; reprinted in KSL Book 5.7.3",
    ),
    EstimateRow(
        "batch means", INTERVALS + "t_interval", {"values": BATCHES}, {"mean": 10.05, "half_width": 0.216585059}, "",
        1e-9, DIGITS, KSL + ", 5.6.3 (method); numbers worked apart",
    ),
    EstimateRow(
        "replication and deletion", INTERVALS + "t_interval", {"values": DELAYS},
        {"mean": 1.5736175, "low": 1.48431137, "high": 1.66292363}, "", 1e-8, DIGITS + "; printed to four places",
        KSL + ", waiting in a single-server queue",
    ),
    EstimateRow(
        "middle 8 in 10 of eleven runs", INTERVALS + "spread",
        {"values": (2.0, 1.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0)}, {"low": 2.0, "high": 10.0, "n": 11}, "",
        1e-9, "floating point", "worked by hand: the second and the last but one",
    ),
]  # fmt: skip


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row: Row) -> None:
    row.check()


def test_all_pairs_of_the_four_systems_are_there() -> None:
    assert set(PAIRS) == set(combinations(SYSTEMS, 2))


def test_largest_variance_of_a_difference() -> None:
    variances = [np.var(np.subtract(SYSTEMS[a], SYSTEMS[b]), ddof=1) for a, b in combinations(SYSTEMS, 2)]
    assert max(variances) == pytest.approx(28.4980489, abs=5e-8)


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_a_changed_value_is_noticed(row: Row) -> None:
    inputs = dict(row.inputs)
    first = next(iter(inputs))
    value = inputs[first]
    inputs[first] = (
        value * 1.2 if isinstance(value, float) else {**value, "3": SYSTEMS["1"]} if isinstance(value, dict)
        else (value[0] + 1.0, *value[1:])
    )  # fmt: skip
    broken = type(row)(**{**vars(row), "inputs": inputs})
    with pytest.raises(AssertionError):
        broken.check()
