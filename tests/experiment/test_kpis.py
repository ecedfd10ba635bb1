"""No indicator without its definition; identities between indicators hold for any legal times."""

from __future__ import annotations

import math
from dataclasses import FrozenInstanceError

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.experiment.kpis import ELEMENTS, KPIS, describe_kpi, evaluate, evaluate_all, time_model

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
    assert str(empty).startswith("not defined, a denominator is zero = quality ratio")


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
    with pytest.raises(ValueError, match="APT must be a number"):
        evaluate("availability", {"APT": -1, "PBT": 10})
    with pytest.raises(ValueError, match="PBT must be a number"):
        evaluate_all({"PBT": math.nan})
