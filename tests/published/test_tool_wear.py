"""Published values of tool wear: age replacement, counted hits, a finite stretch, cost per hit, assumed ranges."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest
from scipy.special import gamma

from simkit.base.laws import Law
from simkit.tooling.lives import life_law
from simkit.tooling.replacement import ASSUMED_HITS, ASSUMED_USABLE_MM
from tests.published.rows import Row

BARLOW = "age replacement by renewal reward; Barlow and Proschan 1965 ch. 4, from memory; value from the formula"
RELIABILITY = "python package `reliability`, documentation of optimal replacement, commit 4a3d4fd (printed)"
GEOMETRIC = "sum of a geometric series, worked by hand"
ERLANG = "renewal function of two-stage lives, rate 2: t - (1 - e^(-4 t)) / 4, worked by hand"
ERLANG_WORN = "two-stage lives from age a: t + (1 - 2 / (1 + 2 a)) (1 - e^(-4 t)) / 4, worked by hand"
WORN_ERLANG = 1 + (1 - 2 / 2.2) * (1 - math.exp(-4)) / 4
"""Changes within one mean life of a tool that has lasted 0.6: in its first stage with chance 1 / (1 + 2 a)."""
TLF_D1 = "TLF-D1, worked by hand"
TRADE = "no source; range of a check list, wide on purpose"
FLOAT = "closed form: half a unit of the ninth digit"
EXACT = "whole numbers"
LIVES, REPLACEMENT, RENEWAL = "simkit.tooling.lives.", "simkit.tooling.replacement.", "simkit.tooling.renewal."


def weibull(shape: float, scale: float) -> Law:
    """The Weibull life of this shape and scale (hits), named by its mean and coefficient of variation."""
    first, second = gamma(1 + 1 / shape), gamma(1 + 2 / shape)
    return life_law("weibull", scale * first, math.sqrt(second / first**2 - 1))


SHAPE_2_5, SHAPE_2 = weibull(2.5, 1000.0), weibull(2.0, 500.0)
CASES = {
    "5.1": (SHAPE_2_5, 500.0, (1.0, 5.0), (2.0, 10.0),
            (475.995908, 0.162033114, 0.00346249291, 0.993122640, 479.292173, 0.00208641004)),
    "5.2": (SHAPE_2, 300.0, (1.0, 4.0), (5.0, 20.0),
            (267.576763, 0.302323674, 0.00712681848, 0.965592005, 277.111619, 0.00360865418)),
}  # fmt: skip
"""Life, limit (hits), costs, times, then m(T), F(T), cost rate, availability, mean cycle, changes per time."""


def half_a_unit(value: float) -> float:
    """Half a unit of the ninth digit, and a hundredth for rounding in between."""
    return float(0.505 * 10.0 ** (math.floor(math.log10(value)) - 8))


def age_rows(number: str) -> list[Row]:
    life, limit, (planned, failed), (tp, tf), values = CASES[number]
    at: dict[str, Any] = {"life": life, "limit_hits": limit}
    costs = {**at, "planned_cost": planned, "failure_cost": failed}
    times = {**at, "planned_time": tp, "failure_time": tf}
    calls = [("m(T)", LIVES + "mean_use", at, "hits"), ("F(T)", LIVES + "chance_to_fail", at, "share"),
             ("cost rate", REPLACEMENT + "cost_rate", costs, "money/hit"),
             ("availability", REPLACEMENT + "availability", times, "share"),
             ("mean cycle", REPLACEMENT + "mean_cycle", times, "time of a hit"),
             ("changes", REPLACEMENT + "changes_per_time", times, "1/time of a hit")]  # fmt: skip
    return [
        Row(f"{number} {name}", function, inputs, value, unit, half_a_unit(value), FLOAT, BARLOW, float)
        for (name, function, inputs, unit), value in zip(calls, values, strict=True)
    ]


def best_row(name: str, part: str, expected: float, tolerance: float, why: str, source: str) -> Row:
    inputs = {"life": SHAPE_2_5, "planned_cost": 1.0, "failure_cost": 5.0}
    unit = "hits" if part == "limit_hits" else "money/hit"
    return Row(f"5.3 {name}", REPLACEMENT + "best_limit", inputs, expected, unit, tolerance, why, source,
               lambda best: getattr(best, part))  # fmt: skip


def one(read: Callable[[Any], Any] = lambda values: values) -> Callable[[Any], float]:
    """The only value of an array."""
    return lambda result: float(read(result)[0])


LIMIT_OF_HALF = {"life": life_law("uniform", 100.0, 1 / math.sqrt(3)), "hits": 50.0}
PUBLISHED = [
    *age_rows("5.1"),
    *age_rows("5.2"),
    Row("5.2 F(T) by simulation", LIVES + "chance_to_fail", {"life": SHAPE_2, "limit_hits": 300.0}, 0.30258, "share",
        4.5e-4, "a simulation of 4e5 tools: half-width 0.5 % of F halved", "independent simulation of case 5.2", float),
    Row("5.2 availability by simulation", REPLACEMENT + "availability",
        {"life": SHAPE_2, "limit_hits": 300.0, "planned_time": 5.0, "failure_time": 20.0}, 0.96559, "share", 1e-4,
        "a simulation of 4e5 tools: about 0.01 %", "independent simulation of case 5.2", float),
    best_row("best limit", "limit_hits", 493.046958, 5e-7, "six digits after the point; the root is sought to 1e-12",
             BARLOW),
    best_row("best rate", "cost_per_hit", 0.00346204274, 5e-12, FLOAT, BARLOW),
    best_row("best limit printed", "limit_hits", 493.19, 0.005 * 493.19,
             "the cost curve is flat: the printed limit is off in the fourth digit", RELIABILITY),
    best_row("best rate printed", "cost_per_hit", 0.0035, 5e-5, "half a unit of the last printed digit", RELIABILITY),
    Row("5.4 hits per tool", REPLACEMENT + "counted_use", {"chance_per_hit": 0.001, "limit_hits": 500}, 393.621055,
        "hits", 5e-7, FLOAT, GEOMETRIC, lambda use: use.hits),
    Row("5.4 failed", REPLACEMENT + "counted_use", {"chance_per_hit": 0.001, "limit_hits": 500}, 0.393621055, "share",
        5e-10, FLOAT, GEOMETRIC, lambda use: use.failed),
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
    *(Row(f"TLF-D1 {part}", REPLACEMENT + "tool_life",
          {"usable_mm": 4.0, "per_regrind_mm": 0.25, "hits_per_life": 60_000, "price": 180, "regrind_cost": 12},
          value, unit, tolerance, why, TLF_D1, lambda life, part=part: getattr(life, part))
      for part, value, unit, tolerance, why in (
          ("regrinds", 16, "regrinds", 0.0, EXACT), ("lives", 17, "lives", 0.0, EXACT),
          ("hits", 1_020_000, "hits", 0.0, EXACT),
          ("cost_per_hit", 0.000364706, "money/hit", 5e-10, "half a unit of the last digit"))),
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


ASSUMED = {
    ("soft aluminium", "all"): (100_000, 400_000), ("mild steel", "up to 2 mm"): (50_000, 200_000),
    ("mild steel", "3 to 6 mm"): (20_000, 80_000), ("galvanized steel", "all"): (50_000, 150_000),
    ("stainless steel", "all"): (15_000, 80_000),
}  # fmt: skip
"""Hits between regrinds as listed in the check list (tagged there: no source)."""


def test_the_table_of_assumed_hits_is_the_listed_one_and_says_so() -> None:
    assert {(row.metal, row.thickness): (row.low_hits, row.high_hits) for row in ASSUMED_HITS} == ASSUMED
    assert {row.basis for row in ASSUMED_HITS} == {"assumed"}
    assert ASSUMED_USABLE_MM == (1.0, 5.0), TRADE
