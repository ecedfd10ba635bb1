"""Cycles to time are enough and not one too many, for any legal input."""

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.analysis.sheet_times import observations_needed


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.floats(0.1, 5000.0), st.floats(0.01, 2.0), st.floats(0.01, 0.2))
def test_observations_are_enough_and_not_one_too_many(mean, cv, accuracy):
    needed = int(observations_needed(mean, cv * mean, accuracy))
    assert 1.96 * cv / needed**0.5 <= accuracy * (1 + 1e-9)
    assert needed == 1 or 1.96 * cv / (needed - 1) ** 0.5 > accuracy * (1 - 1e-9)


@pytest.mark.parametrize(
    ("values", "why"),
    [
        ((10.0, np.nan, 0.05), "deviation_s must be zero or more"),
        ((10.0, [2.0, -2.0], 0.05), "deviation_s must be zero or more"),
        ((10.0, 2.0, 0.05, -1.96), "z must be above zero"),
    ],
)
def test_what_cannot_be_is_refused(values, why):
    with pytest.raises(ValueError, match=re.escape(why)):
        observations_needed(*values)
