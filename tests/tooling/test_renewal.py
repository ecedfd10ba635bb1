"""Changes in a finite stretch: closed forms, hand counts, and a seeded simulation of its own."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from simkit.base.laws import Law
from simkit.tooling.lives import chance_to_fail, life_law
from simkit.tooling.renewal import chance_of_changes, chance_of_failure, expected_changes

EXPONENTIAL = life_law("exponential", 10.0)
ERLANG = life_law("gamma", 1.0, 1 / math.sqrt(2))
WEIBULL = life_law("weibull", 887.0, 0.43)


def test_exponential_failures_come_evenly_whatever_the_age_and_the_limit() -> None:
    for worn, limit in ((0.0, math.inf), (35.0, math.inf), (2.0, 7.0)):
        found = expected_changes(EXPONENTIAL, [3.0, 21.0, 50.0], worn, limit)
        assert found.failed == pytest.approx([0.3, 2.1, 5.0], abs=1e-5)
    assert expected_changes(EXPONENTIAL, 50.0).planned.tolist() == [0.0]


def test_counts_of_exponential_failures_follow_poisson() -> None:
    poisson = [1 - math.exp(-2), 1 - 3 * math.exp(-2), 1 - 5 * math.exp(-2)]
    found = [float(chance_of_changes(EXPONENTIAL, 20.0, count)[0]) for count in (1, 2, 3)]
    assert found == pytest.approx(poisson, abs=1e-5)


def test_two_stage_lives_follow_their_closed_form_and_the_step_matters_squared() -> None:
    times = np.array([0.1, 0.7, 2.0, 5.0])
    exact = times - (1 - np.exp(-4 * times)) / 4
    errors = [np.abs(expected_changes(ERLANG, times, steps_per_use=n).all - exact).max() for n in (100, 200, 400)]
    assert errors[2] < 1e-5
    assert errors[0] / errors[1] == pytest.approx(4.0, rel=0.1)


def test_a_life_that_never_varies_is_counted_by_hand() -> None:
    life = life_law("constant", 100.0)
    failing = expected_changes(life, [19.0, 20.0, 20.5, 120.0, 121.0], worn_hits=80.0)
    assert failing.failed.tolist() == [0, 0, 1, 1, 2]
    planned = expected_changes(life, [9.0, 10.0, 99.0, 100.0], worn_hits=80.0, limit_hits=90.0)
    assert (planned.planned.tolist(), planned.failed.tolist()) == ([0, 1, 1, 2], [0, 0, 0, 0])
    assert chance_of_changes(life, [120.0, 121.0], 2, worn_hits=80.0).tolist() == [0.0, 1.0]


def test_nothing_fails_only_if_every_use_lasts_to_its_limit() -> None:
    lasts = math.exp(-0.3) * math.exp(-0.7) ** 2 * math.exp(-0.1)  # 3 to the limit of 7, twice 7, and 1
    assert chance_of_failure(EXPONENTIAL, 18.0, 4.0, 7.0) == pytest.approx([1 - lasts])
    assert chance_of_failure(EXPONENTIAL, [0.0, 10.0]) == pytest.approx([0.0, 1 - math.exp(-1)])


def simulated(life: Law, hits: float, worn: float, limit: float, tools: int = 40_000) -> tuple[np.ndarray, np.ndarray]:
    """Failures and planned changes of each of many tools, drawn life by life."""
    rng = np.random.default_rng(5)
    lasted = float(chance_to_fail(life, worn))
    left = life.draw(lasted + rng.random(tools) * (1 - lasted)) - worn
    to_limit, clock = np.full(tools, limit - worn), np.zeros(tools)
    failed, planned = np.zeros(tools), np.zeros(tools)
    while (clock <= hits).any():
        fails = left < to_limit
        clock += np.minimum(left, to_limit)
        failed += fails & (clock <= hits)
        planned += ~fails & (clock <= hits)
        left, to_limit = life.draw(rng.random(tools)), np.full(tools, limit)
    return failed, planned


@pytest.mark.parametrize(
    ("worn", "limit", "hits"), [(0.0, 500.0, 1490.0), (300.0, 500.0, 1800.0), (600.0, math.inf, 2000.0)]
)
def test_a_simulation_finds_the_same(worn: float, limit: float, hits: float) -> None:
    failed, planned = simulated(WEIBULL, hits, worn, limit)
    found = expected_changes(WEIBULL, hits, worn, limit)
    pairs = [(found.failed, failed), (found.planned, planned),
             (chance_of_failure(WEIBULL, hits, worn, limit), failed > 0),
             (chance_of_changes(WEIBULL, hits, 4, worn, limit), failed + planned >= 4)]  # fmt: skip
    for expected, drawn in pairs:
        assert float(expected[0]) == pytest.approx(drawn.mean(), abs=3.3 * drawn.std() / math.sqrt(len(drawn)) + 1e-5)


def test_more_changes_are_less_likely_and_add_up_to_the_mean() -> None:
    chances = [float(chance_of_changes(WEIBULL, 3000.0, count, 200.0, 700.0)[0]) for count in range(1, 25)]
    assert all(fewer >= more - 1e-12 for fewer, more in pairwise(chances))
    assert sum(chances) == pytest.approx(float(expected_changes(WEIBULL, 3000.0, 200.0, 700.0).all[0]), abs=1e-9)


def test_a_tool_past_its_limit_or_its_law_is_changed_at_once() -> None:
    assert expected_changes(WEIBULL, 0.0, 800.0, 500.0).planned == pytest.approx([1.0])
    assert expected_changes(life_law("uniform", 100.0, 0.5), 0.0, 190.0).failed == pytest.approx([1.0])


@pytest.mark.parametrize(
    "call",
    [lambda: expected_changes(WEIBULL, -1.0), lambda: expected_changes(WEIBULL, 1.0, -1.0),
     lambda: expected_changes(WEIBULL, 1.0, 0.0, 0.0), lambda: expected_changes(WEIBULL, 1e6),
     lambda: chance_of_changes(WEIBULL, 1.0, 0)],
)  # fmt: skip
def test_bad_arguments_are_refused(call) -> None:
    with pytest.raises(ValueError, match=r"must be|up to|at least"):
        call()
