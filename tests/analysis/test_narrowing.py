"""Shares of a variance that inputs explain, against sums by hand and a published function."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import qmc

from simkit.analysis.tornado import explained_share, narrowed, shares


def points(count, width, seed=7):
    return list(qmc.LatinHypercube(width, seed=seed).random(count).T)


def test_of_a_sum_each_input_explains_its_own_variance():
    """Y = 3A + 4B + 0C with equal spreads: 9/25 and 16/25 of the variance, together all, C nothing."""
    a, b, c = points(2048, 3)
    found = shares({"A": a, "B": b, "C": c}, 3 * a + 4 * b)
    assert list(found) == ["B", "A", "C"]
    assert found["A"] == pytest.approx(9 / 25, abs=0.03)
    assert found["B"] == pytest.approx(16 / 25, abs=0.03)
    assert found["C"] == pytest.approx(0, abs=0.01)
    assert explained_share([a, b], 3 * a + 4 * b) == pytest.approx(1, abs=1e-6)


def test_a_product_about_zero_is_explained_by_both_together_and_by_neither_alone():
    a, b = (2 * one - 1 for one in points(2048, 2))
    assert explained_share([a], a * b) == pytest.approx(0, abs=0.02)
    assert explained_share([a, b], a * b) == pytest.approx(1, abs=1e-3)


def test_a_correlated_input_counts_with_what_it_tells_of_the_other():
    """Y = A + B of normal A and B with correlation r: A explains (1 + r)² of 2 + 2r, which is (1 + r) / 2."""
    rng = np.random.default_rng(3)
    a, b = rng.multivariate_normal([0, 0], [[1, 0.6], [0.6, 1]], 20_000).T
    assert explained_share([a], a + b) == pytest.approx(0.8, abs=0.02)


def test_noise_is_explained_by_nothing():
    (a,) = points(512, 1)
    assert explained_share([a], np.random.default_rng(1).normal(size=512)) < 0.02


def test_nothing_varies_or_nothing_is_asked():
    (a,) = points(64, 1)
    assert explained_share([a], np.ones(64)) == 0
    assert explained_share([], a) == 0
    with pytest.raises(ValueError, match="too few"):
        explained_share(points(40, 3), np.arange(40.0))


def test_a_range_narrows_with_the_root_of_what_is_left():
    assert narrowed(0.0) == 1
    assert narrowed(0.36) == pytest.approx(0.8)
    assert narrowed(1.0) == 0


@pytest.mark.parametrize(("number", "index"), [(0, 0.3139), (1, 0.4424), (2, 0.0)])
def test_first_order_indices_of_the_ishigami_function(number, index):
    """Ishigami and Homma 1990, a = 7, b = 0.1: 0.3139, 0.4424 and 0 (from memory)."""
    x = [2 * np.pi * one - np.pi for one in points(8192, 3)]
    values = np.sin(x[0]) + 7 * np.sin(x[1]) ** 2 + 0.1 * x[2] ** 4 * np.sin(x[0])
    assert explained_share([x[number]], values) == pytest.approx(index, abs=0.02)
