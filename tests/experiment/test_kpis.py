"""No indicator without its definition; identities between indicators hold for any legal times."""

from __future__ import annotations

import math
from dataclasses import FrozenInstanceError

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.experiment.kpis import (
    ELEMENTS,
    KPIS,
    LIMITS,
    describe_kpi,
    evaluate,
    evaluate_all,
    planned_busy_time,
    time_model,
)

FEW = settings(max_examples=60, deadline=None, derandomize=True)
minutes = st.floats(0.5, 5000.0)
counts = st.integers(1, 5000)


def ratio(name, elements):
    return float(evaluate(name, elements).value)


@FEW
@given(minutes, minutes, minutes, minutes, st.floats(0.0, 500.0), counts, st.floats(0.0, 1.0), st.floats(0.01, 5.0))
def test_identities_between_indicators(apt, aust, adet, adot, spare, pq, good, pri):
    times = time_model(apt, aust, adet, adot)
    elements = {"APT": apt, "AUST": aust, "ADET": adet, "AUPT": times.AUPT, "AUBT": times.AUBT, "AOET": times.AOET,
                "PBT": times.AOET + spare, "PQ": pq, "GQ": good * pq, "PRI": pri}  # fmt: skip
    allocation, utilization = (ratio(f"{name} efficiency", elements) for name in ("allocation", "utilization"))
    assert ratio("availability", elements) == pytest.approx(allocation * utilization)
    assert ratio("OEE index", elements) == pytest.approx(
        ratio("availability", elements) * ratio("effectiveness", elements) * ratio("quality ratio", elements)
    )
    assert ratio("OEE index", elements) <= ratio("NEE index", elements)
    assert ratio("NEE index", elements) * (1 - ratio("setup ratio", elements)) == pytest.approx(
        ratio("OEE index", elements)
    )
    for name in ("allocation efficiency", "availability", "setup ratio", "technical efficiency", "allocation ratio"):
        assert 0 <= ratio(name, elements) <= 1


def test_every_indicator_carries_its_whole_definition():
    for name, kpi in KPIS.items():
        assert kpi.name == name
        assert all((kpi.definition, kpi.formula, kpi.unit, kpi.scope, kpi.timing, kpi.source, kpi.needs))
        assert set(kpi.needs) <= set(ELEMENTS)
        printed = str(kpi)
        assert all(
            part in printed for part in (name, kpi.definition, kpi.formula, kpi.timing, kpi.scope, kpi.trap, kpi.source)
        )


def test_a_value_prints_with_its_definition():
    found = evaluate("OEE index", {"PBT": 480, "APT": 420, "PRI": 1.0, "PQ": 400, "GQ": 380})
    assert str(found) == f"0.7917 = {KPIS['OEE index']}"
    assert "values of other plants are not comparable" in str(found)
    assert "setup counts as loss" in str(found)
    with pytest.raises(FrozenInstanceError):
        found.value = 1.0


def test_effectiveness_may_exceed_one_and_says_so():
    found = evaluate("effectiveness", {"PRI": 2.0, "PQ": 300, "APT": 500})
    assert found.value == pytest.approx(1.2)
    assert "above 1 when planned times are generous" in str(found)


def test_a_zero_denominator_is_no_number_and_is_said():
    empty = evaluate("quality ratio", {"GQ": 0, "PQ": 0})
    assert math.isnan(empty.value)
    assert str(empty).startswith("not defined, a denominator is zero or there are no values = quality ratio")


@pytest.mark.parametrize(
    "name",
    [
        "mean time between failures, by intervals",
        "mean time between failures, by intervals and one",
        "mean time to restoration",
        "inherent availability",
    ],
)
def test_a_mean_of_no_values_is_no_number_and_is_said(name):
    empty = evaluate(name, {"TBF": [], "TTR": []})
    assert np.isnan(empty.value)
    assert str(empty).startswith("not defined, a denominator is zero or there are no values")


