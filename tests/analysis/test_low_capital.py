from __future__ import annotations

from typing import Any

import pytest

from simkit.analysis.low_capital import Change, Limits, Package, best_low_capital, low_capital_options, why_illegal
from simkit.experiment.intervals import Estimate
from tests.experiment.fake import FAKE, plant_with_options


def best(demand_factor: float = 1.0, **more: Any) -> Package:
    return best_low_capital(plant_with_options(), demand_factor, model=FAKE, seed=7, weeks=2, workers=1, **more)


@pytest.fixture(scope="module")
def package() -> Package:
    return best()


def test_only_low_capital_options_are_candidates() -> None:
    assert low_capital_options(plant_with_options()) == ("N1", "N2", "N3", "N4")


def test_the_most_useful_comes_first_and_the_useless_stays_out(package: Package) -> None:
    # the fake model saves 10, 8, 0 and 3 %, and N4 needs N2
    assert package.option_ids == ("N1", "N2", "N4")
    assert package.dropped == ()


def test_the_trail_tells_all_that_was_tried(package: Package) -> None:
    assert [step.taken for step in package.trail] == ["N1", "N2", "N4", ""]
    first = {trial.option_id: trial for trial in package.trail[0].tried}
    assert first["N4"].change is None
    assert "N2" in first["N4"].refused
    assert first["N3"].change is not None
    assert first["N3"].change.hours.mean == 0.0
    assert [trial.option_id for trial in package.trail[-1].tried] == ["N3"]


def test_what_can_no_longer_be_the_best_waits(package: Package) -> None:
    second = [trial.option_id for trial in package.trail[1].tried]
    # N3 gained nothing before, N4 is still refused
    assert second == ["N2", "N4"]


def test_each_step_has_its_gain_with_an_interval_on_fresh_replications(package: Package) -> None:
    assert [gain.option_id for gain in package.gains] == ["N1", "N2", "N4"]
    assert [gain.to_those_before.hours.mean for gain in package.gains] == pytest.approx([-12, -8.6, -3], rel=0.1)
    assert all(gain.to_those_before.hours.tells for gain in package.gains)
    assert sorted(package.confirmed_on.frame["replication"].unique()) == list(range(4, 10))
    total = sum(gain.to_those_before.hours.mean for gain in package.gains)
    assert package.change.hours.mean == pytest.approx(total)


def test_what_others_need_cannot_be_left_out(package: Package) -> None:
    without = {gain.option_id: gain.to_the_rest for gain in package.gains}
    assert without["N2"] is None
    assert without["N1"] is not None
    assert without["N1"].hours.mean < 0


def test_an_option_shows_its_own_owner_capital_and_persistence(package: Package) -> None:
    sequencing, cart, _ = package.options
    assert (sequencing.owner, sequencing.yearly_labour_h, sequencing.persistence.low) == ("works manager", 50, 0.5)
    assert cart.capital.quoted == 5


def test_nothing_that_helps_means_an_empty_package() -> None:
    package = best(candidates=("N3",))
    assert package.option_ids == ()
    assert package.gains == ()
    assert package.change.hours == Estimate(0.0, 0.0, 6, "h")


def test_a_gain_too_small_for_an_owner_is_left_out() -> None:
    assert best(least_gain_share=0.05).option_ids == ("N1", "N2")


def test_each_demand_level_has_its_own_package() -> None:
    assert best(1.25).demand_factor == 1.25


def estimate(mean: float, half_width: float) -> Estimate:
    return Estimate(mean, half_width, 4)


@pytest.mark.parametrize(
    ("late", "hours", "helps"),
    [
        ((-0.02, 0.01), (5.0, 1.0), True),
        ((-0.02, 0.03), (5.0, 1.0), False),
        ((0.0, 0.0), (-5.0, 1.0), True),
        ((0.0, 0.0), (-5.0, 6.0), False),
        ((0.004, 0.001), (-5.0, 1.0), True),
        ((0.02, 0.01), (-5.0, 1.0), False),
        ((0.0, 0.0), (0.0, 0.0), False),
        ((0.0, 0.0), (-0.9, 0.1), False),
    ],
)
def test_late_orders_come_before_hours(late: Any, hours: Any, helps: bool) -> None:
    assert Change(estimate(*late), estimate(*hours)).helps(Limits(0.005, 1.0)) is helps


def test_an_illegal_combination_says_why() -> None:
    assert why_illegal(plant_with_options(), ("N1", "N2")) == ""
    assert "N2" in why_illegal(plant_with_options(), ("N4",))
