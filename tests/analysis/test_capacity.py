from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from simkit.analysis.capacity import (
    BETWEEN_LEVELS,
    CANNOT_TELL,
    EVERY_LEVEL_FITS,
    NO_LEVEL_FITS,
    practical_capacity,
)
from simkit.experiment.results import Results, results_from

UNITS = {"hours_needed": "h", "late_share": "share", "refused_share": "share", "backlog_grows": "share"}


def sweep(levels: dict[float, tuple[float, float, float]]) -> Results:
    """Two equal replications of one scenario: demand to hours, late share and backlog."""
    return results_from(
        [
            (
                "today",
                factor,
                k,
                {"hours_needed": hours, "late_share": late, "refused_share": 0.0, "backlog_grows": backlog},
            )
            for factor, (hours, late, backlog) in levels.items()
            for k in range(2)
        ],
        UNITS,
    )


def test_the_line_between_two_levels_is_straight() -> None:
    results = sweep({1.0: (200, 0.0, 0), 1.25: (250, 0.02, 0), 1.5: (300, 0.08, 0)})
    capacity = practical_capacity(results, "today", 0.05)
    # half way from 0.02 to 0.08
    assert (capacity.hours, capacity.demand_factor) == pytest.approx((275.0, 1.375))
    assert capacity.state == BETWEEN_LEVELS


def test_a_growing_backlog_does_not_fit() -> None:
    results = sweep({1.0: (200, 0.0, 0), 1.5: (300, 0.0, 1)})
    assert practical_capacity(results, "today", 0.05).hours == pytest.approx(250.0)


def test_the_first_limit_that_is_passed_counts() -> None:
    results = sweep({1.0: (200, 0.0, 0), 1.5: (300, 0.2, 1)})
    assert practical_capacity(results, "today", 0.05).hours == pytest.approx(225.0)


def test_where_every_level_fits_it_is_at_least_the_last() -> None:
    capacity = practical_capacity(sweep({1.0: (200, 0.0, 0), 1.25: (250, 0.0, 0)}), "today", 0.05)
    assert (capacity.hours, capacity.demand_factor, capacity.state) == (250.0, 1.25, EVERY_LEVEL_FITS)


def test_where_no_level_fits_it_is_below_the_first() -> None:
    capacity = practical_capacity(sweep({1.0: (200, 0.3, 0), 1.25: (250, 0.9, 1)}), "today", 0.05)
    assert (capacity.hours, capacity.state) == (200.0, NO_LEVEL_FITS)


def runs(late: tuple[float, ...], backlog: tuple[float, ...] = (0.0, 0.0)) -> Results:
    """Runs of today at one demand that differ in the share of late orders, or in whether the backlog grows."""
    rows = [
        ("today", 1.0, k, {"hours_needed": 200.0, "late_share": one, "refused_share": 0.0, "backlog_grows": grows})
        for k, (one, grows) in enumerate(zip(late, backlog, strict=True))
    ]
    return results_from(rows, UNITS)


@pytest.mark.parametrize(
    ("results", "state"),
    [
        (runs((0.02, 0.02)), EVERY_LEVEL_FITS),
        (runs((0.0, 0.06)), CANNOT_TELL),
        (runs((0.03, 0.08)), CANNOT_TELL),
        (runs((0.09, 0.091)), NO_LEVEL_FITS),
        (runs((0.0, 0.0), (0.0, 1.0)), CANNOT_TELL),
        (runs((0.02,), (0.0,)), CANNOT_TELL),
    ],
)
def test_two_runs_that_disagree_cannot_tell_whether_a_level_fits(results: Results, state: str) -> None:
    capacity = practical_capacity(results, "today", 0.05)
    assert capacity.state == state
    assert (capacity.decisive is not None) == (state == CANNOT_TELL)


def test_an_order_refused_is_not_delivered_either() -> None:
    rows = [
        ("today", 1.0, k, {"hours_needed": 200.0, "late_share": 0.02, "refused_share": 0.05, "backlog_grows": 0.0})
        for k in range(2)
    ]
    capacity = practical_capacity(results_from(rows, UNITS), "today", 0.05)
    assert capacity.state == NO_LEVEL_FITS
    assert capacity.levels[0].late.mean == pytest.approx(0.05 + 0.02 * 0.95)


def test_levels_above_the_first_misfit_are_not_looked_at() -> None:
    results = sweep({1.0: (200, 0.0, 0), 1.2: (240, 0.10, 0), 1.4: (280, 0.0, 0)})
    assert practical_capacity(results, "today", 0.05).hours == pytest.approx(220.0)


@given(st.floats(0, 0.05), st.floats(0.051, 1), st.floats(100, 200), st.floats(201, 400))
def test_capacity_lies_between_the_two_levels(fits: float, over: float, low_h: float, high_h: float) -> None:
    results = sweep({1.0: (low_h, fits, 0), 1.25: (high_h, over, 0)})
    assert low_h <= practical_capacity(results, "today", 0.05).hours <= high_h
