"""Totals adjusted for the hours drawn: unbiased, as narrow as the relation allows, intervals that hold."""

from __future__ import annotations

import math

import numpy as np
import pytest

from simkit.experiment.controlvariate import LEAST_REPLICATIONS, control_matrix
from simkit.experiment.intervals import t_interval
from simkit.experiment.results import Results, results_from

UNITS = {"drawn_h": "h", "drawn_mean_h": "h", "hours_needed": "h", "inhouse_h": "h", "subcontract_h": "h",
         "late_share": "1"}  # fmt: skip
MEAN_H = 300.0


def test_a_slope_comes_from_the_other_replications_alone():
    drawn = np.array([1.0, 2.0, 4.0, 7.0, 5.0, 3.0])
    totals = np.array([2.0, 3.0, 9.0, 12.0, 11.0, 5.0])
    matrix = control_matrix(drawn, np.full(6, 3.0))
    assert matrix is not None
    for i in range(6):
        others = np.delete(np.arange(6), i)
        slope = np.polyfit(drawn[others], totals[others], 1)[0]
        assert (matrix @ totals)[i] == pytest.approx(totals[i] - slope * (drawn[i] - 3.0))


def test_a_line_is_met_exactly_and_a_constant_stays():
    drawn = np.array([1.0, 2.0, 4.0, 7.0, 5.0, 3.0])
    matrix = control_matrix(drawn, np.full(6, 3.0))
    assert matrix @ (10 + 2 * drawn) == pytest.approx(np.full(6, 16.0))
    assert matrix @ np.full(6, 5.0) == pytest.approx(np.full(6, 5.0))


def test_nothing_is_adjusted_where_hours_do_not_differ_or_runs_are_few():
    assert control_matrix(np.full(8, 290.0) + 1e-10 * np.arange(8), np.full(8, 290.0)) is None
    few = np.arange(LEAST_REPLICATIONS - 1, dtype=float)
    assert control_matrix(few, np.zeros(len(few))) is None
    one_apart = control_matrix(np.array([1.0, 1.0, 1.0, 1.0, 1.0, 3.0]), np.ones(6))
    assert one_apart is not None
    assert np.isfinite(one_apart).all()


RELATIONS = {
    "line": lambda x, e: (0.97 * x + 0.24 * e, 0.0),
    "heavy tail": lambda x, e: (x + 0.5 * (np.exp(e) - math.exp(0.5)), 0.0),
    "bent": lambda x, e: (np.maximum(x + 0.3 * e - 0.5, 0.0), None),
}


def adjusted(relation: str, runs: int, count: int = 4000) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Means as simulated and adjusted of many experiments, and which adjusted intervals hold zero."""
    generator = np.random.default_rng([runs, len(relation)])
    plain, means, held = np.empty(count), np.empty(count), np.empty(count, bool)
    for k in range(count):
        drawn, other = generator.normal(size=(2, runs))
        totals, _ = RELATIONS[relation](drawn, other)
        matrix = control_matrix(drawn, np.zeros(runs))
        known = t_interval(matrix @ totals, fitted=1)
        plain[k], means[k], held[k] = totals.mean(), known.mean, known.low <= 0.0 <= known.high
    return plain, means, held


@pytest.mark.parametrize("runs", [6, 8, 20])
@pytest.mark.parametrize("relation", RELATIONS)
def test_the_adjusted_mean_is_unbiased_whatever_the_relation(relation, runs):
    plain, means, _ = adjusted(relation, runs)
    spread = math.hypot(plain.std(), means.std()) / math.sqrt(len(means))
    assert abs(means.mean() - plain.mean()) < 4 * spread


@pytest.mark.parametrize(("runs", "less"), [(6, 9), (8, 12), (20, 15)])
def test_intervals_hold_and_the_variance_falls_on_a_line(runs, less):
    """4,000 experiments at a nominal 95 %: four standard errors are 1.4 points."""
    plain, means, held = adjusted("line", runs)
    assert held.mean() == pytest.approx(0.95, abs=0.014)
    assert plain.var() / means.var() > less


def simulated(drawn: np.ndarray, seed: int = 1) -> Results:
    """Hours of today and A1 that follow the hours drawn; what is given out starts above a limit."""
    noise = np.random.default_rng(seed).normal(0, 1, len(drawn))
    rows = []
    for k, (hours, more) in enumerate(zip(drawn, noise, strict=True)):
        for name, share in (("today", 1.0), ("A1", 0.9)):
            inside, out = share * hours + more, max(hours - 330.0, 0.0)
            measured = {"drawn_h": hours, "drawn_mean_h": MEAN_H, "hours_needed": inside + out, "inhouse_h": inside,
                        "subcontract_h": out, "late_share": hours / 1000}  # fmt: skip
            rows.append((name, 1.0, k, measured))
    return results_from(rows, UNITS)


DRAWN = np.array([280.0, 312.0, 290.0, 325.0, 301.0, 296.0, 318.0, 305.0])


def test_results_adjust_totals_once_and_keep_what_was_simulated():
    results = simulated(DRAWN)
    raw, values = (read("today", "hours_needed") for read in (results.raw, results.values))
    assert raw.tolist() == results.frame[(results.frame["scenario"] == "today")
                                         & (results.frame["measure"] == "hours_needed")]["value"].tolist()  # fmt: skip
    assert np.ptp(values) < 0.2 * np.ptp(raw)
    assert results.estimate("today", "hours_needed") == t_interval(values, "h", fitted=1)
    assert results.spread("today", "hours_needed").high == pytest.approx(np.quantile(raw, 0.9))
    assert results.values("today", "late_share").tolist() == results.raw("today", "late_share").tolist()
    assert results.estimate("today", "late_share") == t_interval(results.raw("today", "late_share"), "1")
    assert results.values("today", "drawn_h") == pytest.approx(np.full(8, MEAN_H))


def test_sums_and_differences_stay_sums_and_differences():
    results = simulated(DRAWN + np.array([0, 30, 0, 30, 0, 0, 30, 0]))
    parts = results.values("today", "inhouse_h") + results.values("today", "subcontract_h")
    assert parts == pytest.approx(results.values("today", "hours_needed"))
    gap = results.paired("today", "A1", "hours_needed")
    assert gap.mean == pytest.approx(
        results.estimate("today", "hours_needed").mean - results.estimate("A1", "hours_needed").mean
    )
    assert results.simultaneous("A1", "hours_needed")["today"] == gap


def test_a_mean_of_what_is_never_negative_does_not_fall_below_zero():
    """One run in eight gives out work; adjusting alone would bring the mean to about -1."""
    drawn = np.array([331.0, 309.0, 308.0, 307.0, 306.0, 305.0, 309.0, 310.0]) + 20
    results = simulated(drawn)
    rows = results.frame.assign(value=results.frame["value"].where(results.frame["measure"] != "subcontract_h", 0.0))
    rows.loc[(rows["measure"] == "subcontract_h") & (rows["replication"] == 0), "value"] = 4.0
    bare = control_matrix(drawn, np.full(8, MEAN_H)) @ np.array([4.0, *[0.0] * 7])
    assert bare.mean() < 0
    assert Results(rows).estimate("today", "subcontract_h").mean == pytest.approx(0.0, abs=1e-12)


def test_few_or_equal_draws_leave_results_as_they_are():
    for drawn in (DRAWN[:5], np.full(8, MEAN_H)):
        results = simulated(drawn)
        assert results.fitted("today") == 0
        assert results.estimate("today", "hours_needed") == t_interval(results.raw("today", "hours_needed"), "h")
