"""Electric power: where the energy goes, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.process.wallplug import EFFICIENCIES, draw_kw, draw_range, energy_kwh, heat_kw, mean_running_kw

FEW = settings(max_examples=60, deadline=None, derandomize=True)


@FEW
@given(st.floats(0, 30), st.floats(0.01, 1))
def test_what_is_drawn_is_beam_or_heat(optical_kw, efficiency):
    draw = draw_kw(optical_kw, efficiency)
    assert draw == pytest.approx(heat_kw(optical_kw, efficiency) + optical_kw, rel=1e-12)
    assert draw >= optical_kw


@FEW
@given(st.floats(0.1, 30), st.sampled_from(EFFICIENCIES))
def test_the_best_efficiency_draws_least(optical_kw, efficiency):
    draw = draw_range(optical_kw, efficiency)
    assert optical_kw < draw.least_kw < draw.most_kw


def test_hours_may_be_arrays():
    assert energy_kwh([10, 0], [0, 10], 14, 4).tolist() == [140.0, 40.0]


def test_the_beam_counts_only_for_its_share():
    assert mean_running_kw(4, 0.4, np.array([0.0, 1.0]), 6).tolist() == [6.0, 16.0]


@pytest.mark.parametrize(("efficiency", "words"), [(0, "above zero"), (1.2, "at most 1")])
def test_an_efficiency_outside_its_range_is_refused(efficiency, words):
    with pytest.raises(ValueError, match=f"efficiency must be {words}"):
        draw_kw(4, efficiency)


def test_every_efficiency_says_where_it_comes_from():
    assert all(row.source and 0 < row.low < row.high < 1 for row in EFFICIENCIES)
