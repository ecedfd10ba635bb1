"""Standards and learning curves go the right way for any legal input."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.process.timestandards import (
    ALLOWANCES,
    CUMULATIVE_AVERAGE,
    FATIGUE_POINTS,
    UNIT,
    allowance_of,
    allowance_share,
    average_time_s,
    fatigue_points,
    job_standard_s,
    job_standard_with_machine_s,
    learning_factor,
    normal_time_s,
    observations_needed,
    total_time_s,
    unit_time_s,
    weekly_ramp,
    workday_standard_s,
)

FEW = settings(max_examples=60, deadline=None, derandomize=True)
times = st.floats(0.1, 5000.0)
shares = st.floats(0.0, 0.6)
rates = st.floats(0.55, 1.0)
counts = st.integers(1, 400)
models = st.sampled_from((UNIT, CUMULATIVE_AVERAGE))


@FEW
@given(times, st.floats(0.5, 1.5), shares)
def test_an_allowance_on_the_workday_asks_for_more_time_than_on_the_job(observed, rating, allowance):
    normal = normal_time_s(observed, rating)
    job, workday = job_standard_s(normal, allowance), workday_standard_s(normal, allowance)
    assert normal <= job
    assert job <= workday * (1 + 1e-12)
    assert workday * (1 - allowance) == pytest.approx(normal)


@FEW
@given(times, times, shares, shares)
def test_machine_time_takes_no_fatigue_allowance(work, machine, personal, fatigue):
    mixed = job_standard_with_machine_s(work, machine, personal, fatigue)
    assert mixed - job_standard_with_machine_s(work, 0.0, personal, fatigue) == pytest.approx(machine * (1 + personal))
    assert mixed <= job_standard_s(work + machine, personal) + work * fatigue + 1e-9


@FEW
@given(times, st.floats(0.01, 2.0), st.floats(0.01, 0.2))
def test_observations_are_enough_and_not_one_too_many(mean, cv, accuracy):
    needed = int(observations_needed(mean, cv * mean, accuracy))
    assert 1.96 * cv / needed**0.5 <= accuracy * (1 + 1e-9)
    assert needed == 1 or 1.96 * cv / (needed - 1) ** 0.5 > accuracy * (1 - 1e-9)


@FEW
@given(times, rates, st.floats(0.0, 0.9), counts, models)
def test_units_get_no_slower_and_never_faster_than_the_floor(first, rate, floor, count, model):
    unit = unit_time_s(first, np.arange(1, count + 1), rate, floor, model)
    assert unit[0] == pytest.approx(first)
    assert (np.diff(unit) <= 1e-9 * first).all()
    assert (unit >= floor * first * (1 - 1e-9)).all()


@FEW
@given(times, rates, st.floats(0.0, 0.9), counts)
def test_the_cumulative_average_model_averages_what_its_units_take(first, rate, floor, count):
    total = total_time_s(first, count, rate, floor, CUMULATIVE_AVERAGE)
    assert total == pytest.approx(count * average_time_s(first, count, rate, floor))
    assert total <= total_time_s(first, count, rate, floor, UNIT) * (1 + 1e-9)


@FEW
@given(st.lists(st.integers(1, 50), min_size=1, max_size=8), times, rates, models)
def test_weeks_add_up_to_the_total_and_output_rises(units, first, rate, model):
    ramp = weekly_ramp(units, first, first / 2, rate, 0.3, model)
    assert (ramp.mean_s * ramp.units).sum() == pytest.approx(total_time_s(first, sum(units), rate, 0.3, model))
    assert (np.diff(ramp.share) >= -1e-9).all()


def test_a_rate_of_one_learns_nothing_and_no_units_take_no_time():
    assert unit_time_s(30.0, [1, 7, 90], 1.0).tolist() == [30.0, 30.0, 30.0]
    assert total_time_s(30.0, 0, 0.8) == 0.0
    assert total_time_s(30.0, [[0, 1], [2, 3]], 0.8).shape == (2, 2)


def test_what_cannot_be_is_refused():
    with pytest.raises(ValueError, match="rating must be positive"):
        normal_time_s(20.0, 0.0)
    with pytest.raises(ValueError, match="allowance is a share"):
        workday_standard_s(20.0, 1.0)
    with pytest.raises(ValueError, match="learning rate"):
        learning_factor(2, 80)
    with pytest.raises(ValueError, match="counted from 1"):
        learning_factor(0, 0.8)
    with pytest.raises(ValueError, match="at least one unit"):
        weekly_ramp([5, 0], 30.0, 20.0, 0.8)
    with pytest.raises(ValueError, match="not be negative"):
        total_time_s(30.0, -1, 0.8)


def test_unknown_names_are_answered_with_the_nearest():
    with pytest.raises(KeyError, match="known names: unit, cumulative average"):
        unit_time_s(1.0, 1, 0.8, model="average")
    with pytest.raises(KeyError, match="did you mean 'standing'"):
        allowance_of("standin")
    with pytest.raises(KeyError, match="known names: men, women"):
        allowance_share(["standing"], "all")
    with pytest.raises(KeyError, match="no points"):
        fatigue_points("heat")


def test_the_table_says_that_it_is_from_memory():
    assert all("from memory, verify" in row.source for row in ALLOWANCES)
    assert len({row.item for row in ALLOWANCES}) == len(ALLOWANCES)
    assert set(FATIGUE_POINTS.values()) == {2}
