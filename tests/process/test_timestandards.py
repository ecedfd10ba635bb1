"""Standards and learning curves go the right way for any legal input."""

from __future__ import annotations

import re

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


@pytest.mark.parametrize("rate", [0.5, 0.3])
def test_the_cumulative_average_leaves_no_unit_without_time(rate):
    by_average = {"model": CUMULATIVE_AVERAGE}
    for call in (
        lambda: unit_time_s(100.0, 2, rate, **by_average),
        lambda: total_time_s(100.0, [1, 4], rate, **by_average),
        lambda: weekly_ramp([2, 2], 100.0, 40.0, rate, **by_average),
        lambda: average_time_s(100.0, [1, 2], rate),
    ):
        with pytest.raises(ValueError, match=r"by cumulative average the rate must be above 0\.5"):
            call()
    assert (unit_time_s(100.0, [1, 2, 50], rate) > 0).all()
    assert (unit_time_s(100.0, [1, 2, 50], 0.501, **by_average) > 0).all()


def test_a_job_may_ask_for_more_rest_than_work():
    assert job_standard_s(20.0, 1.5) == 50.0
    assert job_standard_with_machine_s(20.0, 10.0, 0.1, 1.0) == pytest.approx(53.0)


RAMP = {"units_per_week": [5, 5], "first_s": 30.0, "standard_s": 20.0, "rate": 0.8}
REFUSED = [
    (normal_time_s, (20.0, 0.0), "rating must be above zero"),
    (job_standard_s, (20.0, -0.1), "allowance must be zero or more"),
    (workday_standard_s, (20.0, 1.0), "1 less the allowance must be above zero"),
    (workday_standard_s, (20.0, np.nan), "allowance must be zero or more"),
    (job_standard_with_machine_s, (-1.0, 40.0, 0.05, 0.1), "work_s must be zero or more"),
    (job_standard_with_machine_s, (60.0, np.nan, 0.05, 0.1), "machine_s must be zero or more"),
    (job_standard_with_machine_s, (60.0, 40.0, -0.05, 0.1), "personal must be zero or more"),
    (observations_needed, (10.0, np.nan, 0.05), "deviation_s must be zero or more"),
    (observations_needed, (10.0, [2.0, -2.0], 0.05), "deviation_s must be zero or more"),
    (observations_needed, (10.0, 2.0, 0.05, -1.96), "z must be above zero"),
    (learning_factor, (2, 80), "rate must be at most 1"),
    (learning_factor, (2, 0.8, 1.2), "floor must be at most 1"),
    (learning_factor, (0, 0.8), "number must be one or more"),
    (unit_time_s, (30.0, 2.5, 0.8, 0.0, CUMULATIVE_AVERAGE), "number must be a whole number, 1 or more, not 2.5"),
    (unit_time_s, (30.0, 1.5, 0.8), "number must be a whole number, 1 or more, not 1.5"),
    (average_time_s, (30.0, 1.5, 0.8), "count must be a whole number"),
    (total_time_s, (30.0, 2.7, 0.8), "counts must be a whole number, 0 or more, not 2.7"),
    (total_time_s, (30.0, -1, 0.8), "counts must be a whole number, 0 or more"),
]


@pytest.mark.parametrize(("function", "values", "why"), REFUSED)
def test_what_cannot_be_is_refused(function, values, why):
    with pytest.raises(ValueError, match=re.escape(why)):
        function(*values)


@pytest.mark.parametrize(
    ("name", "wrong", "why"),
    [
        ("units_per_week", [5, 0], "units_per_week must be a whole number, 1 or more"),
        ("units_per_week", [5, 2.5], "units_per_week must be a whole number, 1 or more"),
        ("standard_s", 0.0, "standard_s must be above zero"),
        ("standard_s", -20.0, "standard_s must be above zero"),
        ("standard_s", np.nan, "standard_s must be above zero"),
    ],
)
def test_a_ramp_that_cannot_be_is_refused(name, wrong, why):
    with pytest.raises(ValueError, match=why):
        weekly_ramp(**{**RAMP, name: wrong})


def test_unknown_names_are_answered_with_the_nearest():
    with pytest.raises(KeyError, match="known names: cumulative average, unit"):
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
