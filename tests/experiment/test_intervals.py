from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from simkit.experiment.intervals import (
    CANNOT_TELL,
    NEVER_DIFFERS,
    TELLS,
    Estimate,
    against_base,
    independent_difference,
    paired_difference,
    replications_needed,
    replications_to_tell,
    spread,
    t_interval,
)

numbers = st.floats(-1e6, 1e6)
samples = st.lists(numbers, min_size=2, max_size=12)


def test_one_replication_tells_nothing() -> None:
    estimate = t_interval([5.0], "h")
    assert estimate == Estimate(5.0, math.inf, 1, "h")
    assert estimate.verdict == CANNOT_TELL
    assert str(estimate) == "5 h (1 replication, no interval)"


@pytest.mark.parametrize(
    ("mean", "half_width", "verdict"),
    [
        (2.0, 1.0, TELLS),
        (-2.0, 1.0, TELLS),
        (0.5, 1.0, CANNOT_TELL),
        (1.0, 1.0, CANNOT_TELL),
        (0.0, 1.0, CANNOT_TELL),
        (0.0, 0.0, NEVER_DIFFERS),
    ],
)
def test_a_verdict_in_words(mean: float, half_width: float, verdict: str) -> None:
    assert Estimate(mean, half_width, 10).verdict == verdict


def test_an_estimate_reads_like_a_sentence() -> None:
    assert str(Estimate(12.34, 1.4, 10, "h")) == "12.34 ± 1.4 h (95 %, 10 replications)"
    assert str(Estimate(0.04, 0.01, 10, "1")) == "0.04 ± 0.01 (95 %, 10 replications)"


@given(numbers, st.integers(2, 9))
def test_equal_values_have_no_width(value: float, n: int) -> None:
    assert t_interval([value] * n).half_width == 0


@given(samples, st.floats(0.5, 0.9))
def test_more_confidence_is_never_narrower(values: list[float], level: float) -> None:
    assert t_interval(values, level=level).half_width <= t_interval(values, level=0.99).half_width


@given(samples)
def test_a_difference_from_itself_is_exactly_nothing(values: list[float]) -> None:
    assert paired_difference(values, values).verdict == NEVER_DIFFERS


def test_pairs_must_match() -> None:
    with pytest.raises(ValueError, match="differ in length"):
        paired_difference([1.0, 2.0], [1.0])


def test_an_empty_sample_is_refused() -> None:
    with pytest.raises(ValueError, match="non-empty"):
        t_interval([])


def test_two_constant_samples_differ_for_sure() -> None:
    assert independent_difference([3.0, 3.0], [1.0, 1.0]).tells


def test_one_comparison_needs_no_correction() -> None:
    systems = {"base": [1.0, 2.0, 4.0], "new": [1.5, 2.0, 5.0]}
    assert against_base(systems, "base") == {"new": paired_difference(systems["new"], systems["base"])}


def test_eight_in_ten_of_the_runs() -> None:
    middle = spread(np.arange(11.0), "h")
    assert (middle.low, middle.high) == pytest.approx((1.0, 9.0), abs=1e-12)
    assert (middle.n, middle.unit, middle.share) == (11, "h", 0.8)


def test_nothing_is_told_of_no_difference_and_two_replications_do_where_all_agree() -> None:
    assert replications_to_tell([1.0, -1.0, 0.0]) is None
    assert replications_needed(0.0, 1.0) == 2


@given(st.floats(0.01, 100), st.floats(0.05, 2))
def test_the_number_of_replications_is_the_smallest_that_does(variance: float, half_width: float) -> None:
    n = replications_needed(variance, half_width)

    def width(size: int) -> float:
        swing = math.sqrt(variance * (size - 1) / size)
        values = np.array([swing, -swing] * (size // 2) + [0.0] * (size % 2))
        return t_interval(values).half_width * math.sqrt(variance / values.var(ddof=1))

    assert width(n) <= half_width * (1 + 1e-9)
    assert n == 2 or width(n - 1) > half_width * (1 - 1e-9)
