"""Which scenario may be the best: by hand, ties, and coverage against intervals from the sample's best."""

from __future__ import annotations

import numpy as np
import pytest

from simkit.experiment.best import behind_the_best, named_best
from simkit.experiment.intervals import against_base
from tests.published.test_output_statistics import SYSTEMS

T_ONE_SIDED = 2.50958706
"""t(1 - .05/3, 9), as printed with the four systems."""


def test_four_systems_by_hand():
    """System 3 is surely the smallest: ahead of the next by up to 4.428 + 2.5096 x 3.1384 / sqrt(10)."""
    found = behind_the_best(SYSTEMS)
    assert [name for name, one in found.items() if one.may_be_best] == ["3"]
    assert found["3"].mean == pytest.approx(-4.428)
    assert found["3"].low == pytest.approx(-4.428 - T_ONE_SIDED * 3.13838175 / 10**0.5, abs=1e-6)
    assert (found["3"].high, found["1"].low) == (0.0, 0.0)
    assert found["1"].high == pytest.approx(5.686 + T_ONE_SIDED * 5.33835638 / 10**0.5, abs=1e-6)
    largest = behind_the_best({name: np.negative(values) for name, values in SYSTEMS.items()}, largest=True)
    assert largest == found


def test_one_scenario_is_the_best_and_one_replication_tells_nothing():
    assert behind_the_best({"a": [1.0, 2.0]})["a"].may_be_best
    assert all(one.may_be_best for one in behind_the_best({"a": [1.0], "b": [9.0]}).values())


def test_equal_scenarios_are_ties_and_the_cheapest_is_named():
    """The dear one equals the cheap one in every replication, at 64,000 more capital; the third is surely worse."""
    good = np.array([10.0, 12.0, 11.0, 13.0])
    values = {"dear": good, "cheap": good.copy(), "none": good - 5.0}
    found = named_best(values, {"dear": (200_000, 2), "cheap": (136_000, 3), "none": (0, 0)}, largest=True)
    assert found == "cheap"
    fewer = named_best(values, {"dear": (136_000, 2), "cheap": (136_000, 3), "none": (0, 0)}, largest=True)
    assert fewer == "dear"


def test_what_cannot_be_told_apart_is_a_tie_and_what_can_is_not():
    luck = np.array([-2.0, 3.0, -1.0, 1.0, 0.5, -1.5])
    cost = {"dear": (9.0,), "cheap": (1.0,)}
    assert named_best({"dear": 0.1 + luck, "cheap": np.zeros(6)}, cost, largest=True) == "cheap"
    assert named_best({"dear": 9.0 + luck, "cheap": np.zeros(6)}, cost, largest=True) == "dear"
    with pytest.raises(ValueError, match="no scenario"):
        named_best({}, {})


def trials(means: np.ndarray, count: int, replications: int) -> tuple[float, float, float]:
    """Shares of trials: all intervals right, the best not lost, and all intervals from the sample's best right."""
    generator = np.random.default_rng([len(means), replications])
    right = kept = by_sample = 0
    for _ in range(count):
        shared = generator.normal(0.0, 2.0, replications)
        own = generator.normal(0.0, 1.0, (len(means), replications)) * np.linspace(0.5, 1.5, len(means))[:, None]
        systems = {str(i): mean + shared + own[i] for i, mean in enumerate(means)}
        found = behind_the_best(systems)
        truth = {str(i): mean - np.delete(means, i).min() for i, mean in enumerate(means)}
        right += all(one.low - 1e-12 <= truth[name] <= one.high + 1e-12 for name, one in found.items())
        kept += found[str(int(means.argmin()))].may_be_best
        first = min(systems, key=lambda name: systems[name].mean())
        gaps = against_base(systems, first)
        by_sample += all(gap.low <= means[int(n)] - means[int(first)] <= gap.high for n, gap in gaps.items())
    return right / count, kept / count, by_sample / count


@pytest.mark.parametrize("replications", [6, 8])
@pytest.mark.parametrize("means", [np.zeros(12), np.array([0.0, 1.0, 2.0, 3.0])], ids=["equal", "apart"])
def test_intervals_hold_together_where_those_from_the_samples_best_do_not(means, replications):
    """300 trials at a nominal 95 %: three standard errors are 3.8 points."""
    right, kept, by_sample = trials(means, 300, replications)
    assert right >= 0.95 - 0.038
    assert kept >= 0.95 - 0.038
    if not means.any():
        assert by_sample < right