def test_a_time_without_production_is_zero_and_no_gap():
    idle = {"PBT": 480, "AUPT": 30, "PRI": 1.0, "PQ": 0, "GQ": 0, "APT": 0}
    scrap = {**idle, "PQ": 5, "APT": 6}
    for name in ("OEE index", "NEE index"):
        assert ratio(name, idle) == ratio(name, scrap) == 0.0
        assert math.isnan(ratio(name, {**idle, "PBT": 0}))
    unlikely = {**idle, "PQ": 5, "GQ": 5}
    assert math.isnan(ratio("NEE index", unlikely))
    weeks = {**idle, "APT": [0, 400], "PQ": [0, 300], "GQ": [0, 300], "AUPT": [30, 450]}
    assert evaluate("NEE index", weeks).value.tolist() == pytest.approx([0.0, 450 / 480 * 300 / 400])


def test_a_part_above_its_whole_is_noted_and_not_cut():
    quality = evaluate("quality ratio", {"GQ": [90, 101], "PQ": 100})
    assert quality.value.tolist() == [0.9, 1.01]
    assert quality.notes == ("GQ exceeds PQ, see how both were booked",)
    assert str(quality).endswith("Check: GQ exceeds PQ, see how both were booked.")
    overfull = {"PBT": 480, "APT": 500, "PRI": 1.0, "PQ": 400, "GQ": 401}
    assert [len(found.notes) for found in evaluate_all(overfull)] == [1, 0, 1, 2]
    assert evaluate("availability", {"APT": 480 * (1 + 1e-12), "PBT": 480}).notes == ()


def test_mixed_products_are_spoken_of_wherever_a_run_time_counts():
    """Two products: the sum of their planned times needs the mean run time weighted by quantity."""
    for kpi in KPIS.values():
        assert ("weighted by PQ" in str(kpi)) == ("PRI" in kpi.needs)
    assert "weighted by PQ" in ELEMENTS["PRI"]
    pri, pq = np.array([2.0, 0.5]), np.array([100.0, 300.0])
    mixed = {"PRI": np.average(pri, weights=pq), "PQ": pq.sum(), "APT": 500.0}
    assert ratio("effectiveness", mixed) == pytest.approx(0.7)


def test_weeks_as_arrays():
    found = evaluate("availability", {"APT": [300.0, 400.0, 0.0], "PBT": [500.0, 500.0, 0.0]})
    assert found.value[:2].tolist() == [0.6, 0.8]
    assert np.isnan(found.value[2])
    assert str(found).startswith("[0.6 0.8 nan] = ")


def test_all_that_can_be_reckoned_is():
    assert {found.kpi.name for found in evaluate_all({"APT": 10, "ADET": 2, "PQ": 5, "SQ": 1})} == {
        "technical efficiency",
        "scrap ratio",
    }
    assert {found.kpi.name for found in evaluate_all(dict.fromkeys(ELEMENTS, 1.0))} == set(KPIS)


def test_what_cannot_be_is_refused():
    with pytest.raises(KeyError, match="did you mean 'OEE index'"):
        describe_kpi("OEE indx")
    with pytest.raises(KeyError, match="availability needs PBT"):
        evaluate("availability", {"APT": 10})
    with pytest.raises(KeyError, match="no element 'apt'"):
        evaluate("availability", {"apt": 10, "PBT": 10})
    for wrong in (-1, math.nan, math.inf, [1, -math.inf]):
        with pytest.raises(ValueError, match="APT must be zero or more"):
            evaluate("availability", {"APT": wrong, "PBT": 10})
        with pytest.raises(ValueError, match="PBT must be zero or more"):
            evaluate_all({"PBT": wrong})
        with pytest.raises(ValueError, match="adet must be zero or more"):
            time_model(1, 1, wrong, 1)
    with pytest.raises(ValueError, match="planned_operation less planned_downtime must be zero or more"):
        planned_busy_time(60, 90)


def test_every_limit_belongs_to_an_indicator():
    assert all(any(set(pair) <= set(kpi.needs) for kpi in KPIS.values()) for pair in LIMITS)
