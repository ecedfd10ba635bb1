"""Laws keep their mean and coefficient of variation, by quadrature over their quantiles."""

from __future__ import annotations

import numpy as np
import pytest

from simkit.base.laws import Law, weibull_shape

MIDDLES = (np.arange(400_000) + 0.5) / 400_000
CASES = [
    ("constant", 0.0), ("exponential", 1.0), ("gamma", 0.3), ("gamma", 1.5), ("lognormal", 0.5), ("lognormal", 1.2),
    ("weibull", 0.4), ("weibull", 2.0), ("triangular", 0.3), ("triangular", 0.4), ("uniform", 0.2), ("uniform", 0.57),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "cv"), CASES)
def test_mean_and_cv(kind: str, cv: float) -> None:
    values = Law(kind, 7.0, cv).draw(MIDDLES)
    # the tail above the last midpoint is lost: up to 0.2 % of the spread of the heaviest law here
    assert values.mean() == pytest.approx(7.0, rel=5e-4)
    assert values.std() / 7.0 == pytest.approx(cv, rel=1.2e-2, abs=1e-12)
    assert (values >= 0).all()


@pytest.mark.parametrize(("kind", "cv"), CASES)
def test_more_luck_is_more_time(kind: str, cv: float) -> None:
    values = Law(kind, 7.0, cv).draw(np.linspace(0.0, 1.0, 1001, endpoint=False))
    assert (np.diff(values) >= 0).all()
    assert np.isfinite(values).all()


def test_empirical_is_scaled_to_its_mean_and_takes_each_value_alike() -> None:
    law = Law("empirical", 4.0, values=(1.0, 2.0, 3.0))
    assert law.draw(np.array([0.0, 0.34, 0.99])).tolist() == [2.0, 4.0, 6.0]
    assert law.draw(MIDDLES).mean() == pytest.approx(4.0, rel=1e-5)


def test_a_sequence_is_never_drawn() -> None:
    with pytest.raises(ValueError, match="in order"):
        Law("sequence", 1.0, values=(1.0,)).draw(MIDDLES)


def test_an_unknown_law_is_told() -> None:
    with pytest.raises(ValueError, match="unknown law 'normal'"):
        Law("normal", 1.0, 0.5).draw(MIDDLES)


def test_a_mean_of_zero_and_a_cv_of_zero_are_constants() -> None:
    assert Law("gamma", 0.0, 0.5).draw(np.array([0.9])).tolist() == [0.0]
    assert Law("lognormal", 3.0, 0.0).draw(np.array([0.9])).tolist() == [3.0]
    assert not Law("exponential", 3.0, 0.0).is_constant


def test_the_weibull_law_of_cv_one_is_exponential() -> None:
    assert weibull_shape(1.0) == pytest.approx(1.0, abs=1e-10)
