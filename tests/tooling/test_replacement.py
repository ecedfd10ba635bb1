"""When to regrind: sums by hand, limits that must be best, and inputs that are refused."""

from __future__ import annotations

import math

import numpy as np
import pytest

from simkit.tooling.lives import life_law
from simkit.tooling.replacement import (
    ASSUMED_HITS,
    ASSUMED_USABLE_MM,
    availability,
    best_limit,
    changes_per_time,
    cost_rate,
    counted_use,
    mean_cycle,
    tool_life,
)

WEIBULL = life_law("weibull", 60_000.0, 0.25)
UNIFORM = life_law("uniform", 100.0, 1 / math.sqrt(3))
"""Between 0 and 200 hits: F(T) = T / 200, m(T) = T - T^2 / 400."""


def test_sums_by_hand_of_a_life_between_0_and_200_hits() -> None:
    assert float(cost_rate(UNIFORM, 100.0, 1.0, 3.0)) == pytest.approx((0.5 + 1.5) / 75)
    assert float(mean_cycle(UNIFORM, 100.0, 5.0, 15.0)) == pytest.approx(85.0)
    assert float(availability(UNIFORM, 100.0, 5.0, 15.0)) == pytest.approx(75 / 85)
    assert float(changes_per_time(UNIFORM, 100.0, 5.0, 15.0)) == pytest.approx(1 / 85)
    assert float(cost_rate(UNIFORM, math.inf, 1.0, 3.0)) == pytest.approx(0.03)


def test_the_best_limit_of_a_life_between_0_and_200_hits() -> None:
    """With x = T / 200, h m - F = (x - x^2 / 2) / (1 - x) - x = 1 / 2, so x^2 + x - 1 = 0."""
    best = best_limit(UNIFORM, 1.0, 3.0)
    assert best.limit_hits == pytest.approx(200 * (math.sqrt(5) - 1) / 2)
    assert best.cost_per_hit == pytest.approx(2.0 / (200 - best.limit_hits))


def test_no_other_limit_costs_less_than_the_best() -> None:
    for life in (WEIBULL, life_law("gamma", 60_000.0, 0.4), life_law("lognormal", 60_000.0, 0.3)):
        best = best_limit(life, 12.0, 90.0)
        others = cost_rate(life, np.linspace(500.0, 200_000.0, 4000), 12.0, 90.0)
        assert best.cost_per_hit <= others.min() * (1 + 1e-12)
        assert best.cost_per_hit == pytest.approx(others.min(), rel=1e-4)


def test_a_dearer_failure_means_an_earlier_regrind() -> None:
    limits = [best_limit(WEIBULL, 12.0, failure).limit_hits for failure in (13.0, 30.0, 90.0, 400.0, 1e6)]
    assert limits == sorted(limits, reverse=True)
    assert limits[-1] < 5000


@pytest.mark.parametrize(
    ("life", "failure"),
    [(life_law("exponential", 100.0), 1e6), (life_law("gamma", 100.0, 1.4), 1e6), (WEIBULL, 12.0), (WEIBULL, 3.0)],
)
def test_where_age_tells_nothing_or_failures_are_cheap_only_what_fails_is_changed(life, failure) -> None:
    best = best_limit(life, 12.0, failure)
    assert best.limit_hits == math.inf
    assert best.cost_per_hit == pytest.approx(failure / life.mean)


def test_a_constant_life_is_used_up() -> None:
    best = best_limit(life_law("constant", 500.0), 2.0, 9.0)
    assert (best.limit_hits, best.cost_per_hit) == (500.0, 2.0 / 500.0)


def test_counted_use_of_one_hit_and_of_a_tool_that_fails_at_once() -> None:
    assert counted_use(0.25, 1) == pytest.approx((1.0, 0.25))
    assert counted_use(0.5, 2) == pytest.approx((1.5, 0.75))
    assert counted_use(1.0, 9) == (1.0, 1.0)


def test_what_is_left_after_the_last_whole_regrind_is_lost() -> None:
    life = tool_life(1.0, 0.3, 1000.0, 100.0, 10.0)
    assert (life.regrinds, life.lives, life.hits) == (3, 4, 4000.0)
    assert life.cost_per_hit == pytest.approx(130 / 4000)
    assert tool_life(0.3, 0.1, 1.0, 0.0, 0.0).regrinds == 3  # 0.3 / 0.1 is a little less than 3 in floating point
    assert tool_life(0.0, 0.1, 1.0, 5.0, 1.0).cost_per_hit == 5.0


@pytest.mark.parametrize(
    "call",
    [lambda: cost_rate(WEIBULL, 0.0, 1.0, 2.0), lambda: cost_rate(WEIBULL, 1.0, -1.0, 2.0),
     lambda: availability(WEIBULL, 1.0, 1.0, math.nan), lambda: best_limit(WEIBULL, 0.0, 2.0),
     lambda: counted_use(0.0, 5), lambda: counted_use(0.1, 0), lambda: tool_life(1.0, 0.0, 1.0, 1.0, 1.0)],
)  # fmt: skip
def test_bad_arguments_are_refused(call) -> None:
    with pytest.raises(ValueError, match=r"must|needed"):
        call()


def test_assumed_ranges_say_that_they_are_assumed() -> None:
    for row in ASSUMED_HITS:
        assert "(assumed)" in str(row)
        assert "no source" in row.source
        assert 0 < row.low_hits < row.high_hits
    assert ASSUMED_USABLE_MM[0] < ASSUMED_USABLE_MM[1]
    assert str(ASSUMED_HITS[1]) == "mild steel up to 2 mm: 50,000 to 200,000 hits (assumed)"
