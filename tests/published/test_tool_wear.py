"""Published values of tool wear: age replacement, counted hits, a finite stretch, cost per hit, assumed ranges."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest
from scipy.special import gamma

from simkit.base.laws import Law
from simkit.tooling.lives import life_law
from tests.published.rows import Row

BARLOW = "age replacement by renewal reward; Barlow and Proschan 1965 ch. 4, from memory; value from the formula"
RELIABILITY = "python package `reliability`, documentation of optimal replacement, commit 4a3d4fd (printed)"
GEOMETRIC = "sum of a geometric series, worked by hand"
ERLANG = "renewal function of two-stage lives, rate 2: t - (1 - e^(-4 t)) / 4, worked by hand"
ERLANG_WORN = "two-stage lives from age a: t + (1 - 2 / (1 + 2 a)) (1 - e^(-4 t)) / 4, worked by hand"
WORN_ERLANG = 1 + (1 - 2 / 2.2) * (1 - math.exp(-4)) / 4
"""Changes within one mean life of a tool that has lasted 0.6: in its first stage with chance 1 / (1 + 2 a)."""
FLOAT = "closed form: half a unit of the ninth digit"
EXACT = "whole numbers"
LIVES, RENEWAL = "simkit.tooling.lives.", "simkit.tooling.renewal."


def weibull(shape: float, scale: float) -> Law:
    """The Weibull life of this shape and scale (hits), named by its mean and coefficient of variation."""
    first, second = gamma(1 + 1 / shape), gamma(1 + 2 / shape)
    return life_law("weibull", scale * first, math.sqrt(second / first**2 - 1))


SHAPE_2_5, SHAPE_2 = weibull(2.5, 1000.0), weibull(2.0, 500.0)
CASES = {
    "5.1": (SHAPE_2_5, 500.0, (475.995908, 0.162033114)), "5.2": (SHAPE_2, 300.0, (267.576763, 0.302323674)),
}  # fmt: skip
"""Life, limit (hits), then m(T) and F(T); availability and changes per time are compared through the whole cell."""


def half_a_unit(value: float) -> float:
    """Half a unit of the ninth digit, and a hundredth for rounding in between."""
    return float(0.505 * 10.0 ** (math.floor(math.log10(value)) - 8))


def age_rows(number: str) -> list[Row]:
    life, limit, values = CASES[number]
    calls = [("m(T)", LIVES + "mean_use", "hits"), ("F(T)", LIVES + "chance_to_fail", "share")]
    return [
        Row(f"{number} {name}", function, {"life": life, "limit_hits": limit}, value, unit, half_a_unit(value), FLOAT,
            BARLOW, float)
        for (name, function, unit), value in zip(calls, values, strict=True)
    ]  # fmt: skip


def worth_row(name: str, limit_hits: float, tolerance: float, why: str, source: str) -> Row:
    """The best limit for a failure of 5 planned changes, the other way round."""
    inputs = {"life": SHAPE_2_5, "limit_hits": limit_hits}
    return Row(f"5.3 {name}", LIVES + "failure_worth", inputs, 5.0, "planned changes", tolerance, why, source)


def rate_row(name: str, expected: float, tolerance: float, why: str, source: str) -> Row:
    """The cost per hit at the best limit: the extra cost of a failure, 4, times the failures per hit."""
    inputs = {"life": SHAPE_2_5, "hits": 493.046958}
    return Row(f"5.3 {name}", LIVES + "hazard", inputs, expected, "money/hit", tolerance, why, source,
               lambda failures: 4.0 * float(failures))  # fmt: skip


def one(read: Callable[[Any], Any] = lambda values: values) -> Callable[[Any], float]:
    """The only value of an array."""
    return lambda result: float(read(result)[0])


LIMIT_OF_HALF = {"life": life_law("uniform", 100.0, 1 / math.sqrt(3)), "hits": 50.0}
PUBLISHED = [
    *age_rows("5.1"),
    *age_rows("5.2"),
    Row("5.2 F(T) by simulation", LIVES + "chance_to_fail", {"life": SHAPE_2, "limit_hits": 300.0}, 0.30258, "share",
        4.5e-4, "a simulation of 4e5 tools: half-width 0.5 % of F halved", "independent simulation of case 5.2", float),
    worth_row("best limit", 493.046958, 1e-7, "digits of the limit", BARLOW),
    worth_row("best limit printed", 493.19, 0.01,
              "the cost curve is flat: the printed limit is off in the fourth digit", RELIABILITY),
    rate_row("best rate", 0.00346204274, 5e-12, FLOAT, BARLOW),
    rate_row("best rate printed", 0.0035, 5e-5, "half a unit of the last printed digit", RELIABILITY),
    Row("5.5 changes of five mean lives", RENEWAL + "expected_changes",
        {"life": life_law("gamma", 1.0, 1 / math.sqrt(2)), "hits": 5.0}, 4.75, "changes", 1e-5,
        "numbers on a grid: see the module", ERLANG, one(lambda changes: changes.all)),
    Row("5.5 changes of a tool that has lasted 0.6 lives", RENEWAL + "expected_changes",
        {"life": life_law("gamma", 1.0, 1 / math.sqrt(2)), "hits": 1.0, "worn_hits": 0.6}, WORN_ERLANG, "changes", 1e-5,
        "numbers on a grid: see the module", ERLANG_WORN, one(lambda changes: changes.all)),
    Row("5.5 at least one change", RENEWAL + "chance_of_changes",
        {"life": life_law("gamma", 1.0, 1 / math.sqrt(2)), "hits": 1.0, "count": 1}, 1 - 3 * math.exp(-2), "chance",
        1e-9, FLOAT, "chance to last of a two-stage life, rate 2: (1 + 2 t) e^(-2 t), worked by hand", one()),
    Row("chance of a failure within two limits", RENEWAL + "chance_of_failure",
        {"life": life_law("exponential", 10.0), "hits": 12.0, "worn_hits": 3.0, "limit_hits": 5.0},
        1 - math.exp(-1.2), "chance", 1e-9, FLOAT, "an exponential life forgets age and limit, worked by hand", one()),
    Row("a worn tool of a life between 0 and 200 hits", LIVES + "chance_to_fail_from",
        {"life": life_law("uniform", 100.0, 1 / math.sqrt(3)), "worn_hits": 150.0, "more_hits": 25.0}, 0.5, "chance",
        1e-9, FLOAT, "half of the 50 hits left, worked by hand", float),
    Row("hazard of a life between 0 and 200 hits", LIVES + "hazard", LIMIT_OF_HALF, 1 / 150, "failures/hit", 1e-9,
        FLOAT, "density 1/200 over the chance to last 3/4, worked by hand", float),
    Row("law of a life", LIVES + "life_law", {"kind": "exponential", "mean_hits": 10.0}, 1.0, "", 0.0, EXACT,
        "textbook definition, from memory", lambda law: law.cv),
]  # fmt: skip


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row: Row) -> None:
    row.check()


def test_a_life_one_hundredth_longer_is_told_apart() -> None:
    longer = weibull(2.5, 1010.0)
    for row in age_rows("5.1"):
        assert abs(float(row.target()(**{**row.inputs, "life": longer})) - row.expected) > 10 * row.tolerance


def test_a_finite_stretch_is_not_the_steady_state() -> None:
    row = next(row for row in PUBLISHED if row.id.startswith("5.5 changes"))
    assert row.expected + 1000 * row.tolerance < 5.0
