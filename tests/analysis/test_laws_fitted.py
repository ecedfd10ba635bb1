"""Laws fitted to samples of known laws, whole and cut off."""

from __future__ import annotations

import numpy as np
import pytest

from simkit.analysis.laws_fitted import FAMILIES, FEWEST, TooFew, fit_law, rate_interval
from simkit.base.laws import Law

RNG = np.random.default_rng(11)
UNIFORMS = RNG.permutation((np.arange(2000) + 0.5) / 2000)
"""Evenly spread, so that a sample is as its law."""


@pytest.mark.parametrize(("kind", "cv"), [("gamma", 0.5), ("lognormal", 0.6), ("weibull", 0.3), ("exponential", 1.0)])
def test_a_large_sample_gives_its_law_back(kind, cv):
    sample = Law(kind, 2.5, cv).draw(UNIFORMS)
    found = fit_law(sample)
    assert found.law == kind or (kind == "exponential" and found.cv == pytest.approx(1, abs=0.05))
    assert found.mean == pytest.approx(2.5, rel=0.03)
    assert found.cv == pytest.approx(cv, rel=0.05)
    assert found.low < 2.5 < found.high


@pytest.mark.parametrize("kind", FAMILIES)
def test_values_cut_off_do_not_shorten_the_mean(kind):
    sample = Law(kind, 10.0, 1.0 if kind == "exponential" else 0.5).draw(UNIFORMS[::4])
    whole, cut = sample[sample <= 11], np.full(int((sample > 11).sum()), 11.0)
    found = fit_law(whole, cut, law=kind)
    assert (found.n, found.censored) == (len(whole), len(cut))
    assert whole.mean() < 8.5
    assert found.mean == pytest.approx(10.0, rel=0.06)
    assert found.low < 10.0 < found.high


def test_too_few_values_fit_no_law():
    with pytest.raises(TooFew, match=f"{FEWEST - 1} whole observations, {FEWEST} are needed"):
        fit_law([1.0] * (FEWEST - 1), [5.0] * 100)


@pytest.mark.parametrize("values", [[0.0] * 20, [-1.0] * 20, [np.nan] * 20])
def test_durations_are_above_zero(values):
    with pytest.raises(ValueError, match="finite and above zero"):
        fit_law(values)


def test_the_interval_of_a_mean_covers_it_about_95_times_in_100():
    law = Law("gamma", 3.0, 0.6)
    found = [fit_law(law.draw(RNG.random(25)), law="gamma") for _ in range(300)]
    covered = sum(one.low < 3.0 < one.high for one in found)
    assert 0.90 < covered / 300 < 0.985


def test_a_rate_without_events_has_an_upper_end():
    low, high = rate_interval(0, 100.0)
    assert low == 0
    assert high == pytest.approx(-np.log(0.025) / 100)
    with pytest.raises(ValueError, match="exposure above zero"):
        rate_interval(1, 0.0)
