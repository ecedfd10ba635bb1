"""Indicators from made-up hours of the small plant, each by hand."""

from __future__ import annotations

import math

import pytest

from simkit.analysis.indicators import BOOKED, NOT_ON_ORDERS, elements_of, indicators, planned_part_h
from simkit.base.vocabulary import SKILLS, STATES
from simkit.experiment.kpis import ELEMENTS, KPIS
from simkit.experiment.results import results_from
from tests.analysis.test_sheet_times import P1_S, P2_S
from tests.small_plant import small_plant

STATE_H = {
    "punching": 12.0, "forming": 2.0, "cutting": 6.0, "changeover": 15.0, "first_piece": 5.0, "loading": 8.0,
    "unloading": 6.0, "waiting_person": 1.0, "blocked": 1.0, "stopped": 4.0, "upkeep": 2.0, "no_work": 10.0,
    "closed": 96.0,
}  # fmt: skip
OTHERS = {
    "parts": 100.0, "sheets": 20.0, "sheets_scrapped": 2.0, "parts_scrapped": 4.0, "parts_reworked": 6.0,
    "person_busy_h": 40.0, "people_utilisation": 0.5, "person_clear_h": 3.0, "person_upkeep_h": 1.0,
}  # fmt: skip


def week(**changes):
    values = {f"state_{state}_h": STATE_H.get(state, 0.0) for state in STATES} | OTHERS | changes
    return results_from([("today", 1.0, k, values) for k in (0, 1)], dict.fromkeys(values, "h"))


def values(**changes):
    return {row.kpi.name: row for row in indicators(small_plant(), ["today"], week(**changes), 1.0)}


def value(found, name):
    return found[name].values["today"].mean


def test_hours_stand_for_the_elements():
    found = {name: float(v[0]) for name, v in elements_of(small_plant(), "today", week(), 1.0).items()}
    assert found["APT"] == 20
    assert found["AUST"] == 20
    assert found["ADET"] == 20
    assert found["PBT"] == sum(STATE_H.values()) - 96 - 2 == 70
    assert (found["AUPT"], found["AUBT"], found["AOET"]) == (40, 60, 70)
    assert (found["PQ"], found["GQ"], found["SQ"], found["RQ"]) == (110, 90, 14, 6)
    assert (found["APWT"], found["APAT"]) == (36, 80)
    assert (found["CMT"], found["PMT"]) == (4, 2)


def test_the_planned_time_of_a_part_is_the_books():
    assert planned_part_h(small_plant()) == pytest.approx((11 * P1_S + 10 * P2_S) / (11 * 6 + 10 * 10) / 3600)
    assert planned_part_h(small_plant(orders=())) == 0.0


def test_indicators_by_hand():
    found = values()
    assert value(found, "availability") == pytest.approx(20 / 70)
    assert value(found, "utilization efficiency") == pytest.approx(20 / 60)
    assert value(found, "setup ratio") == pytest.approx(0.5)
    assert value(found, "quality ratio") == pytest.approx(90 / 110)
    assert value(found, "OEE index") == pytest.approx(planned_part_h(small_plant()) * 90 / 70)
    assert value(found, "worker efficiency") == pytest.approx(36 / 80)
    assert value(found, "corrective maintenance ratio") == pytest.approx(4 / 6)
    assert found["availability"].values["today"].half_width == 0


def test_single_failures_are_not_known_and_their_indicators_left_out():
    left_out = set(KPIS) - set(values())
    assert left_out == {name for name, kpi in KPIS.items() if {"TBF", "TTR"} & set(kpi.needs)}


def test_a_value_that_is_not_defined_has_no_number():
    none = {f"state_{state}_h": 0.0 for state in ("changeover", "first_piece", "punching", "forming", "cutting")}
    assert math.isnan(value(values(**none), "setup ratio"))
    assert value(values(people_utilisation=0.0), "availability") > 0


def test_every_element_but_the_sums_is_explained():
    explained = {name for name, _ in BOOKED}
    used = {need for row in values().values() for need in row.kpi.needs}
    assert used - explained == {"AUPT", "AUBT", "AOET"}
    assert explained <= set(ELEMENTS)
    assert set(NOT_ON_ORDERS) <= set(SKILLS)
