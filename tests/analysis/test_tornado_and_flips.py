"""Swings, total effects against closed forms, and flip values against algebra."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pytest

from simkit.analysis.flips import flip_values, reach_of
from simkit.analysis.tornado import sobol_effects, swings
from simkit.finance.riskinputs import RiskInput
from simkit.finance.riskmodel import CaseValues, RiskModel
from tests.finance.test_risk import two_uniform


@dataclass(frozen=True)
class Formula:
    """Stands where a model stands: a formula of its inputs instead of a cash flow."""

    inputs: tuple[RiskInput, ...]
    formula: object = field(default=None)

    def values(self, cases, names, weights=None):
        full = {one.name: cases.get(one.name, one.typical) for one in self.inputs}
        return CaseValues({}, {names[0]: np.asarray(self.formula(**full), float)})  # type: ignore[operator]

    one_by_one = RiskModel.one_by_one
    gain = RiskModel.gain


def uniform(name: str, low: float, high: float) -> RiskInput:
    return RiskInput(name, name, "", low, (low + high) / 2, high, "quoted", law="uniform")


def ishigami(a, b, c):
    return np.sin(a) + 7 * np.sin(b) ** 2 + 0.1 * c**4 * np.sin(a)


def effects(model: Formula, base: int, order: str = "total") -> dict[str, float]:
    found = sobol_effects(model, "x", model.inputs, seed=42, base_samples=base)  # type: ignore[arg-type]
    return {one.input.name: getattr(one, order) for one in found}


@pytest.mark.parametrize(("base", "near"), [(1024, 0.03), (4096, 0.01)])
def test_total_effects_of_the_ishigami_function(base, near):
    """D39, closed form with a = 7, b = 0.1: .557589, .442411, .243684."""
    model = Formula(tuple(uniform(name, -np.pi, np.pi) for name in "abc"), ishigami)
    assert effects(model, base) == pytest.approx({"a": 0.557589, "b": 0.442411, "c": 0.243684}, abs=near)


@pytest.mark.parametrize(("base", "near"), [(1024, 0.03), (4096, 0.01)])
def test_first_order_effects_of_the_ishigami_function(base, near):
    """D39, closed form: .313905, .442411, 0; the third input acts with the first alone, its interval holds 0."""
    model = Formula(tuple(uniform(name, -np.pi, np.pi) for name in "abc"), ishigami)
    assert effects(model, base, "first") == pytest.approx({"a": 0.313905, "b": 0.442411, "c": 0.0}, abs=near)
    found = {one.input.name: one for one in sobol_effects(model, "x", model.inputs, 42, base)}  # type: ignore[arg-type]
    for name, exact in (("a", 0.313905), ("b", 0.442411), ("c", 0.0)):
        assert abs(found[name].first - exact) <= 1.5 * found[name].first_half_width


def test_total_effects_of_a_linear_and_a_product_form():
    """D40: y = 3a - 2b + .5c gives .98146, .01745, .00109; a product of U(80,120) and U(3,7) .20844 and .80211."""
    inputs = (uniform("a", 0, 10), uniform("b", 5, 7), uniform("c", -1, 1))
    linear = Formula(inputs, lambda a, b, c: 3 * a - 2 * b + 0.5 * c)
    for order in ("first", "total"):
        assert effects(linear, 4096, order) == pytest.approx({"a": 0.98146, "b": 0.01745, "c": 0.00109}, abs=1e-3)
    product = Formula((uniform("volume", 80, 120), uniform("margin", 3, 7)), lambda volume, margin: volume * margin)
    assert effects(product, 4096) == pytest.approx({"volume": 0.20844, "margin": 0.80211}, abs=2e-3)
    assert effects(product, 4096, "first") == pytest.approx({"volume": 0.19789, "margin": 0.79156}, abs=2e-3)


def test_swings_are_the_ends_with_the_others_typical_sorted_by_size():
    """Annuity of 5 years at 10 %: 3.790787. The price swings 20 000 a year, the capital 30 000 once."""
    found = swings(two_uniform(), "A1")
    assert [one.input.name for one in found] == ["subcontract", "capital A1"]
    assert found[0].at_high - found[0].at_low == pytest.approx(20_000 * 3.790787, rel=1e-6)
    assert (found[1].at_low - found[1].at_high, found[1].size) == (pytest.approx(30_000), pytest.approx(30_000))
    assert swings(RiskModel(two_uniform().plant, two_uniform().totals, ()), "A1") == ()


def test_flip_values_against_algebra():
    """Zero at capital 30 000 x 3.790787 = 113 723.6, and at 105 000 / 3.790787 / 400 h = 69.247 an hour."""
    found = {flip.input.name: flip for flip in flip_values(two_uniform(), "A1", (1.0, 1.0))}
    capital, price = found["capital A1"], found["subcontract"]
    assert capital.value == pytest.approx(30_000 * 3.79078677, rel=1e-6)
    assert price.value == pytest.approx(105_000 / 3.79078677 / 400, rel=1e-6)
    assert price.value == pytest.approx(69.2468, abs=1e-4 * 75)
    assert capital.within_range
    assert price.within_range


def test_no_flip_says_so_and_the_nearest_of_several_counts():
    never = Formula((uniform("energy", 1, 3),), lambda energy: energy + 10)
    (flip,) = flip_values(never, "x", (1.0, 1.0))  # type: ignore[arg-type]
    assert (flip.value, flip.within_range, flip.high) == (None, False, 6.0)
    twice = Formula((uniform("energy", 1, 3),), lambda energy: (energy - 1.7) * (energy - 5))
    assert flip_values(twice, "x", (1.0, 1.0))[0].value == pytest.approx(1.7)  # type: ignore[arg-type]


def test_where_a_flip_is_looked_for():
    assert reach_of(uniform("demand", 1, 2), (1.0, 1.6)) == (1.0, 1.6)
    assert reach_of(uniform("persistence", 0.4, 0.8), (1.0, 1.6)) == (0.0, 1.0)
    assert reach_of(uniform("wage_growth", 0.02, 0.04), (1.0, 1.6)) == (pytest.approx(-0.07), pytest.approx(0.13))
    assert reach_of(uniform("capital A1", 10, 20), (1.0, 1.6)) == (0.0, 45.0)
