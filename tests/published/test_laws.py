"""Laws of durations: quantiles that follow from a definition, worked by hand."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from tests.published.rows import Row

LAWS = "simkit.base.laws."
BY_HAND = "textbook definition, from memory; worked by hand"
FLOAT = "floating point"


def _quantiles(name: str, kind: str, mean: float, cv: float, at: tuple[float, ...], expected: Any, **more: Any) -> Row:
    """Values of a law at uniform numbers ``at``."""
    inputs = {"kind": kind, "mean": mean, "cv": cv, **more}
    return Row(name, LAWS + "Law", inputs, expected, "any", 1e-9, FLOAT, BY_HAND, lambda law: law.draw(np.array(at)))


def _shape(name: str, cv: float, shape: float) -> Row:
    return Row(name, LAWS + "weibull_shape", {"cv": cv}, shape, "", 1e-9, "the root is sought to 1e-12", BY_HAND)


ONE_SIGMA = 0.8413447460685429
ERLANG_2_MEDIAN = 1.6783469900166605

PUBLISHED = [
    _quantiles("constant", "constant", 4.0, 0.0, (0.0, 0.9), (4.0, 4.0)),
    _quantiles("exponential, median and 1 - 1/e", "exponential", 10.0, 1.0, (0.5, 1 - 1 / math.e),
               (10 * math.log(2), 10.0)),
    _quantiles("gamma with cv 1 is exponential", "gamma", 10.0, 1.0, (0.5,), (10 * math.log(2),)),
    _quantiles("gamma of two stages, median: (1 + x) exp(-x) = 1/2", "gamma", 2.0, 1 / math.sqrt(2), (0.5,),
               (ERLANG_2_MEDIAN,)),
    _quantiles("lognormal, median and one sigma above", "lognormal", 10.0, 0.75, (0.5, ONE_SIGMA),
               (8.0, 8.0 * math.exp(math.sqrt(math.log(1.5625))))),
    _quantiles("weibull of shape 2, median", "weibull", math.sqrt(math.pi) / 2, math.sqrt(4 / math.pi - 1), (0.5,),
               (math.sqrt(math.log(2)),)),
    _quantiles("triangular from 3 to 9", "triangular", 6.0, 0.5 / math.sqrt(6), (0.0, 0.125, 0.5, 0.875),
               (3.0, 4.5, 6.0, 7.5)),
    _quantiles("uniform from 5 to 15", "uniform", 10.0, 0.5 / math.sqrt(3), (0.0, 0.25, 0.5), (5.0, 7.5, 10.0)),
    _quantiles("empirical, its mean doubled", "empirical", 6.0, 0.0, (0.0, 0.26, 0.5, 0.99), (2.0, 4.0, 6.0, 12.0),
               values=(6.0, 1.0, 3.0, 2.0)),
    _shape("weibull with cv 1 is exponential", 1.0, 1.0),
    _shape("weibull of shape 2", math.sqrt(4 / math.pi - 1), 2.0),
    _shape("weibull of shape 1/2: 4!/(2!)^2 - 1 = 5", math.sqrt(5.0), 0.5),
]  # fmt: skip


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row):
    row.check()
