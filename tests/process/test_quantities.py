"""Numbers are refused by name when they lie outside their range."""

from __future__ import annotations

import numpy as np
import pytest

from simkit.process.quantities import above_zero, finite, not_below_one, not_below_zero, share, share_above_zero, whole


def test_numbers_become_floats_of_the_same_shape():
    assert above_zero([1, 2], "a").dtype == np.float64
    assert share(1, "a").shape == ()
    assert finite(-1, "a") == -1
    assert whole([-2.0, 3.0], "a").tolist() == [-2, 3]
    assert whole(3.0, "a", 3).dtype == np.int64


def test_whole_numbers_have_a_least_one():
    with pytest.raises(ValueError, match=r"^cycles must be a whole number, 1 or more, not 0$"):
        whole([1, 0], "cycles", 1)


@pytest.mark.parametrize(
    ("check", "value", "message"),
    [
        (above_zero, 0, "power must be above zero, not 0"),
        (above_zero, [1, -2, -3], "power must be above zero, not -2"),
        (above_zero, np.inf, "power must be above zero, not inf"),
        (not_below_zero, [0, np.nan], "power must be zero or more, not nan"),
        (share, 1.01, "power must be at most 1, not 1.01"),
        (share, -0.5, "power must be zero or more, not -0.5"),
        (share_above_zero, [0.5, 0], "power must be above zero, not 0"),
        (finite, [-3, np.nan], "power must be finite, not nan"),
        (finite, -np.inf, "power must be finite, not -inf"),
        (not_below_one, [1, 0.9], "power must be one or more, not 0.9"),
        (whole, [-2, 1.7], "power must be a whole number, not 1.7"),
        (whole, 1e300, r"power must be a whole number, not 1e\+300"),
    ],
)
def test_what_lies_outside_is_refused_by_name(check, value, message):
    with pytest.raises(ValueError, match=f"^{message}$"):
        check(value, "power")
