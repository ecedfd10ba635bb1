from __future__ import annotations

import math

import pytest

from simkit.experiment.intervals import Estimate
from simkit.report import words


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (1234.5, None, "1,234"),
        (12.34, None, "12.3"),
        (1.234, None, "1.23"),
        (-5.0, 0, "−5"),
        (-0.001, 1, "0.0"),
        (0.0, None, "0"),
        (0.62, None, "0.62"),
        (0.035, None, "0.035"),
        (0.02, None, "0.02"),
        (-0.000424, None, "−0.00042"),
        (1e-9, None, "0"),
        (math.nan, None, "not computed"),
    ],
)
def test_numbers(value, digits, text):
    assert words.number(value, digits) == text


def test_a_sentence_begins_with_a_large_letter_and_names_keep_theirs():
    assert words.capitalised("capital of A1") == "Capital of A1"
    assert words.capitalised("") == ""


def test_a_difference_has_its_sign_unless_it_rounds_to_zero():
    assert words.signed(3.0, 0) == "+3"
    assert words.signed(-3.0, 0) == "−3"
    assert words.signed(0.001, 1) == "0.0"


@pytest.mark.parametrize(
    ("mean", "half_width", "text"),
    [
        (16.24, 4.6, "16 ± 5"),
        (12.34, 0.5, "12.3 ± 0.5"),
        (376.94, 1.23, "376.9 ± 1.2"),
        (98429.0, 30574.0, "98,000 ± 31,000"),
        (0.5041, 0.0312, "0.50 ± 0.03"),
        (12.0, 0.0, "12.0 ± 0.0"),
        (-7.26, 0.51, "−7.3 ± 0.5"),
    ],
)
def test_an_interval_decides_the_digits(mean, half_width, text):
    assert words.plus_minus(Estimate(mean, half_width, 6)) == text


def test_a_difference_with_its_interval_has_its_sign():
    assert words.plus_minus(Estimate(7.26, 0.51, 10), difference=True) == "+7.3 ± 0.5"


def test_what_never_varies_has_three_significant_digits():
    assert words.plus_minus(Estimate(-5058.669, 3e-11, 6)) == "−5,060 ± 0"
    assert words.plus_minus(Estimate(1234567.0, 0.0, 6)) == "1,230,000 ± 0"
    assert words.plus_minus(Estimate(0.0, 0.0, 6)) == "0 ± 0"


@pytest.mark.parametrize(("mean", "half_width", "text"), [(12.0, math.inf, "12.0"), (16.24, math.nan, "16.2")])
def test_one_replication_has_no_interval_and_says_so(mean, half_width, text):
    assert words.plus_minus(Estimate(mean, half_width, 1)) == f"{text} (no interval from 1 run)"


def test_a_share_is_written_in_per_cent():
    assert words.percent(0.5) == "50\u00a0%"


def test_a_payback_that_is_never_reached_is_a_word():
    assert words.years(None) == "never"
    assert words.years(math.inf) == "never"
    assert words.years(3.94) == "3.9\u00a0years"
    assert words.years(0.02) == "less than 0.1\u00a0years"


def test_listing():
    assert words.listing([]) == "none"
    assert words.listing(["a"]) == "a"
    assert words.listing(["a", "b", "c"]) == "a, b and c"


def test_plural():
    assert words.plural(1, "case") == "1 case"
    assert words.plural(2, "case") == "2 cases"
