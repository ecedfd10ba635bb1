"""Chances of tool lives: each law against its own quantiles, and mean use against plain integration."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from scipy.integrate import quad

from simkit.base.laws import Law
from simkit.report.sentences_tools import regrinds
from simkit.tooling.lives import (
    chance_to_fail,
    chance_to_fail_from,
    failure_worth,
    hazard,
    life_law,
    limit_worths,
    mean_use,
)
from tests.small_plant import small_plant
from tests.tooling.rooms import tool

LAWS = [
    life_law("exponential", 800.0), life_law("gamma", 800.0, 0.7), life_law("gamma", 800.0, 1.5),
    life_law("lognormal", 800.0, 0.4), life_law("weibull", 800.0, 0.25), life_law("weibull", 800.0, 1.3),
    life_law("triangular", 800.0, 0.3), life_law("uniform", 800.0, 0.5),
]  # fmt: skip
CHANCES = np.array([0.003, 0.1, 0.37, 0.5, 0.71, 0.98])
named = pytest.mark.parametrize("life", LAWS, ids=lambda law: f"{law.kind} {law.cv:g}")


@named
def test_the_chance_to_fail_inverts_what_the_cell_draws(life: Law) -> None:
    assert chance_to_fail(life, life.draw(CHANCES)) == pytest.approx(CHANCES, abs=1e-9)
    assert chance_to_fail(life, [0.0, math.inf]).tolist() == pytest.approx([0.0, 1.0])


@named
def test_mean_use_is_the_integral_of_the_chance_to_last(life: Law) -> None:
    for limit in (50.0, 400.0, 800.0, 1300.0):
        # over chances instead of hits, where no law has a kink: the mean of the shorter of life and limit
        failed = float(chance_to_fail(life, limit))
        lives = quad(lambda u, life=life: float(life.draw(np.array([u]))[0]), 0.0, failed, limit=400)[0]
        assert float(mean_use(life, limit)) == pytest.approx(lives + limit * (1 - failed), rel=1e-6)
    assert float(mean_use(life, math.inf)) == pytest.approx(800.0)
    assert float(mean_use(life, 1e7)) == pytest.approx(800.0, rel=1e-6)


@named
def test_the_hazard_is_the_slope_of_the_chance_to_fail_of_a_worn_tool(life: Law) -> None:
    for worn in life.draw(CHANCES[1:5]):
        if abs(worn - 800.0) > 1.0:  # the triangular law has a kink there
            assert float(hazard(life, worn)) == pytest.approx(float(chance_to_fail_from(life, worn, 1e-3)) / 1e-3,
                                                              rel=1e-3)  # fmt: skip


def test_what_a_failure_must_cost_for_a_limit_to_be_the_cheapest() -> None:
    """Lives between 0 and 200 hits, limit 100: F 1/2, m 75, h 1/100, so 1 + 1 / (0.75 - 0.5)."""
    life = life_law("uniform", 100.0, 1 / math.sqrt(3))
    assert failure_worth(life, 100.0) == pytest.approx(5.0)
    assert failure_worth(life, 50.0) > 5.0 > failure_worth(life, 150.0) > 1.0
    assert failure_worth(life_law("exponential", 100.0), 100.0) > 1e9


def test_a_constant_life_does_its_last_hit() -> None:
    life = life_law("constant", 100.0)
    assert chance_to_fail(life, [99.0, 100.0, 100.5]).tolist() == [0.0, 0.0, 1.0]
    assert mean_use(life, [40.0, 100.0, 300.0, math.inf]).tolist() == [40.0, 100.0, 100.0, 100.0]
    assert chance_to_fail_from(life, 60.0, [40.0, 40.5]).tolist() == [0.0, 1.0]
    with pytest.raises(ValueError, match="constant"):
        hazard(life, 10.0)


def test_a_law_without_spread_is_constant_and_the_exponential_has_its_own() -> None:
    assert life_law("weibull", 10.0) == Law("constant", 10.0, 0.0)
    assert life_law("exponential", 10.0) == Law("exponential", 10.0, 1.0)


def test_a_worn_tool_of_an_exponential_life_is_as_good_as_new_and_one_past_its_law_fails_at_once() -> None:
    life = life_law("exponential", 50.0)
    assert float(chance_to_fail_from(life, 400.0, 50.0)) == pytest.approx(1 - math.exp(-1))
    assert chance_to_fail_from(life_law("uniform", 100.0, 0.5), 190.0, [0.0, 5.0]).tolist() == [1.0, 1.0]
    assert float(hazard(life_law("uniform", 100.0, 0.5), 190.0)) == math.inf


def test_the_limit_of_every_tool_that_wears_by_chance_is_valued() -> None:
    """Lives between 0 and 200 hits, limit 100: a failure must cost 5 planned changes (see above)."""
    by_chance = {"life_law": "uniform", "life_hits": 100.0, "life_cv": 1 / math.sqrt(3)}
    limited = {"regrind_limit_hits": 100.0}
    tools = (
        tool(0, **limited, **by_chance), tool(1, **limited, life_hits=100.0), tool(2, **by_chance),
        tool(3, **limited), tool(4, **limited, life_law="exponential", life_hits=100.0),
    )  # fmt: skip
    worths = limit_worths(dataclasses.replace(small_plant(), tools=tools))
    assert worths == pytest.approx([5.0])
    assert "where a failure costs 5 times as much as a planned change" in regrinds(3.0, 4, 2.0, worths)[1]
    assert "planned change" not in regrinds(3.0, 4, 2.0, ())[1]
